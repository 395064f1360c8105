#!/usr/bin/env python3
"""The same answer from every build: --json of all commands, debug and release, gcc and clang, one
and two threads, at any record interval. Within one build the bytes are the same; between builds the
words are, and the numbers to the promised six significant digits.

Usage: compare.py PROGRAM [PROGRAM...]: the first is compared with itself, the others with it."""

import json
import math
import os
import subprocess
import sys
import tempfile

SOURCE = os.environ["PR_SOURCE_DIR"]
SCENARIOS = os.path.join(SOURCE, "scenarios")
# six significant digits are printed; the last of them may round either way
RELATIVE = 1.01e-5
# what is close to nothing, in its own unit, has no digits to compare
LEAST = 1e-6


def environment():
    return dict(os.environ, PULLREST_MODELS=os.path.join(SOURCE, "models"),
                PULLREST_PLOTS=os.path.join(SOURCE, "plots"))


def scenario(name):
    return os.path.join(SCENARIOS, name + ".yaml")


def calls():
    for name in sorted(os.listdir(SCENARIOS)):
        if name.endswith(".yaml"):
            yield ["plan", os.path.join(SCENARIOS, name)]
    yield ["run", scenario("schedule-pulls")]
    yield ["compare", scenario("demo"), scenario("two-batteries")]
    yield ["budget", scenario("everything-on")]
    yield ["readings", scenario("demo")]
    yield ["risk", scenario("risk-swamp"), "--samples", "300", "--threads", "1"]


def answer(program, arguments):
    result = subprocess.run([program, *arguments, "--json"], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, env=environment(), timeout=600, check=False)
    if result.returncode == 2 and arguments[0] == "plan":
        return 2, b"{}"  # a scenario for other commands
    if result.returncode not in (0, 1):
        raise SystemExit(f"{program} {arguments}: status {result.returncode}: "
                         f"{result.stderr.decode()}")
    return result.returncode, result.stdout


def differences(a, b, where=""):
    """What differs, as texts."""
    if isinstance(a, dict) and isinstance(b, dict):
        if a.keys() != b.keys():
            yield f"{where}: keys {sorted(a.keys() ^ b.keys())}"
        for key in a.keys() & b.keys():
            yield from differences(a[key], b[key], f"{where}.{key}")
    elif isinstance(a, list) and isinstance(b, list):
        if len(a) != len(b):
            yield f"{where}: {len(a)} items, {len(b)} items"
        for i, (x, y) in enumerate(zip(a, b)):
            yield from differences(x, y, f"{where}[{i}]")
    elif isinstance(a, float) or isinstance(b, float):
        if not (isinstance(a, (int, float)) and isinstance(b, (int, float))
                and math.isclose(a, b, rel_tol=RELATIVE, abs_tol=LEAST)):
            yield f"{where}: {a} and {b}"
    elif a != b:
        yield f"{where}: {a!r} and {b!r}"


def same_bytes(program, first, second, what):
    if answer(program, first) != answer(program, second):
        print(f"{what}: {first} and {second} differ")
        return 1
    return 0


def check_itself(program):
    """Within one build: bytes."""
    mistakes = 0
    for arguments in calls():
        mistakes += same_bytes(program, arguments, arguments, "twice the same")
    risk = ["risk", scenario("risk-swamp"), "--samples", "400", "--threads"]
    mistakes += same_bytes(program, risk + ["1"], risk + ["2"], "threads")
    with tempfile.TemporaryDirectory(dir=os.getcwd()) as folder:
        csv = ["--csv", os.path.join(folder, "t.csv"), "--every"]
        for command in (["plan", scenario("demo")], ["run", scenario("schedule-pulls")]):
            mistakes += same_bytes(program, command, command + csv + ["0.5"], "record interval")
            mistakes += same_bytes(program, command, command + csv + ["60"], "record interval")
    return mistakes


def check_others(programs):
    mistakes = bytes_too = compared = 0
    for arguments in calls():
        status, text = answer(programs[0], arguments)
        for other in programs[1:]:
            other_status, other_text = answer(other, arguments)
            compared += 1
            bytes_too += text == other_text
            found = list(differences(json.loads(text), json.loads(other_text)))
            if status != other_status:
                found.insert(0, f"status {status} and {other_status}")
            for line in found[:5]:
                print(f"{other} {' '.join(arguments)}: {line}")
            mistakes += len(found)
    print(f"{compared} answers of other builds compared, {bytes_too} of them to the byte")
    return mistakes


def main():
    programs = sys.argv[1:]
    mistakes = check_itself(programs[0])
    if len(programs) > 1:
        mistakes += check_others(programs)
    print(f"{mistakes} differences")
    return 1 if mistakes else 0


if __name__ == "__main__":
    sys.exit(main())
