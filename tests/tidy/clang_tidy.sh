#!/usr/bin/env bash
# clang-tidy over our own sources, as the compile commands of the fuzz tree (clang) give them. The
# static analyser takes most of the time: it runs with FIELDPEG_ANALYSE=1, from tests/long.sh.
set -euo pipefail
cd "$(dirname "$0")/../.."
checks=-clang-analyzer-*
[ -n "${FIELDPEG_ANALYSE:-}" ] && checks=
find server client -name '*.cc' -print0 |
    xargs -0 -n 4 -P "$(nproc)" clang-tidy-14 -p build/fuzz --quiet --checks="$checks" 2> >(grep -v 'warnings generated' >&2)
echo "clang-tidy: nothing to say"
