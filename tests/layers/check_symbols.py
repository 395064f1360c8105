#!/usr/bin/env python3
"""Checks in the compiled layers what a look at the includes cannot see: no layer keeps writable
global data, and physics calls nothing that allocates, reads, writes, exits or looks at a clock.

Usage: check_symbols.py LIBRARY... (lib<layer>.a); exit status 77 if nm is missing or the build is
instrumented, which adds data and calls of its own."""

import os
import re
import shutil
import subprocess
import sys

FORBIDDEN_IN_PHYSICS = re.compile(
    r"(malloc|calloc|realloc|free|aligned_alloc|[fv]?printf|fputs|puts|putchar|fwrite|fopen|"
    r"fread|open|read|write|getenv|setlocale|exit|abort|time|clock|clock_gettime|"
    r"gettimeofday|rand|random|std(in|out|err)|__(f|v|vf)?printf_chk)$")
# UDUNITS hands messages to a function without a context: that there was one is kept per thread
# a signal handler has no context either, and signals belong to the whole process
ALLOWED_DATA = {("reader", "complained", ".tbss"), ("base", "requested", ".bss")}
INSTRUMENTED = re.compile(r"__(asan|ubsan|tsan|msan|gcov|llvm_profile|sanitizer)")
WRITABLE = re.compile(r"\.(data|bss|tdata|tbss)(?!\.rel\.ro)|\*COM\*")


def symbols(library):
    """(name, section) of every symbol; section *UND* if it is used but not defined."""
    out = subprocess.run(["nm", "--format=sysv", library], stdout=subprocess.PIPE, check=True)
    for line in out.stdout.decode().splitlines():
        cells = [c.strip() for c in line.split("|")]
        if len(cells) == 7:
            yield cells[0], cells[6]


def main():
    if shutil.which("nm") is None:
        print("nm is missing: skipped")
        return 77
    mistakes = seen = 0
    for library in sys.argv[1:]:
        layer = os.path.basename(library)[3:-2]
        found = list(symbols(library))
        if any(INSTRUMENTED.match(name) for name, _ in found):
            print("instrumented build: skipped")
            return 77
        for name, section in found:
            seen += 1
            if section == "*UND*":
                if layer == "physics" and FORBIDDEN_IN_PHYSICS.match(name):
                    print(f"physics must not use {name}")
                    mistakes += 1
            elif WRITABLE.match(section) and (layer, name, section) not in ALLOWED_DATA:
                print(f"{layer} keeps writable global data: {name} in {section}")
                mistakes += 1
    print(f"{seen} symbols, {mistakes} mistakes")
    return 1 if mistakes or seen == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
