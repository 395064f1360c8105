#!/usr/bin/env python3
"""The surfaces of docs/physics/demand.md are those of the catalogue: the same names in the same
order, the same low, likely and high shares of the weight."""

import os
import re
import sys

SOURCE = os.environ.get("PR_SOURCE_DIR", os.path.join(os.path.dirname(__file__), "..", ".."))
NUMBER = r"([0-9.]+) %"


def read(*path):
    with open(os.path.join(SOURCE, *path), encoding="utf-8") as file:
        return file.read()


def catalogue():
    found = re.findall(r"(?ms)^([a-z-]+):\n.*?^  rolling_resistance: "
                       rf"{{low: {NUMBER}, likely: {NUMBER}, high: {NUMBER}}}$",
                       read("models", "surfaces.yaml"))
    return [(name, *map(float, shares)) for name, *shares in found]


def documented():
    rows = re.findall(rf"(?m)^\| ([a-z-]+) \| {NUMBER} \| {NUMBER}[^|]*\| {NUMBER} \|",
                      read("docs", "physics", "demand.md"))
    return [(name, *map(float, shares)) for name, *shares in rows]


def main():
    entries = len(re.findall(r"(?m)^[a-z-]+:$", read("models", "surfaces.yaml")))
    ours, table = catalogue(), documented()
    if len(ours) != entries or entries < 10:
        print(f"models/surfaces.yaml: {entries} entries, {len(ours)} understood")
        return 1
    rounded = [(name, *(float(f"{share:.3g}") for share in shares)) for name, *shares in ours]
    for row in sorted(set(rounded) ^ set(table)):
        print(f"docs/physics/demand.md and models/surfaces.yaml differ: {row}")
    return 0 if rounded == table else 1


if __name__ == "__main__":
    sys.exit(main())
