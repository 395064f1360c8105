#!/usr/bin/env bash
# Draws every picture of README.md and docs/ anew, so that none shows what the program no longer
# says. One line per picture: its name, then the command without --plot. After a change of a model,
# a scenario or a script: run it, look at the pictures, commit those that changed for a reason.
#
# Usage: plots/make_docs.sh [PROGRAM [NAME...]]     build/src/cli/pullrest, every picture
set -eu -o pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
program=${1:-build/src/cli/pullrest}
shift || true
export PULLREST_MODELS=$PWD/models PULLREST_PLOTS=$PWD/plots

draw() {
    local name=$1 status=0
    shift
    if [ "${#wanted[@]}" -gt 0 ] && [[ " ${wanted[*]} " != *" $name "* ]]; then
        return
    fi
    # exit status 1 is an answer too: no
    "$program" "$@" --quiet --plot "docs/images/$name" >/dev/null || status=$?
    if [ "$status" -gt 1 ]; then
        echo "make_docs.sh: $name: exit status $status" >&2
        exit "$status"
    fi
}

# the measured battery has a program and a check of its own beside the build's pullrest
draw_measured() {
    local name=$1 build
    if [ "${#wanted[@]}" -gt 0 ] && [[ " ${wanted[*]} " != *" $name "* ]]; then
        return
    fi
    build=$(dirname "$program")/../..
    PR_SOURCE_DIR=$PWD python3 tests/measured/check_measured.py \
        "$build/tests/crosscheck/measured_run" tests/measured/figures.tsv \
        --picture plots/measured.gp "docs/images/$name" >/dev/null
}
wanted=("$@")
mkdir -p docs/images

# README
draw demo.png plan scenarios/demo.yaml

# manual
draw manual-cycle.svg plan scenarios/demo.yaml --plot-kind cycle --plot-cycle 14
draw manual-rests.svg plan scenarios/lesson-throttle.yaml --plot-kind rests
draw manual-compare.svg compare scenarios/rig-variants.yaml
draw manual-budget.svg budget scenarios/everything-on.yaml
draw manual-readings.svg readings scenarios/demo.yaml
draw manual-risk.svg risk scenarios/uncertain.yaml

# lessons
draw lesson-meter.svg plan scenarios/lesson-meter.yaml --plot-kind cycle --plot-cycle 3
draw lesson-pull-length.svg plan scenarios/lesson-pull-length.yaml --plot-kind rests
draw lesson-throttle.svg plan scenarios/lesson-throttle.yaml --plot-kind rests
draw lesson-block.svg compare scenarios/lesson-block.yaml
draw lesson-cold.svg compare scenarios/lesson-cold.yaml
draw lesson-cold-starter.svg models petrol-6
draw lesson-two-batteries.svg compare scenarios/lesson-two-batteries.yaml
draw lesson-dead-alternator.svg compare scenarios/lesson-dead-alternator.yaml

# physics
draw physics-battery.svg models flooded-70-starter
draw physics-battery-deep.svg models agm-100-deep
draw physics-alternator.svg models plate-110
draw physics-cables.svg models 2-awg
draw physics-fuses.svg models bolt-down
draw physics-loads.svg models headlamps-halogen
draw physics-demand.svg models loose-sand
draw physics-rigging.svg models series-9500 --plot-kind rigging
draw physics-motor.svg models series-9500
draw physics-motor-heat.svg models series-9500 --plot-kind heat
draw physics-cranking.svg models diesel-4
draw physics-links.svg models relay-13.3

# measured
draw_measured measured.svg
