#!/usr/bin/env python3
"""Every kind of picture is drawn in every format; a hostile title stays a title; what cannot be
drawn is said. Whether a picture is good to look at no test can tell: plots/make_docs.sh draws those
of the documents, for eyes."""

import os
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree

PROGRAM = os.environ["PULLREST"]
SOURCE = os.environ["PR_SOURCE_DIR"]
KINDS = ["recovery", "cycle", "rests", "battery", "alternator", "winch", "heat", "ground",
         "rigging", "starter", "cable"]
MODELS = ["lifepo4-100-deep", "old-50", "one-wire-100", "magnet-2000", "series-12000-24v",
          "series-9500-columns", "diesel-8", "bog", "20-awg", "4-0-awg", "blade", "breaker",
          "fuel-pump", "headlamps-halogen", "hand-switch", "relay-13.3", "diode-120", "charger-20"]
BEGINS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}
# quotes, gnuplot's own escapes and commands, markup, format characters
HOSTILE = "it's {/Bold=40 x}_a^b @c ~d `id` %s %d <b>&amp; \\n ';system('touch pwned');print'"

mistakes = []


def run(*words):
    env = dict(os.environ, PULLREST_MODELS=os.path.join(SOURCE, "models"),
               PULLREST_PLOTS=os.path.join(SOURCE, "plots"))
    result = subprocess.run([PROGRAM, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                            env=env, timeout=120)
    return result.returncode, result.stderr.decode()


def expect(good, what):
    if not good:
        mistakes.append(what)


def drawn(path, *words):
    status, said = run(*words, "--quiet", "--plot", path)
    good = status <= 1 and said == "" and os.path.isfile(path)
    expect(good, f"{' '.join(words)}: status {status}: {said.strip()}")
    if not good:
        return ""
    with open(path, "rb") as file:
        data = file.read()
    expect(data.startswith(BEGINS[path[-3:]]) and len(data) > 5000, f"{path}: no such picture")
    if not path.endswith(".svg"):
        return ""
    return " ".join("".join(t.itertext()) for t in tree.fromstring(data).iter()
                    if t.tag.endswith("text"))


def check_kinds(demo):
    for kind in KINDS:
        for form in BEGINS:
            text = drawn(f"{kind}.{form}", "plan", demo, "--plot-kind", kind)
            expect(form != "svg" or "Loaded utility pickup" in text, f"{kind}: lost its title")
    text = drawn("us.svg", "plan", demo, "--plot-kind", "winch", "--units", "us")
    expect("lbf" in text and "ft/min" in text, "--units us: not in the picture of a winch")
    text = drawn("third.svg", "plan", demo, "--plot-kind", "cycle", "--plot-cycle", "3")
    expect("Pull 3 of" in text, "--plot-cycle 3: another pull")
    for command, name in (("compare", "lesson-block"), ("budget", "everything-on"),
                          ("readings", "impossible-bog"), ("run", "schedule-pulls")):
        drawn(f"{command}.png", command, os.path.join(SOURCE, "scenarios", name + ".yaml"))
    text = drawn("meter.svg", "readings", demo, "--measured", "idle_all_on=12.4 V")
    expect("FAULT: alternator dead" in text and "12.40" in text and "belt slipping" in text,
           "readings: the picture lost its answer, what was measured, or a fault")


def check_models():
    for name in MODELS:
        drawn(f"{name}.svg", "models", name)
    text = drawn("relay.svg", "models", "relay-13.4")
    expect("closes, 13.4 V" in text and "opens, 12.9 V" in text and "rated 160 A" in text,
           "relay: the picture lost its thresholds or its rating")
    text = drawn("joined.svg", "plan", os.path.join(SOURCE, "scenarios", "two-batteries.yaml"),
                 "--plot-kind", "link")
    expect("Main post, V" in text, "plan: no picture of its link")
    for kind in ("winch", "heat", "rigging"):
        drawn(f"model-{kind}.svg", "models", "magnet-4500", "--plot-kind", kind)


def check_hostile(demo):
    with open(demo, encoding="utf-8") as file:
        lines = file.read().splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("title:"))
    lines[at] = 'title: "' + HOSTILE.replace("\\", "\\\\").replace('"', '\\"') + '"'
    with open("hostile.yaml", "w", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")
    for kind in KINDS:
        text = drawn(f"hostile-{kind}.svg", "plan", "hostile.yaml", "--plot-kind", kind)
        expect(HOSTILE in text, f"{kind}: a hostile title does not stand as it is: {text[:150]}")
    expect(not os.path.exists("pwned"), "a title was run as a command")


def check_refusals(demo):
    for words, saying in (
            (["plan", demo, "--plot", "a.svg", "--plot-kind", "pie"], "there is no --plot-kind"),
            (["plan", demo, "--plot", "a.svg", "--plot-kind", "load"], "there is no --plot-kind"),
            (["plan", demo, "--plot-kind", "cycle"], "need --plot"),
            (["plan", demo, "--plot", "a.svg", "--plot-kind", "fuse"], "nothing to draw"),
            (["plan", demo, "--plot", "a.txt", "--plot-kind", "winch"], "must end in"),
            (["models", "--plot", "a.svg"], "give its NAME"),
            (["plan", demo, "--plot", "a.svg", "--plot-kind", "link"], "nothing to draw"),
            (["models", "plate-110", "--plot", "a.svg", "--plot-kind", "heat"], "of a winch")):
        status, said = run(*words)
        expect(status == 2 and saying in said, f"{' '.join(words[2:])}: status {status}: {said}")
        expect(not os.path.exists(words[-1]), f"{' '.join(words)}: left a file")
    status, said = run("plan", demo, "--plot", "a.svg", "--plot-kind", "cycle",
                       "--plot-cycle", "999")
    expect(status == 0 and "no pull 999" in said and not os.path.exists("a.svg"),
           f"--plot-cycle 999: status {status}: {said}")


def main():
    if shutil.which("gnuplot") is None:
        print("gnuplot is missing: skipped")
        return 77
    demo = os.path.join(SOURCE, "scenarios", "demo.yaml")
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        check_kinds(demo)
        check_models()
        check_hostile(demo)
        check_refusals(demo)
        os.chdir(SOURCE)
    for mistake in mistakes:
        print(mistake)
    print(f"{len(mistakes)} mistakes")
    return 1 if mistakes else 0


if __name__ == "__main__":
    sys.exit(main())
