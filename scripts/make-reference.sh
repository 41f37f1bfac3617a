#!/usr/bin/env bash
# Make src/targets/reference.csv, what recorded club players do, from the recordings of the Tennis-MoCap data set:
# https://github.com/jdpulgarin/Tennis-MoCap (CC BY-SA 3.0).
#
# usage: make-reference.sh MOCAP
#
# MOCAP holds labels.csv, the takes of the players who form the bands in data/ and those of other players in held/. How many
# medians of the others lie in the middle half, and how many players each of the usual targets flags, is told on standard error.
set -euo pipefail

cd "$(dirname "$0")/.."
mocap=${1:?usage: make-reference.sh MOCAP}
table=src/targets/reference.csv
made=$(mktemp)
trap 'rm -f "$made"' EXIT

cargo run --release --locked --example reference -- "$mocap/labels.csv" "$mocap/data" "$mocap/held" > "$made"
{
    echo "# Quartiles of recorded tennis players, made by scripts/make-reference.sh. Each player counts once, with the median of three"
    echo "# strokes or more; another player lies between the quartiles once in two (Hyndman and Fan 1996, type 6). Lengths are shares"
    echo "# of the stature. Seen square from the side, hand and direction known, strokes as the recogniser finds them where it names"
    echo "# them rightly. Club = the players that the data set calls regular; nearly all hit backhands with two hands."
    echo "# From the Tennis-MoCap data set, https://github.com/jdpulgarin/Tennis-MoCap, by"
    echo "# J. D. Pulgarin-Giraldo, A. M. Alvarez-Meza, L. G. Melo-Betancourt, S. Ramos-Bermudez and G. Castellanos-Dominguez"
    echo "# (https://doi.org/10.1007/978-3-319-52277-7_38). This table: CC BY-SA 3.0, https://creativecommons.org/licenses/by-sa/3.0/"
    cat "$made"
} > "$table"
