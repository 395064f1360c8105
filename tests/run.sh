#!/usr/bin/env bash
# Builds pullrest, installing first what is missing, and runs every test. The last line is
# `N passed, N failed`, and the exit status is 0 only if none failed.
set -eu -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. .ci/common.sh

install_packages build test
echo "Building ..." >&2
build_tree build
# the checks of published rows leave their results here; the last test compares them with
# docs/evidence.md
export PR_PUBLISHED_RESULTS=$PWD/build/published-results.tsv
rm -f "$PR_PUBLISHED_RESULTS" build/meson-logs/testlog.json
status=0
meson test -C build --no-rebuild --print-errorlogs || status=$?
read -r passed failed skipped < <(count_tests build/meson-logs/testlog.json)
echo
tally_line "$passed" "$failed" "$skipped"
[ "$status" -eq 0 ] && [ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
