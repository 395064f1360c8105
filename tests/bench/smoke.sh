#!/bin/sh
# Does the benchmark run, and does what it times come out? Nothing is asked of the times.
#   smoke.sh [BUILD]      default: the build of tests/run.sh
set -eu
here=$(cd "$(dirname "$0")" && pwd)
export PULLREST_MODELS="${PULLREST_MODELS:-$here/../../models}"
out=$("${1:-$here/../../build}/tests/bench/bench_hour" "$here/full.yaml" 1)
# every run of ours has ended well
printf '%s\n' "$out" | awk -F'\t' '
    $2 == "pullrest" { n++; if ($11 != "done" || $6 == "nan") bad++ }
    END { printf "%d runs, %d failed\n", n, bad; exit !(n == 12 && bad == 0) }'
