#!/usr/bin/env bash
# Tests that bite: puts deliberate faults into spectrum, planner, planning, book, day and what guards them, one at a time, in a
# copy of the sources, and says which no test notices. Usage: bash tests/faults/run.sh [NAME ...]
# Ends with status 1 if one is not noticed, or if an entry of faults.txt no longer applies.
set -euo pipefail
cd "$(dirname "$0")/../.."
list=$PWD/tests/faults/faults.txt
tree=$PWD/build/faults   # beside the other build trees: no source is touched
suites=(spectrum published book planner planning day log service wire monte_carlo)

mkdir -p "$tree"
rm -rf "$tree/src" && mkdir "$tree/src"
git ls-files -z | xargs -0 cp --parents -t "$tree/src"
# Optimised where it pays, unused variables and the like no reason to stop.
cmake -S "$tree/src" -B "$tree/out" -G Ninja -DCMAKE_BUILD_TYPE=Debug -DCMAKE_CXX_FLAGS="-O1 -g0 -w" \
    -DFIELDPEG_WERROR=OFF -DBUILD_TESTING=ON >/dev/null

# Builds and runs the test programs of some floors, in turn; the first test that fails. Nothing: none
# does.
first_failure() {
    local suite said
    for suite in "$@"; do
        if ! cmake --build "$tree/out" --target "${suite}_tests" >"$tree/log" 2>&1; then
            echo "the compiler"
            return
        fi
        if ! said=$(cd "$tree/src" && timeout 600 "$tree/out/tests/${suite}_tests" --gtest_fail_fast 2>&1); then
            sed -n 's/^\[  FAILED  \] \([A-Za-z0-9_.]*\).*/'"$suite"'.\1/p' <<<"$said" | head -n 1 | grep . ||
                echo "$suite, which ends"
            return
        fi
    done
}

# Nearest floor first: what notices a fault there is there.
suites_for() {
    case $1 in
        server/planner/*) echo planner planning day ;;
        server/planning/*) echo planning ;;
        server/day/*) echo day planning service ;;
        server/book/*) echo book day ;;
        server/log/*) echo log service ;;
        server/service/*) echo service wire ;;
        server/wire/*) echo wire ;;
        *) echo spectrum published monte_carlo planner day ;;
    esac
}

sound=$(first_failure "${suites[@]}")
[ -z "$sound" ] || { echo "without any fault $sound fails: mend that first" >&2; exit 2; }

noticed=0 unnoticed=0 broken=0
try_fault() {   # NAME FILE BEFORE AFTER
    local file=$tree/src/$2
    if ! BEFORE=$3 AFTER=$4 perl -0pi.sound -e 'BEGIN { ($b, $a) = @ENV{qw(BEFORE AFTER)} }
            $n = () = /\Q$b\E/g; exit 3 if $n != 1; s/\Q$b\E/$a/' "$file"; then
        [ -f "$file.sound" ] && mv "$file.sound" "$file"
        echo "$1: DOES NOT APPLY ($2)" && broken=$((broken + 1)) && return
    fi
    touch "$file"
    local by
    # shellcheck disable=SC2046
    by=$(first_failure $(suites_for "$2"))
    case $by in
        'the compiler') echo "$1: does not compile ($2)" && broken=$((broken + 1)) ;;
        '') echo "$1: NOT NOTICED ($2)" && unnoticed=$((unnoticed + 1)) ;;
        *) echo "$1: noticed by $by" && noticed=$((noticed + 1)) ;;
    esac
    mv "$file.sound" "$file" && touch "$file"
}

wanted() { [ $# -eq 1 ] || { local name=$1; shift; printf '%s\n' "$@" | grep -qxF "$name"; }; }

name='' file='' before='' after=''
flush() {
    [ -z "$name" ] || ! wanted "$name" "$@" || try_fault "$name" "$file" "${before%$'\n'}" "${after%$'\n'}"
    name='' before='' after=''
}
while IFS= read -r line; do
    case $line in
        '== '*) flush "$@"; name=${line#== } file=${name##* | } name=${name% | *} ;;
        -*) before+=${line#-}$'\n' ;;
        +*) after+=${line#+}$'\n' ;;
    esac
done < <(cat "$list"; echo)
flush "$@"

echo "faults: $noticed noticed, $unnoticed not noticed, $broken that do not apply or compile"
[ "$unnoticed" -eq 0 ] && [ "$broken" -eq 0 ]
