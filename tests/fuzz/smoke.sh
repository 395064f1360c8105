#!/usr/bin/env bash
# Fuzzes every target for a few seconds (SECONDS_EACH, 8), from the seeds; a finding is a failure,
# and its input is kept in build-fuzz/findings. The same mutations every time. Needs clang with
# libFuzzer.
set -eu -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
. .ci/common.sh

export CC=clang
TARGET=fuzzers build_tree build-fuzz -Doptimization=2 -Db_sanitize=address,undefined \
    -Db_lundef=false -Dc_args=-fsanitize=fuzzer-no-link
export UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1
status=0
for name in scenario quantity profile measured engine plan; do
    more=() mask=0
    case $name in
    scenario) more=(scenarios tests/errors) ;;
    quantity) more=(-dict=tests/fuzz/quantity.dict) ;;
    measured) mask=2 ;; # what the command says
    esac
    mkdir -p "build-fuzz/corpus/$name" build-fuzz/findings
    log=build-fuzz/findings/$name.log
    if ./build-fuzz/tests/fuzz/fuzz_$name -max_total_time="${SECONDS_EACH:-8}" -seed=1 \
        -timeout=120 -rss_limit_mb=2000 -max_len=4096 -close_fd_mask=$mask -print_final_stats=1 \
        -artifact_prefix="build-fuzz/findings/$name-" \
        "build-fuzz/corpus/$name" "tests/fuzz/seeds/$name" "${more[@]}" >"$log" 2>&1; then
        awk -v name=$name '/number_of_executed_units/ { print name ": " $2 " executions" }' "$log"
    else
        grep -aE 'fuzz_[a-z]+\.c:|runtime error|ERROR|Test unit written' "$log" | head -n 20
        echo "$name: a finding; all of it in $log"
        status=1
    fi
done
exit "$status"
