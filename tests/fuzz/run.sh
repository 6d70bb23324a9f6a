#!/usr/bin/env bash
# Fuzzes what meets the outside. Usage: bash tests/fuzz/run.sh [-b BUILD] TARGET|all SECONDS
#   command    frames, commands, questions, wishes to join
#   day_file   day files
#   log        records of a log
#   page       HTTP and WebSocket, without a key
#   parts      TOML that is put into a running day: kits, gear, pilots
#   reply      what a server says, shown in every form
#   text       tickets, addresses, names, channels, powers, moments, sweeps, what a client keeps
# 'all' runs each for so many seconds, two at a time. FIELDPEG_CORPUS=FOLDER keeps what was found worth keeping,
# FIELDPEG_SEED=N (not 0) tries the same again, as far as it comes in that time.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=build/dev
if [ "${1:-}" = -b ]; then build=$2; shift 2; fi
[ $# -eq 2 ] || { sed -n '2,12s/^# \?//p' "$0"; exit 2; }
target=$1 seconds=$2

if [ "$target" = all ]; then
    printf '%s\n' command day_file log page parts reply text |
        xargs -P 2 -I TARGET bash tests/fuzz/run.sh -b "$build" TARGET "$seconds"
    exit
fi

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
corpus=${FIELDPEG_CORPUS:-$scratch/corpus}/$target
mkdir -p "$corpus"
[ -d "tests/fuzz/corpus/$target" ] && cp "tests/fuzz/corpus/$target"/* "$corpus"
more=(-max_len=4000)
case $target in
    day_file)
        cp client/demo_day.toml server/data/new_day.toml "$corpus"
        more=(-max_len=20000 -dict=tests/fuzz/day_file.dict)
        ;;
    parts) more=(-max_len=4000 -dict=tests/fuzz/day_file.dict) ;;
    page) more=(-max_len=1500 -dict=tests/fuzz/page.dict) ;;
    text) more=(-max_len=2000 -dict=tests/fuzz/text.dict) ;;
    reply) more=(-max_len=20000) ;;
esac
log=$scratch/log
if ! "$build/tests/${target}_fuzz" -seed="${FIELDPEG_SEED:-0}" -max_total_time="$seconds" -timeout=20 -rss_limit_mb=2000 -print_final_stats=1 \
    -verbosity=0 -artifact_prefix="$scratch/" "${more[@]}" "$corpus" >"$log" 2>&1; then
    cat "$log"
    echo "$target: what ended it, in base 64:"
    base64 "$scratch"/*-* || true
    exit 1
fi
awk -v target="$target" -v seconds="$seconds" '
    /number_of_executed_units/ { runs = $2 } /new_units_added/ { added = $2 } /peak_rss/ { rss = $2 }
    END { printf "%-9s %9d executions in %d s, %d inputs that led somewhere new, %d MB\n", target, runs, seconds, added, rss }' "$log"
