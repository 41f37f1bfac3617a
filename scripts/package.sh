#!/usr/bin/env bash
# Make packages that need no Rust: a Debian package, and a tarball for other Linux systems.
set -euo pipefail

usage() {
  cat <<'TEXT'
usage: scripts/package.sh [--out DIR] [--binary FILE]

Builds the program and writes toeline_VERSION_ARCH.deb and toeline-VERSION-linux-ARCH.tar.gz.
Both hold the program, its models, ONNX Runtime's library, manual pages, completions and all licences.
FFmpeg's libraries come from the system; the packages say which versions they need.
  --out DIR      where to put them (target/package)
  --binary FILE  pack this program instead of building one
scripts/setup.sh has to have been run before.
TEXT
}

die() { printf 'package: %s\n' "$*" >&2; exit 1; }

cd "$(dirname "$0")/.."
PATH=$PATH:${CARGO_HOME:-${HOME:-}/.cargo}/bin
out=${CARGO_TARGET_DIR:-target}/package
binary=
while [ $# -gt 0 ]; do
  case $1 in
    --out) out=${2:?--out needs a folder}; shift ;;
    --binary) binary=${2:?--binary needs a file}; shift ;;
    -h | --help) usage; exit 0 ;;
    *) usage >&2; exit 2 ;;
  esac
  shift
done

for program in dpkg-deb dpkg-shlibdeps strip gzip; do
  command -v "$program" >/dev/null || die "$program is missing; install the Debian packages dpkg-dev and binutils"
done
library=runtime/libonnxruntime.so
[ -f "$library" ] || die "$library is missing; run scripts/setup.sh"
if [ -z "$binary" ]; then
  cargo build --release --locked
  binary=${CARGO_TARGET_DIR:-target}/release/toeline
fi
[ -x "$binary" ] || die "$binary is not a program"

version=$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -n 1)
architecture=$(dpkg --print-architecture)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
umask 022

# The same tree serves both packages: bin, lib and share below usr.
root=$work/root
usr=$root/usr
install -D -m 755 "$binary" "$usr/bin/toeline"
strip "$usr/bin/toeline"
install -D -m 644 "$library" "$usr/lib/toeline/libonnxruntime.so"
mkdir -p "$usr/share/toeline/runtime"
# Where the program looks for it; libraries themselves do not belong into share.
ln -s ../../../lib/toeline/libonnxruntime.so "$usr/share/toeline/runtime/libonnxruntime.so"

# The heavy model is made on demand and is no part of the packages.
install -d "$usr/share/toeline/models"
for file in models/*; do
  case $file in
    */pose_landmark_heavy.*) ;;
    *) install -m 644 "$file" "$usr/share/toeline/models/" ;;
  esac
done

"$binary" man --out "$usr/share/man/man1"
gzip -9n "$usr"/share/man/man1/*.1
completion() { # SHELL FILE
  mkdir -p "$(dirname "$usr/share/$2")"
  "$binary" completions "$1" >"$usr/share/$2"
}
completion bash bash-completion/completions/toeline
completion zsh zsh/vendor-completions/_toeline
completion fish fish/vendor_completions.d/toeline.fish

doc=$usr/share/doc/toeline
install -d "$doc"
install -m 644 README.md THIRD-PARTY.md LICENSE-MIT LICENSE-APACHE "$doc/"
install -m 644 runtime/LICENSE-onnxruntime runtime/ThirdPartyNotices-onnxruntime.txt "$doc/"
python3 scripts/third-party.py --texts "$doc/crates-licences.txt"
gzip -9nc CHANGELOG.md >"$doc/changelog.gz"
gzip -9n "$doc/ThirdPartyNotices-onnxruntime.txt" "$doc/crates-licences.txt"
cat >"$doc/copyright" <<'TEXT'
Format: https://www.debian.org/doc/packaging-manuals/copyright-format/1.0/
Upstream-Name: toeline

Files: *
Copyright: the authors of toeline
License: MIT or Apache-2.0
 The texts are in LICENSE-MIT and LICENSE-APACHE in this folder. What others made (models, ONNX Runtime, crates, fonts, data)
 is listed in THIRD-PARTY.md; its texts are in crates-licences.txt.gz, in LICENSE-onnxruntime and
 ThirdPartyNotices-onnxruntime.txt.gz, and beside the models in /usr/share/toeline/models.
TEXT

# The program links FFmpeg's libraries; which packages and versions those are is asked of the system it was built on.
mkdir -p "$work/depends/debian"
printf 'Source: toeline\n\nPackage: toeline\nArchitecture: any\n' >"$work/depends/debian/control"
depends=$(cd "$work/depends" && dpkg-shlibdeps -O "$usr/bin/toeline" "$usr/lib/toeline/libonnxruntime.so" 2>"$work/shlibdeps.txt" |
  sed -n 's/^shlibs:Depends=//p')
case $depends in
  *libavcodec*) ;;
  *) cat "$work/shlibdeps.txt" >&2; die "the packages of FFmpeg's libraries could not be told" ;;
esac

mkdir -p "$root/DEBIAN" "$out"
cat >"$root/DEBIAN/control" <<TEXT
Package: toeline
Version: $version
Architecture: $architecture
Maintainer: the authors of toeline <toeline@localhost>
Section: science
Priority: optional
Installed-Size: $(du -sk "$usr" | cut -f 1)
Depends: $depends
Description: measures tennis strokes in practice clips
 toeline finds every stroke in a video of one player, splits it into its
 phases and measures takeback, contact point, weight, rotation and tempo.
 Each number comes with its uncertainty. It needs no graphics card and
 never uses the network.
TEXT
deb=$out/toeline_${version}_$architecture.deb
dpkg-deb --root-owner-group -Zxz --build "$root" "$deb" >/dev/null

# The tarball is the same tree without Debian's part, to be unpacked anywhere.
name=toeline-$version-linux-$(uname -m)
mv "$usr" "$work/$name"
system=$(sed -n 's/^VERSION_ID="*\([^"]*\)"*$/\1/p' /etc/os-release)
needed=$(objdump -p "$work/$name/bin/toeline" | sed -n 's/^ *NEEDED *\(lib\(av\|sw\)[^ ]*\)$/  \1/p' | sort)
cat >"$work/$name/INSTALL.txt" <<TEXT
toeline $version for Linux ($(uname -m))

Unpack this folder where you like and run bin/toeline from it, or link bin/toeline into a folder of your PATH.
It needs glibc as on Debian $system or later, and these libraries of FFmpeg:
$needed
Licences are in share/doc/toeline.
TEXT
tarball=$out/$name.tar.gz
tar --create --gzip --owner=0 --group=0 --numeric-owner --sort=name --directory "$work" --file "$tarball" "$name"

echo "package: $deb ($(du -h "$deb" | cut -f 1))"
echo "package: $tarball ($(du -h "$tarball" | cut -f 1))"
