#!/usr/bin/env python3
"""Answers that few ask for: a recovery of one pull, one whose time is over, comparisons that cannot
be made, and the samples by which the page's script is checked."""

import json
import os
import sys
import unittest

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import DONE, NO, SOURCE, USAGE, Case  # noqa: E402
from program import call_text as call  # noqa: E402

DEMO = os.path.join(SOURCE, "scenarios", "demo.yaml")


class DemoCase(Case):
    def setUp(self):
        super().setUp()
        with open(DEMO, encoding="utf-8") as f:
            self.demo = f.read()


class Plan(DemoCase):
    def test_one_pull_needs_no_rest(self):
        before, _, _ = self.demo.partition("  steps:")
        path = self.path("one.yaml", before + "  distance: 0.4 m\n  surface: grass\n")
        status, out, _ = call("plan", path)
        self.assertEqual(status, DONE)
        plan = self.json_of(DONE, "plan", path)["plans"]["even"]
        self.assertEqual((plan["pulls"], plan["rest_s"]), (1, 0))
        self.assertRegex(out.splitlines()[0], r"^GO: one pull of %d s " % round(plan["total_s"]))
        self.assertIn("Nothing binds", out.splitlines()[1])

    def test_time_allowed_is_over(self):
        path = self.path("short.yaml", self.demo + "\nplan: {longest_total: 10 min}\n")
        status, out, _ = call("plan", path)
        self.assertEqual(status, NO)
        answer = " ".join(out.partition("\n\n")[0].split())
        plans = self.json_of(NO, "plan", path)["plans"]
        late = [p for p in plans.values() if p["over_time"]]
        self.assertTrue(late)
        for plan in late:
            self.assertFalse(plan["go"])
            self.assertLess(plan["travel_m"], plan["distance_m"])
            self.assertGreater(plan["total_s"], 600 - plan["rest_s"] - plan["pull_s"])
        self.assertRegex(answer, r"^NO-GO: it gets [\d.]+ m of 25 m")
        self.assertIn("the time allowed, 10 min, is over", answer)
        # the same vehicle with the time it needs gets out
        self.assertEqual(call("plan", DEMO)[0], DONE)


class Compare(DemoCase):
    def test_too_many_and_too_few(self):
        many = self.demo + "\nvariants:\n" + "".join(f"  v{k}:\n" for k in range(16))
        status, _, err = call("compare", self.path("many.yaml", many))
        self.assertEqual(status, USAGE)
        self.assertIn("more than 16 files and variants", err)
        status, _, err = call("compare", DEMO)
        self.assertEqual(status, USAGE)
        self.assertIn("nothing to compare with", err)

    def test_mistakes_of_file_and_variants_are_told_together_and_once(self):
        text = self.demo.replace("weight: 2650 kg", "weight: 2650 furlongs") + (
            "\nvariants:\n  a: {alternator: plate-999}\n  b: {battery: {health: 70 percents}}\n"
            "  c:\n")
        path = self.path("bad.yaml", text)
        for command in ("compare", "check", "plan"):
            status, out, err = call(command, path)
            self.assertEqual(status, USAGE)
            said = out + err
            for word in ("furlongs", "plate-999", "percents"):
                self.assertEqual(sum(word in line and ": error: " in line
                                     for line in said.splitlines()), 1, (command, word, said))

    def test_none_gets_out(self):
        heavy = self.demo.replace("weight: 2650 kg", "weight: 26500 kg")
        path = self.path("heavy.yaml",
                         heavy + "\nvariants:\n  idling: {engine: {idle: 900 rpm}}\n")
        status, out, err = call("compare", path)
        self.assertEqual(status, NO, err)
        cases = self.json_of(NO, "compare", path)["cases"]
        self.assertEqual([c["name"] for c in cases], ["heavy", "idling"])
        for case in cases:
            self.assertFalse(any(p["go"] for p in case["plans"].values()))
        self.assertNotIn("GO:", out.splitlines()[0].replace("NO-GO", ""))


class Page(DemoCase):
    """What the tables answer: the page's script answers the same, so it had better be right."""

    @classmethod
    def setUpClass(cls):
        status, out, err = call("page", DEMO, "--json")
        assert status == DONE, err
        cls.page = json.loads(out)
        cls.plan = json.loads(call("plan", DEMO, "--json")[1])["plans"]["even"]

    def test_rest_after_the_planned_pull_is_near_the_plans(self):
        rows = [r for r in self.page["samples"]["rests"]
                if r["level"] == 0 and r["length_s"] == self.plan["pull_s"] and r["pulled_s"] > 0]
        self.assertTrue(rows)
        first = min(rows, key=lambda r: r["pulled_s"])
        self.assertEqual(first["verdict"], "wait")
        self.assertLess(abs(first["rest_s"] - self.plan["rest_s"]), 0.25 * self.plan["rest_s"] + 15)

    def test_pulls_longer_than_planned_need_more_the_longer(self):
        groups = {}
        for r in self.page["samples"]["rests"]:
            self.assertIn(r["verdict"], ("wait", "stop"))
            if r["verdict"] == "wait":
                self.assertGreaterEqual(r["rest_s"], 15)
                groups.setdefault((r["pulled_s"], r["level"]), []).append(r)
        self.assertGreater(len(groups), 100)
        for rows in groups.values():
            rows = sorted((r for r in rows if r["length_s"] > self.plan["pull_s"]),
                          key=lambda r: r["length_s"])
            for short, long in zip(rows, rows[1:]):
                self.assertLessEqual(short["rest_s"], long["rest_s"] + 1e-9, (short, long))

    def test_meter_stops_at_the_ends_and_pulls_in_between(self):
        for moment in ("off", "resting", "pulling", "rested"):
            rows = [r for r in self.page["samples"]["meter"] if r["moment"] == moment]
            by_volts = {r["V"]: r for r in rows}
            self.assertEqual(by_volts[0.0]["verdict"], "stop")
            self.assertEqual((by_volts[41.0]["verdict"], by_volts[41.0]["reason"]),
                             ("stop", "no_reading"))
            good = [r["V"] for r in rows if r["verdict"] != "stop"]
            self.assertTrue(good and 8 < min(good) and max(good) <= 18, moment)
            for r in rows:
                if r["verdict"] == "pull":
                    self.assertGreater(r["V"], 10.0)
                if r["wait_s"] is not None:
                    self.assertGreaterEqual(r["wait_s"], 0)

    def test_no_go_has_no_tables(self):
        heavy = self.path("heavy.yaml", self.demo.replace("weight: 2650 kg", "weight: 26500 kg"))
        page = self.json_of(NO, "page", heavy)
        self.assertIs(page["go"], False)
        self.assertNotIn("tables", page)
        self.assertNotIn("samples", page)


if __name__ == "__main__":
    unittest.main()
