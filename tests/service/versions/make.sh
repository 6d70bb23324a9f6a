#!/usr/bin/env bash
# Keeps a small log of a version of the program, and what that version says of its day, so that each later
# one can be held against it (versions_test.cc). Run once, when a version is given out.
# Usage: make.sh FIELDPEG
set -euo pipefail
fieldpeg=$(realpath "$1")
here=$(cd "$(dirname "$0")" && pwd)
version=$("$fieldpeg" --version | cut -d' ' -f2)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
export TZ=UTC
"$fieldpeg" new day.toml --name "Kept day" --date 2026-09-19 > /dev/null
say() { "$fieldpeg" "$@" --day day.toml > /dev/null 2>&1 || true; }
say field place tripod 10 -15 2.5
say claim R3 --as "Pilot One"
say claim R7 --as "Pilot Two"
say on --already --as "Pilot One"
say seen R8
say off --down --near "tall grass" --as "Pilot One"
say field close --because lunch
say pilot add Dora --kit usual-quad --place line-1
say release --as "Pilot Two"
"$fieldpeg" pilot list --day day.toml --json > "$here/$version.json"
python3 - "$here/$version.sql" <<'PY'
import sqlite3, sys
log = sqlite3.connect("day.daylog")
pragmas = [f"PRAGMA {p} = {log.execute('PRAGMA ' + p).fetchone()[0]};" for p in ("application_id", "user_version")]
open(sys.argv[1], "w").write("\n".join(pragmas + list(log.iterdump())) + "\n")
PY
wc -c "$here/$version".*
