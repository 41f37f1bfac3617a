#!/usr/bin/env bash
# Makes the depth network (models/pose_lifter.*) and the joint offsets of the pose network's card from clips whose truth is
# known. Needs Python with numpy, torch (a GPU), onnx and onnxruntime; ten minutes and nine more for each player held out (the
# shipped network had 9 minutes of an H200: 46 000 steps).
#
# Usage: scripts/make-lifter.sh CLIPS RECORDED GENERAL [HELD_OUT]
# CLIPS holds NAME.mp4 with NAME.json.gz, RECORDED the BVH files of recorded players (prefixes m01 to m11 in alphabetical order),
# GENERAL those of other movement (subjects 01 to 14 of Carnegie Mellon's motion capture database, SUBJECT_TAKE.bvh).
# With HELD_OUT, a folder, networks and offsets without each player go to HELD_OUT/PLAYER/models, for `score --held-out HELD_OUT`.
set -euo pipefail

[ $# -ge 3 ] || { sed -n '2,10s/^# \{0,1\}//p' "$0" >&2; exit 2; }
clips=$(realpath "$1")
recorded=$(realpath "$2")
general=$(realpath "$3")
held_out=${4:+$(realpath -m "$4")}
cd "$(dirname "$0")/.."
work=target/lifter
minutes=9
mkdir -p "$work"

cargo run --release --example score -- "$clips" --keep "$work/tracks" >/dev/null
cargo run --release --example motions -- "$work/tracks" "$work/motions"
python3 scripts/models/fit_offsets.py "$clips" "$work/motions" models/pose_landmark_full.toml ${held_out:+--held-out "$held_out"}
python3 scripts/lifter/prepare.py "$clips" "$work/motions" "$work/data.npz"
python3 scripts/recogniser/takes.py "$recorded" "$work/takes.npz"
python3 scripts/lifter/general.py "$general" "$work/general.npz"
python3 scripts/lifter/train.py "$work/data.npz" "$work/takes.npz" "$work/general.npz" "$work" --minutes "$minutes"
python3 scripts/lifter/finish.py "$work/pose_lifter.onnx" models
for folder in ${held_out:+"$held_out"/*/}; do
  player=$(basename "$folder")
  python3 scripts/lifter/train.py "$work/data.npz" "$work/takes.npz" "$work/general.npz" "$work" --minutes "$minutes" --without "$player"
  python3 scripts/lifter/finish.py "$work/pose_lifter_without_$player.onnx" "$folder/models"
done
