#!/usr/bin/env bash
# Makes models/recogniser.* from recorded tennis movement and rendered clips. Needs Python with numpy, scipy, torch (a GPU), onnx and
# onnxruntime; nine minutes on one H200 (four networks beside each other, 5500 to 6800 steps each).
#
# Usage: scripts/make-recogniser.sh RECORDED KEPT CLIPS…
# RECORDED holds BVH files, those of players to learn from (prefixes m01 to m11 in alphabetical order) in RECORDED/data and those that
# are only scored (m12 to m16) in RECORDED/held; CLIPS are folders of rendered clips with truth (NAME.json.gz); KEPT is what
# `score --keep KEPT` keeps of these clips.
set -euo pipefail

[ $# -ge 3 ] || { sed -n '2,9s/^# \{0,1\}//p' "$0" >&2; exit 2; }
recorded=$(realpath "$1")
kept=$(realpath "$2")
shift 2
clips=$(realpath "$@")
cd "$(dirname "$0")/.."
work=target/recogniser
mkdir -p "$work"

cargo run --release --example motions -- "$kept" "$work/motions"
python3 scripts/recogniser/takes.py "$recorded/data" "$work/takes.npz"
python3 scripts/recogniser/takes.py "$recorded/held" "$work/held.npz" 12
# shellcheck disable=SC2086
python3 scripts/recogniser/errors.py "$work/motions" "$work/errors.npz" $clips
train() { python3 scripts/recogniser/train.py "$work/takes.npz" "$work/errors.npz" "$work" --check "$work/held.npz" "$@"; }
train --name first --seed 21 --minutes 6.2 &
train --name second --seed 22 --width 128 --minutes 6.2 &
train --name third --seed 23 --minutes 6.2 &
train --name fourth --seed 35 --width 160 --minutes 8.8 &
wait
python3 scripts/recogniser/join.py models "$work/first.onnx" "$work/second.onnx" "$work/third.onnx" "$work/fourth.onnx"
