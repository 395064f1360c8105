#!/usr/bin/env python3
"""Every number of docs/lessons is what the program says. Beside a number stands

    <!-- check: COMMAND | EXPRESSION | VALUE | TOLERANCE -->

COMMAND is run with --json; EXPRESSION is arithmetic over {paths/into/its/answer}, where an
element of a list is named by its number, name or key; VALUE is how the lesson writes the result
and must stand in its text: a number, a duration (5 min 11 s), or no-go for false and go for true.
COMMAND may end with [OLD -> NEW]: its scenario with one text replaced. A number that goes in, or
that a picture shows, is marked by

    <!-- from: FILE | VALUE | TEXT -->

VALUE is how the lesson writes it, TEXT where FILE (a scenario, a picture) has it. Any other number
in digits is a mistake; numbers in words and in code are not looked at.

Pictures must be there, and be made by plots/make_docs.sh; scenarios and their exercises must be
complete."""

import json
import math
import os
import re
import sys
import tempfile

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import SOURCE, call  # noqa: E402

LESSONS = os.path.join(SOURCE, "docs", "lessons")
CHECK = re.compile(r"<!-- check: (.*?) \| (.*?) \| (.*?) \| (.*?) -->")
PICTURE = re.compile(r"!\[[^\]]*\]\(([^)]*)\)")
FROM = re.compile(r"<!-- from: (.*?) \| (.*?) \| (.*?) -->")
REPLACE = re.compile(r"(.*?)(\S+\.yaml) \[(.*) -> (.*)\]")
DURATION = re.compile(r"(?:(\d+) h)? ?(?:(\d+) min)? ?(?:(\d+) s)?")
PARTS = ["**Question.**", "**Run.**", "**What you see.**", "**Remember.**", "**Exercise.**",
         "**Answer.**"]

answers = {}


def words_of(command, folder):
    match = REPLACE.fullmatch(command)
    if not match:
        return command.split()
    with open(os.path.join(SOURCE, match[2]), encoding="utf-8") as file:
        text = file.read()
    if text.count(match[3]) != 1:
        raise ValueError(f"{match[2]} has '{match[3]}' {text.count(match[3])} times")
    path = os.path.join(folder, os.path.basename(match[2]))
    with open(path, "w", encoding="utf-8") as file:
        file.write(text.replace(match[3], match[4]))
    return [*match[1].split(), path]


def ask(command):
    if command not in answers:
        with tempfile.TemporaryDirectory() as folder:
            result = call(*words_of(command, folder), "--json", "--quiet", stderr=None, cwd=SOURCE)
        answers[command] = json.loads(result.stdout.decode())
    return answers[command]


def follow(answer, path):
    for step in path.split("/"):
        if isinstance(answer, list):
            named = [x for x in answer if isinstance(x, dict)
                     and step in (x.get("name"), x.get("key"))]
            answer = named[0] if named else answer[int(step)]
        else:
            answer = answer[step]
    return answer


def compute(command, expression):
    """Value of the expression; only numbers and arithmetic are left of it when it is evaluated."""
    answer = ask(command)
    filled = re.sub(r"\{([^}]*)\}", lambda m: repr(float(follow(answer, m.group(1)))), expression)
    if not re.fullmatch(r"[-+*/()0-9.e ]+", filled):
        raise ValueError(f"no arithmetic: {filled}")
    return eval(filled, {"__builtins__": {}})


def number(value):
    if value in ("go", "no-go"):
        return float(value == "go")
    match = DURATION.fullmatch(value)
    if match and any(match.groups()):
        h, m, s = (int(x or 0) for x in match.groups())
        return 3600.0 * h + 60.0 * m + s
    return float(value.replace(",", ""))


def spelled(value):
    """A number as it stands in a text, not as a part of another."""
    return rf"(?<![\d.,-]){re.escape(value)}(?![\d]|[.,]\d)"


def prose(text):
    for gone in (r"(?s)<!--.*?-->", r"(?m)^    .*$", r"!\[[^\]]*\]\([^)]*\)", r"`[^`]*`"):
        text = re.sub(gone, "", text)
    return " ".join(text.split())


def check_sources(name, text):
    """Every number in digits is checked, or is where the lesson says it is from."""
    found = FROM.findall(text)
    if len(found) != text.count("<!-- from:"):
        yield f"{name}: a source is not written as it should be"
    words = prose(text)
    for file, value, needle in found:
        with open(os.path.join(SOURCE, file), encoding="utf-8") as source:
            if needle not in " ".join(source.read().split()):
                yield f"{name}: {value}: {file} has no '{needle}'"
        if not re.search(spelled(value), words):
            yield f"{name}: '{value}' has a source but is not said"
    values = [f[1] for f in found] + [c[2] for c in CHECK.findall(text)]
    for value in sorted(values, key=len, reverse=True):
        words = re.sub(spelled(value), "#", words)
    for left in re.finditer(r"\d", words):
        yield f"{name}: not checked: '{words[max(0, left.start() - 25):left.end() + 15]}'"


def check_numbers(name, text):
    words = " ".join(re.sub(r"<!--.*?-->", "", text, flags=re.S).split())
    found = CHECK.findall(text)
    if len(found) != text.count("<!-- check:"):
        yield f"{name}: a check is not written as it should be"
    if len(found) < 3:
        yield f"{name}: checks hardly any number"
    for command, expression, value, tolerance in found:
        if not re.search(rf"(?<![\d.]){re.escape(value)}(?![\d]|\.\d)", words):
            yield f"{name}: '{value}' is checked but not said"
        try:
            got = compute(command, expression)
        except (KeyError, IndexError, ValueError, TypeError) as error:
            yield f"{name}: {expression}: {error!r}"
            continue
        if not math.isfinite(got) or abs(got - number(value)) > float(tolerance):
            yield f"{name}: says {value} of {expression}, but it is {got:.6g}"


def check_parts(name, text, drawn):
    at = [text.find(part) for part in PARTS]
    if -1 in at or at != sorted(at):
        yield f"{name}: a part is missing or out of order"
    pictures = PICTURE.findall(text)
    if not pictures:
        yield f"{name}: has no picture"
    for path in pictures:
        if not os.path.isfile(os.path.join(LESSONS, path)):
            yield f"{name}: there is no {path}"
        if os.path.basename(path) not in drawn:
            yield f"{name}: {path} is not drawn by plots/make_docs.sh"
    for scenario in re.findall(r"scenarios/[\w-]+\.yaml", text):
        if not os.path.isfile(os.path.join(SOURCE, scenario)):
            yield f"{name}: there is no {scenario}"


def check_pictures(drawn):
    """Measurements are drawn by checks of their own, not by make_docs.sh; a document shows them."""
    folder = os.path.join(SOURCE, "docs")
    shown = set()
    for name in os.listdir(folder):
        if name.endswith(".md"):
            with open(os.path.join(folder, name), encoding="utf-8") as file:
                shown |= {os.path.basename(p) for p in PICTURE.findall(file.read())}
    there = set(os.listdir(os.path.join(folder, "images")))
    for name in sorted(drawn - there):
        yield f"docs/images/{name}: plots/make_docs.sh draws it, but it is not there"
    for name in sorted(there - drawn - shown):
        yield f"docs/images/{name}: nothing draws or shows it"


def main():
    with open(os.path.join(SOURCE, "plots", "make_docs.sh"), encoding="utf-8") as file:
        drawn = set(re.findall(r"^draw(?:_measured)? (\S+)", file.read(), re.M))
    lessons = sorted(f for f in os.listdir(LESSONS) if f.endswith(".md") and f != "README.md")
    with open(os.path.join(LESSONS, "README.md"), encoding="utf-8") as file:
        listed = set(re.findall(r"\]\(([\w-]+\.md)\)", file.read()))
    mistakes = list(check_pictures(drawn))
    if listed != set(lessons):
        mistakes.append("docs/lessons/README.md does not list what there is")
    for name in lessons:
        with open(os.path.join(LESSONS, name), encoding="utf-8") as file:
            text = file.read()
        mistakes += check_parts(name, text, drawn)
        mistakes += check_numbers(name, text)
        mistakes += check_sources(name, text)
    for mistake in mistakes:
        print(mistake)
    print(f"{len(lessons)} lessons, {len(mistakes)} mistakes")
    return 1 if mistakes or not lessons else 0


if __name__ == "__main__":
    sys.exit(main())
