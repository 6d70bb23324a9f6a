#!/usr/bin/env bash
# Sets up a Debian 12 machine, builds Fieldpeg and plays the main job on an invented club's day: six
# pilots, two ground stations, one of whose relays is far too strong.
set -euo pipefail
cd "$(dirname "$0")/.."

bash .ci/setup build
cmake --preset release -DBUILD_TESTING=OFF >/dev/null  # the tests need more packages
cmake --build --preset release --target fieldpeg | tail -n 1

fieldpeg=$PWD/build/release/client/fieldpeg
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp client/demo_day.toml "$work/harvest.toml"
cd "$work"

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

say "Finn sets 25 mW. Everybody sees again."
sed -i '/# far too strong/,$ s/power_mw = 600/power_mw = 25/' harvest.toml
expect 0 check --day harvest.toml

say "Why was Edda's picture gone? The budget as it is now, term by term."
expect 0 explain Edda --day harvest.toml

say "Cem lands and plugs in a fresh battery right behind the line."
sed -i '/name = "Cem"/,/on_air/ s/on_air = true/on_bench = true/' harvest.toml
expect 3 check --day harvest.toml --on-air

say "No day file at hand: would 200 mW do on F4, a neighbour on R6 eight metres away?"
expect 3 relay check --channel F4 --power 200mW --owner-distance 25 \
    --neighbour-channel R6 --neighbour-distance 8

say "Which channels go together?"
expect 0 channels R1 R2 F2 F4 F6 --reach 20
