#!/usr/bin/env bash
# Tests the page in a real browser: makes pages with the program, opens them from the disk.
# Programs: node, npm (fetches what package-lock.json pins), chromium, pdfinfo. PULLREST names the
# program under test, PAGE_BUILD the folder for pages, screenshots and node_modules. Exit status 77:
# a tool is missing.
set -eu -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
source=$PWD
program=${PULLREST:-$source/build/src/cli/pullrest}
folder=${PAGE_BUILD:-$source/build/page}

for tool in node npm "${CHROMIUM:-/usr/bin/chromium}" pdfinfo; do
    if ! command -v "$tool" >/dev/null 2>&1; then
        echo "skipped: no $tool" >&2
        exit 77
    fi
done
if [ ! -x "$program" ]; then
    echo "the program is not built: $program" >&2
    exit 1
fi

mkdir -p "$folder/shots"
if ! cmp -s tests/page/package-lock.json "$folder/package-lock.json" ||
    [ ! -d "$folder/node_modules" ]; then
    rm -rf "$folder/node_modules" "$folder/package-lock.json"
    cp tests/page/package.json "$folder/"
    cp tests/page/package-lock.json "$folder/"
    if ! (cd "$folder" && npm ci --ignore-scripts --no-audit --no-fund --prefer-offline --silent)
    then
        rm -f "$folder/package-lock.json"
        exit 1
    fi
fi

# a no is exit status 1 and a page all the same
make_page() {
    local status=0
    "$program" page "$1" --output "$folder/$2.html" --quiet || status=$?
    [ "$status" -eq "$3" ] || { echo "$1: exit status $status, not $3" >&2; exit 1; }
}
export PULLREST_MODELS=${PULLREST_MODELS:-$source/models}
export PULLREST_PLOTS=${PULLREST_PLOTS:-$source/plots}
make_page scenarios/demo.yaml demo 0
make_page tests/page/short.yaml short 0
make_page tests/page/hostile.yaml hostile 0
make_page scenarios/impossible-bog.yaml no-go 1
"$program" page tests/page/short.yaml --json --output "$folder/short.json" --quiet
"$program" page scenarios/demo.yaml --json --output "$folder/demo.json" --quiet

cp tests/page/test_page.mjs tests/page/browser.mjs "$folder/"
PR_SOURCE_DIR=$source PAGE_BUILD=$folder \
    node --test --test-timeout=300000 --test-reporter=spec "$folder/test_page.mjs"
