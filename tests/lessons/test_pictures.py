#!/usr/bin/env python3
"""Every picture of the documents still says what the program says: each SVG that
plots/make_docs.sh draws is drawn anew into a folder of its own, and its texts (titles, answers,
labels, tics) must be those of the file in docs/images. A PNG has no texts to read: demo.png is left
to the eye.

After a change that is meant: plots/make_docs.sh draws them; look at them, commit them."""

import os
import re
import shutil
import sys
import tempfile
import xml.etree.ElementTree as tree

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import SOURCE, call  # noqa: E402



def texts(path):
    return ["".join(t.itertext()).strip() for t in tree.parse(path).iter()
            if t.tag.endswith("text")]


def listed():
    """(picture, words of the command) as make_docs.sh has them."""
    with open(os.path.join(SOURCE, "plots", "make_docs.sh"), encoding="utf-8") as file:
        for name, command in re.findall(r"^draw (\S+) (.*)$", file.read(), re.M):
            yield name, command.split()


def draw(command, path):
    result = call(*command, "--quiet", "--plot", path, cwd=SOURCE, timeout=200)
    return "" if result.returncode <= 1 and os.path.isfile(path) else \
        f"status {result.returncode}: {result.stderr.decode().strip()}"


def compare(name, kept, fresh):
    old, new = texts(kept), texts(fresh)
    if old == new:
        return
    gone, come = [t for t in old if t not in new], [t for t in new if t not in old]
    yield f"{name}: is old; it says {gone[:4]}, the program {come[:4]}; plots/make_docs.sh"


def main():
    if shutil.which("gnuplot") is None:
        print("gnuplot is missing: skipped")
        return 77
    mistakes, seen = [], 0
    with tempfile.TemporaryDirectory() as folder:
        for name, command in listed():
            if not name.endswith(".svg"):
                continue
            fresh = os.path.join(folder, name)
            trouble = draw(command, fresh)
            if trouble:
                mistakes.append(f"{name}: {trouble}")
                continue
            seen += 1
            mistakes += compare(name, os.path.join(SOURCE, "docs", "images", name), fresh)
    for mistake in mistakes:
        print(mistake)
    print(f"{seen} pictures, {len(mistakes)} mistakes")
    return 1 if mistakes or seen < 20 else 0


if __name__ == "__main__":
    sys.exit(main())
