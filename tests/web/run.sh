#!/usr/bin/env bash
# The page in a real browser: Debian's Chromium, driven by playwright-core. Built in a copy beside the
# build trees, so that nothing lands in the sources. Usage: bash tests/web/run.sh [BUILD_TREE]
set -euo pipefail
cd "$(dirname "$0")/../.."
tree=$PWD/${1:-build/release}
mkdir -p build/web
rm -f build/web/*.mjs   # of another day
cp tests/web/package.json tests/web/package-lock.json tests/web/*.mjs build/web/
(cd build/web && npm ci --no-audit --no-fund --loglevel=error >/dev/null)
export FIELDPEG=$tree/client/fieldpeg FIELDPEGD=$tree/server/fieldpegd
export FIELDPEG_SOURCE=$PWD FIELDPEG_CHROMIUM=${FIELDPEG_CHROMIUM:-/usr/bin/chromium}
cd build/web
exec node --test --test-concurrency=2 --test-reporter=spec ./*.test.mjs
