#!/usr/bin/env bash
# Install what toeline is built and run with on Debian 12 (bookworm) or a later Debian-like system.
# What is there already is left alone; a second run changes nothing and takes a moment.
set -euo pipefail

usage() {
  cat <<'TEXT'
usage: scripts/setup.sh [--tests]

Installs system packages with apt-get (as root, or through sudo), puts ONNX Runtime's library into runtime/,
and checks that there is a Rust toolchain that is new enough.
  --tests   also install what the tests use: ffmpeg, rsvg-convert, LibreOffice (without its windows), Chromium and, in
            target/checkers, frictionless, playwright, axe-core, cargo-deny and ruff
TEXT
}

die() { printf 'setup: %s\n' "$*" >&2; exit 1; }

root=$(cd "$(dirname "$0")/.." && pwd)
packages=(build-essential ca-certificates pkg-config libclang-dev
  libavutil-dev libavcodec-dev libavformat-dev libswscale-dev libswresample-dev)
tests=no
while [ $# -gt 0 ]; do
  case $1 in
    --tests)
      tests=yes
      packages+=(ffmpeg librsvg2-bin libreoffice-calc-nogui chromium fonts-dejavu-core)
      ;;
    -h | --help) usage; exit 0 ;;
    *) usage >&2; exit 2 ;;
  esac
  shift
done

# ONNX Runtime: version, the library's name in the wheel, and checksums of the wheel and of the library in it.
onnxruntime_version=1.31.1
case $(uname -s)-$(uname -m) in
  Linux-x86_64)
    architecture=x86_64
    wheel_sha256=5752bd508126ae7c49894d3b9d2e83f0c3d487319246d04c444b393308d7ad7f
    library_sha256=fc44112fbe06d7d689c57e11d3862031f64711007e4ee020f8eed5185fd2c1d3
    ;;
  Linux-aarch64)
    architecture=aarch64
    wheel_sha256=da05378364c44d4407e463982d2bf8d5e4cfea873283757e48beeb41df97b7f3
    library_sha256=8aa3b76b28c778a2b1dd660d34161adb1d508c9ccd04ff9dc80e26eca5df8467
    ;;
  *) die "no pinned ONNX Runtime for $(uname -s) on $(uname -m).
  Install ONNX Runtime $onnxruntime_version or later yourself and set ORT_DYLIB_PATH to its shared library." ;;
esac
library=$root/runtime/libonnxruntime.so

has_sha256() { # FILE SHA256
  [ -f "$1" ] && [ "$(sha256sum "$1" | cut -d ' ' -f 1)" = "$2" ]
}

install_packages() { # PACKAGE...
  local missing=() package
  for package in "$@"; do
    # shellcheck disable=SC2016  # dpkg-query's own placeholder
    [ "$(dpkg-query --show --showformat='${db:Status-Status}' "$package" 2>/dev/null || true)" = installed ] || missing+=("$package")
  done
  [ ${#missing[@]} -gt 0 ] || return 0
  local as_root=()
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || die "run this as root, or install sudo; missing packages: ${missing[*]}"
    as_root=(sudo)
    echo "setup: installing through sudo: ${missing[*]}"
  else
    echo "setup: installing as root: ${missing[*]}"
  fi
  "${as_root[@]}" apt-get update --quiet=2
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install --yes --quiet=2 --no-install-recommends "${missing[@]}" >/dev/null
}

fetch_library() {
  command -v python3 >/dev/null || install_packages python3
  python3 -m pip --version >/dev/null 2>&1 || install_packages python3-pip
  local download
  download=$(mktemp -d)
  # shellcheck disable=SC2064  # the folder's name is wanted as it is now
  trap "rm -rf '$download'" EXIT
  echo "setup: fetching ONNX Runtime $onnxruntime_version for $architecture"
  # The library is the same in the wheels of all Python versions; naming one makes the choice not depend on this python3.
  python3 -m pip --quiet --disable-pip-version-check download --no-deps --only-binary :all: --dest "$download" \
    --implementation cp --python-version 3.11 --abi cp311 --platform "manylinux_2_28_$architecture" \
    "onnxruntime==$onnxruntime_version" ||
    die "the package index that pip is set up for could not be reached, or has no onnxruntime $onnxruntime_version (see pip's message above)"
  local wheel=$download/onnxruntime-$onnxruntime_version-cp311-cp311-manylinux_2_28_$architecture.whl
  has_sha256 "$wheel" "$wheel_sha256" || die "the wheel that was fetched is not the pinned one: its sha256 is not $wheel_sha256"
  (cd "$download" && python3 -m zipfile --extract "$wheel" unpacked)
  mkdir -p "$root/runtime"
  cp "$download/unpacked/onnxruntime/LICENSE" "$root/runtime/LICENSE-onnxruntime"
  cp "$download/unpacked/onnxruntime/ThirdPartyNotices.txt" "$root/runtime/ThirdPartyNotices-onnxruntime.txt"
  # Copied beside its place and moved, so that an interrupted run leaves no half library behind.
  cp "$download/unpacked/onnxruntime/capi/libonnxruntime.so.$onnxruntime_version" "$library.new"
  has_sha256 "$library.new" "$library_sha256" || die "the library in the wheel is not the pinned one: its sha256 is not $library_sha256"
  mv "$library.new" "$library"
}

# The checkers of data packages, pages, crates and Python, in a folder of their own.
checkers=$root/target/checkers
requirements=$root/tests/requirements.txt

install_checkers() {
  ! cmp --silent "$requirements" "$checkers/installed.txt" || return 0
  command -v python3 >/dev/null || install_packages python3
  python3 -c 'import ensurepip' 2>/dev/null || install_packages python3-venv
  echo "setup: installing $(tr '\n' ' ' <"$requirements")in target/checkers"
  python3 -m venv "$checkers"
  "$checkers/bin/python" -m pip --quiet --disable-pip-version-check install --requirement "$requirements" ||
    die "the tests' checkers could not be installed from the package index that pip is set up for (see pip's message above)"
  cp "$requirements" "$checkers/installed.txt"
}

check_cargo() {
  local wanted cargo=cargo found
  wanted=$(sed -n 's/^rust-version = "\(.*\)"$/\1/p' "$root/Cargo.toml")
  # rustup's folder is often not in a non-interactive shell's PATH.
  command -v cargo >/dev/null || cargo=${CARGO_HOME:-${HOME:-}/.cargo}/bin/cargo
  command -v "$cargo" >/dev/null || die "there is no cargo. toeline needs Rust $wanted or later, and Debian 12's own package is too old:
  install Rust with rustup, as https://www.rust-lang.org/tools/install tells, open a new shell and run this script again.
  Everything else is set up."
  found=$(cd "$root" && "$cargo" --version | cut -d ' ' -f 2)
  [ "$(printf '%s\n' "$wanted" "$found" | sort --version-sort | head -n 1)" = "$wanted" ] ||
    die "cargo $found is too old: toeline needs Rust $wanted or later. Run 'rustup update stable', or install Rust with rustup,
  as https://www.rust-lang.org/tools/install tells, and run this script again. Everything else is set up."
}

if command -v apt-get >/dev/null && command -v dpkg-query >/dev/null; then
  install_packages "${packages[@]}"
else
  echo "setup: this system has no apt-get; install the counterparts of these Debian packages yourself: ${packages[*]}" >&2
fi
has_sha256 "$library" "$library_sha256" || fetch_library
[ "$tests" = no ] || install_checkers
check_cargo
echo "setup: ready (ONNX Runtime $onnxruntime_version in runtime/)"
