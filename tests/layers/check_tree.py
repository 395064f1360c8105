#!/usr/bin/env python3
"""Checks the shape of the source tree: what the top level holds, which layer includes which, that
no file is forgotten by the build, none is too long and none knows the machine it was written on.

Usage: check_tree.py ROOT"""

import os
import re
import subprocess
import sys

TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "meson.build",
       "src", "models", "scenarios", "tests", "plots", "docs"}

# layer: the layers whose headers it may include
ARROWS = {
    "base": {"base"},
    "physics": {"base", "physics"},
    "engine": {"base", "physics", "engine"},
    "planner": {"base", "physics", "engine", "planner"},
    "reader": {"base", "physics", "engine", "planner", "reader"},
    "report": {"base", "physics", "engine", "planner", "report"},
    "api": {"base", "physics", "engine", "planner", "reader", "report", "api"},
    "cli": {"base", "physics", "engine", "planner", "reader", "report", "api", "cli"},
}

# physics component: the other components that it may include
NEIGHBOURS = {"cranking": {"battery"}}

# physics has no input or output, heap or clock; stdio.h is for snprintf, and check_symbols.py sees
# to it that nothing else of it is used
PHYSICS_SYSTEM_HEADERS = {"float.h", "limits.h", "math.h", "stdbool.h", "stddef.h", "stdint.h",
                          "stdio.h", "string.h"}

LINES_MAX = 800
COLUMNS_MAX = 100
CODE = (".c", ".h", ".py", ".sh", "meson.build")
MACHINE_PATH = re.compile(r"(?<![\w.$}~-])/(?:work|tmp|home|root|mnt|media|Users)/")
INCLUDE = re.compile(r'^[ \t]*#[ \t]*include[ \t]*([<"])([^">]+)[">]', re.M)


def list_files(root):
    """Paths relative to the root of all files but the ignored ones."""
    try:
        command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        out = subprocess.run(command, cwd=root, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                             check=True)
        names = [n for n in out.stdout.decode().split("\0") if n]
        if names:
            return sorted(n for n in names if os.path.isfile(os.path.join(root, n)))
    except (OSError, subprocess.CalledProcessError):
        pass
    names = []
    for folder, folders, files in os.walk(root):
        at_top = os.path.samefile(folder, root)
        folders[:] = [f for f in folders if f != ".git" and f != "__pycache__"
                      and not (at_top and f.startswith("build"))]
        names += [os.path.relpath(os.path.join(folder, f), root) for f in files]
    return sorted(names)


def component(name):
    """battery_label.c belongs to the component battery."""
    return os.path.splitext(os.path.basename(name))[0].split("_")[0]


def check_top(files):
    found = {f.split("/")[0] for f in files}
    for name in sorted(found - TOP):
        if not name.startswith("."):
            yield f"{name}: does not belong at the top level"
    for name in sorted(TOP - found):
        yield f"{name}: missing at the top level"


def check_includes(files, texts):
    known = set(files)
    for name in files:
        parts = name.split("/")
        if parts[0] != "src" or not name.endswith((".c", ".h")):
            continue
        layer = parts[1] if len(parts) > 2 else None
        if layer is not None and layer not in ARROWS:
            yield f"{name}: there is no layer {layer}"
            continue
        for match in INCLUDE.finditer(texts[name]):
            system, header = match.group(1) == "<", match.group(2)
            line = texts[name].count("\n", 0, match.start()) + 1
            where = f"{name}:{line}"
            if system:
                if layer == "physics" and header not in PHYSICS_SYSTEM_HEADERS:
                    yield f"{where}: physics must do without <{header}>"
                continue
            if "src/" + header not in known:
                yield f'{where}: "{header}" is no header under src (write "layer/name.h")'
                continue
            target = header.split("/")[0] if "/" in header else None
            if layer is None:
                if target == "cli":
                    yield f"{where}: the library must not include cli"
            elif target is not None and target not in ARROWS[layer]:
                yield f"{where}: {layer} must not include {target}"
            elif target == layer == "physics":
                mine, other = component(name), component(header)
                if mine != other and other not in NEIGHBOURS.get(mine, set()):
                    yield f"{where}: component {mine} must not include component {other}"


def check_build_lists(files, texts):
    """A file that no meson.build names is a file that is neither built nor run."""
    for name in files:
        base = os.path.basename(name)
        if name.startswith("src/") and name.endswith(".c"):
            build = os.path.join(os.path.dirname(name), "meson.build")
            if f"'{base}'" not in texts.get(build, ""):
                yield f"{name}: not in {build}"
        elif re.match(r"tests/[^/]+/test_.*\.c$", name):
            if f"['{base[5:-2]}'" not in texts.get("tests/meson.build", ""):
                yield f"{name}: not in tests/meson.build"


def check_text(files, texts):
    for name in files:
        text = texts[name]
        lines = text.count("\n")
        if lines > LINES_MAX and not name.endswith(".svg"):
            yield f"{name}: {lines} lines, allowed {LINES_MAX}"
        for number, line in enumerate(text.split("\n"), 1):
            if MACHINE_PATH.search(line):
                yield f"{name}:{number}: a path of one machine: {line.strip()[:60]}"
            if name.endswith(CODE) and len(line) > COLUMNS_MAX:
                yield f"{name}:{number}: {len(line)} columns, allowed {COLUMNS_MAX}"


def main():
    root = sys.argv[1]
    files = list_files(root)
    texts = {}
    for name in files:
        with open(os.path.join(root, name), "rb") as file:
            data = file.read()
        texts[name] = "" if b"\0" in data else data.decode("utf-8", "replace")
    mistakes = [m for check in (check_includes, check_build_lists, check_text)
                for m in check(files, texts)]
    mistakes = list(check_top(files)) + mistakes
    for mistake in mistakes:
        print(mistake)
    print(f"{len(files)} files, {len(mistakes)} mistakes")
    return 1 if mistakes or len(files) < 10 else 0


if __name__ == "__main__":
    sys.exit(main())
