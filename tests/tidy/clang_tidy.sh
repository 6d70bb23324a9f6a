#!/usr/bin/env bash
# clang-tidy over our own sources, as the compile commands of the fuzz tree (clang) give them. What
# reads Asio or the command line's library takes as long as all the rest: it is looked at with
# FIELDPEG_TIDY_ALL=1, from tests/long.sh. The static analyser takes longer still: FIELDPEG_ANALYSE=1.
set -euo pipefail
cd "$(dirname "$0")/../.."
checks=-clang-analyzer-*
[ -n "${FIELDPEG_ANALYSE:-}" ] && checks=
slow='^client/(verbs|link)/|^server/wire/|^server/service/desk'
[ -n "${FIELDPEG_TIDY_ALL:-}" ] && slow='^$'
find server client -mindepth 2 -name '*.cc' | grep -Ev "$slow" |
    xargs -n 4 -P "$(nproc)" clang-tidy-14 -p build/fuzz --quiet --checks="$checks" 2> >(grep -v 'warnings generated' >&2)
echo "clang-tidy: nothing to say"
