#!/usr/bin/env bash
# What becomes of the log's files while the real server runs, and after it: a lock file that is deleted, a
# write-ahead file that is removed, an emptied log, a closed day in a folder where nothing may be written.
# Usage: lost_files.sh FIELDPEG FIELDPEGD
set -euo pipefail
fieldpeg=$(realpath "$1")
fieldpegd=$(realpath "$2")
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
server=
trap '[ -n "$server" ] && kill -9 "$server" 2>/dev/null; chmod -R u+w "$work"; rm -rf "$work"' EXIT
cp "$here/../../client/demo_day.toml" "$work/day.toml"
cd "$work"
export XDG_CONFIG_HOME=$work/config

fail() { echo "lost_files: $1" >&2; ls -l >&2; exit 1; }
source "$here/../support/server.sh"

start 0
port=$(port_of_server)
ticket_of marshal
"$fieldpeg" join Marshal --ticket marshal.ticket > /dev/null

rm day.daylog.lock
status=0
timeout 20 "$fieldpegd" --day day.toml --listen 127.0.0.1:0 --board none --no-discovery 2> second.txt || status=$?
[ "$status" -eq 2 ] || fail "a second server beside a deleted lock file ended with $status: $(cat second.txt)"
grep -q 'held by another program' second.txt || fail "$(cat second.txt)"
sqlite3 -readonly day.daylog 'SELECT count(*) FROM event' > /dev/null || fail "sqlite3 cannot read along"

version() { "$fieldpeg" board --as Marshal --json | sed -n 's/^ "version": "\([0-9]*\)".*/\1/p'; }
"$fieldpeg" off Ann --as Marshal > /dev/null
"$fieldpeg" allow Ann R1 --because 'to see whether it is kept' --as Marshal > /dev/null
said=$(version)
rm day.daylog-wal
for _ in $(seq 200); do grep -q 'day.daylog-wal: was moved or deleted' server.txt && break; sleep 0.05; done
grep -q 'day.daylog-wal: was moved or deleted' server.txt || fail "nobody noticed: $(cat server.txt)"
if "$fieldpeg" allow Ann R7 --because 'no yes to this' --as Marshal > /dev/null 2> refused.txt; then fail "a yes"; fi
grep -q 'nothing is recorded' refused.txt || fail "$(cat refused.txt)"
[ "$("$fieldpeg" ready --as Marshal --json | grep -c '"good": false\|nothing is recorded')" -gt 0 ] || fail "ready says nothing"
kill -9 "$server"
wait "$server" 2> /dev/null || true
start "$port"
[ "$(version)" -ge "$said" ] || fail "version $said was said, $(version) is there"
"$fieldpeg" allow Ann R7 --because 'and it goes on' --as Marshal > /dev/null || fail "it does not go on"
stop

mkdir archive
cp day.toml day.daylog archive
before=$(sha256sum archive/day.daylog)
chmod 555 archive
as_another=()
if [ "$(id -u)" -eq 0 ]; then
    chmod 755 "$work"
    as_another=(setpriv --reuid=65534 --regid=65534 --clear-groups)
fi
for verb in 'log' 'board' 'check' report 'explain Ann' 'ready'; do
    status=0
    XDG_CONFIG_HOME=/nonexistent "${as_another[@]}" "$fieldpeg" $verb --day archive/day.toml > said.txt 2> wrong.txt || status=$?
    [ "$status" -le 3 ] && [ "$status" -ne 2 ] && [ -s said.txt ] || fail "$verb in an archive: $status $(cat wrong.txt)"
done
[ "$(ls archive | tr '\n' ' ')" = "day.daylog day.toml " ] || fail "reading left something behind"
[ "$(sha256sum archive/day.daylog)" = "$before" ] || fail "reading changed the log"

: > day.daylog
for program in "$fieldpegd" "$fieldpeg board"; do
    status=0
    timeout 20 $program --day day.toml > said.txt 2>&1 || status=$?
    [ "$status" -eq 2 ] || fail "$program took an emptied log for a new day: $(cat said.txt)"
    grep -q 'day.daylog: is empty' said.txt || fail "$(cat said.txt)"
done
[ ! -s day.daylog ] || fail "something was written into an emptied log"
echo "lost_files: lock, write-ahead file, archive, emptied log"
