"""What the comparison programs share: pullrest's own numbers, and a word when a tool is missing."""

import shutil
import subprocess
import sys

SKIPPED = 77


def skip(what):
    print(f"skipped: {what} is not installed")
    sys.exit(SKIPPED)


def find_tool(name):
    path = shutil.which(name)
    if path is None:
        skip(name)
    return path


def dump_text(dump, *arguments):
    return subprocess.run([dump, *map(str, arguments)], stdout=subprocess.PIPE, check=True,
                          universal_newlines=True).stdout


def read_values(text):
    """name<TAB>value lines as a dictionary."""
    values = {}
    for line in text.splitlines():
        name, value = line.split("\t")
        values[name] = float(value)
    return values


class Checks:
    """Counts differences that are larger than allowed."""

    def __init__(self):
        self.failed = 0
        self.done = 0

    def near(self, what, got, expected, allowed):
        """allowed: absolute; NaN on any side fails"""
        gap = abs(got - expected)
        good = gap <= allowed
        self.done += 1
        self.failed += not good
        word = "ok  " if good else "FAIL"
        print(f"{word} {what}: {got:.12g}, pullrest {expected:.12g}, difference {gap:.2e}, "
              f"allowed {allowed:.1e}")

    def relative(self, what, got, expected, allowed):
        self.near(what, got, expected, allowed * abs(expected))

    def finish(self):
        print(f"{self.done} compared, {self.failed} failed")
        sys.exit(1 if self.failed or not self.done else 0)


def groups(text):
    """group.name<TAB>value lines as a dictionary of dictionaries."""
    found = {}
    for name, value in read_values(text).items():
        group, _, rest = name.partition(".")
        found.setdefault(group, {})[rest] = value
    return found


def column(values, name):
    """name.0, name.1 ... as a list."""
    result = []
    while f"{name}.{len(result)}" in values:
        result.append(values[f"{name}.{len(result)}"])
    return result
