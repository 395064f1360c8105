#!/usr/bin/env bash
# How much of src the tests run through: lines and branches, of the whole and of every layer. Fails
# below the thresholds. docs/robustness.md tells what is not covered and why. The tests of the
# package, cross-checks, lessons and faults are left out: they add time and few lines; of the
# lessons, the test of pictures is run.
set -eu -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. .ci/common.sh

lines_least=90 branches_least=80
folder=build-coverage
# threads count, too
build_tree "$folder" -Db_coverage=true -Doptimization=0 -Db_ndebug=true \
    -Dc_args=-fprofile-update=atomic
find "$folder" -name '*.gcda' -delete
meson test -C "$folder" --no-rebuild --no-suite package --no-suite faults --no-suite crosscheck \
    --no-suite published --no-suite lessons >"$folder/tests.log" 2>&1 || {
    tail -n 30 "$folder/tests.log"
    exit 1
}
meson test -C "$folder" --no-rebuild plots >"$folder/plots.log" 2>&1 || {
    tail -n 30 "$folder/plots.log"
    exit 1
}
report=$folder/coverage.json
gcovr -r . --object-directory "$folder" -f 'src/' --exclude-throw-branches \
    --exclude-unreachable-branches --json-summary "$report" --html-details "$folder/coverage.html" \
    -s >/dev/null 2>"$folder/gcovr.log"
python3 - "$report" "$lines_least" "$branches_least" <<'PY'
import collections
import json
import sys

with open(sys.argv[1], encoding="utf-8") as f:
    report = json.load(f)
layers = collections.defaultdict(lambda: [0, 0, 0, 0])
for item in report["files"]:
    for name in (item["filename"].split("/")[1], "all"):
        for k, key in enumerate(("line_covered", "line_total", "branch_covered", "branch_total")):
            layers[name][k] += item[key]
for name, (lines, of_lines, branches, of_branches) in sorted(layers.items()):
    print(f"{name:8s} {100 * lines / of_lines:5.1f} % of {of_lines:5d} lines, "
          f"{100 * branches / of_branches:5.1f} % of {of_branches:5d} branches")
lines, of_lines, branches, of_branches = layers["all"]
if 100 * lines < float(sys.argv[2]) * of_lines or 100 * branches < float(sys.argv[3]) * of_branches:
    print(f"less than {sys.argv[2]} % of lines or {sys.argv[3]} % of branches")
    sys.exit(1)
PY
