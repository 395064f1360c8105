#!/usr/bin/env python3
"""What a battery's label means: pullrest against scipy, to 1e-8 where nothing else is said.

Usage: check_scipy_label.py DUMP

Written from docs/physics/battery.md ("From the label to the parameters"). What is compared: wells,
resistance, cold and charge parameters; then runs to 10.5 V, integrated from the differential
equations with scipy's own parameters, against pullrest's times, and against the label itself.
Readings of what that document leaves open are listed in docs/crosschecks.md."""

import sys

from common import Checks, column, dump_text, groups, skip

try:
    import numpy as np
    from scipy.integrate import solve_ivp
    from scipy.optimize import brentq, minimize_scalar, newton
except ImportError:
    skip("python3-scipy")

from steffen import value

SAME = 1e-8
COLD_SAME = 2e-8  # pullrest finds the 10 h current in four rounds; thick plates are 1.5e-8 off then
HOUR = 3600.0
FLOODED, EFB, AGM = range(3)
REST = {FLOODED: [11.89, 12.06, 12.24, 12.45, 12.65], EFB: [11.89, 12.06, 12.24, 12.45, 12.65],
        AGM: [11.7, 12.0, 12.3, 12.6, 12.85]}
ALPHA = {FLOODED: 0.88, EFB: 1.1, AGM: 1.1}
POLARISATION = [0.15, 0.2, 0.4]
SHARE, TAU, EMF_T, R_T, K_T = 0.75, 40.0, 1.3e-3, 0.0175, 0.025
THIN, _, THICK = range(3)


class Battery:
    """Parameters under search, and the laws of the document."""

    def __init__(self, label):
        self.chemistry, self.plates = int(label["chemistry"]), int(label["plates"])
        self.p = POLARISATION[self.plates]
        if self.chemistry == AGM and self.plates == THICK:
            # starved acid: the nodes are pullrest's; the document names no spacing
            self.soc, self.volts = column(label, "rest.soc"), column(label, "rest.V")
        else:
            self.soc, self.volts = [0, 0.25, 0.5, 0.75, 1], REST[self.chemistry]
        self.qmax = self.x = self.k = self.r25 = np.nan
        self.cold = [0.0, 0.0]

    def rest(self, s1, degC=25.0):
        return value(self.soc, self.volts, s1) + EMF_T * (degC - 25)

    def resistance(self, degC):
        return self.r25 * np.exp(R_T * (25 - degC))

    def unreachable(self, degC):
        d = max(25 - degC, 0)
        return min(max(self.cold[0] * d + self.cold[1] * d * d, 0.0), 0.9)

    def lag(self, seconds, degC=25.0):
        k = self.k * np.exp(K_T * (degC - 25))
        return -np.expm1(-k * seconds) / k

    def surface_after(self, amps, seconds, degC=25.0):
        return 1 - amps * (seconds + self.x * self.lag(seconds, degC)) / self.qmax

    def volts_at(self, s1, amps, seconds, degC=25.0):
        x = self.unreachable(degC)
        u = (s1 - x) / (1 - x)
        r = self.resistance(degC)
        rho = 1 + self.p * (1 / u - 1)
        return self.rest(s1, degC) - amps * r * (SHARE * rho
                                                 + (1 - SHARE) * -np.expm1(-seconds / TAU))

    def surface_at_end(self, amps, seconds, end=10.5):
        """Surface at which a run ends; None where the resistance forbids the current."""
        def above(s1):
            return self.volts_at(s1, amps, seconds) - end
        return brentq(above, 1e-9, 1.0, xtol=1e-16, rtol=1e-14) if above(1.0) > 0 else None


def points_of(b, label):
    """Runs that must hold, and those whose mean mismatch is to vanish."""
    i20, rc = label["c20_Ah"] / 20, label["rc_min"]
    if np.isnan(rc):
        usual = {FLOODED: (0.7732, 1.1828), EFB: (0.7732, 1.1828), AGM: (1.1339, 1.1201)}
        factor, power = usual[b.chemistry]
        rc = factor * label["c20_Ah"] ** power
    n = np.log(1200 / rc) / np.log(25 / i20)
    hold = [(i20, 20 * HOUR), (25.0, rc * 60)]
    if not np.isnan(label["high_A"]):
        return n, hold, [(label["high_A"], label["high_s"])]
    # the line of the plates: Peukert's down to 1 h, then steeper, dual halfway
    steep = [n, (n + 1.59) / 2, 1.59][b.plates]
    at_1h = i20 * 20 ** (1 / n)
    return n, hold, [(at_1h * (60 / m) ** (1 / steep), m * 60.0) for m in (6, 12, 24)]


def solve_two(b, runs, log_k):
    """qmax and X from two runs with k' given."""
    b.k = np.exp(log_k) / HOUR
    a = [[(1 - s1) / (i * t), -b.lag(t) / t] for i, t, s1 in runs]
    b.qmax, b.x = np.linalg.solve(a, [1.0, 1.0])


def mismatch(b, run):
    amps, seconds, s1 = run
    return b.qmax * (1 - s1) / (amps * seconds) - 1 - b.x * b.lag(seconds) / seconds


def fit_wells(b, hold, wish):
    """k' at which the runs that are wished for are met in the mean."""
    hold = [(i, t, b.surface_at_end(i, t)) for i, t in hold]
    wish = [(i, t, b.surface_at_end(i, t)) for i, t in wish]
    wish = [run for run in wish if run[2] is not None]

    def mean(log_k):
        solve_two(b, hold, log_k)
        return np.mean([mismatch(b, run) for run in wish])
    # the fastest wells that do it; slower ones with hardly any second well may, too
    grid = np.linspace(np.log(100), np.log(0.4), 60)
    for high, low in zip(grid, grid[1:]):
        if mean(high) * mean(low) <= 0:
            mean(brentq(mean, low, high, xtol=1e-15, rtol=1e-14))
            if 0.02 <= b.x <= 20 and b.qmax > 0:
                return True
    return False


def fit_table(b, runs):
    """Least squares of the relative mismatch of every run."""
    runs = [(i, t, b.surface_at_end(i, t)) for i, t in runs]

    def solve(log_k):
        b.k = np.exp(log_k) / HOUR
        a = np.array([[(1 - s1) / (i * t), -b.lag(t) / t] for i, t, s1 in runs])
        (b.qmax, b.x), *_ = np.linalg.lstsq(a, np.ones(len(runs)), rcond=None)
        return sum(mismatch(b, run) ** 2 for run in runs)
    grid = np.linspace(np.log(0.4), np.log(100), 40)
    best = min(range(len(grid)), key=lambda g: solve(grid[g]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]

    def slope(log_k, h=1e-4):
        return (solve(log_k + h) - solve(log_k - h)) / (2 * h)
    at = minimize_scalar(solve, bounds=(low, high), method="bounded").x
    at = brentq(slope, at - 0.05, at + 0.05, xtol=1e-12)
    return solve(at), solve


def fit_cold(b):
    """The 10 h current gives 0.86 at 0 degC and 0.65 at -15 degC of what it gives at 25 degC."""
    def lasts_too_long(amps):
        s1 = b.surface_after(amps, 10 * HOUR)
        return b.volts_at(s1, amps, 10 * HOUR) - 10.5 if s1 > 1e-6 else -1e3
    rough = b.qmax / (10 * HOUR)
    amps = brentq(lasts_too_long, 0.2 * rough, 1.2 * rough, xtol=1e-15, rtol=1e-14)

    def share(degC, capacity):
        s1 = b.surface_after(amps, capacity * 10 * HOUR, degC)
        kept = b.cold

        def spare(x):
            b.cold = [x / (25 - degC), 0.0]
            return b.volts_at(s1, amps, capacity * 10 * HOUR, degC) - 10.5
        try:
            if s1 <= 0 or spare(0.0) <= 0:
                return 0.0
            return brentq(spare, 0.0, min(s1, 0.9) - 1e-9, xtol=1e-16, rtol=1e-14)
        finally:
            b.cold = kept
    x0, x15 = share(0.0, 0.86), share(-15.0, 0.65)
    curve = (x15 / 40 - x0 / 25) / 15
    b.cold = [x0 / 25 - curve * 25, curve]


def cranking_spare(b, label):
    """Volts above the mark at the end of the cranking test."""
    seconds, mark = (10.0, 7.5) if label["en"] else (30.0, 7.2)
    s1 = b.surface_after(label["cca_A"], seconds, -18.0)
    return b.volts_at(s1, label["cca_A"], seconds, -18.0) - mark


def fit_label(b, label):
    n, hold, wish = points_of(b, label)

    def spare(r25):
        b.r25 = r25
        assert fit_wells(b, hold, wish), "no wells"
        fit_cold(b)
        return cranking_spare(b, label)
    rough = 2.5 / label["cca_A"]
    spare(newton(spare, rough, x1=1.05 * rough, tol=1e-17, rtol=1e-13, maxiter=60))
    return n, hold


def run_to_end(b, amps, degC=25.0, end=10.5):
    """Seconds from full to an end voltage, by the differential equations."""
    c = 1 / (1 + b.x)
    k = b.k * np.exp(K_T * (degC - 25)) * c * (1 - c)
    r = b.resistance(degC)

    def rates(_, y):
        flow = k * (y[1] / (1 - c) - y[0] / c)
        return [-amps + flow, -flow, (-amps * (1 - SHARE) * r - y[2]) / TAU]

    def above(_, y):
        x = b.unreachable(degC)
        s1 = y[0] / (c * b.qmax)
        u = max((s1 - x) / (1 - x), 1e-6)
        return b.rest(s1, degC) + y[2] - amps * SHARE * r * (1 + b.p * (1 / u - 1)) - end
    above.terminal = True
    longest = 1.2 * b.qmax / amps
    run = solve_ivp(rates, (0, longest), [c * b.qmax, (1 - c) * b.qmax, 0.0], method="DOP853",
                    events=above, rtol=1e-12, atol=[1e-7, 1e-7, 1e-13], max_step=longest / 50)
    return run.t_events[0][0] if len(run.t_events[0]) else np.nan


def check_table(checks, name, b, label):
    """A flat minimum fixes its place to the root of the rounding only: 1e-6 on k', and the sum of
    squares itself."""
    b.r25 = label["resistance_ohm"] / SHARE
    runs = list(zip(column(label, "points.A"), column(label, "points.s")))
    least, solve = fit_table(b, runs)
    checks.relative(f"{name} k'", b.k, label["k_per_s"], 1e-6)
    there = solve(np.log(label["k_per_s"] * HOUR))  # and from here on with pullrest's k'
    checks.relative(f"{name} sum of squares at pullrest's k'", there, least, SAME)
    checks.relative(f"{name} qmax for pullrest's k'", b.qmax, label["qmax_As"], SAME)
    checks.relative(f"{name} c for pullrest's k'", 1 / (1 + b.x), label["c"], SAME)
    fit_cold(b)


def check_one(checks, name, label):
    b = Battery(label)
    if label["points.n"]:
        check_table(checks, name, b, label)
    else:
        n, hold = fit_label(b, label)
        checks.relative(f"{name} Peukert's exponent", n, label["peukert_n"], SAME)
        checks.relative(f"{name} qmax", b.qmax, label["qmax_As"], SAME)
        checks.relative(f"{name} c", 1 / (1 + b.x), label["c"], SAME)
        checks.relative(f"{name} k'", b.k, label["k_per_s"], SAME)
        for amps, seconds in hold:
            checks.relative(f"{name} integrated, {amps:g} A (label)", run_to_end(b, amps),
                            seconds, SAME)
    checks.relative(f"{name} R25", b.r25, label["r25_ohm"], SAME)
    # the parabola's coefficients are differences: compared by what they make of x
    for degC in (0.0, -15.0, -18.0):
        d = 25 - degC
        checks.near(f"{name} x({degC:g} degC)", b.cold[0] * d + b.cold[1] * d * d,
                    label["x_a"] * d + label["x_b"] * d * d, COLD_SAME)
    alpha = ALPHA[b.chemistry] / HOUR
    into = b.x / (1 / alpha - 1 / (2 * alpha))  # 1/alpha = 1/alpha_s + (1-c)/(k'c c)
    checks.relative(f"{name} k' of charge", max(into, b.k), label["k_charge_per_s"], SAME)
    for amps, seconds in zip(column(label, "run_A"), column(label, "run_s")):
        checks.relative(f"{name} integrated, {amps:g} A", run_to_end(b, amps), seconds, SAME)


def main():
    checks = Checks()
    for name, label in groups(dump_text(sys.argv[1], "label")).items():
        check_one(checks, name, label)
    checks.finish()


main()
