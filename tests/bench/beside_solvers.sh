#!/usr/bin/env bash
# The planner beside general-purpose solvers on the same tables, in one run: a constraint solver and a
# MIP solver from Debian. Each has LIMIT seconds; times are of the processor.
#
#     bash tests/bench/beside_solvers.sh build/release [LIMIT]
#
# Installs what is missing.
set -euo pipefail
build=$1
limit=${2:-60}
for package in minizinc coinor-cbc; do
    dpkg -s "$package" >/dev/null 2>&1 || missing+=("$package")
done
if [ -n "${missing:-}" ]; then
    as_root=()
    [ "$(id -u)" = 0 ] || as_root=(sudo)
    "${as_root[@]}" apt-get update -qq
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
fi
models=$(mktemp -d)
trap 'rm -r "$models"' EXIT
TIMEFORMAT='    %U s of CPU'
for case in "5 0" "6 0" "8 0" "8 6" "12 6"; do
    read -r pilots channels <<<"$case"
    echo "$pilots pilots alike, $( [ "$channels" = 0 ] && echo all 39 || echo "$channels of 39" ) channels"
    "$build/tests/beside_solvers" "$pilots" "$channels" "$models/model"
    echo "constraint solver:"
    time (timeout $((6 * limit + 60)) minizinc --solver gecode --time-limit $((limit * 1000)) \
        "$models/model.mzn" 2>&1 | tail -n 3 | sed 's/^/    /' || true)
    echo "MIP solver:"
    time (timeout $((6 * limit + 60)) cbc "$models/model.lp" sec "$limit" solve 2>&1 |
        grep -E '^(Result|Objective value|Lower bound|Gap)' | sed 's/^/    /' || true)
done
