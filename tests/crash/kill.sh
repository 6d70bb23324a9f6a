#!/usr/bin/env bash
# Kills the real server, without warning, while two clients claim as fast as they can, and starts it
# again: every claim that was answered with yes must be in the log, the log must hold, and what was
# on the air must still be. Usage: kill.sh FIELDPEG FIELDPEGD [ROUNDS]
set -euo pipefail
fieldpeg=$(realpath "$1")
fieldpegd=$(realpath "$2")
rounds=${3:-4}
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
server=
trap '[ -n "$server" ] && kill -9 "$server" 2>/dev/null; rm -rf "$work"' EXIT
cp "$here/../../client/demo_day.toml" "$work/day.toml"
cd "$work"
export XDG_CONFIG_HOME=$work/config

fail() { echo "kill: $1" >&2; exit 1; }
source "$here/../support/server.sh"

start 0
port=$(port_of_server)
ticket_of marshal
"$fieldpeg" join Marshal --ticket marshal.ticket > /dev/null
"$fieldpeg" off Ann --as Marshal > /dev/null
"$fieldpeg" off Cem --as Marshal > /dev/null

# Claims back and forth, and writes down each version that was answered with yes.
claim_on() {
    local who=$1 n=0
    while true; do
        n=$((n + 1))
        channel=$([ $((n % 2)) -eq 0 ] && echo "$2" || echo "$3")
        "$fieldpeg" allow "$who" "$channel" --because "round $n" --as Marshal --json > "$who.json" 2> /dev/null || return 0
        sed -n 's/^ "version": "\([0-9]*\)".*/\1/p' "$who.json" >> "$who.yes"
    done
}

for round in $(seq "$rounds"); do
    touch Ann.yes Cem.yes  # killed before the first answer there is none
    claim_on Ann R1 R7 &
    first=$!
    claim_on Cem A4 F8 &
    second=$!
    sleep "0.$((RANDOM % 7 + 2))"
    kill -9 "$server"
    wait "$server" 2> /dev/null || true
    start "$port"
    sleep 0.3
    kill "$first" "$second" 2> /dev/null || true
    wait "$first" "$second" 2> /dev/null || true
    "$fieldpeg" log --as Marshal --form csv > log.csv
    cut -d, -f1 log.csv | sort > in_log
    sort -u Ann.yes Cem.yes > said_yes
    lost=$(comm -13 in_log said_yes)
    [ -z "$lost" ] || fail "answered with yes and not in the log: $lost"
    on_air=$("$fieldpeg" board --as Marshal --json | grep -c '"stage": "on_air"')
    [ "$on_air" -eq 6 ] || fail "$on_air on the air, not 6"
done
stop
"$fieldpeg" log --day day.toml --last 1 > /dev/null
echo "kill: $rounds times, $(wc -l < said_yes) answers, none lost"
