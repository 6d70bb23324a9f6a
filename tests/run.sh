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
ctest --preset dev

step "release: the program, whole sessions, benchmarks once"
ninja_of release --target fieldpeg spectrum_bench
ctest --preset release -L sessions
build/release/tests/spectrum_bench --benchmark_min_time=0.01 2>&1 | grep -v '^\*\*\*'

step "every header by itself"
cmake --build --preset dev --target all_verify_interface_header_sets

step "fuzzing for seconds"
ninja_of fuzz --target day_file_fuzz
corpus=$(mktemp -d)
cp client/demo_day.toml server/data/new_day.toml "$corpus"
build/fuzz/tests/day_file_fuzz -max_total_time="${FIELDPEG_FUZZ_SECONDS:-20}" -max_len=20000 \
    -print_final_stats=1 -verbosity=0 -dict=tests/fuzz/day_file.dict "$corpus"

step "clang-tidy"
bash tests/tidy/clang_tidy.sh

step "done"
