#!/usr/bin/env bash
# Days into an archive and out again at the command line, on a PostgreSQL of its own. Usage: archive.sh FIELDPEG
set -euo pipefail
fieldpeg=$(realpath "$1")
here=$(cd "$(dirname "$0")" && pwd)
programs=/usr/lib/postgresql/15/bin
work=$(mktemp -d)
as_its_user() { if [ "$(id -u)" -eq 0 ]; then runuser -u postgres -- "$@"; else "$@"; fi; }
trap 'as_its_user $programs/pg_ctl -D "$work/pg/data" -m immediate stop > /dev/null 2>&1 || true; rm -rf "$work"' EXIT
chmod 755 "$work"
cp "$here/../../client/demo_day.toml" "$work/day.toml"
cd "$work"
export XDG_CONFIG_HOME=$work/config TZ=UTC

source "$here/../support/expect.sh"

[ -x $programs/initdb ] || fail "PostgreSQL 15 is not here: bash .ci/setup test"
mkdir pg
[ "$(id -u)" -ne 0 ] || chown postgres pg
as_its_user $programs/initdb -D "$work/pg/data" -A trust -U club -E UTF8 --locale=C.UTF-8 --no-sync > out.txt
as_its_user $programs/pg_ctl -D "$work/pg/data" -l "$work/pg/log" -w -o "-k $work/pg -c listen_addresses='' -c fsync=off" start > out.txt
as_its_user $programs/createdb -h "$work/pg" -U club club
club="postgresql://club@/club?host=$work/pg"

# A day that begins with everybody on the air.
fly() {
    expect 0 'is off' off "$1" --yes --day day.toml
    expect 0 'Noted' on "$1" --already --day day.toml
}
fly Ann
fly Ben
log=day.daylog

# Nowhere to, not there, not known there.
expect 2 'FIELDPEG_ARCHIVE' log push $log
expect 1 'is it running, and is the address right' log push $log --to "postgresql://club@/club?host=$work/nowhere"
expect 1 'other' log push $log --to "postgresql://club@/other?host=$work/pg"
expect 2 '' log push day.toml --to "$club"
export FIELDPEG_ARCHIVE=$club
expect 0 'The archive has no day of that time.' archive days

# In, again, gone on, out again.
expect 0 'entries came into the archive' log push $log
expect 0 'is in the archive already' log push $log
fly Ann
expect 0 'behind the' log push $log
expect 0 'Harvest fly-in' archive days
id=$(sed -n 's/^\([0-9a-f]\{8\}\) .*/\1/p' out.txt | head -n 1)
[ -n "$id" ] || fail "no day has an id"
expect 0 'entries, head' log pull "$id" --to again.daylog
expect 0 'the chain of hashes holds' log verify again.daylog
[ "$("$fieldpeg" log verify again.daylog)" = "$("$fieldpeg" log verify $log)" ] || fail "another day came out"
expect 3 'is there already: kept' log pull "$id" --to again.daylog
expect 2 '' log pull ffffffff --to never.daylog
[ ! -e never.daylog ] || fail "a day that is not there left a file"

# What it is asked.
expect 0 'Ann' archive flown
expect 0 'Ben' archive flown
expect 0 'R' archive flown Ann
expect 0 'who,days,flights,minutes,last_local' archive flown --form csv
expect 0 '"totals"' archive flown --json
expect 0 'Nobody was near it' archive near 5300
expect 0 'channel,flights,people,minutes' archive channels --form csv
expect 2 'is no date' archive flown --from yesterday

# Changed there: nothing comes out.
as_its_user $programs/psql -q -h "$work/pg" -U club -d club -c "UPDATE fieldpeg.event SET record = 'another' WHERE version = 2"
expect 1 'entry 2' log pull "$id" --to changed.daylog
[ ! -e changed.daylog ] || fail "a day that was changed left a file"

# A name that goes stays away.
expect 0 '1 names of 1 days' archive forget ann
"$fieldpeg" archive flown > out.txt
! grep -q Ann out.txt || fail "Ann is still there"
expect 0 'taken out' archive expire --after 3
as_its_user $programs/pg_ctl -D "$work/pg/data" -m immediate stop > out.txt
expect 1 'is it running, and is the address right' archive days
echo "archive: pushed, asked, pulled"
