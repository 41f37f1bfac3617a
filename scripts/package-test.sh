#!/usr/bin/env bash
# Install the Debian package into a clean root, measure the demo from another folder as another user and without the checkout,
# remove the package and look for remains; then the same measurement from the tarball.
set -euo pipefail

die() { printf 'package-test: %s\n' "$*" >&2; exit 1; }

[ $# -le 1 ] || die "usage: scripts/package-test.sh [FOLDER OF THE PACKAGES]"
cd "$(dirname "$0")/.."
checkout=$PWD
packages=$(cd "${1:-${CARGO_TARGET_DIR:-target}/package}" && pwd)
debs=("$packages"/toeline_*.deb)
tarballs=("$packages"/toeline-*.tar.gz)
[ -f "${debs[0]}" ] && [ -f "${tarballs[0]}" ] || die "no packages in $packages; run scripts/package.sh"
[ "$(id -u)" -eq 0 ] || die "run this as root: it installs into a root of its own"
version=$(sed -n 's/^version = "\(.*\)"$/\1/p' Cargo.toml | head -n 1)

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
chmod 755 "$work"
cp fixtures/demo.mp4 "$work/"

measured() { # PROGRAM: measures the demo as the user nobody, without network and checkout, and looks at what comes of it
  local program=$1 place
  place=$(mktemp -d "$work/user.XXXX")
  cp "$work/demo.mp4" "$place/practice.mp4"
  chown -R nobody "$place"
  # In namespaces of its own the checkout is an empty folder, and there is no network.
  # shellcheck disable=SC2016  # they are for the inner shell
  unshare --mount --net bash -euc '
    mount -t tmpfs none "$1"
    cd "$2"
    exec setpriv --reuid=nobody --clear-groups env -i HOME="$2" PATH=/usr/bin:/bin LANG=C.UTF-8 \
      "$3" measure practice.mp4 --height 180 --review --xlsx' - "$checkout" "$place" "$program" \
    >"$work/printed.txt" 2>"$work/said.txt" || { cat "$work/said.txt" >&2; die "$program failed"; }
  grep -q "practice.mp4: 4 forehands" "$work/printed.txt" || { cat "$work/printed.txt" >&2; die "$program found something else"; }
  for file in strokes.csv measures.csv review.html tables.xlsx charts/hand_speed.svg; do
    [ -s "$place/practice-toeline/$file" ] || die "$program did not write $file"
  done
  [ "$(wc -l <"$place/practice-toeline/strokes.csv")" -eq 5 ] || die "strokes.csv has not 4 rows"
  [ "$("$program" --version)" = "toeline $version" ] || die "$program says another version"
}

# What the package needs is on this system, which built it.
IFS=, read -ra needs <<<"$(dpkg-deb --field "${debs[0]}" Depends)"
for need in "${needs[@]}"; do
  need=${need# }
  name=${need%%[ (|]*}
  dpkg-query --show --showformat='${db:Status-Status}\n' "$name" 2>/dev/null | grep -qx installed || die "it needs $name, which is not installed"
done

root=$work/root
mkdir -p "$root/var/lib/dpkg/info" "$root/var/lib/dpkg/updates" "$root/var/log"
: >"$root/var/lib/dpkg/status"
packaged() { dpkg --root="$root" --log=/dev/null --force-depends "$@" >"$work/dpkg.txt" 2>&1 || { cat "$work/dpkg.txt" >&2; die "dpkg $*"; }; }
packaged --install "${debs[0]}"
[ "$(dpkg-query --admindir="$root/var/lib/dpkg" --show --showformat='${Version} ${db:Status-Status}' toeline)" = "$version installed" ] ||
  die "dpkg does not list it"
measured "$root/usr/bin/toeline"
zgrep -q capture "$root/usr/share/man/man1/toeline-measure.1.gz" || die "the manual is not whole"
bash -n "$root/usr/share/bash-completion/completions/toeline" || die "bash does not understand the completions"
zgrep -q "clap " "$root/usr/share/doc/toeline/crates-licences.txt.gz" || die "licences of crates are missing"
packaged --purge toeline
remains=$(find "$root" -not -type d -not -path "$root/var/lib/dpkg/*")
[ -z "$remains" ] || die "remains after removal: $remains"
[ ! -e "$root/usr/share/toeline" ] || die "folders remain after removal"

mkdir "$work/anywhere"
tar --extract --file "${tarballs[0]}" --directory "$work/anywhere"
measured "$(echo "$work"/anywhere/toeline-*/bin/toeline)"

echo "package-test: installed, measured, removed; and measured from the tarball"
