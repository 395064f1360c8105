#!/usr/bin/env python3
"""compare, budget and readings as a user meets them: answers first, JSON, exit status, mistakes."""

import os
import shutil
import sys
import unittest

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import DONE, NO, SOURCE, USAGE, Case  # noqa: E402
from program import call_text as call  # noqa: E402

SCENARIOS = os.path.join(SOURCE, "scenarios")


def scenario(name):
    return os.path.join(SCENARIOS, name + ".yaml")


class Compare(Case):
    def test_answer_comes_first_and_says_what_json_says(self):
        status, out, _ = call("compare", scenario("second-battery"))
        answer = self.json_of(status, "compare", scenario("second-battery"))
        self.assertEqual(out.splitlines()[0], answer["answer"]["text"])
        cases = {c["name"]: c for c in answer["cases"]}
        self.assertEqual(list(cases), ["second-battery", "second battery", "bigger alternator",
                                       "faster engine"])
        self.assertEqual(cases["second battery"]["differences"], ["second_battery"])
        self.assertEqual(cases["bigger alternator"]["differences"], ["bigger_alternator"])
        first, second = cases["second-battery"], cases["second battery"]
        kind = answer["answer"]["plan"]
        self.assertAlmostEqual(second["saved_s"], first["plans"][kind]["total_s"] -
                               second["plans"][kind]["total_s"], delta=1e-2)
        self.assertGreater(second["saved_s"], 60)

    def test_a_file_against_itself_differs_in_nothing(self):
        name = scenario("easy-grass")
        cases = self.json_of(DONE, "compare", name, name)["cases"]
        self.assertEqual(cases[1]["differences"], [])
        self.assertEqual(cases[1]["saved_s"], 0)
        self.assertEqual(cases[0]["plans"], cases[1]["plans"])

    def test_other_ground_is_said(self):
        _, out, _ = call("compare", scenario("easy-grass"), scenario("cold-morning"))
        self.assertIn("is not the same job as", out)

    def test_no_is_an_exit_status(self):
        name = scenario("impossible-bog")
        status, out, _ = call("compare", name, name)
        self.assertEqual(status, NO)
        self.assertTrue(out.startswith("NO-GO"))

    def test_several_changes_are_many_and_a_heavy_pull_is_named(self):
        with open(scenario("second-battery"), encoding="utf-8") as f:
            text = f.read()
        self.assertIn("\nvariants:\n", text)
        text = text.replace("\nvariants:\n", "\nvariants:\n  both:\n    alternator: plate-150\n"
                            "    second_battery: flooded-70-starter\n"
                            "    link: {kind: switch, closed: always}\n")
        _, out, err = call("compare", self.path("both.yaml", text), "--quiet")
        said = " ".join(out.split())
        self.assertIn("'both': the second battery and the bigger alternator are needed only if "
                      "the ground is as bad as it may be; they save ", said, err)
        self.assertIn("the faster engine is not needed for this job; it changes the time by less "
                      "than half a minute.", said)
        _, out, _ = call("compare", scenario("impossible-bog"), scenario("impossible-bog"))
        self.assertIn("it is too heavy: the line must pull", " ".join(out.split()))

    def test_one_file_without_variants_is_refused(self):
        status, out, err = call("compare", scenario("easy-grass"))
        self.assertEqual((status, out), (USAGE, ""))
        self.assertIn("variants:", err)

    def test_a_bad_variant_is_an_error_with_its_place(self):
        with open(scenario("second-battery"), encoding="utf-8") as f:
            text = f.read().replace("fast_idle: 2200 rpm", "fast_idel: 2200 rpm")
        path = self.path("bad.yaml", text)
        line = text.splitlines().index("    engine: {fast_idel: 2200 rpm}") + 1
        status, out, err = call("compare", path)
        self.assertEqual((status, out), (USAGE, ""))
        self.assertIn("%s:%d:" % (path, line), err)
        self.assertIn("fast_idle", err)

    def test_quiet_and_output(self):
        path = self.path("answer.txt")
        status, out, _ = call("compare", scenario("second-battery"), "--quiet", "--output", path)
        self.assertEqual((status, out), (DONE, ""))
        with open(path, encoding="utf-8") as f:
            self.assertNotIn("Side by side", f.read())


class Budget(Case):
    def test_a_budget_stands_on_the_rig_alone(self):
        _, out, _ = call("budget", scenario("everything-on"))
        for of_pulls in ("plan.pull", "limits.", "Nobody in line with the rope"):
            self.assertNotIn(of_pulls, out)
        self.assertIn("explosive gas", out)

    def test_too_many_loads_is_a_no_that_names_situation_and_rating(self):
        status, out, _ = call("budget", scenario("everything-on"))
        self.assertEqual(status, NO)
        self.assertTrue(out.startswith("NOT ENOUGH: 'everything at once'"))
        answer = self.json_of(NO, "budget", scenario("everything-on"))
        alternator = answer["alternator"]
        self.assertAlmostEqual(alternator["by_load_A"], 1.25 * alternator["most_load_A"],
                               delta=1e-3)
        self.assertGreaterEqual(alternator["recommended_A"], alternator["by_load_A"])
        worst = [s for s in answer["situations"] if s["name"] == "everything at once"][0]
        self.assertLess(worst["own"]["margin_A"], 0)
        self.assertLess(worst["own"]["margin_A"], worst["own"]["average_margin_A"])
        # the relay lets go of the second battery, and the rest is carried: the engine runs on
        self.assertIsNone(worst["runs_s"])
        self.assertIn("the second battery loses charge", " ".join(out.split()))
        for s in answer["situations"]:
            for point in [s["own"]] + [s[v][h] for v in ("idle", "fast_idle", "highest")
                                       for h in ("cold", "hot")]:
                self.assertAlmostEqual(point["margin_A"], point["available_A"] - point["load_A"],
                                       delta=1e-3)

    def test_amps_given_stand_by_speed_and_flat_is_told(self):
        _, out, _ = call("budget", scenario("demo"))
        answer = self.json_of(DONE, "budget", scenario("demo"))
        idle = answer["situations"][0]["idle"]["hot"]
        self.assertIn(f"{idle['available_A']:.0f} ({idle['margin_A']:+.0f})", out)
        with open(scenario("demo"), encoding="utf-8") as f:
            text = f.read()
        for old, new in (("state_of_charge: 95 %", "state_of_charge: 60 %"),
                         ("use: plate-110", "use: old-50"),
                         ("- fuel-pump", "- {use: fuel-pump, drop_out: 5 V, comes_back: 6 V}"),
                         ("- ignition-and-injection", "- heater-fan\n  - {use: "
                          "ignition-and-injection, drop_out: 5 V, comes_back: 6 V}")):
            self.assertIn(old, text)
            text = text.replace(old, new)
        _, out, err = call("budget", self.path("flat.yaml", text))
        said = " ".join(out.split())
        self.assertIn("no, flat", said, err)
        self.assertRegex(said, r"^NOT ENOUGH: [^.]*; no restart after 3 h \d\d min\.")
        self.assertRegex(said, r"the engine runs on, but after 3 h \d\d min the battery would not "
                               r"crank it again")

    def test_enough_is_done(self):
        status, out, _ = call("budget", scenario("demo"))
        self.assertEqual(status, DONE)
        self.assertTrue(out.startswith("ENOUGH"))
        self.assertIn("Limp home", out)

    def test_hopeless_winch_cable_melts_within_bounds(self):
        with open(scenario("demo"), encoding="utf-8") as f:
            text = f.read()
        self.assertIn("size: 2 AWG", text)
        path = self.path("thin.yaml", text.replace("size: 2 AWG", "size: 14 AWG", 1))
        _, out, _ = call("budget", path)
        self.assertIn("('battery to winch' melts: do not use it)",
                      " ".join(out.split("\n\n")[0].split()))
        row = [line for line in out.splitlines() if line.startswith("battery to winch")][0]
        self.assertRegex(row, r"melts \d+ s into a pull: \S+ AWG")
        cables = self.json_of(DONE, "budget", path)["cables"]
        winch = [c for c in cables if c["name"] == "battery to winch"][0]
        self.assertIs(winch["melts"], True)
        self.assertLess(0, winch["melts_after_s"])
        self.assertLessEqual(winch["drop_V"], 12)
        self.assertLess(winch["degC"], 1085)
        # one that holds says nothing of it
        sound = [c for c in self.json_of(DONE, "budget", scenario("demo"))["cables"]
                 if c["name"] == "battery to winch"][0]
        self.assertIs(sound["melts"], False)
        self.assertIsNone(sound["melts_after_s"])
        self.assertNotIn("melts", call("budget", scenario("demo"))[1])

    def test_us_units(self):
        _, out, _ = call("budget", scenario("demo"), "--units", "us")
        self.assertIn("°F", out)
        self.assertNotIn("°C ", out)

    def test_unknown_load_in_a_situation_is_an_error_with_its_place(self):
        with open(scenario("demo"), encoding="utf-8") as f:
            text = f.read() + "\nsituations:\n  rain: {loads: [wiperz]}\n"
        path = self.path("bad.yaml", text)
        status, _, err = call("budget", path)
        self.assertEqual(status, USAGE)
        self.assertIn("%s:%d:" % (path, len(text.splitlines())), err)
        self.assertIn("wiperz", err)

    @unittest.skipUnless(shutil.which("gnuplot"), "no gnuplot")
    def test_plots_are_drawn_whatever_the_names_are(self):
        with open(scenario("demo"), encoding="utf-8") as f:
            text = (f.read() + "\nsituations:\n"
                    "  \"it's_a {/Symbol \\\"x\\\"} `date` %d\": {loads: all}\n")
        for command, path in (("budget", self.path("odd.yaml", text)),
                              ("compare", scenario("second-battery"))):
            for end in ("svg", "png", "pdf"):
                picture = self.path(command + "." + end)
                _, _, err = call(command, path, "--plot", picture)
                self.assertEqual(err, "")
                self.assertGreater(os.path.getsize(picture), 1000)


class Readings(Case):
    def test_what_one_reading_tells(self):
        name = scenario("everything-on")
        answer = self.json_of(NO, "readings", name, "--measured", "idle_loads_off=12.4 V")
        self.assertFalse(answer["answer"]["healthy"])
        self.assertEqual(answer["ranking"][0]["fault"], "alternator_dead")
        misfits = [r["misfit"] for r in answer["ranking"]]
        self.assertEqual(misfits, sorted(misfits))

    def test_healthy_readings_are_healthy(self):
        name = scenario("demo")
        healthy = self.json_of(DONE, "readings", name)["faults"][0]
        self.assertEqual(healthy["key"], "healthy")
        words = ["--measured=%s=%.3f V" % (key, band["expected_V"])
                 for key, band in healthy["readings"].items()]
        status, out, err = call("readings", name, *words)
        self.assertEqual(status, DONE, err)
        self.assertTrue(out.startswith("HEALTHY"))

    def test_list_with_commas_equals_options_repeated(self):
        name = scenario("demo")
        _, one, _ = call("readings", name, "-m", "off_rested=12.6, idle-all-on=13000 mV")
        _, two, _ = call("readings", name, "-m", "off_rested=12.6V", "-m", "idle_all_on=13.0")
        self.assertEqual(one, two)

    def test_after_changes_only_its_reading(self):
        a = self.json_of(DONE, "readings", scenario("demo"), "--after", "2")
        b = self.json_of(DONE, "readings", scenario("demo"), "--after", "300")
        a, b = a["faults"][0]["readings"], b["faults"][0]["readings"]
        self.assertNotEqual(a.pop("after_pull"), b.pop("after_pull"))
        self.assertEqual(a, b)

    def test_every_mistake_in_measured_is_said(self):
        status, out, err = call("readings", scenario("demo"), "--measured",
                                "idl_all_on=12.4 V, cranking=3 A, off_rested, in_pull=99 V")
        self.assertEqual((status, out), (USAGE, ""))
        lines = err.splitlines()
        self.assertEqual(len(lines), 4)
        for line in lines:
            self.assertIn("--measured", line)
        self.assertIn("idle_all_on", lines[0])
        self.assertIn("3 A", lines[1])

    def test_a_reading_given_twice_or_not_of_this_rig(self):
        status, _, err = call("readings", scenario("demo"), "-m", "in_pull=11", "-m", "in_pull=12")
        self.assertEqual(status, USAGE)
        self.assertIn("twice", err)
        status, _, err = call("readings", scenario("everything-on"), "-m", "in_pull=11")
        self.assertEqual(status, USAGE)
        self.assertIn("no reading 'in_pull'", err)
        _, _, err = call("readings", scenario("demo"), "-m", "idle=12.4")
        self.assertIn("no reading 'idle'; known are off_rested, cranking, idle_loads_off", err)


if __name__ == "__main__":
    unittest.main()
