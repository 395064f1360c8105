#!/usr/bin/env python3
"""Plans every scenario, runs its schedule if it has one, and compares the summary with
tests/golden/<scenario>.tsv, number by number, each column with its own tolerance. Guards against
change only; it proves nothing about the world.

Usage: check_golden.py            compare
       check_golden.py --update   write what the program says now (look at the difference, say why
                                  in the commit)"""

import json
import math
import os
import subprocess
import sys

PROGRAM = os.environ["PULLREST"]
SOURCE = os.environ["PR_SOURCE_DIR"]
SCENARIOS = os.path.join(SOURCE, "scenarios")
GOLDEN = os.path.join(SOURCE, "tests", "golden")

# column: allowed difference, and why. Texts (None) must be equal. Six digits are the same on every
# machine (design rule); what is wider than that follows from rests being whole seconds: where a
# limit is met to within rounding, a rest may come out one second longer, and a plan with some
# dozen rests that much longer in all.
COLUMNS = {
    "go": None,
    "binding": None,
    "ended_by": None,
    "parts": 0,
    "pulls": 0,                 # of a run: phases
    "first_rest_s": 1.0,        # whole seconds
    "pull_s": 1.0,              # whole seconds
    "rest_s": 1.0,              # whole seconds
    "pull_rpm": 0.5,
    "rest_rpm": 0.5,
    "total_s": ("pulls", 1.0),  # one second for each rest
    "travel_m": 0.005,          # events lie within 1 ms, the rope runs at most 0.2 m/s; printing
    "least_soc_frac": 0.001,    # one second of rest at 60 A in a 60 Ah battery is 0.0003
    "least_box_V": 0.005,
    "least_restart_V": 0.005,
    "most_armature_degC": 0.3,  # one second of rest cools a hot winding by some 0.1 K
    "most_anchor_N": 1.0,
}
ROWS = ["even", "as_needed", "shortest", "run"]


def scenario_names():
    return sorted(f[:-5] for f in os.listdir(SCENARIOS) if f.endswith(".yaml"))


def ask(command, name):
    """What the command answers, or None where the scenario has nothing for it."""
    env = dict(os.environ)
    env.setdefault("PULLREST_MODELS", os.path.join(SOURCE, "models"))
    path = os.path.join(SCENARIOS, name + ".yaml")
    result = subprocess.run([PROGRAM, command, path, "--json"], stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, env=env, timeout=120)
    said = result.stderr.decode()
    if result.returncode == 2 and ("there is no schedule" in said or "nothing to plan" in said):
        return None
    if result.returncode not in (0, 1):
        raise RuntimeError(f"{command} {name}: exit status {result.returncode}: {said}")
    return json.loads(result.stdout)


def summary(name):
    """{row: {column: text}} of all that the scenario is good for."""
    rows = {}
    planned, ran = ask("plan", name), ask("run", name)
    if planned is not None:
        rows.update(planned["plans"])
    if ran is not None:
        rows["run"] = dict(ran["answer"], go=ran["answer"]["holds"], pulls=len(ran["phases"]))
    if not rows and ask("check", name) is None:  # made for another command, but sound
        raise RuntimeError(f"{name}: not even check takes it")
    return {r: {c: as_text(rows[r].get(c)) for c in COLUMNS} for r in ROWS if r in rows}


def as_text(value):
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def write(name, rows):
    with open(os.path.join(GOLDEN, name + ".tsv"), "w", encoding="utf-8") as f:
        f.write("\t".join(["row", *COLUMNS]) + "\n")
        for r in rows:
            f.write("\t".join([r, *(rows[r][c] for c in COLUMNS)]) + "\n")


def read(name):
    with open(os.path.join(GOLDEN, name + ".tsv"), encoding="utf-8") as f:
        lines = [line.rstrip("\n").split("\t") for line in f]
    if lines[0] != ["row", *COLUMNS]:
        raise RuntimeError(f"{name}.tsv has other columns: update it")
    return {line[0]: dict(zip(COLUMNS, line[1:])) for line in lines[1:]}


def differs(column, got, expected, row):
    allowed = COLUMNS[column]
    if allowed is None or "-" in (got, expected):
        return got != expected
    if isinstance(allowed, tuple):
        allowed = allowed[1] * float(row[allowed[0]])
    difference = abs(float(got) - float(expected))
    return math.isnan(difference) or difference > allowed


def compare(name):
    """Lines that say what differs."""
    if not os.path.exists(os.path.join(GOLDEN, name + ".tsv")):
        return [f"{name}: there is no golden file (check_golden.py --update)"]
    got, expected = summary(name), read(name)
    if list(got) != list(expected):
        return [f"{name}: has {', '.join(got)}; had {', '.join(expected)}"]
    return [f"{name}: {r}: {c} is {got[r][c]}, was {expected[r][c]}"
            for r in got for c in COLUMNS
            if differs(c, got[r][c], expected[r][c], expected[r])]


def main():
    names = scenario_names()
    if sys.argv[1:] == ["--update"]:
        for name in names:
            write(name, summary(name))
        return 0
    found = [line for name in names for line in compare(name)]
    stray = [f for f in os.listdir(GOLDEN) if f.endswith(".tsv") and f[:-4] not in names]
    found += [f"{f}: there is no such scenario" for f in sorted(stray)]
    print("\n".join(found) if found else f"{len(names)} scenarios as before")
    return 1 if found or not names else 0


if __name__ == "__main__":
    sys.exit(main())
