#!/usr/bin/env bash
# Kills the real server at its first start, when each of its files appears and at moments by chance, and
# lets it run out of room: after that a start must find a whole day with good tickets, or begin anew as if
# nothing had been, with nothing left over. The same for a renewal of the secrets.
# Usage: first_start.sh FIELDPEG FIELDPEGD [ROUNDS]
set -euo pipefail
fieldpeg=$(realpath "$1")
fieldpegd=$(realpath "$2")
rounds=${3:-2}
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
server=
trap '[ -n "$server" ] && kill -9 "$server" 2>/dev/null; rm -rf "$work"' EXIT
export XDG_CONFIG_HOME=$work/config

fail() { echo "first_start: $1" >&2; ls -l >&2; exit 1; }
source "$here/../support/server.sh"

fresh() {  # NAME
    mkdir "$work/$1"
    cd "$work/$1"
    cp "$here/../../client/demo_day.toml" day.toml
}

begin() {  # PORT ARG...: starts, and does not wait
    : > begun.txt
    "$fieldpegd" --day day.toml --listen "127.0.0.1:$1" --board none --no-discovery "${@:2}" 2> begun.txt &
    server=$!
}

kill_it() {
    kill -9 "$server" 2> /dev/null || true
    wait "$server" 2> /dev/null || true
    server=
}

kill_when() {  # FILE appears; it may be gone before it was seen: then a moment later
    until [ -e "$1" ] || [[ $(< begun.txt) = *Ctrl-C* ]] || [ ! -e "/proc/$server/exe" ]; do :; done
    kill_it
}

# What a start finds after that. A log under its name is a day with tickets that are good.
whole() {  # WHEN
    [ -e day.identity.pem ] && [ ! -s day.identity.pem ] && fail "$1: an identity of 0 bytes"
    if [ -e day.daylog ]; then
        "$fieldpeg" log --day day.toml > log.txt || fail "$1: the log cannot be read"
        grep -q 'set_up\|set up' log.txt || fail "$1: a log without a day: $(cat log.txt)"
        [ "$(grep -c '^fieldpeg:' day.tickets)" -eq 3 ] || fail "$1: a log, and no tickets"
    fi
    start 0
    grep -q '^fieldpegd: tickets are in day.tickets' server.txt || fail "$1: $(cat server.txt)"
    stop
    left=$(find . -name '*.new' -o -name '*.next' -o -name '*-wal' -o -name '*-shm' -o -name '*-journal')
    [ -z "$left" ] || fail "$1: left over: $left"
}

n=0
for file in day.daylog.lock day.daylog.new day.identity.pem.new day.identity.pem day.tickets.new day.tickets \
    day.daylog day.daylog-wal; do
    fresh "at.$((n += 1))"
    begin 0
    kill_when $file
    whole "killed at $file"
done

for round in $(seq "$rounds"); do
    fresh "by_chance.$round"
    begin 0
    sleep "0.0$((RANDOM % 90 + 10))"
    kill_it
    whole "killed by chance"
done

# Without room, in KiB: for nothing; for identity and tickets; for half a log; for most of one.
for room in 0 2 12 40; do
    fresh "room.$room"
    if (ulimit -f $room; trap '' XFSZ; exec timeout 20 "$fieldpegd" --day day.toml --listen 127.0.0.1:0 \
        --board none --no-discovery) < /dev/null 2>&1 | cat > full.txt; then
        fail "$room KiB were enough: $(cat full.txt)"
    fi
    grep -q 'cannot be\|full' full.txt || fail "$room KiB: $(cat full.txt)"
    whole "$room KiB of room"
done

# A renewal: before it is killed somebody has joined and holds a channel.
fresh renewal
start 0
ticket_of marshal
"$fieldpeg" join Marshal --ticket marshal.ticket > /dev/null
"$fieldpeg" board --as Marshal --json > before.json
stop
n=0
for file in day.identity.pem.next day.tickets.next.new day.tickets.next day.daylog-wal by_chance; do
    rm -rf "$work/renewal.$((n += 1))"
    cp -r "$work/renewal" "$work/renewal.$n"
    cd "$work/renewal.$n"
    begin 7323 --renew-secrets
    if [ $file = by_chance ]; then sleep "0.0$((RANDOM % 90 + 10))"; kill_it; else kill_when $file; fi
    whole "a renewal killed at $file"
done

# The moments between its steps are short: each state that a kill leaves there, made by hand.
cp -r "$work/renewal" "$work/renewed"
cd "$work/renewed"
"$fieldpegd" --day day.toml --listen 127.0.0.1:7323 --board none --renew-secrets 2> renewed.txt || fail "$(cat renewed.txt)"
half() {  # LOG IDENTITY TICKETS: which of them are new already, 1 or 0; what is not waits beside it
    rm -rf "$work/half"
    cp -r "$work/renewal" "$work/half"
    cd "$work/half"
    [ "$1" -eq 0 ] || cp ../renewed/day.daylog .
    if [ "$2" -eq 1 ]; then cp -p ../renewed/day.identity.pem .; else cp -p ../renewed/day.identity.pem day.identity.pem.next; fi
    [ "$3" -eq 1 ] || cp -p ../renewed/day.tickets day.tickets.next
    whole "a renewal of which log, identity, tickets were there: $1 $2 $3"
    cmp -s day.tickets ../$([ "$1" -eq 1 ] && echo renewed || echo renewal)/day.tickets || fail "not the tickets of the log: $1 $2 $3"
}
half 0 0 0
half 1 0 0
half 1 1 0

cd "$work/renewed"
ticket_of marshal
start 0
if "$fieldpeg" board --as Marshal > /dev/null 2> refused.txt; then fail "an old key is good after a renewal"; fi
sed -i "s/:7323/:$(port_of_server)/" marshal.ticket
"$fieldpeg" join Marshal --ticket marshal.ticket > /dev/null || fail "a new ticket is not good"
"$fieldpeg" board --as Marshal --json > after.json
cp ../renewal/before.json .
for of in before after; do grep -c '"stage": "on_air"' $of.json > $of.txt; done
cmp -s before.txt after.txt || fail "what was on the air is not: $(cat before.txt after.txt)"
stop
echo "first_start: $((8 + rounds)) kills, 4 starts without room, $((n + 3)) renewals killed: whole each time"
