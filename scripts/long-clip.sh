#!/usr/bin/env bash
# Makes a long practice recording out of one clip whose truth is known: its strokes over and over, with still stretches in
# between in which the player waits.
#
#   scripts/long-clip.sh MINUTES OUT.mp4 [CLIP.mp4] [GAP] [HEIGHT]
#
# CLIP.mp4 has CLIP.json.gz beside it (one player, one camera); ../shared/testbed/clips/mixed_side.mp4 if not given. A stroke
# comes every GAP seconds (8), give or take a quarter. HEIGHT is that of the picture, pixels (the clip's). The still stretches
# are a picture of the waiting pose with noise, and quiet noise to hear. OUT.csv gets the true contacts: time_s,stroke.
# Needs the ffmpeg program and Python 3.
set -euo pipefail

[ $# -ge 2 ] || { sed -n '5p' "$0" | cut -c3- >&2; exit 2; }
minutes=$1 out=$2 clip=${3:-"$(dirname "$0")/../../shared/testbed/clips/mixed_side.mp4"} gap=${4:-8} height=${5:-}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# The filters of one round of all strokes, its number of pictures, and the contacts in it.
python3 - "$clip" "$gap" "$work" <<'PYTHON'
import gzip, json, random, sys

clip, gap, work = sys.argv[1], float(sys.argv[2]), sys.argv[3]
truth = json.load(gzip.open(clip.removesuffix(".mp4") + ".json.gz"))
rate, rng = truth["fps"], random.Random(1)
filters, names, contacts, now = [], "", [], 0
for number, stroke in enumerate(truth["strokes"]):
    phases = stroke["phases"]
    contact = phases["contact"]
    begins = phases.get("prep_start") or contact - 1.2
    first = max(0, round((begins - 0.4) * rate))
    last = min(truth["frames_total"] - 1, round((contact + 1.2) * rate))
    waits = max(1, round(gap * rng.uniform(0.75, 1.25) * rate) - (last - first))
    filters += [
        f"[0:v]trim=start_frame={first}:end_frame={first + 1},loop=loop={waits - 1}:size=1,setpts=N/{rate}/TB,noise=alls=4:allf=t[w{number}]",
        f"anoisesrc=r=48000:a=0.0006:seed={number},atrim=end_sample={round(waits * 48000 / rate)},aformat=channel_layouts=mono[q{number}]",
        f"[0:v]trim=start_frame={first}:end_frame={last},setpts=N/{rate}/TB[v{number}]",
        f"[0:a]aresample=48000,aformat=channel_layouts=mono,atrim=start_sample={round(first * 48000 / rate)}:"
        f"end_sample={round(last * 48000 / rate)},asetpts=N/SR/TB[a{number}]",
    ]
    names += f"[w{number}][q{number}][v{number}][a{number}]"
    contacts.append((now + waits + contact * rate - first, number + 1))
    now += waits + last - first
filters.append(f"{names}concat=n={2 * len(truth['strokes'])}:v=1:a=1[v][a]")
with open(f"{work}/filters", "w") as file:
    file.write(";\n".join(filters))
with open(f"{work}/contacts", "w") as file:
    json.dump({"pictures": now, "rate": rate, "contacts": contacts}, file)
PYTHON

filters=$(cat "$work/filters")
[ -z "$height" ] || filters="${filters/%'[v][a]'/'[u][a]'};[u]scale=-2:${height}[v]"
rate=$(python3 -c "import json, sys; print(json.load(open(sys.argv[1]))['rate'])" "$work/contacts")
ffmpeg -v error -nostdin -y -i "$clip" -filter_complex "$filters" \
    -map '[v]' -r "$rate" -c:v libx264 -preset veryfast -crf 23 -g "$((2 * ${rate%.*}))" -pix_fmt yuv420p "$work/round.mp4" \
    -map '[a]' -c:a pcm_s16le "$work/round.wav"
seconds=$(python3 -c "print(60 * float('$minutes'))")
ffmpeg -v error -nostdin -y -stream_loop -1 -i "$work/round.mp4" -stream_loop -1 -i "$work/round.wav" \
    -map 0:v -map 1:a -c:v copy -c:a aac -b:a 96k -t "$seconds" "$out"
python3 - "$work/contacts" "$seconds" > "${out%.*}.csv" <<'PYTHON'
import json, sys

about, seconds = json.load(open(sys.argv[1])), float(sys.argv[2])
print("time_s,stroke")
start = 0
while start / about["rate"] < seconds:
    for contact, stroke in about["contacts"]:
        time = (start + contact) / about["rate"]
        if time < seconds - 1.2:
            print(f"{time:.4f},{stroke}")
    start += about["pictures"]
PYTHON
echo "$out: $(($(wc -l < "${out%.*}.csv") - 1)) strokes in $minutes minutes"
