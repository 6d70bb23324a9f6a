#!/usr/bin/env bash
# Plays a session: runs every line that begins with '$ ' in an empty folder and compares what comes
# out, both streams and the exit status, with what the session says should.
# Usage: run.sh PROGRAM SESSION [--write]; with --write the session is written anew: look at it.
set -euo pipefail
program=$(realpath "$1")
session=$(realpath "$2")
shared=$(dirname "$session")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/here" "$work/bin"
ln -s "$program" "$work/bin/fieldpeg"
export PATH=$work/bin:$PATH NO_COLOR=1 LC_ALL=C.UTF-8 SHARED=$shared
export XDG_CONFIG_HOME=$work/config
cd "$work/here"

while IFS= read -r line; do
    case $line in
        '#'*) echo "$line" ;;
        '$ '*)
            printf '\n%s\n' "$line"
            status=0
            bash -c "${line#'$ '}" 2>&1 || status=$?
            echo "= $status"
            ;;
    esac
done <"$session" >"$work/actual"

if [ "${3:-}" = --write ]; then
    cp "$work/actual" "$session"
else
    diff -u --label expected --label actual "$session" "$work/actual"
fi
