#!/usr/bin/env bash
# Starts the real server with no more than fieldpegd.service leaves it, as far as this machine can take
# the rest away without systemd as its first process, and plays a short day: no rights, nobody's user,
# a disk that cannot be written but for the day's folder, and no system call that the unit forbids.
# Usage: hardened.sh FIELDPEG FIELDPEGD
set -euo pipefail
fieldpeg=$(realpath "$1")
fieldpegd=$(realpath "$2")
here=$(cd "$(dirname "$0")" && pwd)
unit=$here/../../server/fieldpegd.service
work=$(mktemp -d)
server=
trap '[ -n "$server" ] && kill -9 "$server" 2>/dev/null; rm -rf "$work"' EXIT
fail() { echo "hardened: $1" >&2; exit 1; }
tried=()

# What systemd itself says of the unit.
if command -v systemd-analyze > /dev/null; then
    sed "s|/usr/bin/fieldpegd|$fieldpegd|; /^Documentation=/d" "$unit" > "$work/fieldpegd.service"
    said=$(systemd-analyze verify "$work/fieldpegd.service" 2>&1 | grep fieldpegd.service || true)
    [ -z "$said" ] || fail "$said"
    systemd-analyze security --offline=yes --threshold=15 "$unit" > "$work/security" 2>&1 ||
        fail "$(tail -n 1 "$work/security")"
    tried+=("systemd-analyze: $(grep -o 'exposure level.*' "$work/security" | tr -cd 'a-zA-Z0-9.:\n ' | head -n 1)")
fi

mkdir "$work/state"
cp "$here/../../client/demo_day.toml" "$work/state/day.toml"
cp "$fieldpegd" "$work/fieldpegd"
chmod 755 "$work" "$work/fieldpegd"
serve=("$work/fieldpegd" --day "$work/state/day.toml" --listen 127.0.0.1:0 --board 127.0.0.1:0 --no-discovery)
if [ "$(id -u)" -eq 0 ] && unshare --mount mount --make-rprivate / 2> /dev/null; then
    chown -R 65534:65534 "$work/state"
    serve=(unshare --mount bash -c '
        mount --make-rprivate / && mount --bind "$0" "$0" && mount -o remount,ro,bind / &&
        mount -t tmpfs -o size=1M none /home && umask 077 && ulimit -n 4096 && ulimit -c 0 && cd "$0" &&
        exec setpriv --reuid=65534 --regid=65534 --clear-groups --no-new-privs --bounding-set=-all --inh-caps=-all "$@"
        ' "$work/state" "${serve[@]}")
    tried+=("no rights, a disk that is read only")
fi
# A program under a sanitizer makes calls of its own, and is watched already.
! grep -q __asan_init "$fieldpegd" && strace -o /dev/null true 2> /dev/null && serve=(strace -f -qq -o "$work/calls" "${serve[@]}")

cd "$work"
"${serve[@]}" 2> server.txt &
server=$!
for _ in $(seq 400); do
    grep -q 'stop with Ctrl-C' server.txt && break
    sleep 0.05
done
grep -q 'stop with Ctrl-C' server.txt || fail "the server did not start: $(cat server.txt)"
export XDG_CONFIG_HOME=$work/config
grep -A1 "# marshal" state/day.tickets | tail -n 1 > marshal.ticket
"$fieldpeg" join Marshal --ticket marshal.ticket > /dev/null
"$fieldpeg" check > /dev/null || [ $? -eq 3 ] || fail "no check"
"$fieldpeg" off Ann > /dev/null || fail "Ann was not switched off"
"$fieldpeg" ready > /dev/null || true
"$fieldpeg" plan > /dev/null || [ $? -eq 3 ] || fail "no plan"
"$fieldpeg" log --json | grep -q '"verified": true' || fail "the log does not hold"
pkill -TERM -f "^$work/fieldpegd --day" || fail "the server is gone"
wait "$server" || fail "the server did not end well: $(tail -n 3 server.txt)"
server=
[ "$(stat -c %a state/day.identity.pem)" = 600 ] || fail "the identity can be read by others"
"$fieldpeg" log --day state/day.toml --last 1 > /dev/null || fail "the log cannot be read"

# Each system call must be one that the unit lets through; but for asking for more descriptors, which
# the unit gives and the server can do without.
expand() {
    local one
    systemd-analyze syscall-filter "$1" | sed '1d; s/^ *//; /^#/d; /^$/d' | while read -r one; do
        case $one in @*) expand "$one" ;; *) echo "$one" ;; esac
    done
}
if [ -s calls ] && command -v systemd-analyze > /dev/null; then
    for set in @privileged @resources @mount; do expand "$set"; done | sort -u > forbidden
    expand @system-service | sort -u | comm -23 - forbidden > allowed
    # From the program itself on: before it are the tools that take rights away.
    awk -v program="$work/fieldpegd" 'index($0, "execve(\"" program "\"") { on = 1; next } on' calls |
        sed -nE 's/^[0-9]+ +([a-z0-9_]+)\(.*/\1/p; s/^[0-9]+ +<\.\.\. ([a-z0-9_]+) resumed.*/\1/p' |
        grep -vx prlimit64 | sort -u > used
    [ -s used ] || fail "no system call was seen"
    extra=$(comm -23 used allowed | tr '\n' ' ')
    [ -z "$extra" ] || fail "the unit forbids what the server needs: $extra"
    tried+=("$(wc -l < used) kinds of system calls, all let through")
fi
[ ${#tried[@]} -gt 0 ] || tried+=("nothing could be taken away on this machine; the day was played")
printf 'hardened: %s\n' "${tried[@]}"
