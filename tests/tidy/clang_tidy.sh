#!/usr/bin/env bash
# clang-tidy over our own sources, as the dev tree (clang) compiles them. Usage: clang_tidy.sh changed|all
# 'changed': of the sources of the floors that the commits of the last two hours touched the 24 that changed
# most; of the checks for mistakes those that have found some. 'all': every source, every check, and the static analyser.
set -euo pipefail
cd "$(dirname "$0")/../.."
sources() { find server client -name '*.cc' ! -name main.cc; }
checks=
if [ "$1" = changed ]; then
    # Asio alone takes a minute a file; its mistakes are the sanitizers' to find.
    left_out='^server/(wire|board)/|^client/link/|^server/service/(desk|shared_answers)'
    checks=-clang-analyzer-*,-bugprone-*,bugprone-use-after-move,bugprone-dangling-handle
    checks+=,bugprone-branch-clone,bugprone-integer-division
    checks+=,bugprone-undelegated-constructor,-modernize-*,modernize-loop-convert
    checks+=,modernize-pass-by-value,modernize-use-override,modernize-use-auto
    newest=$(git log -1 --format=%ct)
    base=$(git rev-list -1 --before="$((newest - 2 * 3600))" HEAD)
    sources() { git diff --numstat --diff-filter=d "${base:-HEAD}" -- '*.cc' | sort -rn | cut -f 3 | grep -E '^(server|client)/' | grep -v 'main.cc$' | grep -Ev "$left_out" | head -n 24 || true; }
fi
node tests/tidy/each_source.mjs build/dev build/dev/tidy
sources | xargs -r -n 4 -P "$(nproc)" clang-tidy-14 -p build/dev/tidy --quiet --checks="$checks" 2> >(grep -v 'warnings generated' >&2)
echo "clang-tidy: nothing to say of $(sources | wc -l) sources"
