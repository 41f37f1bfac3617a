#!/usr/bin/env bash
# Makes models/racket.onnx again on a machine with a GPU, PyTorch, OpenCV, onnx, Pillow and Matplotlib.
#   scripts/make-racket-model.sh CLIPS PICTURES [OUT] [SECONDS]
# CLIPS: rendered clips with truth (NAME.mp4, NAME.json.gz); PICTURES: a folder with the photographs of opencv-doc (Debian),
# scikit-image and scikit-learn (PyPI), unpacked; see scripts/racket/README.md. Uses every card of the machine.
set -euo pipefail
if [ $# -lt 2 ]; then
    sed -n '2,5s/^# *//p' "$0" >&2
    exit 2
fi
here=$(cd "$(dirname "$0")" && pwd)
clips=$1 pictures=$2 out=${3:-$here/../target/racket} seconds=${4:-565}
mkdir -p "$out"
[ -f "$out/crops.npz" ] || python3 "$here/racket/extract.py" --clips "$clips" --pictures "$pictures" --out "$out" --per-clip 300
cards=$(python3 -c 'import torch; print(max(1, torch.cuda.device_count()))')
# Three times, each but the first from the last one's weights and with a smaller step.
run() { python3 -m torch.distributed.run --standalone --nproc_per_node="$cards" "$here/racket/train.py" --data "$out" --out "$out" --seconds "$seconds" "$@"; }
run --seed 1
cp "$out/racket.pt" "$out/first.pt"
run --seed 2 --from "$out/first.pt" --rate 3e-3
cp "$out/racket.pt" "$out/second.pt"
run --seed 3 --from "$out/second.pt" --rate 3e-3
echo "$out/racket.onnx: copy it to models/ and put its checksum into models/racket.toml"
