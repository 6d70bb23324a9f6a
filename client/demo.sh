#!/usr/bin/env bash
# Sets up a Debian 12 machine, builds Fieldpeg and plays the main job on an invented club's day: six
# pilots, two ground stations, one of whose relays is far too strong; first from the day file alone,
# then live, with a server on loopback and everybody joining it.
set -euo pipefail
cd "$(dirname "$0")/.."

bash .ci/setup build
cmake --preset release -DBUILD_TESTING=OFF >/dev/null  # the tests need more packages
cmake --build --preset release --target fieldpeg fieldpegd | tail -n 1

fieldpeg=$PWD/build/release/client/fieldpeg
fieldpegd=$PWD/build/release/server/fieldpegd
work=$(mktemp -d)
server=
stop_server() {
    [ -z "$server" ] && return
    kill -TERM "$server" && wait "$server" || true
    server=
}
trap 'stop_server; rm -rf "$work"' EXIT
cp client/demo_day.toml "$work/harvest.toml"
cd "$work"
export XDG_CONFIG_HOME=$work/config

say() { printf '\n\n### %s\n' "$1"; }
# Shows a command, runs it, and insists on its exit status.
expect() {
    local status=$1 got=0
    shift
    printf '\n$ fieldpeg'
    printf ' %q' "$@"
    printf '\n'
    "$fieldpeg" "$@" || got=$?
    [ "$got" -eq "$status" ] || { echo "demo: exit status $got, expected $status" >&2; exit 1; }
}

say "Harvest fly-in, Alder Meadow: who can see? (exit status 3: somebody cannot)"
expect 3 check --day harvest.toml

say "Finn's relay was set by guess. Is 600 mW too much, for whom, and what would help?"
expect 3 relay check "Finn's tripod" --day harvest.toml

say "And would 25 mW do?"
expect 0 relay check "Finn's tripod" --day harvest.toml --power 25mW

say "Why is Edda's picture gone? The budget, term by term."
expect 0 explain Edda --day harvest.toml

say "No day file at hand: would 200 mW do on F4, a neighbour on R6 eight metres away?"
expect 3 relay check --channel F4 --power 200mW --owner-distance 25 \
    --neighbour-channel R6 --neighbour-distance 8

say "Which channels go together?"
expect 0 channels R1 R2 F2 F4 F6 --reach 20

say "Where should everybody go for the next flights? The best there is, and a bound that nobody can beat"
"$fieldpeg" plan --day harvest.toml --landed || true
say "And in flight groups, so that all reach a margin of 1 dB"
"$fieldpeg" rota --day harvest.toml --landed --margin 1 || true

say "The day begins: the server starts, Finn's relay is still off"
sed -i '/# far too strong/,$ s/on_air = true/on_air = false/' harvest.toml
"$fieldpegd" --day harvest.toml --listen 127.0.0.1:0 --board 127.0.0.1:0 --no-discovery 2> server.txt &
server=$!
for _ in $(seq 100); do
    grep -q 'stop with Ctrl-C' server.txt && break
    sleep 0.1
done
cat server.txt

# The server keeps its tickets in a file that only the marshal reads.
ticket_of() { grep -A1 "# $1" harvest.tickets | tail -n 1 > "$1.ticket"; }
ticket_of marshal
ticket_of pilot
ticket_of onlooker

say "The marshal joins, and gives Edda and Finn tickets of their own"
expect 0 join Marshal --ticket marshal.ticket
expect 0 ticket --pilot Edda --file edda.ticket
expect 0 ticket --pilot Finn --file finn.ticket
expect 0 join Edda --ticket edda.ticket
expect 0 join Finn --ticket finn.ticket

say "Gil walks up, joins with the pilots' ticket and enters a quad"
expect 0 join Gil --ticket pilot.ticket
expect 0 pilot add Gil --as Gil --place line-1 --power 25mW,200mW --channels R1-R8,F1-F8

say "Edda is on F6 already: Gil is told no, and what would do"
expect 3 claim F6 --as Gil
say "So Gil asks for the best channel, and whether to switch on"
expect 0 claim best --as Gil
expect 0 on --as Gil

say "Edda watches"
"$fieldpeg" watch --as Edda > edda.txt &
watcher=$!
for _ in $(seq 100); do
    [ -s edda.txt ] && break
    sleep 0.1
done

say "Finn asks whether to switch the relay on at 600 mW: wait"
expect 3 relay on "Finn's tripod" --as Finn
say "It was switched on all the same. That is a fact, and Edda is warned by name"
expect 0 on "Finn's tripod" --already --as Finn
for _ in $(seq 100); do
    grep -q '!! Edda' edda.txt && break
    sleep 0.1
done
grep '!! Edda' edda.txt
bad_moment=$("$fieldpeg" log --as Marshal --kind warning --form csv | tail -n 1 | cut -d, -f1)

say "Off again; 25 mW instead, and now on"
expect 0 relay off "Finn's tripod" --yes --as Finn
expect 0 claim A1 --for "Finn's tripod" --power 25mW --as Finn
expect 0 relay on "Finn's tripod" --as Finn

say "Somebody in the car park powers up on R4, unasked"
expect 0 seen R4 --note "car park, no name" --as Marshal
expect 0 board --as Marshal

say "Cem lands. Ben may have F4 beside him, the marshal says, and why"
expect 0 off Cem --as Marshal
expect 0 off Ben --as Marshal
expect 0 allow Ben F4 --because "Cem has landed and charges for an hour" --as Marshal

say "Why was Edda's picture gone a moment ago? As it was then, at entry #$bad_moment of the log"
expect 0 explain Edda --at "#$bad_moment" --as Marshal

say "Who could have hit her there at that moment, strongest first"
expect 0 log --near F6 --at "#$bad_moment" --as Marshal

say "Who was around A1, at what power, and when"
expect 0 log --near A1 --within 10 --as Marshal

say "What a phone sees, at the address that the server printed above"
board=$(sed -n 's/.*page for phones is \(http[^ ]*\)$/\1/p' server.txt)
echo "$board"

say "The whole day as one page to keep, send or print"
"$fieldpeg" report --as Marshal > report.html && ls -l report.html | awk '{print $5, "bytes"}'

say "Everything stops cleanly; the log is there, and its chain holds"
kill "$watcher" 2>/dev/null || true
stop_server
expect 0 log --day harvest.toml --last 5
