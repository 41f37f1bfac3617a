#!/usr/bin/env bash
# Set up, build, measure the clip that comes with the project, and say where the results are.
set -euo pipefail

cd "$(dirname "$0")/.."
PATH=$PATH:${CARGO_HOME:-${HOME:-}/.cargo}/bin
clip=fixtures/demo.mp4 results=toeline-demo

scripts/setup.sh
cargo build --release --locked
[ -f "$clip" ] || { echo "demo: $clip is missing; is the checkout complete?" >&2; exit 1; }
# Only this script writes there: without the earlier run's files, what is listed below is this run's.
rm -rf "$results"
"${CARGO_TARGET_DIR:-target}/release/toeline" measure "$clip" --out "$results"

echo
echo "demo: the results are in $PWD/$results:"
find "$results" -type f | sort | sed 's/^/  /'
