#!/usr/bin/env python3
"""pullrest against ngspice: the vehicle of circuit.h as an electrical circuit through pulls and
rests. Bus voltages within 5 mV, charges within 0.1 %.

Usage: check_ngspice.py DUMP

Written from docs/physics. The wells are two capacitors joined by the conductance k, as in Manwell
and McGowan's picture; whatever else has a state (polarisation, temperatures, charges) is the charge
of a capacitor, in volts for its own unit. Battery, alternator, winch and loads are controlled
current sources on one bus. Kirchhoff's laws and time stepping are ngspice's."""

import bisect
import math
import os
import subprocess
import sys
import tempfile

from common import Checks, dump_text, find_tool, read_values
from netlist import rest_voltage

CASE, CYCLES = "regulator", 3  # without a change of layer
VOLTS, CHARGE = 5e-3, 1e-3
EDGE_S = 1e-5  # of the switches between pull and rest


def steps(p, of_pull, of_rest):
    """Points of a source that jumps between pull and rest."""
    points, t = [], 0.0
    for n in range(2 * CYCLES):
        value = of_rest if n % 2 else of_pull
        points.append((t + EDGE_S if n else 0.0, value))
        t += p["rest_s"] if n % 2 else p["pull_s"]
        points.append((t, value))
    return " ".join(f"{t!r} {v!r}" for t, v in points)


def pull_age(p):
    """Seconds since the pull began, for the inrush."""
    points, t = [], 0.0
    for n in range(CYCLES):
        points += [(t + (EDGE_S if n else 0.0), 0.0), (t + p["pull_s"], p["pull_s"])]
        t += p["pull_s"] + p["rest_s"]
    return " ".join(f"{t!r} {v!r}" for t, v in points)


def battery(p):
    full = f"{p['r25_ohm']!r}*exp({p['r_per_K']!r}*(25-V(tb)))"
    cold = "max(25-V(tb),0)"
    x = f"min(max({p['x_a']!r}*{cold}+{p['x_b']!r}*{cold}*{cold},0),0.9)"
    flow = (f"(V(s2)>V(s1) ? {p['k_discharge_per_s']!r} : {p['k_charge_per_s']!r})"
            f"*exp({p['k_per_K']!r}*(V(tb)-25))*{p['c'] * (1 - p['c']) * p['qmax_As']!r}"
            "*(V(s2)-V(s1))")
    gas0 = 0.02 * p["c20_Ah"] / 100
    return f"""
* wells: heads are volts
C_s1 s1 0 {p['c'] * p['qmax_As']!r} ic={p['start_soc']!r}
C_s2 s2 0 {(1 - p['c']) * p['qmax_As']!r} ic={p['start_soc']!r}
B_flow s2 s1 I={flow}
B_charge 0 s1 I=I(V_battery)-V(gas)
* terminal law
B_e e 0 V={rest_voltage(p)}+{p['emf_V_per_K']!r}*(V(tb)-25)
B_d d 0 V=V(post)-V(e)-V(v1)
B_r0 r0 0 V={p['r0_share']!r}*{full}
B_r1 r1 0 V={1 - p['r0_share']!r}*{full}
B_x x 0 V={x}
B_u u 0 V=(V(s1)-V(x))/(1-V(x))
B_ia ia 0 V={p['accept_A']!r}*(1-V(s1))*exp(0.74*(V(post)-14.4)+{math.log(2) / 19!r}*(V(tb)-25))
B_gas gas 0 V=V(d)>0 ? {gas0!r}*exp(11*(V(post)/6-2.23)+0.06*(V(tb)-25))
+ *V(d)*V(d)/(V(d)*V(d)+0.0025) : 0
V_battery post bp 0
B_io io 0 V=max(V(d),0)/V(r0)
B_ratio ratio 0 V=(V(io)/V(ia))*(V(io)/V(ia))
B_battery bp 0 I=V(d)<=0 ? V(d)/(V(r0)*(1+{p['polarisation']!r}*(1/V(u)-1)))
+ : V(io)/sqrt(sqrt(1+V(ratio)*V(ratio)))+V(gas)
C_v1 v1 0 1 ic=0
B_v1 0 v1 I=(I(V_battery)*V(r1)-V(v1))/{p['tau_s']!r}
C_tb tb 0 {p['heat_J_per_K']!r} ic={p['battery_degC.0']!r}
B_tb 0 tb I=I(V_battery)*V(d)+V(e)*V(gas)+V(v1)*V(v1)/V(r1)
+ -{p['case_W_per_K']!r}*(V(tb)-{p['ambient_degC']!r})
"""


def wire(p, i, source, sink, extra=0.0):
    """A run with its own temperature, from node to node."""
    copper = f"{p[f'wire.r20_ohm.{i}']!r}*(234.5+V(tw{i}))/254.5"
    around = p["ambient_degC"] + p[f"wire.warm.{i}"] * p["engine_space_K"]
    return f"""
V_wire{i} {source} wire{i} 0
B_wire{i} wire{i} {sink} I=V(wire{i},{sink})/({copper}+{p[f'wire.fixed_ohm.{i}'] + extra!r})
C_tw{i} tw{i} 0 {p[f'wire.C.{i}']!r} ic={p[f'wire_degC{i}.0']!r}
B_tw{i} 0 tw{i} I=I(V_wire{i})*I(V_wire{i})*{copper}-{p[f'wire.G.{i}']!r}*(V(tw{i})-{around!r})
"""


def alternator(p):
    air = p["ambient_degC"] + p["air_rise_K"]
    vset = p["set_V"] + p["set_V_per_K"] * (air - 20)
    sense = "V(post)" if p["sense_battery"] else "V(alt)"
    return wire(p, 0, "alt", "post") + f"""
V_rpm rpm 0 pwl({steps(p, p['pull_rpm'], p['rest_rpm'])})
B_f f 0 V=sqrt(317.5/(234.5+V(tg)))
B_n n 0 V=V(f)*15.3/(V(alt)+1.8)*V(rpm)*{p['pulley']!r}
B_full full 0 V=V(n)>{p['n0_rpm']!r}
+ ? V(f)*{p['im_A']!r}*(1-exp(-(V(n)-{p['n0_rpm']!r})/{p['nc_rpm']!r})) : 0
B_alternator 0 alt I=max(min(({vset!r}-{sense})/{p['droop_ohm']!r},V(full)),0)
C_tg tg 0 600 ic={p['winding_degC.0']!r}
B_tg 0 tg I={air!r}+60*(I(V_wire0)/{p['rated_A']!r})*(I(V_wire0)/{p['rated_A']!r})-V(tg)
"""


def winch(p):
    """demand.md, rigging.md, motor.md: the pull of the present layer gives the current."""
    resistance = (1 + p["margin"]) * p["weight_N"] * (math.sin(p["slope_rad"]) + 1.0)
    line = resistance * (1 + p["sheave_frac"] * (p["parts"] - 1)) / p["parts"]
    rope = p["rope_m"]
    on_drum = p["rope_length_m"] - p["parts"] * p["anchor_m"]
    diameter, end = p["drum_m"] + rope, 0.0
    while True:
        end += math.floor(p["width_m"] / rope) * math.pi * diameter
        if on_drum < end:
            break
        diameter += 2 * rope * p["nesting"]
    pull = line * diameter / (p["drum_m"] + rope)
    g = (pull + p["f0_N"]) / (p["eta"] * p["ks"])
    amps = (g + math.sqrt(g * g + 4 * g * p["is_A"])) / 2
    return wire(p, 1, "post", "winch", p["contactor_ohm"]) + f"""
V_pull pull 0 pwl({steps(p, 1.0, 0.0)})
B_winch winch 0 I={amps!r}*V(pull)
"""


def loads(p):
    def amps(k, node):
        a, v = p[f"load.exponent.{k}"], f"max(V({node}),1)/13.5"
        law = {0: "1", 1: v, -1: f"1/({v})"}.get(a, f"exp({a!r}*ln({v}))")
        text = f"{p[f'load.i0_A.{k}']!r}*{law}"
        if p[f"load.pulling.{k}"]:
            text += (f"*V(pull)*(1+{p[f'load.inrush.{k}'] - 1!r}"
                     f"*exp(-V(age)/{p[f'load.inrush_s.{k}']!r}))")
        return text

    wired = int(p["load.wired"])
    others = "+".join(amps(k, "box") for k in range(int(p["load.n"])) if k != wired)
    return wire(p, 2, "post", "box") + wire(p, 3, "box", "lamps") + f"""
V_age age 0 pwl({pull_age(p)})
B_loads box 0 I={others}
B_lamps lamps 0 I={amps(wired, 'lamps')}
"""


BOOKS = {"battery_As": "I(V_battery)", "gas_As": "V(gas)", "alternator_As": "I(V_wire0)",
         "winch_As": "I(V_wire1)", "loads_As": "I(V_wire2)"}


def netlist(p, result):
    """Charges are kept in kAs."""
    books = "".join(f"C_{n} {n} 0 1000 ic=0\nB_{n} 0 {n} I={amps}\n" for n, amps in BOOKS.items())
    end = CYCLES * (p["pull_s"] + p["rest_s"])
    columns = " ".join(f"v({n})" for n in ["post", "box", "s1", "s2", *BOOKS])
    return f"""pull and rest
{battery(p)}{alternator(p)}{winch(p)}{loads(p)}{books}
.ic v(post)=12 v(bp)=12 v(box)=11.8 v(lamps)=11.5 v(alt)=12.4 v(winch)=11 v(e)=12.5 v(d)=-0.5
.ic v(wire0)=12.4 v(wire1)=12 v(wire2)=12 v(wire3)=11.8 v(r0)=0.003 v(r1)=0.001 v(u)=0.9 v(ia)=1
.ic v(pull)=1 v(rpm)={p['pull_rpm']!r} v(f)=1 v(n)=4000 v(full)=100
.options reltol=1e-6 vntol=1e-7 abstol=1e-7 itl4=100
.tran 0.25 {end!r} 0 0.25 uic
.control
set wr_singlescale
set numdgt=10
run
wrdata {result} {columns}
.endc
.end
"""


def simulate(ngspice, p):
    with tempfile.TemporaryDirectory() as folder:
        circuit, result = (os.path.join(folder, n) for n in ("circuit.cir", "result.data"))
        with open(circuit, "w", encoding="ascii") as out:
            out.write(netlist(p, result))
        run = subprocess.run([ngspice, "-b", circuit], stdout=subprocess.PIPE,
                             stderr=subprocess.STDOUT, check=False, universal_newlines=True)
        if not os.path.exists(result):
            print(run.stdout)
            sys.exit(1)
        with open(result, encoding="ascii") as table:
            return [[float(c) for c in line.split()] for line in table if line.strip()]


def at_time(rows, times, t):
    """Row at a time, by a straight line."""
    i = min(max(bisect.bisect_left(times, t), 1), len(times) - 1)
    low, high = rows[i - 1], rows[i]
    part = (t - low[0]) / (high[0] - low[0]) if high[0] > low[0] else 1.0
    return [a + part * (b - a) for a, b in zip(low, high)]


def compare_volts(checks, p, rows, trace):
    """Every second but those in which the winch is switched: there ngspice has a ramp."""
    times, cycle = [r[0] for r in rows], p["pull_s"] + p["rest_s"]
    worst = [(0.0, 0.0), (0.0, 0.0)]
    count = 0
    for line in trace.splitlines():
        t, post, box = (float(c) for c in line.split("\t")[:3])
        inside = min(t % cycle, abs(t % cycle - p["pull_s"]), cycle - t % cycle)
        if t >= CYCLES * cycle or inside < 0.5:
            continue
        row = at_time(rows, times, t)
        count += 1
        for i, volts in enumerate((post, box)):
            worst[i] = max(worst[i], (abs(row[1 + i] - volts), t))
    for name, (gap, t) in zip(("bus", "fuse box"), worst):
        checks.near(f"{name} volts, worst of {count} at {t:g} s, off by", gap, 0.0, VOLTS)


def main():
    ngspice = find_tool("ngspice")
    dump = sys.argv[1]
    p = read_values(dump_text(dump, "circuit", CASE, 1e-9))
    rows = simulate(ngspice, p)
    times = [r[0] for r in rows]
    checks = Checks()
    checks.near("simulated to, s", times[-1], CYCLES * (p["pull_s"] + p["rest_s"]), 1e-3)
    compare_volts(checks, p, rows, dump_text(dump, "trace", CASE, 1e-9))
    t = 0.0
    for phase in range(1, 2 * CYCLES + 1):
        t += p["rest_s"] if phase % 2 == 0 else p["pull_s"]
        row = at_time(rows, times, t)
        for i, book in enumerate(BOOKS):
            # what gasses is compared with the capacity: a hundredth of what passes is noise
            got, expected = 1000 * row[5 + i], p[f"{book}.{phase}"]
            allowed = CHARGE * max(abs(expected), 0.01 * p["qmax_As"] if i < 2 else 0.0)
            checks.near(f"{book} after phase {phase}", got, expected, allowed)
        for i, (name, share) in enumerate((("q1_As", p["c"]), ("q2_As", 1 - p["c"]))):
            checks.relative(f"{name} after phase {phase}", row[3 + i] * share * p["qmax_As"],
                            p[f"{name}.{phase}"], CHARGE)
    checks.finish()


main()
