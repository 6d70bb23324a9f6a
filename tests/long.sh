#!/usr/bin/env bash
# The long forms: an hour of fuzzing for each parser, every header by itself, all of clang-tidy,
# 10 000 races for a channel, a hundred kills of the server, benchmarks with repetitions, 300 phones. Run by hand.
set -euo pipefail
cd "$(dirname "$0")/.."
export FIELDPEG_LONG=1 FIELDPEG_FUZZ_SECONDS=3600 FIELDPEG_ANALYSE=1 FIELDPEG_TIDY_ALL=1
bash tests/run.sh
cmake --build --preset release --target wire_tests wire_bench beside_solvers
FIELDPEG_RACES=10000 build/release/tests/wire_tests --gtest_filter='*Instant*'
bash tests/crash/kill.sh build/release/client/fieldpeg build/release/server/fieldpegd 100
build/release/tests/spectrum_bench --benchmark_repetitions=5
build/release/tests/planner_bench --benchmark_repetitions=5
bash tests/bench/beside_solvers.sh build/release
build/release/tests/wire_bench --benchmark_repetitions=5
cmake --build --preset release --target board_phones
for pilots in 12 40; do build/release/tests/board_phones build/release/server/fieldpegd 300 "$pilots"; done
