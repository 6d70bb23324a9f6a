#!/usr/bin/env bash
# The long forms, in parts of at most an hour each. Run by hand: bash tests/long.sh PART ..., or 'all'.
#   tidy         all of clang-tidy with the static analyser, and every header by itself
#   fuzz         fifteen minutes of fuzzing for each of what meets the outside, two at a time
#   sessions     whole sessions, under the sanitizers
#   release      every test as g++ builds it
#   threads      what has threads, under the thread sanitizer
#   standby      two servers and one database: 300 rounds of each fault
#   install      packages in a bare Debian 12: installed, a short day, purged; the README's commands
#   arm64        built for arm64 by the cross toolchain, and tried as this machine can play it
#   database     both forms of the log beside each other; an archive of 10,000 days
#   races        10 000 races for a channel, a hundred kills of the server, and of its first start
#   simulation   10 000 days by chance on a network, a clock and a disk that fail
#   damage       a log cut, or a bit of it flipped, at 1,000 places; 40 lies to every verb
#   monte_carlo  random club fields of three kinds, played, against the words of the program
#   faults       deliberate faults in spectrum, planner, planning and day: which does no test notice?
#   bench        benchmarks with repetitions, beside general-purpose solvers, 300 phones, under fire
# Each prints what it counted.
set -euo pipefail
cd "$(dirname "$0")/.."
[ $# -gt 0 ] || { sed -n '2,18s/^# \?//p' "$0"; exit 2; }

step() { printf '\n== %s (%d s)\n' "$1" "$SECONDS"; }
build() { cmake --preset "$1" -DBUILD_TESTING=ON >/dev/null && cmake --build --preset "$@"; }

part_tidy() {
    build dev
    cmake --build --preset dev --target all_verify_interface_header_sets
    bash tests/tidy/clang_tidy.sh all
}
part_fuzz() {
    build dev --target command_fuzz day_file_fuzz log_fuzz page_fuzz parts_fuzz reply_fuzz text_fuzz
    bash tests/fuzz/run.sh all 870
}
part_sessions() {
    build dev --target fieldpeg fieldpegd
    ctest --preset dev -j "$(nproc)" -R '^sessions'
}
part_release() {
    build release
    ctest --preset release -j "$(nproc)"
}
part_threads() {
    build tsan
    ctest --preset tsan -j "$(nproc)"
}
part_races() {
    build release --target fieldpeg fieldpegd wire_tests
    FIELDPEG_RACES=10000 build/release/tests/wire_tests --gtest_filter='*Instant*'
    bash tests/crash/kill.sh build/release/client/fieldpeg build/release/server/fieldpegd 100
    bash tests/crash/first_start.sh build/release/client/fieldpeg build/release/server/fieldpegd 100
}
part_standby() {
    build release --target standby fieldpegd
    build/release/tests/standby build/release/server/fieldpegd 300
}
part_database() {
    build release --target database_bench fieldpegd
    build/release/tests/database_bench build/release/server/fieldpegd 10000 2000
}
part_install() {
    bash tests/install/bare_root.sh
}
part_arm64() {
    bash tests/install/arm64.sh
}
part_simulation() {
    build release --target simulation
    build/release/tests/simulation 1 10000
}
part_damage() {
    build release --target service_tests verbs_tests
    FIELDPEG_PLACES=1000 build/release/tests/service_tests --gtest_filter='DamagedPlaces.*'
    FIELDPEG_LIES=40 build/release/tests/verbs_tests
}
part_monte_carlo() {
    build release --target monte_carlo
    build/release/tests/monte_carlo 200 1001 2002
}
part_faults() {
    bash tests/faults/run.sh
}
part_bench() {
    build release --target fieldpegd spectrum_bench planner_bench wire_bench beside_solvers board_phones under_fire
    for bench in spectrum planner wire; do build/release/tests/"$bench"_bench --benchmark_repetitions=5; done
    bash tests/bench/beside_solvers.sh build/release
    for pilots in 12 40; do build/release/tests/board_phones build/release/server/fieldpegd 300 "$pilots"; done
    build/release/tests/under_fire build/release/server/fieldpegd 200 20
}

bash .ci/setup test
[ "$1" = all ] && set -- tidy fuzz sessions release threads standby install arm64 database races simulation damage monte_carlo faults bench
for part in "$@"; do
    declare -F "part_$part" >/dev/null || { echo "long.sh: no part is called '$part'" >&2; exit 2; }
done
for part in "$@"; do
    step "$part"
    "part_$part"
    step "$part: passed"
done
