#!/usr/bin/env bash
# The packages in a bare Debian 12 of their own: installed, a short day under the package's user, removed and
# purged, and nothing of it left; then the README's two commands there, with the time that each takes. As root.
# Usage: bare_root.sh [packages|all]: 'packages' leaves the README's commands out.
set -euo pipefail
cd "$(dirname "$0")/../.."
. tests/install/root.sh
install_missing lintian dpkg-dev fakeroot appstream man-db

cmake --preset release -DBUILD_TESTING=ON > /dev/null
cmake --build --preset release --target fieldpeg fieldpegd described
(cd build/release && rm -f ./*.deb && cpack -G DEB > cpack.log) || { cat build/release/cpack.log; exit 1; }
ls -l build/release/*.deb
lintian --fail-on error,warning build/release/*.deb || fail "lintian has something to say"
appstreamcli validate --no-net build/release/described/*.metainfo.xml
man --warnings -l build/release/described/fieldpeg.1 2>&1 > /dev/null | grep . && fail "the manual page has warnings"

make_root
inside apt-get update -qq

begun=$SECONDS
cp build/release/*.deb "$root/tmp/"
inside sh -c 'apt-get install -y -qq --no-install-recommends /tmp/*.deb > /dev/null'
echo "bare_root: installed in $((SECONDS - begun)) s"
[ "$(inside stat -c '%U %a' /var/lib/fieldpeg)" = "fieldpeg 700" ] || fail "the day's folder is not its user's"
inside test -f /lib/systemd/system/fieldpegd.service || fail "no unit"
inside test -f /usr/share/man/man1/fieldpeg.1.gz || fail "no manual page"

# The day of docs/start.md, by the terminal.
inside runuser -u fieldpeg -- sh -c 'cd /var/lib/fieldpeg && exec fieldpegd --day /var/lib/fieldpeg/day.toml --new --listen 127.0.0.1:7323 --no-discovery' 2> "$root/said" &
for _ in $(seq 100); do grep -qs 'stop with Ctrl-C' "$root/said" && break; sleep 0.1; done
grep -q 'stop with Ctrl-C' "$root/said" || { cat "$root/said"; fail "the server did not start"; }
inside sh -ec '
    fieldpeg join Edda --ticket /var/lib/fieldpeg/day.tickets
    fieldpeg rules cept-25mw > /dev/null
    fieldpeg pilot add Ann --kit usual-quad --place line-1
    fieldpeg claim best --for Ann > /dev/null
    fieldpeg board | grep -q "^Ann "
    fieldpeg log --last 3
    fieldpeg report --out /tmp/day.html
    fieldpeg help start | head -1
    fieldpeg complete -- explain ":" | grep -q "^Ann"' || fail "the short day did not go well"
pkill -TERM -f '^fieldpegd --day /var/lib/fieldpeg/day.toml' || fail "the server is gone"
wait || true
inside fieldpeg log verify /var/lib/fieldpeg/day.daylog > /dev/null || fail "the log does not hold"

inside apt-get remove -y -qq fieldpegd > /dev/null 2>&1
inside test -f /var/lib/fieldpeg/day.daylog || fail "removing took the days away"
inside apt-get purge -y -qq fieldpeg fieldpegd > /dev/null 2>&1
left=$(inside find / -xdev \( -path /proc -o -path /tmp -o -path /root -o -path /var/lib/apt -o -path /var/cache -o -path /var/log \) -prune -o -name '*fieldpeg*' -print)
[ -z "$left" ] || fail "left behind: $left"
inside getent passwd fieldpeg > /dev/null && fail "its user is left behind"
echo "bare_root: installed, a day run, purged; nothing left"
[ "${1:-all}" = packages ] && exit 0

git archive --prefix=fieldpeg/ HEAD | tar -x -C "$root/root"
inside apt-get install -y -qq --no-install-recommends ca-certificates git > /dev/null
for command in client/demo.sh tests/run.sh; do
    begun=$SECONDS
    inside sh -c "cd /root/fieldpeg && bash $command > /root/said.txt 2>&1" || { tail -40 "$root/root/said.txt"; fail "$command failed"; }
    echo "bare_root: bash $command: $((SECONDS - begun)) s"
done
