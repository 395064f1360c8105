#!/usr/bin/env python3
"""risk as a user meets it: answer, JSON, threads, seeds, bad input, plot, Ctrl-C."""

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import unittest

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
import program  # noqa: E402
from program import DONE, FAILED, NO, PROGRAM, SOURCE, USAGE, environment  # noqa: E402

SWAMP = os.path.join(SOURCE, "scenarios", "risk-swamp.yaml")
FEW = ["--samples", "64"]


def call(*arguments):
    return program.call("risk", *arguments)


class Risk(program.Case):
    def test_first_three_lines_are_the_answer(self):
        run = call(SWAMP, *FEW)
        self.assertEqual(run.returncode, DONE, run.stderr)
        lines = run.stdout.decode().splitlines()
        self.assertRegex(lines[0], r"^(SOUND|TIGHT|RISKY): Rest .* keeps all limits in \d+ %")
        self.assertRegex(lines[1], r"^(First to break|No limit broke)")
        self.assertRegex(lines[2], r"^Rest .* to hold in 90 %")
        self.assertEqual(lines[3], "")
        self.assertTrue(all(len(line) <= 110 for line in lines))
        quiet = call(SWAMP, *FEW, "--quiet")
        self.assertEqual(quiet.stdout.decode().splitlines(), lines[:3])
        self.assertEqual(quiet.stderr, b"")

    def test_json_is_the_same_for_any_threads_and_differs_by_seed(self):
        one = call(SWAMP, *FEW, "--json", "--threads", "1").stdout
        self.assertEqual(one, call(SWAMP, *FEW, "--json", "--threads", "3").stdout)
        self.assertNotEqual(one, call(SWAMP, *FEW, "--json", "--seed", "2").stdout)
        self.assertNotEqual(one, call(SWAMP, *FEW, "--json", "--points", "plain").stdout)

    def test_json_shares_agree(self):
        report = json.loads(call(SWAMP, *FEW, "--json").stdout)
        chances = report["chances"]
        first = sum(share["count"] for share in chances["breaks_first"].values())
        self.assertEqual(first + chances["holds"]["count"], chances["done"])
        self.assertEqual(chances["done"], 64)
        for share in (chances["holds"], chances["out_able_to_restart"]):
            self.assertLessEqual(share["low_frac"], share["frac"])
            self.assertLessEqual(share["frac"], share["high_frac"])
        keys = {i["key"] for i in report["inputs"]}
        for key in ("vehicle.weight", "battery.health", "recovery.slope", "air_temperature",
                    "recovery.margin"):
            self.assertIn(key, keys)
        weight = next(i for i in report["inputs"] if i["key"] == "vehicle.weight")
        # a spread in kg is kept as a weight in N: standard gravity
        self.assertAlmostEqual(weight["likely"], 3150 * 9.80665, delta=0.1)

    def test_inputs_stand_in_the_units_of_files(self):
        with open(SWAMP, encoding="utf-8") as f:
            text = f.read()
        spreads = ("spreads:\n  battery.reserve_capacity: {low: 90 min, high: 120 min}\n"
                   "  battery.cold_cranking: {low: 600 A, high: 700 A}\n"
                   "  winch.rope.diameter: {low: 8 mm, high: 9 mm}\n")
        self.assertNotIn("\nspreads:", text)
        said = call(self.path("units.yaml", text + spreads), *FEW, "--all").stdout.decode()
        for key, unit in (("battery.reserve_capacity", "min"), ("battery.cold_cranking", "A"),
                          ("winch.rope.diameter", "mm"), ("alternator.output_factor", "%"),
                          ("vehicle.weight", "kg"), ("battery.state_of_charge", "%")):
            self.assertRegex(said, r"(?m)^%s +[\d.,]+ %s " % (re.escape(key), unit))

    def test_hold_that_cannot_be_had_is_a_no(self):
        self.assertEqual(call(SWAMP, *FEW, "--hold", "80").returncode, DONE)
        hard = os.path.join(self.folder, "hard.yaml")
        with open(SWAMP, encoding="utf-8") as f:
            text = f.read()
        # the high end stalls the winch, so no rest helps there
        self.assertIn("high: 3500 kg", text)
        with open(hard, "w", encoding="utf-8") as f:
            f.write(text.replace("high: 3500 kg", "high: 20000 kg"))
        run = call(hard, *FEW, "--hold", "95")
        self.assertEqual(run.returncode, NO, run.stdout)
        self.assertIn("none is long enough", run.stdout.decode())

    def test_bad_spread_is_told_with_its_place(self):
        bad = os.path.join(self.folder, "bad.yaml")
        with open(SWAMP, encoding="utf-8") as f:
            text = f.read()
        with open(bad, "w", encoding="utf-8") as f:
            f.write(text.replace("{low: 65 %, likely: 80 %", "{low: 85 %, likely: 80 %")
                    .replace("high: 14 %}", "high: 1400 %}"))
        run = call(bad)
        self.assertEqual(run.returncode, USAGE)
        errors = [e for e in run.stderr.decode().splitlines() if ": error: " in e]
        self.assertEqual(len(errors), 2, errors)
        for error in errors:
            self.assertRegex(error, r"bad\.yaml:\d+:\d+: error: ")
        self.assertEqual(run.stdout, b"")

    def test_bad_options(self):
        for options in (["--samples", "3"], ["--samples", "20.5"], ["--seed", "-1"],
                        ["--threads", "0"], ["--hold", "100"], ["--points", "dice"],
                        ["--plot", "x.txt"]):
            run = call(SWAMP, *options)
            self.assertEqual(run.returncode, USAGE, options)
            self.assertIn(options[0].encode(), run.stderr)

    @unittest.skipUnless(shutil.which("gnuplot"), "gnuplot is missing")
    def test_plot(self):
        picture = os.path.join(self.folder, "risk.svg")
        run = call(SWAMP, *FEW, "--plot", picture)
        self.assertEqual(run.returncode, DONE, run.stderr)
        with open(picture, encoding="utf-8") as f:
            text = f.read()
        for part in ("<svg", "rest after each pull, minutes", "recovery.surface"):
            self.assertIn(part, text)

    def test_interrupt_prints_what_is_known(self):
        child = subprocess.Popen([PROGRAM, "risk", SWAMP, "--samples", "100000"],
                                 stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment())
        time.sleep(1.5)
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=30)
        self.assertEqual(child.returncode, FAILED)
        self.assertRegex(out.decode().splitlines()[0], r"^STOPPED after [\d,]+ of 100,000\.")
        self.assertIn(b"every limit kept", out)
        self.assertIn(b"stopped on request", err)


if __name__ == "__main__":
    unittest.main()
