#!/usr/bin/env bash
# Set up and run every check: formatting, lints, tests, documentation's examples. All are run, even after one fails.
set -euo pipefail

cd "$(dirname "$0")/.."
PATH=$PATH:${CARGO_HOME:-${HOME:-}/.cargo}/bin
scripts/setup.sh --tests
# Everything that tests use is there now, so none may leave itself out for want of a program.
export TOELINE_ALL_PROGRAMS=1

logs=${CARGO_TARGET_DIR:-target}/test-results
mkdir -p "$logs"
failed=()
check() { # NAME COMMAND...
  local name=$1
  shift
  echo
  echo "== $name: $*"
  "$@" 2>&1 | tee "$logs/$name.txt" || failed+=("$name")
}

check format cargo fmt --check
check lint cargo clippy --locked --all-targets -- -D warnings
if cargo nextest --version >/dev/null 2>&1; then
  check tests cargo nextest run --locked
else
  # The library's, the program's and tests/; the documentation's examples follow.
  check tests cargo test --locked --lib --bins --tests --examples
fi
check examples-in-documentation cargo test --locked --doc

echo
echo "test: each check's output is in $logs/"
if [ ${#failed[@]} -gt 0 ]; then
  echo "test: failed: ${failed[*]}"
  exit 1
fi
echo "test: all checks passed"
