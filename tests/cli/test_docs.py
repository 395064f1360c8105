#!/usr/bin/env python3
"""What README.md and docs/manual.md quote is what the program says and what the files hold.

A fenced block whose first line is `$ pullrest ...` is run from the top of the source tree; what
follows must be its output, where a line `...` stands for any number of lines. A fenced `yaml`
block that begins with a comment `# from scenarios/x.yaml` must stand in that file as it is; any
other must be a scenario, whole.

Usage: test_docs.py            compare
       test_docs.py --update   put the program's present words into the blocks without ..."""

import os
import re
import shlex
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import SOURCE, call  # noqa: E402

DOCUMENTS = ["README.md", "docs/manual.md"]
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")

# Numbers in a document inform; golden files guard them closely. A machine that rounds another way
# may move the last digit that is shown, or a rest by a second: of a few numbers, not of many.
RELATIVE = 0.01
MOVED_SHARE, MOVED_LEAST = 0.01, 2


def run(command, folder):
    words = shlex.split(command)
    # files that a command writes land in a folder of their own
    for i, word in enumerate(words[1:], 1):
        if words[i - 1] in ("--plot", "--csv", "--output"):
            words[i] = os.path.join(folder, os.path.basename(word))
    result = call(*words[1:], stderr=subprocess.STDOUT, cwd=SOURCE)
    return [line.rstrip() for line in result.stdout.decode().splitlines()]


def same_line(quoted, got):
    if NUMBER.sub("#", quoted) != NUMBER.sub("#", got):
        return False
    for a, b in zip(NUMBER.findall(quoted), NUMBER.findall(got)):
        digits = len(a.partition(".")[2])
        x, y = float(a.replace(",", "")), float(b.replace(",", ""))
        if abs(x - y) > max(1.01 * 10.0 ** -digits, RELATIVE * abs(y)):
            return False
    return True


def moved_numbers(quoted, got):
    """Pairs of numbers of a matching line that are not written alike."""
    return [(a, b) for a, b in zip(NUMBER.findall(quoted), NUMBER.findall(got)) if a != b]


def unmatched(quoted, got, moved):
    """First quoted line that the output does not have in its place; None when all is well."""
    at, skipping = 0, False
    for line in quoted:
        if line == "...":
            skipping = True
            continue
        while skipping and at < len(got) and not same_line(line, got[at]):
            at += 1
        if at >= len(got) or not same_line(line, got[at]):
            return f"'{line}', not '{got[at] if at < len(got) else '(end)'}'"
        moved += [(line, *pair) for pair in moved_numbers(line, got[at])]
        at, skipping = at + 1, False
    return None if skipping or at == len(got) else f"the end, not '{got[at]}'"


def read(name):
    with open(os.path.join(SOURCE, name), encoding="utf-8") as f:
        return f.read()


def scenario_of(first_line):
    """The scenario that begins with this line, or None."""
    for name in sorted(os.listdir(os.path.join(SOURCE, "scenarios"))):
        if name.endswith(".yaml"):
            text = read("scenarios/" + name)
            if text.split("\n", 1)[0] == first_line:
                return text
    return None


def yaml_fault(text):
    first, _, rest = text.partition("\n")
    named = re.match(r"# from (\S+)$", first)
    if named:
        return None if rest.strip("\n") in read(named.group(1)) else f"{named.group(1)} has changed"
    whole = scenario_of(first)
    if whole is None:
        return "begins like no scenario and names no file"
    return None if whole.strip() == text.strip() else "that scenario has changed"


def check_document(name, update, folder):
    path = os.path.join(SOURCE, name)
    document = read(name)
    wrong, checked, moved = [], 0, []

    def look(match):
        nonlocal checked
        kind, text = match.groups()
        lines = text.rstrip("\n").split("\n")
        where = f"{name}:{document.count(chr(10), 0, match.start()) + 1}"
        if lines[0].startswith("$ pullrest "):
            checked += 1
            got = run(lines[0][2:], folder)
            if update and "..." not in lines:
                return "```" + kind + "\n" + "\n".join([lines[0], *got]) + "\n```"
            fault = unmatched([line.rstrip() for line in lines[1:]], got, moved)
            if fault:
                wrong.append(f"{where}: {lines[0]}\n    quoted {fault}")
        elif kind == "yaml":
            checked += 1
            whole = scenario_of(lines[0])
            if update and whole is not None:
                return "```yaml\n" + whole.strip() + "\n```"
            fault = yaml_fault(text)
            if fault:
                wrong.append(f"{where}: {fault}")
        return match.group(0)

    changed = BLOCK.sub(look, document)
    quoted = sum(len(NUMBER.findall(block)) for _, block in BLOCK.findall(document))
    if len(moved) > max(MOVED_LEAST, MOVED_SHARE * quoted):
        wrong.append(f"{name}: {len(moved)} of {quoted} numbers have moved: write the blocks anew")
        wrong.extend(f"    '{line}': {a} is now {b}" for line, a, b in moved)
    if update and changed != document:
        with open(path, "w", encoding="utf-8") as f:
            f.write(changed)
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", document):
        if not os.path.exists(os.path.join(os.path.dirname(path), target)):
            wrong.append(f"{name}: there is no {target}")
    return wrong, checked


def main():
    update = sys.argv[1:] == ["--update"]
    wrong, checked = [], 0
    with tempfile.TemporaryDirectory(dir=os.getcwd()) as folder:
        for name in DOCUMENTS:
            found, n = check_document(name, update, folder)
            wrong += found
            checked += n
    print("\n".join(wrong) if wrong else f"{checked} quotations hold")
    return 1 if wrong or checked < 4 else 0


if __name__ == "__main__":
    sys.exit(main())
