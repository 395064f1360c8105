#!/usr/bin/env python3
"""Every kind of picture is drawn in every format; a hostile title stays a title; what cannot be
drawn is said. Whether a picture is good to look at no test can tell: plots/make_docs.sh draws those
of the documents, for eyes."""

import os
import re
import shutil
import sys
import tempfile
import xml.etree.ElementTree as tree

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import SOURCE, call  # noqa: E402

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
    result = call(*words)
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
        drawn(f"us-{kind}.svg", "plan", demo, "--plot-kind", kind, "--units", "us")
    text = drawn("us.svg", "plan", demo, "--plot-kind", "winch", "--units", "us")
    expect("lbf" in text and "ft/min" in text, "--units us: not in the picture of a winch")
    expect("9500 lbf" in text, "--units us: a force with decimals that nobody reads")
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


def with_title(path, title, source):
    with open(source, encoding="utf-8") as file:
        text = file.read()
    with open(path, "w", encoding="utf-8") as file:
        file.write(re.sub(r"(?m)^title:.*$", "title: " + title, text))


def check_long_titles():
    """A title stays on its page: smaller letters, then cut. 0.6 of the size is a wide letter of the
    fonts asked for, 1.12 the scale of our SVG."""
    scenarios = os.path.join(SOURCE, "scenarios")
    for length in (110, 190):
        title = ("Old pickup in a ditch with water to the sills and nobody near " * 4)[:length]
        for name, words in (("demo", ["plan", "--plot-kind", "recovery"]),
                            ("demo", ["plan", "--plot-kind", "rests"]),
                            ("rig-variants", ["compare"]), ("everything-on", ["budget"])):
            with_title("long.yaml", title.strip(), os.path.join(scenarios, name + ".yaml"))
            drawn("long.svg", words[0], "long.yaml", *words[1:])
            with open("long.svg", encoding="utf-8") as file:
                svg = file.read()
            found = re.search(r'translate\(([\d.]+),[^>]*font-size="([\d.]+)"[^>]*>\s*'
                              r"<text>(Old pickup in[^<]*)</text>", svg)
            expect(found is not None, f"{words}: no title of {length} letters")
            if found is None:
                continue
            left, size, text = float(found[1]), float(found[2]), found[3]
            end = left + 0.6 * size / 1.12 * len(text)
            wide = float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1])
            expect(end <= wide, f"{words}: a title of {length} letters runs off to {end:.0f}")
            expect(size >= 10 and (text == title.strip() or text.endswith("\u2026")),
                   f"{words}: a title of {length} letters: {size} '{text}'")


def check_split(demo):
    """Amps written beside a pull are of one moment: battery and alternator feed winch and loads."""
    for pull in ("1", "14"):
        text = drawn("split.svg", "plan", demo, "--plot-kind", "cycle", "--plot-cycle", pull)
        amps = [re.search(words + r" (\d+) A", text) for words in
                ("the winch takes", "the battery gives", "and the alternator")]
        expect(None not in amps, f"pull {pull}: no amps")
        if None not in amps:
            winch, battery, alternator = (int(a[1]) for a in amps)
            expect(0 <= battery + alternator - winch <= 60, f"pull {pull}: {winch} A of "
                   f"{battery} and {alternator} A")


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
        check_long_titles()
        check_split(demo)
        check_refusals(demo)
        os.chdir(SOURCE)
    for mistake in mistakes:
        print(mistake)
    print(f"{len(mistakes)} mistakes")
    return 1 if mistakes else 0


if __name__ == "__main__":
    sys.exit(main())
