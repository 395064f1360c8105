#!/usr/bin/env python3
"""pullrest against SUNDIALS CVODE on the equations of docs/physics, every state within 1e-6.

Usage: check_cvode.py DUMP CVODE CASE EVENTS...
CVODE is empty where libsundials-dev was missing at build time."""

import os
import subprocess
import sys
import tempfile

from common import dump_text, skip

TOLERANCE = 1e-11  # of pullrest's stepper


def main():
    dump, cvode, case, *events = sys.argv[1:]
    if not cvode:
        skip("libsundials-dev")
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "circuit.tsv")
        with open(path, "w", encoding="ascii") as out:
            out.write(dump_text(dump, "circuit", case, TOLERANCE))
        sys.exit(subprocess.run([cvode, path, *events], check=False).returncode)


main()
