#!/usr/bin/env bash
# How fast toeline is beside the usual way to get body points in Python: mediapipe's pose solution, frame by frame, with the
# same network. Both look at one clip, one after the other, on two cores, and the ratio is printed.
#
#   scripts/compare-reference.sh CLIP.mp4 [options of toeline measure]
#
# Installs mediapipe 0.10.14, the last with that solution, into target/reference, or into the folder that the variable REFERENCE
# names. Needs Python 3.9 to 3.12 with venv. Nothing of it goes into the program.
set -euo pipefail

[ $# -ge 1 ] || { sed -n '5p' "$0" | cut -c3- >&2; exit 2; }
clip=$(realpath "$1")
shift
cd "$(dirname "$0")/.."

reference=${REFERENCE:-target/reference}
if [ ! -x "$reference/bin/python" ]; then
    python3 -m venv "$reference"
    "$reference/bin/pip" install --quiet mediapipe==0.10.14 opencv-python-headless
fi
[ -x target/release/toeline ] || cargo build --release --locked

out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
two_cores() { taskset -c 0,1 "$@"; }

cat > "$out/reference.py" <<'PYTHON'
import resource, sys, time

import cv2
import mediapipe

begin = time.monotonic()
clip = cv2.VideoCapture(sys.argv[1])
# `full` is complexity 1.
pose = mediapipe.solutions.pose.Pose(model_complexity=1)
frames = seen = 0
while True:
    more, picture = clip.read()
    if not more:
        break
    found = pose.process(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB))
    frames += 1
    seen += found.pose_landmarks is not None
used = resource.getrusage(resource.RUSAGE_SELF)
print(frames, seen, time.monotonic() - begin, used.ru_utime + used.ru_stime)
PYTHON

cat > "$out/own.py" <<'PYTHON'
import resource, subprocess, sys, time

begin = time.monotonic()
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(code, time.monotonic() - begin, used.ru_utime + used.ru_stime, used.ru_maxrss // 1024)
PYTHON

read -r frames seen their_wall their_cpu < <(two_cores "$reference/bin/python" "$out/reference.py" "$clip" 2> /dev/null)
read -r code own_wall own_cpu own_memory < <(
    two_cores python3 "$out/own.py" target/release/toeline measure --quiet "$@" --out "$out/results" "$clip"
)
python3 - "$frames" "$seen" "$their_wall" "$their_cpu" "$code" "$own_wall" "$own_cpu" "$own_memory" <<'PYTHON'
import sys

frames, seen, their_wall, their_cpu, code, own_wall, own_cpu, memory = map(float, sys.argv[1:])
print(f"{frames:.0f} frames, two cores, one run")
print(f"  Python pipeline  {their_wall:7.1f} s, {frames / their_wall:6.1f} frames/s, {their_cpu:7.1f} s of processor ({seen:.0f} with a body)")
print(f"  toeline measure  {own_wall:7.1f} s, {frames / own_wall:6.1f} frames/s, {own_cpu:7.1f} s of processor, {memory:.0f} MB (exit code {code:.0f})")
print(f"  toeline is {their_wall / own_wall:.2f} times as fast, with {their_cpu / own_cpu:.2f} times less work")
PYTHON
