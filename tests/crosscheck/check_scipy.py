#!/usr/bin/env python3
"""pullrest's closed forms and fits against scipy, to 1e-8 where nothing else is said.

Usage: check_scipy.py DUMP kinetic|winch|alternator

Written from docs/physics; only inputs and results come from pullrest. The label of a battery is in
check_scipy_label.py."""

import sys

from common import Checks, column, dump_text, groups, skip

try:
    import numpy as np
    from scipy.integrate import solve_ivp
    from scipy.optimize import brentq, least_squares
except ImportError:
    skip("python3-scipy")

SAME = 1e-8


# ---- battery.md: two wells and the 40 s branch at constant current, integrated with small errors


def wells_rates(b, amps, k, r1):
    def rates(_, y):
        q1, q2, v1 = y
        flow = k * (q2 / (1 - b["c"]) - q1 / b["c"])
        return [amps + flow, -flow, (amps * r1 - v1) / b["tau_s"]]
    return rates


def advance(b, y, amps, seconds):
    """Integrates; where the heads cross, k' changes between discharge and charge."""
    warm = b["T_degC"] - 25
    r1 = (1 - b["r0_share"]) * b["r25_ohm"] * np.exp(-0.0175 * warm)
    t = 0.0

    def gap(_, y):
        return y[1] / (1 - b["c"]) - y[0] / b["c"]
    gap.terminal = True

    # at equal heads the current decides which side comes next
    towards_discharge = gap(0, y) > 1e-9 * b["qmax_As"] or (
        abs(gap(0, y)) <= 1e-9 * b["qmax_As"] and amps < 0)
    for _ in range(3):
        slow = b["k_per_s"] if towards_discharge else b["k_charge_per_s"]
        k = slow * np.exp(0.025 * warm) * b["c"] * (1 - b["c"])
        gap.direction = -1.0 if towards_discharge else 1.0
        run = solve_ivp(wells_rates(b, amps, k, r1), (t, seconds), y, method="DOP853",
                        events=gap, rtol=3e-14, atol=[1e-7, 1e-7, 1e-14], max_step=200.0)
        y, t = run.y[:, -1], run.t[-1]
        if run.status != 1:
            return y
        towards_discharge = not towards_discharge
    raise AssertionError("the heads crossed three times in one step")


def check_kinetic(checks, text):
    for name, b in groups(text).items():
        y = np.array([b["q1_As"], b["q2_As"], 0.0])
        for i, (amps, seconds) in enumerate(zip(column(b, "A"), column(b, "s"))):
            y = advance(b, y, amps, seconds)
            what = f"{name} after {amps:g} A for {seconds:g} s"
            checks.relative(f"{what}, q1", y[0], b[f"q1_As.{i}"], SAME)
            checks.relative(f"{what}, q2", y[1], b[f"q2_As.{i}"], SAME)
            checks.near(f"{what}, v1", y[2], b[f"v1_V.{i}"], SAME)


# ---- motor.md: the winch from two columns or a table, and its heat


def pull_current(p, force):
    """Magnets: Is = 0."""
    g = (force + p["f0"]) / p["eta_ks"]
    return (g + np.sqrt(g * g + 4 * g * p["is"])) / 2


def speed(p, volts, amps):
    return (volts - amps * p["r"]) * (amps + p["is"]) / (p["ks"] * amps)


def from_columns(m, is_):
    volts, i1, i2 = m["sheet_V"], m["no_load_A"], m["rated_A"]
    g1, g2 = i1 / (i1 + is_), i2 / (i2 + is_)
    eta_ks = m["rated_N"] / (i2 * g2 - i1 * g1)
    q = m["no_load_mps"] * g1 / (m["rated_mps"] * g2)
    r = volts * (q - 1) / (q * i2 - i1)
    return {"eta_ks": eta_ks, "f0": eta_ks * i1 * g1, "r": r, "is": is_,
            "ks": (volts - i2 * r) / (m["rated_mps"] * g2)}


def from_table(m, start):
    """Least squares of the documented residuals over logarithms, derivatives by complex step."""
    force, amps, rope = (np.array(column(m, f"points.{c}")) for c in ("N", "A", "mps"))
    names = ["eta_ks", "f0", "ks", "r"] + ([] if m["magnet"] else ["is"])

    def parameters(x):
        p = dict(zip(names, np.exp(x)))
        p.setdefault("is", 0.0)
        return p

    def residuals(x):
        p = parameters(x)
        model = pull_current(p, force)
        return np.concatenate([(model / amps - 1) / 0.02,
                               (speed(p, m["sheet_V"], model) / rope - 1) / 0.05])

    x = np.log([start[n] for n in names])
    for _ in range(4):  # restarted until it moves no more
        x = least_squares(residuals, x, jac="cs", xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    # a last step by Gauss and Newton brings the gradient down to rounding
    for _ in range(20):
        jac = np.array([np.imag(residuals(x + 1e-30j * unit)) / 1e-30
                        for unit in np.eye(len(x))]).T
        x = x - np.linalg.lstsq(jac, residuals(x), rcond=None)[0]
    return parameters(x)


def resistance(m, p, degC):
    brush = m["brush_share"]
    return p["r"] * (brush + (1 - brush) * (234.5 + degC) / 259.5)


def rise(m, p, heat_capacity):
    """Winding's rise in a pull at rated load and sheet volts from 25 degC."""
    amps, volts = pull_current(p, m["rated_N"]), m["sheet_V"]
    flux = p["ks"] * amps / (amps + p["is"]) if p["is"] else p["ks"]
    to_case = heat_capacity / m["to_case_s"]
    to_air = (1 + m["case_ratio"]) * heat_capacity / m["to_air_s"]

    def rates(_, t):
        r = resistance(m, p, t[0])
        iron = (flux * amps - m["rated_N"]) * (volts - amps * r) / flux
        over = to_case * (t[0] - t[1])
        return [(amps * amps * r - over) / heat_capacity,
                (iron + over - to_air * (t[1] - 25)) / (m["case_ratio"] * heat_capacity)]

    run = solve_ivp(rates, (0, m["rise_s"]), [25.0, 25.0], method="DOP853", rtol=1e-12, atol=1e-10)
    return run.y[0, -1] - 25


def check_winch(checks, text):
    for name, m in groups(text).items():
        is_ = 0.0 if m["magnet"] else 4 / 3 * m["rated_A"]
        p = from_columns(m, is_)
        if m["points.n"]:
            p = from_table(m, p)
        p["eta"] = p["eta_ks"] / p["ks"]
        for ours, theirs in (("r", "r_ohm"), ("ks", "ks"), ("is", "is_A"), ("eta", "eta"),
                             ("f0", "f0_N")):
            checks.relative(f"{name} {theirs}", p[ours], m[theirs], SAME)
        for k, (pull, amps) in enumerate(zip(column(m, "pull_N"), column(m, "pull_A"))):
            # from the force law by root finding, not by the closed form
            def excess(i, pull=pull):
                flux = p["eta_ks"] * i / (i + p["is"]) if p["is"] else p["eta_ks"]
                return flux * i - p["f0"] - pull
            found = brentq(excess, 1e-3, 1e5, xtol=1e-11)
            checks.relative(f"{name} amps at {pull:.0f} N", found, amps, SAME)
            degC = 25 + 50 * k
            i = (4 + 3 * k) / resistance(m, p, degC)
            flux = p["eta_ks"] * i / (i + p["is"]) if p["is"] else p["eta_ks"]
            checks.relative(f"{name} stall at {4 + 3 * k} V, {degC} degC", flux * i - p["f0"],
                            m[f"stall_N.{k}"], SAME)
        guess = m["rated_A"] ** 2 * p["r"] * m["rise_s"] / m["rise_K"]
        heat = brentq(lambda c: rise(m, p, c) - m["rise_K"], 0.3 * guess, 3 * guess, xtol=1e-10)
        checks.relative(f"{name} winding, J/K", heat, m["c_armature"], SAME)
        to_case = heat / m["to_case_s"]
        checks.relative(f"{name} winding to case, W/K", to_case, m["g_armature"], SAME)
        checks.relative(f"{name} case to air, W/K",
                        (1 + m["case_ratio"]) * heat / m["to_air_s"], m["g_case"], SAME)


# ---- alternator.md: the curve from the plate


def check_alternator(checks, text):
    for name, a in groups(text).items():
        n0, idle_rpm, idle = a["cut_in_rpm"], a["idle_rpm"], a["idle_A"]
        if np.isnan(idle):
            idle, idle_rpm = 0.42 * a["rated_A"], n0 + 450
        low, high = idle_rpm - n0, a["rated_rpm"] - n0

        def ratio(log_nc, low=low, high=high, idle=idle, rated=a["rated_A"]):
            nc = np.exp(log_nc)
            return np.expm1(-low / nc) / np.expm1(-high / nc) - idle / rated
        nc = np.exp(brentq(ratio, np.log(low / 30), np.log(1e3 * high), xtol=1e-14, rtol=1e-14))
        im = -a["rated_A"] / np.expm1(-high / nc)
        checks.relative(f"{name} nc", nc, a["nc_rpm"], SAME)
        checks.relative(f"{name} Im", im, a["im_A"], SAME)
        rows = zip(*(column(a, c) for c in ("rpm", "degC", "V", "A")))
        for rpm, degC, volts, amps in rows:
            field = np.sqrt(volts / 13.5 * (234.5 + 83) / (234.5 + degC))
            n = field * 15.3 / (volts + 1.8) * rpm
            ours = -field * im * np.expm1(-(n - n0) / nc) if n > n0 else 0.0
            checks.near(f"{name} amps at {rpm:g} rpm, {degC:g} degC, {volts:g} V", ours, amps,
                        SAME * a["rated_A"])


def main():
    dump, what = sys.argv[1:]
    checks = Checks()
    check = {"kinetic": check_kinetic, "winch": check_winch, "alternator": check_alternator}[what]
    check(checks, dump_text(dump, what))
    checks.finish()


main()
