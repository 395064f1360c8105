"""The program under test: how the scripts run it, and test cases with a folder of their own.

A script finds this module by the source tree that PR_SOURCE_DIR names."""

import json
import os
import subprocess
import tempfile
import unittest

PROGRAM = os.environ["PULLREST"]
SOURCE = os.environ["PR_SOURCE_DIR"]
DONE, NO, USAGE, FAILED = 0, 1, 2, 3  # exit status


def environment(**changes):
    """The data of the source tree, and no wishes of whoever runs the tests."""
    env = dict(os.environ, PULLREST_MODELS=os.path.join(SOURCE, "models"),
               PULLREST_PLOTS=os.path.join(SOURCE, "plots"))
    for name in ("NO_COLOR", "LC_ALL", "LANG"):
        env.pop(name, None)
    env.update(changes)
    return env


def call(*arguments, env=None, timeout=120, stderr=subprocess.PIPE, **options):
    return subprocess.run([PROGRAM, *arguments], stdout=subprocess.PIPE, stderr=stderr,
                          env=env or environment(), timeout=timeout, check=False, **options)


def call_text(*arguments):
    """(status, output, what it said beside) with the last two as text."""
    done = call(*arguments)
    return done.returncode, done.stdout.decode(), done.stderr.decode()


class Case(unittest.TestCase):
    def setUp(self):
        place = tempfile.TemporaryDirectory(prefix=type(self).__name__.lower() + "-",
                                            dir=os.getcwd())
        self.addCleanup(place.cleanup)
        self.folder = place.name

    def path(self, name, text=None):
        path = os.path.join(self.folder, name)
        if text is not None:
            with open(path, "w", encoding="utf-8") as f:
                f.write(text)
        return path

    def read(self, name):
        with open(self.path(name), "rb") as f:
            return f.read()

    def expect(self, status, *arguments, **options):
        result = call(*arguments, **options)
        self.assertEqual(result.returncode, status, result.stderr.decode())
        return result

    def json_of(self, status, *arguments):
        return json.loads(self.expect(status, *arguments, "--json").stdout)
