#!/usr/bin/env python3
"""Plants one mistake of each sort in a small tree; check_tree.py must find just that one."""

import os
import subprocess
import sys
import tempfile

CHECK = os.path.join(os.path.dirname(os.path.abspath(__file__)), "check_tree.py")

GOOD = {
    "README.md": "x\n", "DEVELOPERS.md": "x\n", "LICENSE": "x\n", "meson.build": "x\n",
    "models/a.yaml": "x\n", "scenarios/a.yaml": "x\n", "plots/a": "x\n", "docs/a.md": "x\n",
    ".dotfile": "x\n", "build/junk": "x\n", "tests/meson.build": "['a', []]\n",
    "tests/unit/test_a.c": "x\n",
    "src/base/root.h": "x\n",
    "src/physics/meson.build": "'battery.c', 'battery_label.c', 'cranking.c'\n",
    "src/physics/battery.h": '#include "base/root.h"\n#include <math.h>\n',
    "src/physics/battery.c": '#include "physics/battery.h"\n',
    "src/physics/battery_label.c": '#include "physics/battery.h"\n',
    "src/physics/cranking.c": '#include "physics/battery.h"\n',
    "src/physics/fuse.h": "x\n",
    "src/engine/meson.build": "'bus.c'\n",
    "src/engine/bus.c": '#include "physics/battery.h"\n#include <stdio.h>\n',
    "src/report/table.h": "x\n",
    "src/reader/reader.h": "x\n",
}

MACHINE = "/" + "home/me/x"

# file, its new text (None: removed), what must be reported
PLANTED = [
    ("src/physics/battery.h", '\n#include "engine/bus.h"\n', 'battery.h:2: "engine/bus.h" is no'),
    ("src/base/root.h", '#include "physics/fuse.h"\n', "root.h:1: base must not include physics"),
    ("src/physics/battery.c", '#include "physics/fuse.h"\n', "component battery must not include"),
    ("src/physics/battery.c", "#include <stdlib.h>\n", "physics must do without <stdlib.h>"),
    ("src/engine/bus.c", '#include "report/table.h"\n', "engine must not include report"),
    ("src/report/table.h", '  # include "reader/reader.h"\n', "report must not include reader"),
    ("src/report/table.h", '#include "table.h"\n', '"table.h" is no header under src'),
    ("src/extra/a.h", "x\n", "there is no layer extra"),
    ("src/physics/fuse.c", "x\n", "fuse.c: not in src/physics/meson.build"),
    ("tests/unit/test_b.c", "x\n", "test_b.c: not in tests/meson.build"),
    ("notes.txt", "x\n", "notes.txt: does not belong at the top level"),
    ("tools/a", "x\n", "tools: does not belong at the top level"),
    ("LICENSE", None, "LICENSE: missing at the top level"),
    ("docs/a.md", "x\n" * 801, "docs/a.md: 801 lines"),
    ("docs/a.md", f"see {MACHINE}\n", "docs/a.md:1: a path of one machine"),
    ("src/base/root.h", "/" * 101 + "\n", "root.h:1: 101 columns"),
]


def report(tree):
    with tempfile.TemporaryDirectory() as root:
        for name, text in tree.items():
            path = os.path.join(root, name)
            os.makedirs(os.path.dirname(path), exist_ok=True)
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
        # git must not find a repository around the folder
        env = dict(os.environ, GIT_CEILING_DIRECTORIES=os.path.dirname(root))
        done = subprocess.run([sys.executable, CHECK, root], env=env, stdout=subprocess.PIPE,
                              check=False)
        return done.returncode, done.stdout.decode().splitlines()


def main():
    failed = 0
    status, lines = report(GOOD)
    if status != 0 or len(lines) != 1:
        print("the good tree is refused:", lines)
        failed += 1
    for name, text, expected in PLANTED:
        tree = dict(GOOD)
        if text is None:
            del tree[name]
        else:
            tree[name] = text
        status, lines = report(tree)
        if status != 1 or len(lines) != 2 or expected not in lines[0]:
            print(f"{name}: expected '{expected}', got", lines)
            failed += 1
    print(f"{len(PLANTED) + 1} trees, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
