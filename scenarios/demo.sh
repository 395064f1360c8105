#!/usr/bin/env bash
# Builds pullrest, installing first what is missing, and plans the demo recovery with its plot.
set -eu -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
. .ci/common.sh

install_packages build
echo "Building ..." >&2
TARGET=src/cli/pullrest build_tree build
# exit status 1 is an answer too: the recovery is not possible within the limits
status=0
./build/src/cli/pullrest plan scenarios/demo.yaml --plot build/demo.svg || status=$?
if [ -f build/demo.svg ] && [ "$status" -le 1 ]; then
    printf '\nThe plot of this recovery is in %s\n' "$PWD/build/demo.svg"
fi
exit "$status"
