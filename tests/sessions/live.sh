#!/usr/bin/env bash
# A flying day at the command line with a real server on loopback: each line says what is asked, the
# exit status, and what must be in the answer. Usage: live.sh FIELDPEG FIELDPEGD
set -euo pipefail
fieldpeg=$(realpath "$1")
fieldpegd=$(realpath "$2")
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
server=
trap '[ -n "$server" ] && kill -9 "$server" 2>/dev/null; rm -rf "$work"' EXIT
cp "$here/../../client/demo_day.toml" "$work/day.toml"
cd "$work"
export XDG_CONFIG_HOME=$work/config TZ=UTC

source "$here/../support/expect.sh"
source "$here/../support/server.sh"

# Nobody has joined, nothing runs.
expect 2 'no server has been joined from here' board
expect 2 'does not begin with' join Ann --ticket day.toml
printf 'fieldpeg:127.0.0.1:1/%s/%s\n' "$(printf 'a%.0s' $(seq 52))" "$(printf 'a%.0s' $(seq 26))" > nowhere.ticket
expect 4 'do not switch on unless the marshal says so' join Ann --ticket nowhere.ticket

start 0
port=$(port_of_server)
[ "$(stat -c %a day.tickets day.identity.pem | sort -u)" = 600 ] || fail "secrets may be read by others"
for role in marshal pilot onlooker; do ticket_of "$role"; done
status=0
"$fieldpegd" --day day.toml --listen 127.0.0.1:0 > out.txt 2>&1 || status=$?
[ "$status" -eq 2 ] && grep -q 'held by another program' out.txt || fail "two servers held one day"
expect 1 'held by another program' rules none --day day.toml
expect 0 'Harvest fly-in' board --day day.toml

expect 0 'as Marshal (marshal)' join Marshal --ticket marshal.ticket
[ "$(stat -c %a config/fieldpeg/joined.json)" = 600 ] || fail "keys may be read by others"
expect 0 'as Olga (onlooker)' join Olga --ticket onlooker.ticket
expect 0 'as Gil (pilot)' join Gil --ticket pilot.ticket
expect 0 'as Edda (pilot)' join Edda --ticket pilot.ticket
expect 3 'the marshal has not said yet that you are Edda' off --as Edda
expect 0 'Edda may act as that pilot' pilot nod Edda --as Marshal
# Her laptop is lost: on another one she waits, and is refused, since it is not her.
cp -r config other-laptop
XDG_CONFIG_HOME=$PWD/other-laptop expect 0 'Edda is known here' join Edda --ticket pilot.ticket
expect 3 'somebody waits to join as' join Edda --ticket pilot.ticket
expect 0 'Edda is not let in' pilot nod Edda --refuse --as Marshal
XDG_CONFIG_HOME=$PWD/other-laptop expect 3 'is not known here, or was withdrawn' off --as Edda
expect 0 'Edda' board --as Edda
sed -E 's#^([^/]*/)a#\1b#; t; s#^([^/]*/).#\1a#' pilot.ticket > other.ticket
expect 4 'fingerprint' join Hal --ticket other.ticket
expect 2 'a ticket is a secret' ticket pilot --as Marshal

# Gil enters a quad and claims.
expect 2 'You are not a pilot of this day' claim R1 --as Gil
expect 0 'entered: Gil' pilot add Gil --as Gil --place line-1 --power 25mW,200mW --channels R1-R8,F1-F8
expect 3 'Ann is not you' pilot add Ann --as Gil

# Cyrillic letters that look like hers; a word of the program's own; what turns writing round.
cp -r config strangers
XDG_CONFIG_HOME=$PWD/strangers expect 0 'or looks like a name that is' join "$(printf '\u0410nn')" --ticket pilot.ticket
expect 0 'which looks like Ann, and waits' board
expect 0 'is not let in' pilot nod "$(printf '\u0410nn')" --refuse --as Marshal
expect 2 'what the program calls somebody' join 'sighting 1' --ticket pilot.ticket
expect 2 'control or invisible' join "$(printf 'Gil\u202e')" --ticket pilot.ticket
expect 2 'control or invisible' seen R4 --note "$(printf 'car\u2066park')" --as Marshal
expect 3 'looks like' pilot add "$(printf '\u0412en')" --as Marshal --place line-1
expect 2 'did you mean' pilot add Gil --as Gil --place line-11
expect 3 'Nearest good alternatives' claim F6 --as Gil --power 25mW
expect 3 'only Ann or the marshal' claim R1 --for Ann --as Gil
expect 2 'is not among its channels' claim A3 --as Gil
expect 2 'cannot be set to' claim R1 --power 50mW --as Gil
expect 3 'holds no channel: do not switch on' on --as Gil
expect 0 'could have' claim R8 --power 25mW --try --as Gil
expect 0 'Gil holds R8 (5917 MHz) at 25 mW' claim R8 --power 25mW --as Gil
expect 0 'tune to R8 (5917 MHz): snow or a picture?' on --as Gil
expect 3 'off first' release --as Gil
expect 3 'onlookers' seen R4 --as Olga
expect 0 'Gil is off' off --as Gil
expect 0 '"claimed": true' claim R8 --power 25mW --json --as Gil

# A sighting, an allowance, the past.
expect 0 'it counts in every calculation' seen R4 --note 'car park' --as Edda
number=$(sed -n 's/.*sighting \([0-9]*\).*/\1/p' out.txt | head -n 1)
expect 0 'seen, unasked' board --as Olga
expect 3 'only the marshal allows' allow Gil F6 --because 'I say so' --as Gil
expect 3 'by whoever entered it' seen --gone "$number" --as Gil
expect 0 'is gone' seen --gone "$number" --as Marshal
expect 0 'noted as' seen R1 --as Edda
expect 0 'noted as' seen R2 --as Edda
expect 3 'only the marshal' seen --gone --by Edda --as Gil
expect 2 'goes with --gone' seen R2 --by Edda --as Marshal
expect 2 'is no number of a sighting' seen --gone first --as Marshal
expect 2 'which?' seen --gone --as Marshal
expect 2 'goes without a number' seen --gone 3 --by Edda --as Marshal
expect 2 'did you mean' seen --gone --by Eda --as Marshal
expect 0 'taken back of what Edda entered: sighting' seen --gone --by edda --as Marshal
expect 0 "no sighting of Edda's stands" seen --gone --by Edda --as Marshal
expect 0 'Gil holds F6' allow Gil F6 --because 'Edda agrees' --as Marshal
expect 0 'allowed because Edda agrees' log --kind claimed --as Marshal
expect 0 'sighting' board --at "#$(($("$fieldpeg" log --kind sighting --form csv --as Marshal | tail -n 1 | cut -d, -f1)))" --as Marshal
expect 2 "--at: 'yesterday' is no time" board --at yesterday --as Marshal
expect 2 "--from: 'yesterday' is no time" log --from yesterday --as Marshal
expect 2 'begins later' explain Ann --at '1999-01-01 12:00' --as Marshal
expect 2 'did you mean' explain An --as Marshal
expect 0 'version,time_utc,actor' log --form csv --as Marshal

expect 0 'What radiated, nearest first' log --near F6 --at '#1' --as Marshal
expect 0 'who could have, not who did' log --near 5840 --at '#1' --as Olga
expect 2 'goes with --near' log --at 14:00 --as Marshal
expect 2 'begins later' log --near F6 --at '1999-01-01 12:00' --as Marshal
expect 0 'Gil: F6 = 5840 MHz, 25 mW' pegs --form text --as Olga
expect 0 'pilot,relay,channel,frequency_mhz,power_mw,on_local,off_local,minutes,end' log --flights --form csv --as Olga
expect 0 '<title>Harvest fly-in' report --as Marshal
tail -n 1 out.txt | grep -q '</html>' || fail "the report is cut short"

# A relay that is far too strong.
expect 3 'off first' pilot remove Finn --as Marshal
expect 0 'switched off' relay off "Finn's tripod" --yes --as Marshal
expect 3 'Wait, do not switch on' relay on "Finn's tripod" --as Marshal
expect 0 'entered: Gil, spare' relay add spare --owner Gil --place line-2 --power 25mW --channels F1,F4 --as Marshal

# The field, the rules, what is ready.
expect 0 'tripod-9' field place tripod-9 40 -3 2.5 --as Marshal
expect 3 'only the marshal' field place tripod-9 40 -3 2.5 --as Gil
expect 0 'held against cept-25mw' rules cept-25mw --as Marshal
expect 2 'did you mean' rules cept-25 --as Marshal
expect 1 'which nobody else can reach' ready --as Marshal

# A plan for those who are not in the air, given out.
expect 3 'only the marshal gives out a plan' plan --who Gil,spare --apply --yes --as Gil
expect 2 'did you mean' plan --who Gill --as Gil
expect 0 '"proved": true' plan --who spare --json --as Gil
expect 0 'given out' plan --who Gil,spare --powers --apply --because 'all agree' --as Marshal
expect 0 'you now have' board --as Marshal
expect 2 'is named twice' rota --apart Gil+gil --as Marshal

# Somebody watches while the server goes away and comes back.
"$fieldpeg" watch --as Olga > watched.txt 2> watched.err &
watcher=$!
for _ in $(seq 100); do grep -q Gil watched.txt && break; sleep 0.05; done
stop
expect 4 'do not switch on unless the marshal says so' on --as Gil
expect 4 'not noted: say it again when the server answers' off --as Gil
start "$port"
grep -q 'started anew; on the air as of then' server.txt || fail "the restart was not told"
expect 0 'The server was started anew at' board --as Olga
expect 0 'Ann is on' on Ann --confirm --as Marshal
expect 0 'not on the air' off --as Gil
for _ in $(seq 100); do grep -q 'what is shown is old' watched.err && break; sleep 0.05; done
expect 0 'noted as' seen R1 --as Marshal
for _ in $(seq 200); do grep -Eq 'something is on R1|sighting [0-9]+ +R1' watched.txt && break; sleep 0.05; done
grep -Eq 'something is on R1|sighting [0-9]+ +R1' watched.txt || { cp watched.txt out.txt; fail "the watcher missed what came after the restart"; }
grep -q 'what is shown is old' watched.err || { cp watched.err out.txt; fail "the watcher was not told of the loss"; }
kill "$watcher"

# Called out, all of it; somebody else takes over, and gives it back.
expect 0 'told' told all --as Marshal
expect 2 'is no number of a warning' told some --as Marshal
expect 3 'only the marshal hands over' hand-over Olga --as Olga
expect 0 'Olga is the marshal from now on' hand-over Olga --as Marshal
expect 3 'only the marshal' group call 0 --as Marshal
expect 0 'Marshal is the marshal from now on' hand-over Marshal --as Olga

# What one person entered, taken off again.
expect 2 'which?' relay remove --as Marshal
expect 3 'only the marshal' relay remove --by Gil --as Gil
expect 0 "no longer on this day, of Gil's: spare" relay remove --by Gil --as Marshal
expect 0 "no relay of Gil's is taken off" relay remove --by Gil --as Marshal

# A key that is taken back.
expect 0 'can no longer act' pilot withdraw Gil --as Marshal
expect 3 'not known here, or was withdrawn' claim R1 --as Gil

# The marshal's ticket is lost: a new one at the server's own machine, the server stopped.
expect 1 'held by another program' ticket marshal --day day.toml --file new.ticket
[ ! -e new.ticket ] || fail "a file is left of a ticket that was not made"
stop
expect 2 'a ticket is a secret' ticket marshal --day day.toml
expect 0 'The ticket is in new.ticket' ticket marshal --day day.toml --file new.ticket
[ "$(stat -c %a new.ticket)" = 600 ] || fail "a ticket may be read by others"
[ "$(cut -d/ -f1,2 new.ticket)" = "$(cut -d/ -f1,2 marshal.ticket)" ] || fail "the ticket leads elsewhere"
expect 1 'cannot be written: File exists' ticket marshal --day day.toml --file new.ticket
expect 1 'cannot be written: No such file' ticket marshal --day day.toml --file no/such/folder
start "$port"
expect 1 'cannot be written: File exists' ticket marshal --file new.ticket --as Marshal
expect 3 'not good, or no longer' join Marla --ticket marshal.ticket
expect 0 'as Marla (marshal)' join Marla --ticket new.ticket
stop
mv day.tickets lost.tickets
expect 2 'does not say where the server is' ticket pilot --day day.toml --file pilots.ticket
expect 2 'is no address' ticket pilot --day day.toml --file pilots.ticket --host 'a b'
[ ! -e pilots.ticket ] || fail "a file is left of a ticket that was not made"
expect 0 'The ticket is in pilots.ticket' ticket pilot --day day.toml --file pilots.ticket --host 192.0.2.7
grep -q '^fieldpeg:192.0.2.7:7323/' pilots.ticket || fail "the ticket leads elsewhere"
expect 0 'the chain of hashes holds' log --day day.toml
expect 3 'switch it off first' claim R1 --as Ann --day day.toml
echo "live: all as expected"
