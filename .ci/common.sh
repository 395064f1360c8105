# shellcheck shell=bash
# Sourced by scenarios/demo.sh, tests/run.sh and .ci/run, which stand in the top folder: installs
# missing packages, builds, runs a suite and counts.

# Prints the packages of the given sections of .ci/packages that are missing.
missing_packages() {
    local section='' package command
    while read -r package command _; do
        case $package in
        '' | '#'*) continue ;;
        '['*']')
            section=${package:1:-1}
            continue
            ;;
        esac
        case " $* " in *" $section "*) ;; *) continue ;; esac
        if [ -n "$command" ] && command -v "$command" >/dev/null 2>&1; then
            continue
        fi
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q 'ok installed' ||
            echo "$package"
    done <.ci/packages
}

# apt-get as root, directly or through sudo, without questions; shows what it says only if it fails.
apt_get() {
    local sudo='' output
    [ "$(id -u)" -eq 0 ] || sudo=sudo
    if ! output=$($sudo env DEBIAN_FRONTEND=noninteractive apt-get -qq -y \
        -o DPkg::Lock::Timeout=300 -o Dpkg::Use-Pty=0 "$@" 2>&1); then
        printf '%s\n' "$output" >&2
        return 1
    fi
}

# Installs what is missing of the given sections. Fails if something of the section build is missing
# and cannot be installed; of the others only says what is missing, for the checks that need it then
# say that they were skipped.
install_packages() {
    local missing needed
    if ! command -v dpkg-query >/dev/null 2>&1 || ! command -v apt-get >/dev/null 2>&1; then
        echo "No apt on this machine: the packages of .ci/packages are taken to be there." >&2
        return 0
    fi
    missing=$(missing_packages "$@" | tr '\n' ' ')
    [ -n "$missing" ] || return 0
    echo "Missing packages: $missing" >&2
    if [ "$(id -u)" -ne 0 ] && ! command -v sudo >/dev/null 2>&1; then
        echo "To install them takes root or sudo. As root: apt-get install $missing" >&2
    else
        echo "Installing them ..." >&2
        # shellcheck disable=SC2086 # a list of words
        apt_get update &&
            apt_get install --no-install-recommends $missing ||
            echo "Some packages could not be installed." >&2
    fi
    needed=$(missing_packages build | tr '\n' ' ')
    if [ -n "$needed" ]; then
        echo "Cannot go on without: $needed" >&2
        return 1
    fi
    missing=$(missing_packages "$@" | tr '\n' ' ')
    [ -z "$missing" ] || echo "Going on without: $missing" >&2
}

# True if a folder is a finished set-up of this very tree, not of one that was copied or moved.
is_set_up() {
    [ -f "$1/build.ninja" ] &&
        grep -qF "\"source\": \"$PWD\"" "$1/meson-info/meson-info.json" 2>/dev/null
}

# build_tree FOLDER [meson options]: sets up, again if the options or the packages that are there
# have changed, then builds; quiet if all goes well. TARGET in the environment builds only that.
build_tree() {
    local folder=$1 log=$1/build.log made_for output wipe=''
    shift
    made_for="$*, missing packages: $(missing_packages build test slow | tr '\n' ' ')"
    if ! is_set_up "$folder" || [ "$(cat "$folder/made-for" 2>/dev/null)" != "$made_for" ]; then
        # a developer's own set-up keeps its options
        if is_set_up "$folder"; then wipe=--wipe; else rm -rf "$folder"; fi
        if ! output=$(meson setup $wipe "$@" "$folder" 2>&1); then
            printf '%s\n' "$output"
            return 1
        fi
        echo "$made_for" >"$folder/made-for"
    fi
    if ! ninja -k 0 -C "$folder" ${TARGET:+"$TARGET"} >"$log" 2>&1; then
        grep -v '^\[[0-9]*/[0-9]*\] [CLG]' "$log"
        return 1
    fi
}

# The tests that the last run in a build folder passed, failed and skipped: three numbers.
count_tests() {
    python3 - "$1" <<'PY'
import json
import sys

count = {"passed": 0, "failed": 0, "skipped": 0}
names = {"OK": "passed", "EXPECTEDFAIL": "passed", "SKIP": "skipped"}
with open(sys.argv[1], encoding="utf-8") as log:
    for line in log:
        count[names.get(json.loads(line)["result"], "failed")] += 1
print(count["passed"], count["failed"], count["skipped"])
PY
}

# N passed, N failed[, N skipped]
tally_line() {
    printf '%d passed, %d failed' "$1" "$2"
    [ "$3" -eq 0 ] || printf ', %d skipped' "$3"
    printf '\n'
}
