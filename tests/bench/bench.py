#!/usr/bin/env python3
"""Measures speed and writes docs/performance.md's tables: the hour against GSL, CVODE and ngspice,
and whole processes with their memory.

Usage: bench.py BUILD [ROUNDS]      BUILD: a release build folder
Prints markdown; with PLOT=FILE.svg in the environment draws error against time there too.
Times are processor time, so that what else the machine does matters less. Nothing here passes or
fails by the clock."""

import math
import os
import shutil
import statistics
import subprocess
import sys
import tempfile

LAUNCH = os.path.join(os.path.abspath(sys.argv[1]), "tests", "bench", "bench_launch")
HERE = os.path.dirname(os.path.abspath(__file__))
SOURCE = os.path.dirname(os.path.dirname(HERE))
sys.path.insert(0, os.path.join(SOURCE, "tests", "crosscheck"))
from netlist import rest_voltage  # noqa: E402  pylint: disable=wrong-import-position

CHARGE, VOLTS = 1e-5, 1e-3  # the error at which speeds are compared
SETTINGS = [(1e-3, 5.0), (1e-4, 2.0), (1e-5, 1.0), (1e-6, 0.5), (1e-6, 0.1)]  # ngspice: reltol, s


def processor(command):
    """(processor ms, wall ms, peak MB, exit status) of one process"""
    text = subprocess.run([LAUNCH, *command], stdout=subprocess.PIPE, check=True,
                          universal_newlines=True).stdout
    return tuple(float(v) for v in text.split())


def netlist(p, cycles, reltol, longest, result):
    """`small` of bench_hour.c; the laws are those of docs/physics, as in check_ngspice.py."""
    points, t = [(0.0, 1.0)], 0.0
    for _ in range(cycles):
        points += [(t + 40.0, 1.0), (t + 40.0 + 1e-5, 0.0), (t + 180.0, 0.0),
                   (t + 180.0 + 1e-5, 1.0)]
        t += 180.0
    pull = " ".join(f"{a!r} {b!r}" for a, b in points)
    full = f"{p['r25_ohm']!r}*exp({p['r_per_K']!r}*(25-V(tb)))"
    cold = "max(25-V(tb),0)"
    air = p["ambient_degC"] + p["air_rise_K"]
    vset = p["set_V"] + p["set_V_per_K"] * (air - 20)
    return f"""hour
C_s1 s1 0 {p['c'] * p['qmax_As']!r} ic={p['start_soc']!r}
C_s2 s2 0 {(1 - p['c']) * p['qmax_As']!r} ic={p['start_soc']!r}
B_flow s2 s1 I=(V(s2)>V(s1) ? {p['k_discharge_per_s']!r} : {p['k_charge_per_s']!r})
+ *exp({p['k_per_K']!r}*(V(tb)-25))*{p['c'] * (1 - p['c']) * p['qmax_As']!r}*(V(s2)-V(s1))
B_charge 0 s1 I=I(V_battery)-V(gas)
B_e e 0 V={rest_voltage(p)}+{p['emf_V_per_K']!r}*(V(tb)-25)
B_d d 0 V=V(post)-V(e)-V(v1)
B_r0 r0 0 V={p['r0_share']!r}*{full}
B_r1 r1 0 V={1 - p['r0_share']!r}*{full}
B_x x 0 V=min(max({p['x_a']!r}*{cold}+{p['x_b']!r}*{cold}*{cold},0),0.9)
B_u u 0 V=(V(s1)-V(x))/(1-V(x))
B_ia ia 0 V={p['accept_A']!r}*(1-V(s1))
+ *exp(0.74*(min(max(V(post),5),20)-14.4)+{math.log(2) / 19!r}*(V(tb)-25))
B_gas gas 0 V=V(d)>0 ? {p['gas_A']!r}*exp(11*(min(V(post),20)/6-2.23)+0.06*(V(tb)-25))
+ *V(d)*V(d)/(V(d)*V(d)+0.0025) : 0
V_battery post bp 0
B_io io 0 V=max(V(d),0)/V(r0)
B_q q 0 V=min(max(V(io)/V(ia),0),1e4)
B_ratio ratio 0 V=V(q)*V(q)
B_battery bp 0 I=V(d)<=0 ? V(d)/(V(r0)*(1+{p['polarisation']!r}*(1/V(u)-1)))
+ : V(io)/sqrt(sqrt(1+V(ratio)*V(ratio)))+V(gas)
C_post post 0 1e-3 ic=12
C_v1 v1 0 1 ic=0
B_v1 0 v1 I=(I(V_battery)*V(r1)-V(v1))/{p['tau_s']!r}
C_tb tb 0 {p['heat_J_per_K']!r} ic={p['ambient_degC']!r}
B_tb 0 tb I=I(V_battery)*V(d)+V(e)*V(gas)+V(v1)*V(v1)/V(r1)
+ -{p['case_W_per_K']!r}*(V(tb)-{p['ambient_degC']!r})
B_f f 0 V=sqrt(317.5/(234.5+V(tg)))
B_n n 0 V=V(f)*15.3/(V(post)+1.8)*{p['rpm'] * p['pulley']!r}
B_full full 0 V=V(n)>{p['n0_rpm']!r}
+ ? V(f)*{p['im_A']!r}*(1-exp(-(V(n)-{p['n0_rpm']!r})/{p['nc_rpm']!r})) : 0
V_amps alt post 0
B_alternator 0 alt I=max(min(({vset!r}-V(post))/{p['droop_ohm']!r},V(full)),0)
C_tg tg 0 600 ic={air!r}
B_tg 0 tg I={air!r}+60*(I(V_amps)/{p['rated_A']!r})*(I(V_amps)/{p['rated_A']!r})-V(tg)
V_pull pull 0 pwl({pull})
B_winch post 0 I={p['pull_A']!r}*V(pull)
B_load post 0 I={p['load_A'] / 13.5!r}*V(post)
.ic v(post)=12 v(bp)=12 v(e)=12.5 v(d)=-0.5 v(alt)=12 v(r0)=0.003 v(r1)=0.001 v(u)=0.9 v(ia)=1
.ic v(pull)=1 v(f)=1 v(n)=4000 v(full)=100
.options reltol={reltol!r} vntol=1e-6 abstol=1e-6 itl4=100
.tran 1 {180.0 * cycles if cycles else 1e-3!r} 0 {longest!r} uic
.control
set wr_singlescale
set numdgt=12
run
wrdata {result} v(s1) v(s2) v(post)
.endc
.end
"""


def spice_error(p, path):
    """Worst of the charge and volts at the ends of phases; NaN when it did not get that far."""
    with open(path, encoding="ascii") as table:
        rows = [[float(c) for c in line.split()] for line in table if line.strip()]
    if rows[-1][0] < 180.0 * p["cycles"] * (1 - 1e-9):
        return [math.nan, math.nan]  # it gave up
    worst, at, i = [0.0, 0.0], 0.0, 0
    for phase in range(2 * int(p["cycles"])):
        at += 140.0 if phase % 2 else 40.0
        while i + 1 < len(rows) and rows[i + 1][0] <= at * (1 + 1e-12) + 1e-9:
            i += 1
        charge = p["c"] * rows[i][1] + (1 - p["c"]) * rows[i][2]
        worst[0] = max(worst[0], abs(charge - p[f"soc.{phase}"]))
        worst[1] = max(worst[1], abs(rows[i][3] - p[f"post_V.{phase}"]))
    return worst


def measure_ngspice(p, rounds):
    """Rows like bench_hour's; time is that of the run less that of one which ends at once."""
    tool, rows = shutil.which("ngspice"), []
    if tool is None:
        return rows
    with tempfile.TemporaryDirectory() as folder:
        files = {}
        for name, cycles, reltol, longest in [("start", 0, 1e-3, 5.0)] + [
                (f"{r:g} {s:g}", int(p["cycles"]), r, s) for r, s in SETTINGS]:
            stem = os.path.join(folder, name.replace(" ", "_"))
            with open(stem + ".cir", "w", encoding="ascii") as out:
                out.write(netlist(p, cycles, reltol, longest, stem + ".data"))
            files[name] = stem
        times = {name: [] for name in files}
        for _ in range(rounds):
            for name, stem in files.items():
                times[name].append(processor([tool, "-b", stem + ".cir"])[0])
        start = statistics.median(times.pop("start"))
        for name in times:
            errors = spice_error(p, files[name] + ".data")
            rows.append(["small", "ngspice", name, 1e3 * (statistics.median(times[name]) - start),
                         *errors])
    return rows


def measure_hour(build, rounds, folder):
    parameters = os.path.join(folder, "small.tsv")
    text = subprocess.run([os.path.join(build, "tests", "bench", "bench_hour"),
                           os.path.join(HERE, "full.yaml"), str(rounds), parameters],
                          stdout=subprocess.PIPE, check=True, universal_newlines=True).stdout
    with open(parameters, encoding="ascii") as table:
        p = {k: float(v) for k, v in (line.split("\t") for line in table)}
    return [line.split("\t") for line in text.splitlines() if not line.startswith("#")], p


def fastest(rows, case, solver):
    """Least time among those that reach the accuracy asked for; None: none does."""
    good = [r for r in rows if r[0] == case and r[1].startswith(solver) and r[4] <= CHARGE
            and r[5] <= VOLTS]
    return min(good, key=lambda r: r[3]) if good else None


def print_hour(rows):
    for case in ("full", "small"):
        ours = fastest(rows, case, "pullrest")
        print(f"\n| {case}: fastest within 1e-5 and 1 mV | setting | us | error of charge | error, "
              "mV | times pullrest |")
        print("|---|---|---:|---:|---:|---:|")
        for solver in dict.fromkeys(r[1] for r in rows if r[0] == case):
            best = fastest(rows, case, solver)
            if best is None:
                print(f"| {solver} | none reaches it | | | | |")
            else:
                print(f"| {solver} | {best[2]} | {best[3]:.0f} | {best[4]:.1e} | "
                      f"{1e3 * best[5]:.2g} | {best[3] / ours[3]:.1f} |")
    for case in ("full", "small"):
        print(f"\n| {case}: solver | setting | us | error of charge | error, mV |")
        print("|---|---|---:|---:|---:|")
        for r in rows:
            if r[0] == case:
                print(f"| {r[1]} | {r[2]} | {r[3]:.0f} | {r[4]:.1e} | {1e3 * r[5]:.2g} |")


def print_scaling(lines):
    for kind in ("cycles", "loads"):
        print(f"\n| {kind} | us | steps |\n|---:|---:|---:|")
        for line in lines:
            if line[0] == kind:
                print(f"| {line[1]} | {float(line[2]):.0f} | {line[3]} |")


def print_processes(build, rounds):
    program = os.path.join(build, "src", "cli", "pullrest")
    folder = os.path.join(SOURCE, "scenarios")
    commands = [["--version"]]
    names = sorted(n for n in os.listdir(folder) if n.endswith(".yaml"))
    commands += [["plan", os.path.join(folder, n)] for n in names]
    commands += [["compare", os.path.join(folder, "rig-variants.yaml")]]
    commands += [["risk", "--samples", "2000", "--threads", str(n),
                  os.path.join(folder, "risk-swamp.yaml")] for n in (1, 2)]
    print("\n| command | processor, ms | wall, ms | peak, MB | exit |\n|---|---:|---:|---:|---:|")
    for command in commands:
        runs = [processor([program, *command]) for _ in range(rounds)]
        shown = " ".join(os.path.basename(c) for c in command)
        print(f"| {shown} | {statistics.median(r[0] for r in runs):.0f} | "
              f"{statistics.median(r[1] for r in runs):.0f} | {max(r[2] for r in runs):.1f} | "
              f"{runs[0][3]:.0f} |")


def draw(rows, path):
    """Error against time, one line a solver."""
    text = ["set terminal svg size 720,420", f"set output '{path}'", "set logscale xy",
            "set format xy '10^{%L}'", "set xlabel 'processor time of an hour, us'",
            "set ylabel 'largest error of charge'", "set key outside right", "set grid"]
    plots = []
    for solver in dict.fromkeys(r[1] for r in rows if r[0] == "small"):
        name = "$d" + str(len(plots))
        text.append(f"{name} << EOD")
        text += [f"{r[3]} {r[4]}" for r in rows if r[:2] == ["small", solver] and r[4] > 0.0]
        text.append("EOD")
        plots.append(f"{name} using 1:2 with linespoints title '{solver}'")
    text.append("plot " + ", ".join(plots))
    subprocess.run(["gnuplot"], input="\n".join(text) + "\n", check=True, universal_newlines=True)


def main():
    build, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 11
    os.environ.setdefault("PULLREST_MODELS", os.path.join(SOURCE, "models"))
    with tempfile.TemporaryDirectory() as folder:
        lines, p = measure_hour(build, rounds, folder)
    rows = [[r[0], r[1], r[2], *map(float, (r[3], r[5], r[6]))] for r in lines if len(r) > 4]
    rows += measure_ngspice(p, min(rounds, 5))
    print_hour(rows)
    print_scaling(lines)
    print_processes(build, min(rounds, 5))
    if "PLOT" in os.environ:
        draw(rows, os.environ["PLOT"])


if __name__ == "__main__":
    main()
