#!/usr/bin/env python3
"""Warnings as a user meets them: one line each above the answer, in the JSON and on the page."""

import html
import json
import os
import re
import sys
import unittest

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
import program  # noqa: E402
from program import DONE, NO, SOURCE  # noqa: E402

RIG = """
title: a rig with something amiss
air_temperature: {air} degC
vehicle: {{weight: 2650 kg}}
engine: {{use: {engine}, idle: 750 rpm, fast_idle: {rpm} rpm}}
battery: {{use: flooded-70-starter, state_of_charge: {charge} %}}
{second}
alternator: {alternator}
winch: {{use: {winch}, blocks: 1}}
cables:
  winch: {{size: 2 AWG, length: 2.2 m{fuse}}}
  alternator: {{size: 6 AWG, length: 1.5 m}}
{link}
loads: [ignition-and-injection]
recovery:
  anchor_distance: 28 m
  extension: 20 m
  steps:
    - {{length: 3 m, mire: hub, slope: 5 %}}
schedule:
  - repeat: 2
    steps:
      - {{pull: 30 s}}
      - {{rest: 2 min}}
"""
SOUND = {"air": 15, "engine": "petrol-6", "rpm": 1600, "charge": 95, "second": "", "link": "",
         "alternator": "plate-110", "winch": "series-9500", "fuse": ""}
LINK_CABLE = "  link: {size: 35 mm2, length: 1 m}"


def relay(words, battery="agm-100-deep, state_of_charge: 90 %"):
    return {"second": "second_battery: {use: %s}\nlink: {kind: relay, %s}" % (battery, words),
            "link": LINK_CABLE}


class Warnings(program.Case):
    def rig(self, **changes):
        return self.path("rig.yaml", RIG.format(**dict(SOUND, **changes)))

    def call(self, *arguments):
        done = program.call(*arguments)
        self.assertIn(done.returncode, (DONE, NO), done.stderr.decode())
        return done.stdout.decode(), done.stderr.decode()

    def messages(self, command, path):
        found = json.loads(self.call(command, "--json", path)[0])["messages"]
        return [m["text"] for m in found if m["severity"] == "warning"]

    def warns(self, path, *patterns, commands=("plan", "run")):
        """The same warnings in text and JSON of each command, and these only."""
        for command in commands:
            texts = self.messages(command, path)
            said = self.call(command, path)[1]
            self.assertEqual(len(texts), len(patterns), texts)
            for text, pattern in zip(texts, patterns):
                self.assertRegex(text, pattern)
                self.assertIn("warning: " + text + "\n", said)
                self.assertEqual(said.count(text), 1, said)

    def test_a_sound_rig_gives_none(self):
        self.warns(self.rig())

    def test_relay_beyond_its_rating_that_opens_in_pulls(self):
        path = self.rig(**relay("rating: 50 A"))
        over = r"^link: up to \d+ A go through it, rated for 50 A"
        opens = r"^link: the relay opens in \d+ of \d+ pulls .*: force it closed in pulls"
        self.warns(path, over, opens)
        page = html.unescape(self.call("page", path)[0])
        shown = re.findall(r'<p class="warning">Warning: (.*?)</p>', page)
        self.assertEqual(shown, self.messages("plan", path))

    def test_relay_that_hunts(self):
        words = ("rating: 500 A, close_voltage: 13.3 V, open_voltage: 13.25 V, close_delay: 0 s, "
                 "open_delay: 0 s")
        path = self.rig(rpm=900, alternator="old-50",
                        **relay(words, "flooded-95-starter, state_of_charge: 5 %"))
        texts = self.messages("run", path)
        self.assertRegex(texts[-1], r"^link: it opens and closes \d{3,} times in 5 min \(hunting\)")

    def test_alternator_that_never_wakes(self):
        path = self.rig(rpm=750, alternator="one-wire-100")
        self.warns(path, r"^alternator: it never wakes at 750 rpm and charges nothing")
        text = self.call("plan", path)[0]
        self.assertIn("Nothing charges: the voltmeter shows the battery", text)
        self.assertNotIn("back at the set voltage", text)

    def test_meter_is_told_of_where_it_misleads_most(self):
        path = os.path.join(SOURCE, "scenarios", "demo.yaml")
        cycles = json.loads(self.call("plan", "--json", path)[0])["plans"]["even"]["cycles"]
        rested = [c["soc_after_rest_frac"] for c in cycles[:-1]]
        worst = min(rested)
        self.assertIn("Before pull %d it reads the same, and the battery is at %.0f %%."
                      % (rested.index(worst) + 2, 100 * worst), self.call("plan", path)[0])

    def test_belt_and_engine(self):
        path = self.rig(alternator="{use: plate-110, belt_limit: 800 W}")
        self.warns(path, r"^alternator: the belt slips at its limit of 800 W in \d+ of \d+ pulls")
        path = self.rig(engine="petrol-4", rpm=750, alternator="big-250")
        self.warns(path, r"^engine: the alternator takes 4\.\d kW at 750 rpm")

    def test_battery_that_can_freeze(self):
        path = self.rig(air=-28, charge=55)
        self.warns(path, r"^battery: at \d+ % it freezes at -2\d °C", commands=("run",))

    def test_winch_for_another_voltage(self):
        path = self.rig(winch="series-12000-24v")
        self.warns(path, r"^winch.sheet_voltage: .* 24 V.* 12 V")
        # in the file that is to be changed, not in the catalogue
        self.assertRegex(self.call("check", path)[1], r"^\S*rig\.yaml:9:\d+: warning: winch\.")

    def test_small_winch_fuse_is_named_and_remedied(self):
        lines = self.call("plan", self.rig(fuse=", fuse: 100 A"))[0].splitlines()
        self.assertRegex(lines[1], r"^What ends it: the 100 A winch fuse opened at 2\d\d A\.$")
        self.assertRegex(lines[2], r"^Best remedy: winch fuse of 300 A instead of 100 A: then ")

    def test_a_run_above_a_rating_is_a_no(self):
        with open(self.rig(), encoding="utf-8") as f:
            text = f.read().replace("recovery:", "recovery:\n  anchor_rating: 1 t")
        path = self.path("weak.yaml", text)
        done = program.call("run", path, "--quiet")
        self.assertEqual(done.returncode, NO)
        self.assertRegex(done.stdout.decode(), r"^OVERLOADS: the anchor would get [\d,]+ kg, "
                         r"it is rated for 1,000 kg\.\n\d")
        # what can hurt someone is said however quiet
        self.assertRegex(done.stderr.decode(), r"^warning: anchor: gets ")
        answer = json.loads(self.call("run", "--json", path)[0])["answer"]
        self.assertEqual((answer["holds"], answer["overloaded"]), (False, "anchor"))

    def test_full_output_is_told(self):
        path = self.rig()
        plan = json.loads(self.call("plan", "--json", path)[0])["plans"]["even"]
        self.assertTrue(0.05 < plan["full_output_frac"] < 1, plan["full_output_frac"])
        self.assertRegex(self.call("plan", path)[0], r"time at full alternator output +\d+ %")
        run = json.loads(self.call("run", "--json", path)[0])["answer"]
        # both pulls whole at full output, a fifth of the time, and some of the rests
        self.assertTrue(0.2 <= run["full_output_frac"] < 0.5, run["full_output_frac"])
        self.assertRegex(self.call("run", path)[0],
                         r"Alternator above 90 % of what it can give for \d+ % of the time\.")


if __name__ == "__main__":
    unittest.main()
