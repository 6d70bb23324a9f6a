#!/usr/bin/env bash
# Sets up a Debian 12 machine, builds and runs every test. The long forms are in long.sh.
set -euo pipefail
cd "$(dirname "$0")/.."

step() { printf '\n== %s (%d s)\n' "$1" "$SECONDS"; }
build() { cmake --preset "$1" -DBUILD_TESTING=ON >/dev/null && cmake --build --preset "$@"; }

step "set up"
bash .ci/setup test

step "sanitizers (clang): build, and every test"
build dev
# The programs as they are given out are killed and robbed of their rights below, and play most of the sessions;
# here they play three, long.sh has the rest.
ctest --preset dev -j "$(nproc)" -LE 'sessions|standby'
ctest --preset dev -j "$(nproc)" -R '^sessions\.(day|live|wrong)$'

# The same inputs each time: what fails here is of this change. long.sh looks for others.
step "fuzzing for seconds"
FIELDPEG_SEED=1 bash tests/fuzz/run.sh all 7

# The coroutines that a user runs are g++'s, which has made mistakes with them that clang does not make: so
# they are tested as g++ builds them too, over memory that glibc scribbles on when it is freed.
# Mostly waiting: beside what is built next.
build/dev/tests/standby build/dev/server/fieldpegd 3 > build/dev/standby.log 2>&1 &
standby=$!

step "release (g++): build, whole sessions, all that awaits, benchmarks once"
build release --target fieldpeg fieldpegd wire_tests board_tests spectrum_bench planner_bench
MALLOC_PERTURB_=165 ctest --preset release -L 'sessions|wire|board' -j "$(nproc)"
build/release/tests/spectrum_bench --benchmark_min_time=0.01 2>&1 | grep -v '^\*\*\*'
build/release/tests/planner_bench --benchmark_min_time=0.01 --benchmark_filter='alike|limited|newcomer' 2>&1 | grep -v '^\*\*\*'

step "two servers, one database: killed and stopped (begun above)"
wait "$standby" || { cat build/dev/standby.log; exit 1; }
cat build/dev/standby.log

step "the page in a real browser"
bash tests/web/run.sh build/release

step "clang-tidy on what changed"
bash tests/tidy/clang_tidy.sh changed

step "done"
