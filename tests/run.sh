#!/usr/bin/env bash
# Sets up a Debian 12 machine, builds Fieldpeg and runs every test. The long forms are in long.sh.
set -euo pipefail
cd "$(dirname "$0")/.."

step() { printf '\n== %s (%d s)\n' "$1" "$SECONDS"; }
ninja_of() { cmake --preset "$1" -DBUILD_TESTING=ON >/dev/null && cmake --build --preset "$@"; }

step "set up"
bash .ci/setup test

step "sanitizers: build, and every test"
ninja_of dev
ctest --preset dev -j "$(nproc)"

step "release: the programs, whole sessions, benchmarks once"
ninja_of release --target fieldpeg fieldpegd spectrum_bench planner_bench
ctest --preset release -L sessions
build/release/tests/spectrum_bench --benchmark_min_time=0.01 2>&1 | grep -v '^\*\*\*'
build/release/tests/planner_bench --benchmark_min_time=0.01 --benchmark_filter='alike|limited|newcomer' 2>&1 | grep -v '^\*\*\*'

step "the page in a real browser"
bash tests/web/run.sh build/release

step "thread sanitizer: what has threads"
ninja_of tsan --target wire_tests
build/tsan/tests/wire_tests --gtest_brief=1

step "fuzzing for seconds"
ninja_of fuzz --target day_file_fuzz
fuzz() {
    build/fuzz/tests/"$1" -max_total_time="${FIELDPEG_FUZZ_SECONDS:-20}" -max_len=20000 \
        -print_final_stats=1 -verbosity=0 "${@:2}" 2>&1 | grep -v 'NEW_FUNC'
}
corpus=$(mktemp -d)
cp client/demo_day.toml server/data/new_day.toml "$corpus"
fuzz day_file_fuzz -dict=tests/fuzz/day_file.dict "$corpus"
if [ -n "${FIELDPEG_LONG:-}" ]; then
    ninja_of fuzz --target command_fuzz
    fuzz command_fuzz "$(mktemp -d)"
    cmake --build --preset dev --target all_verify_interface_header_sets
fi

step "clang-tidy"
bash tests/tidy/clang_tidy.sh

step "done"
