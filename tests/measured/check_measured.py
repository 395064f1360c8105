#!/usr/bin/env python3
"""Three measured discharges of a 12 V, 17 Ah battery and the rests after them, against pullrest.

Usage: check_measured.py MEASURED_RUN EXPECTED [--write | --table | --picture SCRIPT FILE]

The measurements (Sulzer et al. 2019; BSD-3-Clause) are read where they lie, in PR_MEASURED_DATA or
beside the source tree, and are not part of it; without them the check is skipped. EXPECTED holds
the derived figures: --table prints it anew, --write the same as Markdown, --picture draws.

What is compared, and what it says, is in docs/measured.md."""

import bisect
import csv
import datetime
import glob
import os
import subprocess
import sys
import tempfile

SKIPPED = 77
LOADED_A = 0.2
FRACTIONS = (0.05, 0.25, 0.5, 0.75, 0.9)
NAMES = ("3.04 A", "1.03 A", "0.53 A")
KINDS = ("label", "capacity", "times", "volts")
OWN_TIME = "rms V, 5..95 % of the own time"
RESTS = ("after 10 min of rest", "after 50 min of rest", "at the last reading")
# least squares of all volts, loaded and resting: qmax Ah, c, k' /h, R25 ohm, polarisation
VOLTS_FIT = ("21.13", "0.6191", "1.0135", "0.0142", "1.562")


def find_data():
    folder = os.environ.get("PR_MEASURED_DATA")
    if folder is None:
        folder = os.path.join(os.environ["PR_SOURCE_DIR"], "..", "shared", "data", "bboxx17Ah")
    files = sorted(glob.glob(os.path.join(folder, "telemetry_*.csv")))
    if len(files) != 3:
        print("skipped: the measurements of the 17 Ah battery (data/bboxx17Ah) are not there")
        sys.exit(SKIPPED)
    return files


def line(xs, ys, x):
    """Straight lines between points, ends held."""
    i = bisect.bisect_right(xs, x)
    if i == 0 or i == len(xs):
        return ys[min(i, len(xs) - 1)]
    part = (x - xs[i - 1]) / (xs[i] - xs[i - 1])
    return ys[i - 1] + part * (ys[i] - ys[i - 1])


class Run:
    """One file: the loaded part and the rest, in seconds since the load came on."""

    def __init__(self, path):
        with open(path, encoding="ascii", newline="") as text:
            rows = list(csv.DictReader(text))
        degrees = self.column(rows, "temperature")
        amps, volts = self.column(rows, "current"), dict(self.column(rows, "voltage"))
        on = [t for t, a in amps if a > LOADED_A]
        start, self.off_s = on[0], on[-1] - on[0]
        self.degC = ([t - start for t, _ in degrees], [c for _, c in degrees])
        # a row that notes a switch has the mean of volts before and after: not used
        samples = [(t - start, volts[t], a) for t, a in amps if t >= start]
        self.run = [s for s in samples if 1.0 < s[0] < self.off_s - 1.0 and s[2] > LOADED_A]
        self.rest = [(t - self.off_s, v) for t, v, _ in samples if t > self.off_s + 1.0]
        (t0, v0, _), (t1, v1, _) = self.run[-2:]
        self.end_V = v1 + (v1 - v0) / (t1 - t0) * (self.off_s - t1)
        self.amps = sum(a for _, _, a in self.run) / len(self.run)
        self.Ah = self.amps * self.off_s / 3600

    @staticmethod
    def column(rows, name):
        """Sorted: rows that note a switch are out of order by a tenth of a second."""
        return sorted((datetime.datetime.fromisoformat(r["time"]).timestamp(), float(r[name]))
                      for r in rows if r[name])

    def volts(self, t):
        return line([s[0] for s in self.run], [s[1] for s in self.run], t)

    def profile(self):
        """Rows for measured_run; each value holds until the next row."""
        rows = [(0.0, -self.run[0][2])] + [(t, -a) for t, _, a in self.run]
        rows += [(self.off_s, 0.0)] + [(self.off_s + t, 0.0) for t, _ in self.rest]
        return "".join(f"{t:.3f} {a:.6f} {line(*self.degC, t):.3f}\n" for t, a in rows)


class Simulated:
    def __init__(self, program, kind, measured, points):
        text = subprocess.run([program, kind, f"{measured.end_V:.6f}", *points],
                              input=measured.profile(), stdout=subprocess.PIPE, check=True,
                              universal_newlines=True).stdout
        rows = [r.split("\t") for r in text.splitlines()]
        numbers = {k: [tuple(map(float, r[1:])) for r in rows if r[0] == k]
                   for k in ("battery", "run", "end", "rest")}
        self.run, self.rest = numbers["run"], numbers["rest"]
        (self.off_s,), self.battery = numbers["end"][0], numbers["battery"][0]

    def volts(self, t):
        return line([s[0] for s in self.run], [s[1] for s in self.run], t)

    def rest_volts(self, t):
        return line([s[0] for s in self.rest], [s[1] for s in self.rest], t)


def rms(values):
    return (sum(v * v for v in values) / len(values)) ** 0.5


def figures(measured, simulated):
    """name: (measured, simulated), and root mean squares: (0, error)."""
    found = {"hours": (measured.off_s / 3600, simulated.off_s / 3600)}
    for f in FRACTIONS:
        found[f"V at {100 * f:g} %"] = (measured.volts(f * measured.off_s),
                                        simulated.volts(f * simulated.off_s))
    steps = [k / 100 for k in range(5, 96)]
    found[OWN_TIME] = (0.0, rms(
        [simulated.volts(f * simulated.off_s) - measured.volts(f * measured.off_s)
         for f in steps]))
    both = 0.9 * min(measured.off_s, simulated.off_s)
    found["rms V at the same time"] = (0.0, rms(
        [simulated.volts(f * both) - measured.volts(f * both) for f in steps]))
    last = len(measured.rest) - 1
    for k, when in zip((0, 4, last), RESTS):
        t, volts = measured.rest[k]
        found[f"V {when}"] = (volts, simulated.rest_volts(t))
    return found


def read_expected(path):
    """(kind, run, figure): (measured, simulated)"""
    with open(path, encoding="utf-8") as text:
        rows = [r.rstrip("\n").split("\t") for r in text if r.strip() and not r.startswith("#")]
    return {tuple(r[:3]): (float(r[3]), float(r[4])) for r in rows[1:]}


class Verdict:
    def __init__(self):
        self.done = self.failed = 0

    def expect(self, good, text):
        self.done += 1
        self.failed += not good
        print(f"{'ok  ' if good else 'FAIL'} {text}")


def hold_figures(verdict, expected, results):
    """The figures of docs/measured.md are what data and program give today."""
    for key in sorted(set(expected) | set(results)):
        name = ", ".join(key)
        if key not in expected or key not in results:
            verdict.expect(False, f"{name}: in one of table and results only")
            continue
        for what, got, noted in zip(("measured", "simulated"), results[key], expected[key]):
            near = 2e-3 * (noted if key[2] == "hours" else 1.0)
            verdict.expect(abs(got - noted) <= near, f"{name}: {what} {got:.4f}, noted {noted:.4f}")


def keep_promises(verdict, results):
    """What may be said of a battery of which only the label is known. Not promised is that it is
    right about the hours: this battery gave more than its label."""
    for run in NAMES:
        def pair(figure, run=run):
            return results["label", run, figure]
        measured, simulated = pair("hours")
        verdict.expect(simulated <= measured, f"label, {run}: not more hours than measured")
        error = pair(OWN_TIME)[1]
        verdict.expect(error <= 0.1, f"label, {run}: {OWN_TIME} {error:.3f}, promised 0.1")
        for when in RESTS:
            gap = pair(f"V {when}")[1] - pair(f"V {when}")[0]
            verdict.expect(abs(gap) <= 0.15, f"label, {run}: V {when} {gap:+.3f}, promised 0.15")


def write_tables(runs, results):
    """Markdown of docs/measured.md."""
    for kind in KINDS:
        print(f"### {kind}\n\n| figure | " + " | ".join(NAMES) + " |\n|---|---|---|---|")
        done = []
        for figure in (k[2] for k in results if k[0] == kind):
            if figure in done:
                continue
            done.append(figure)
            cells = []
            for name in NAMES:
                pair = results.get((kind, name, figure))
                if pair is None:
                    cells.append("")
                elif pair[0] == 0.0:
                    cells.append(f"{pair[1]:.3f}")
                else:
                    digits = 2 if figure == "hours" else 3
                    error = (f"{100 * (pair[1] / pair[0] - 1):+.0f} %" if figure == "hours"
                             else f"{pair[1] - pair[0]:+.3f}")
                    cells.append(f"{pair[0]:.{digits}f} / {pair[1]:.{digits}f} ({error})")
            print(f"| {figure} | " + " | ".join(cells) + " |")
        print()
    for name, run in zip(NAMES, runs):
        inside = [c for t, c in zip(*run.degC) if 0 <= t <= run.off_s]
        print(f"{name}: mean {run.amps:.4f} A, {run.Ah:.2f} Ah, end {run.end_V:.3f} V, "
              f"{min(inside):.1f}..{max(inside):.1f} degC")


def write_picture(script, path, runs, simulated):
    """Tables for plots/measured.gp, which draws them."""
    def table(folder, name, rows, most=60):
        step = max(1, len(rows) // most)  # a curve needs no more
        rows = rows[:-1:step] + rows[-1:]
        file = os.path.join(folder, name)
        with open(file, "w", encoding="ascii") as out:
            out.writelines("\t".join(f"{c:.6g}" for c in row) + "\n" for row in rows)
        return f"{name}='{file}'"
    with tempfile.TemporaryDirectory() as folder:
        variables = [f"plot_format='{path.rsplit('.', 1)[1]}'", f"plot_output='{path}'",
                     f"plot_folder='{os.path.dirname(os.path.abspath(script))}'"]
        for k, run in enumerate(runs):
            variables += [
                table(folder, f"run{k}", [(t / 3600, v) for t, v, _ in run.run]),
                table(folder, f"rest{k}", [(t / 60, v) for t, v in run.rest])]
            for kind in KINDS:
                sim = simulated[kind, k]
                variables += [
                    table(folder, f"{kind}_run{k}", [(t / 3600, v) for t, v, _ in sim.run]),
                    table(folder, f"{kind}_rest{k}", [(t / 60, v) for t, v, _ in sim.rest])]
        subprocess.run(["gnuplot", "-e", "; ".join(variables), script], check=True)


def main():
    program, expected, *extra = sys.argv[1:]
    runs = [Run(path) for path in find_data()]
    points = [text for r in runs for text in (f"{r.amps:.6f}", f"{r.off_s / 3600:.6f}")]
    # 1.03 A is nearly the 20 h rate
    numbers = {"label": [], "capacity": [f"{runs[1].Ah:.6f}"], "times": points,
               "volts": list(VOLTS_FIT)}
    simulated = {(kind, k): Simulated(program, kind, run, numbers[kind])
                 for kind in KINDS for k, run in enumerate(runs)}
    results = {(kind, NAMES[k], figure): pair for (kind, k), sim in simulated.items()
               for figure, pair in figures(runs[k], sim).items()}
    if extra[:1] == ["--picture"]:
        write_picture(extra[1], extra[2], runs, simulated)
    elif extra[:1] == ["--table"]:
        print("kind\trun\tfigure\tmeasured\tsimulated")
        for key, pair in results.items():
            print("\t".join(key) + f"\t{pair[0]:.4f}\t{pair[1]:.4f}")
    elif extra[:1] == ["--write"]:
        write_tables(runs, results)
        for kind in KINDS:
            print(kind, "qmax Ah, c, k' /h, R25 ohm, rms:", simulated[kind, 0].battery)
    else:
        verdict = Verdict()
        hold_figures(verdict, read_expected(expected), results)
        keep_promises(verdict, results)
        print(f"{verdict.done} compared, {verdict.failed} failed")
        sys.exit(1 if verdict.failed else 0)


main()
