#!/usr/bin/env bash
# clang-tidy over our own sources, as the compile commands of the fuzz tree (clang) give them. All
# checks on all sources take half an hour: with FIELDPEG_TIDY_ALL=1, from tests/long.sh, which also
# has the static analyser (FIELDPEG_ANALYSE=1). Without, what reads Asio and the client are left out,
# and of the many checks for mistakes those stay that have found some.
set -euo pipefail
cd "$(dirname "$0")/../.."
left_out='^client/|^server/wire/|^server/board/|^server/service/desk'
checks=-clang-analyzer-*,-bugprone-*,bugprone-use-after-move,bugprone-dangling-handle
checks+=,bugprone-branch-clone,bugprone-integer-division
checks+=,bugprone-undelegated-constructor,-modernize-*,modernize-loop-convert
checks+=,modernize-pass-by-value,modernize-use-override,modernize-use-auto
if [ -n "${FIELDPEG_TIDY_ALL:-}" ]; then
    left_out='^$'
    checks=-clang-analyzer-*
fi
[ -n "${FIELDPEG_ANALYSE:-}" ] && checks=
find server client -name '*.cc' ! -name main.cc | grep -Ev "$left_out" |
    xargs -n 4 -P "$(nproc)" clang-tidy-14 -p build/fuzz --quiet --checks="$checks" 2> >(grep -v 'warnings generated' >&2)
echo "clang-tidy: nothing to say"
