#!/usr/bin/env bash
# The long forms: an hour of fuzzing, benchmarks with repetitions. Run by hand.
set -euo pipefail
cd "$(dirname "$0")/.."
FIELDPEG_FUZZ_SECONDS=3600 FIELDPEG_ANALYSE=1 bash tests/run.sh
build/release/tests/spectrum_bench --benchmark_repetitions=5
