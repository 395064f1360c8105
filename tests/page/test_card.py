#!/usr/bin/env python3
"""The card, the sheet of the page that is printed: every pull has a box to tick, a pull as planned
has the plan's rest, no entry is less than the tables of the page ask at the level that can be, and
volts are called volts."""

import html
import json
import math
import os
import re
import sys
import tempfile

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
from program import SOURCE, call  # noqa: E402

SHORT = "A pull cut short can ask for more rest"

mistakes = []


def expect(good, what):
    if not good:
        mistakes.append(what)


def page_of(path):
    text = call("page", path, "--quiet", stderr=None, timeout=200).stdout.decode()
    card = text[text.index('<section class="card"'):]
    card = card[:card.index("</section>")]
    data = re.search(r'<script[^>]*type="application/json"[^>]*>(.*?)</script>', text, re.S)
    return card, json.loads(data[1])


def rows(card, head):
    """Cells of the table under a heading that begins so."""
    part = card[card.index("<h3>" + head):]
    part = part[:part.index("</table>")]
    found = [[html.unescape(re.sub(r"<[^>]*>", "", c)) for c in
              re.findall(r"<t[dh][^>]*>.*?</t[dh]>", row, re.S)]
             for row in re.findall(r"<tr>.*?</tr>", part, re.S)]
    return found[0], found[1:]


def seconds(entry):
    """(rest, later share) of '2:15 +5%'."""
    match = re.fullmatch(r"(?:(\d+):)?(\d+):(\d\d)(?: \+(\d+)%)?", entry)
    h, m, s, later = (int(x or 0) for x in match.groups())
    return 3600 * h + 60 * m + s, later / 100


def check_pulls(name, card, plan):
    _, listed = rows(card, "Pulls")
    n = len(plan["pulls"])
    expect(len(listed) <= 40, f"{name}: {len(listed)} rows of pulls on a sheet")
    expect(sum(r[4].count("\u25a1") for r in listed) == n, f"{name}: not a box for each pull")
    at = 0
    for row in listed:
        ends = [int(x) for x in row[0].split(" to ")]
        expect(ends[0] == at + 1 and len(row[4]) == ends[-1] - at, f"{name}: row {row}")
        at = ends[-1]
    expect(at == n, f"{name}: the last row is pull {at} of {n}")


def check_rests(name, card, plan):
    head, listed = rows(card, "Rest, if")
    planned = plan["planned"]
    starts = [float(r[0].split()[0]) for r in listed] + [math.inf]
    for row, here, following in zip(listed, starts, starts[1:]):
        for l, entry in enumerate(row[1:]):
            asked, verdict = (0, 0.0), "wait"
            for r in plan["rows"]:
                if not here - 1 <= r["pulled_s"] <= following + 1:
                    continue
                level = 0 if l == planned else \
                    min(len(r["rest"]) - 1, int((r["pulled_s"] + 0.5) / plan["lengths_s"][planned]))
                said, rest_s, later = r["rest"][level][l][:3]
                asked = (max(asked[0], rest_s), max(asked[1], later))
                verdict = "stop" if said == "stop" else verdict
            told = ("stop" if entry == "stop" else "wait")
            expect(told == verdict, f"{name}: from {row[0]}, {head[l + 1]}: {entry}")
            if entry != "stop" and verdict != "stop":
                rest_s, later = seconds(entry)
                expect(abs(rest_s - asked[0]) <= 1 and abs(later - asked[1]) < 0.006,
                       f"{name}: from {row[0]}, {head[l + 1]}: {entry}, tables {asked}")
    # after pulls as planned, a pull as planned: what the list says
    rests = {p[1] for p in plan["pulls"][:-1] if not p[2]}
    if len(rests) == 1 and listed[0][1 + planned] != "stop":
        expect(seconds(listed[0][1 + planned]) == (max(rests), 0.0),
               f"{name}: planned {rests}, the card says {listed[0][1 + planned]}")
    asks_more = any(r["rest"][0][l][1] > r["rest"][0][planned][1] or
                    r["rest"][0][l][2] > r["rest"][0][planned][2]
                    for r in plan["rows"] for l in range(planned))
    return asks_more


def check_meter(name, card):
    part = card[card.index("<h3>Voltmeter"):]
    for cell in re.findall(r"<td>((?:from|below) [^<]*)</td>", part):
        expect(re.fullmatch(r"(from|below) \d+\.\d\d V", cell), f"{name}: '{cell}'")


def main():
    scenarios = os.path.join(SOURCE, "scenarios")
    with tempfile.TemporaryDirectory() as folder:
        many = os.path.join(folder, "many.yaml")
        with open(os.path.join(scenarios, "demo.yaml"), encoding="utf-8") as file:
            text = file.read()
        with open(many, "w", encoding="utf-8") as file:
            file.write(text + "\nplan: {pull: 7 s}\n")
        pulls = {}
        for name, path in (("demo", os.path.join(scenarios, "demo.yaml")), ("many", many),
                           ("by-current", os.path.join(scenarios, "by-current.yaml"))):
            card, plan = page_of(path)
            pulls[name] = len(plan["pulls"])
            check_pulls(name, card, plan)
            asks_more = check_rests(name, card, plan)
            check_meter(name, card)
            expect(SHORT not in card or asks_more, f"{name}: excuses what the tables do not ask")
            if name == "demo":
                expect(asks_more and card.count(SHORT) == 1, "demo: does not say why")
        expect(pulls["many"] > 60, f"{pulls['many']} pulls are not many")
    for mistake in mistakes:
        print(mistake)
    print(f"{pulls} pulls, {len(mistakes)} mistakes")
    return 1 if mistakes else 0


if __name__ == "__main__":
    sys.exit(main())
