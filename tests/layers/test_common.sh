#!/usr/bin/env bash
# The counting and the package list of .ci/common.sh, on which the last lines of tests/run.sh and
# .ci/run stand.
set -u -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.." || exit 1
. .ci/common.sh

failed=0
expect() {
    if [ "$2" != "$3" ]; then
        printf "%s: expected '%s', got '%s'\n" "$1" "$2" "$3"
        failed=$((failed + 1))
    fi
}

folder=$(mktemp -d) || exit 1
trap 'rm -rf "$folder"' EXIT
log=$folder/testlog.json
for result in OK OK FAIL TIMEOUT ERROR UNEXPECTEDPASS INTERRUPT SKIP EXPECTEDFAIL OK; do
    printf '{"name": "x", "result": "%s"}\n' "$result"
done >"$log"
expect "counts" "4 5 1" "$(count_tests "$log")"
expect "line" "4 passed, 5 failed, 1 skipped" "$(tally_line 4 5 1)"
expect "line without skipped" "12 passed, 0 failed" "$(tally_line 12 0 0)"

# a machine on which no package and no command is there, in a folder with a list of its own
mkdir -p "$folder/.ci" "$folder/bin"
cat >"$folder/.ci/packages" <<'LIST'
# comment
[build] words
one
two two-command

[test] words
three
LIST
missing() {
    (cd "$folder" && PATH="$folder/bin" && missing_packages "$@") | tr '\n' ' '
}
ln -s "$(command -v grep)" "$folder/bin/grep"
expect "one section" "one two " "$(missing build)"
expect "two sections" "one two three " "$(missing build test)"
expect "no section" "" "$(missing slow)"
printf '#!/bin/sh\n' >"$folder/bin/two-command"
chmod +x "$folder/bin/two-command"
expect "a command stands for its package" "one " "$(missing build)"
# shellcheck disable=SC2016 # the variable is the script's
printf '#!%s\n[ "$4" = three ] && echo "install ok installed"\n' "$(command -v sh)" \
    >"$folder/bin/dpkg-query"
chmod +x "$folder/bin/dpkg-query"
expect "an installed package" "one " "$(missing build test)"

# every section and every package of the real list is well formed
expect "real list" "" "$(grep -vE '^(#.*|\[(build|test|slow)\] .*|[a-z0-9.+-]+( [a-z0-9+-]+)?|)$' \
    .ci/packages)"

echo "$failed failed"
[ "$failed" -eq 0 ]
