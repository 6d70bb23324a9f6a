#!/usr/bin/env bash
# Fuzzes one parser of the dev tree for so many seconds. Usage: bash tests/fuzz/run.sh day_file|command SECONDS
set -euo pipefail
cd "$(dirname "$0")/../.."
corpus=$(mktemp -d)
trap 'rm -rf "$corpus"' EXIT
more=()
if [ "$1" = day_file ]; then
    cp client/demo_day.toml server/data/new_day.toml "$corpus"
    more=(-dict=tests/fuzz/day_file.dict)
fi
build/dev/tests/"$1"_fuzz -max_total_time="$2" -max_len=20000 -print_final_stats=1 -verbosity=0 "${more[@]}" \
    "$corpus" 2>&1 | grep -v 'NEW_FUNC'
