#!/usr/bin/env python3
"""The evidence: what the published rows of tests/published/*.tsv expect and what the program gave.

  evidence.py tables                 checks the tables: columns, ids, kinds, sources
  evidence.py check RESULTS          every row was checked by some test, no row failed, and
                                     docs/evidence.md says what RESULTS says
  evidence.py write RESULTS          writes docs/evidence.md

RESULTS is the file that the checker (tests/support/published.h) appends to while the tests run,
with PR_PUBLISHED_RESULTS set to its name. Without RESULTS `check` is skipped (exit status 77)."""

import glob
import math
import os
import re
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
EVIDENCE = os.path.join(HERE, "..", "..", "docs", "evidence.md")

COLUMNS = ["id", "input", "expected", "tolerance", "kind", "source"]
KINDS = {
    "outside": "published or measured by others, and not used to set the model",
    "limit": "a mark that a standard or a maker sets; it must not be missed",
    "practice": "common practice in the trade, no source",
    "calibration": "the model was set with it: shows only that it still is",
    "identity": "arithmetic, definition or conservation: shows only that the sum is right",
}
VERDICTS = {"pass": "pass", "known": "known disagreement", "fail": "FAIL", "unmark": "FAIL"}
# of several checks of one row the worst counts
WORST_FIRST = ["fail", "unmark", "known", "pass"]
SAME = 2e-3  # numbers agree to three significant digits


class Row:
    def __init__(self, cells, place):
        self.id, self.input, self.expected, self.tolerance, self.kind, self.source = cells[:6]
        self.known = cells[6] if len(cells) > 6 else ""
        self.place = place
        self.got = self.low = self.high = math.nan
        self.verdict = None

    def take(self, got, verdict, low, high):
        rank = WORST_FIRST.index
        if self.verdict is not None:
            if rank(verdict) > rank(self.verdict):
                return
            if verdict == self.verdict and distance(got, low, high) <= self.distance():
                return
        self.got, self.verdict, self.low, self.high = got, verdict, low, high

    def distance(self):
        return distance(self.got, self.low, self.high)

    def allowed(self):
        if self.expected.startswith((">=", "<=")) or ".." in self.expected:
            return self.expected
        if self.tolerance in (">=", "<="):
            return f"{self.tolerance} {self.expected}"
        if ".." in self.tolerance:
            return f"{self.expected} ({self.tolerance})"
        if self.tolerance == "exact":
            return f"{self.expected} exactly"
        return f"{self.expected} ± {self.tolerance}"


def distance(got, low, high):
    """How far from the middle of what is allowed: 1 at its edge. Of a limit only how far beyond (1
    and more) or, as a negative number, how far inside it is, in parts of the limit."""
    if math.isnan(got):
        return math.inf
    if math.isinf(low) or math.isinf(high):
        limit, beyond = (high, got - high) if math.isinf(low) else (low, low - got)
        part = beyond / abs(limit) if limit else beyond
        return 1 + part if beyond > 0 else part
    half = (high - low) / 2
    away = abs(got - (low + high) / 2)
    return away / half if half else (math.inf if away else 0.0)


def read_tables():
    """All rows by id, and the mistakes of the tables."""
    rows, mistakes = {}, []
    for path in sorted(glob.glob(os.path.join(HERE, "*.tsv"))):
        names = above = None
        with open(path, encoding="utf-8") as table:
            lines = table.read().split("\n")
        for number, line in enumerate(lines, 1):
            if line.startswith("#") or not line.strip():
                continue
            place = f"{os.path.basename(path)}:{number}"
            cells = [c.strip() for c in line.split("\t")]
            if names is None:
                names = cells
                if names not in (COLUMNS, COLUMNS + ["known"]):
                    mistakes.append(f"{place}: the columns must be {' '.join(COLUMNS)} [known]")
                continue
            if not 6 <= len(cells) <= len(names):
                mistakes.append(f"{place}: {len(cells)} cells, expected 6 to {len(names)}")
                continue
            row = Row(cells, place)
            above = spell_out(row, above)
            mistakes += [f"{place}: {m}" for m in row_mistakes(row)]
            if row.id in rows:
                mistakes.append(f"{place}: id {row.id} stands at {rows[row.id].place} already")
            rows[row.id] = row
    return rows, mistakes


def spell_out(row, above):
    """In a table 'same ...' stands for the nearest row above that is written in full, but the
    evidence has another order. Returns what the next row needs."""
    base = row.input
    if above is not None and row.input.startswith("same"):
        base = above[0]
        row.input = f"{base}; {row.input}"
    if above is not None and row.source.startswith("same"):
        row.source = above[1] + row.source[len("same"):]
    return base, row.source


def row_mistakes(row):
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.+/-]*", row.id):
        yield f"'{row.id}' is no id (letters, digits, _ . + / -)"
    if row.kind not in KINDS:
        yield f"kind '{row.kind}' is none of {', '.join(KINDS)}"
    if not row.input:
        yield "input is empty"
    if not row.source:
        yield "source is empty"
    if row.kind == "practice" and "no source" not in row.source:
        yield "a row of kind practice says 'common practice, no source'"
    if row.kind not in ("practice", "identity") and "no source" in row.source:
        yield f"a row of kind {row.kind} needs a source"


def read_results(path, rows):
    mistakes = []
    with open(path, encoding="utf-8") as results:
        for line in results:
            name, got, verdict, low, high = line.rstrip("\n").split("\t")
            if name in rows:
                rows[name].take(float(got), verdict, float(low), float(high))
            else:
                mistakes.append(f"{name}: checked, but in no table")
    return mistakes


def number(value):
    return f"{value:.4g}"


def standing(row):
    """How near the edge of what is allowed, in words."""
    away = row.distance()
    if math.isinf(away):
        return "no number"
    if math.isinf(row.low) or math.isinf(row.high):
        inside = away <= 0
        return f"{100 * (-away if inside else away - 1):.3g} % {'inside' if inside else 'beyond'}"
    return f"{away:.2f}"


def cell(text):
    return text.replace("|", "\\|")


def table_lines(rows):
    yield "| row | input | expected | got | of tolerance | verdict | source |"
    yield "|---|---|---|---|---|---|---|"
    for row in sorted(rows, key=lambda r: (-r.distance(), r.id)):
        cells = [f"`{row.id}`", row.input, row.allowed(), number(row.got), standing(row),
                 VERDICTS[row.verdict], row.source]
        yield "| " + " | ".join(cell(c) for c in cells) + " |"


def summary_lines(rows):
    yield "| kind | what it is | rows | pass | known disagreement |"
    yield "|---|---|---|---|---|"
    for kind, what in KINDS.items():
        mine = [r for r in rows if r.kind == kind]
        known = sum(r.verdict == "known" for r in mine)
        yield f"| {kind} | {what} | {len(mine)} | {len(mine) - known} | {known} |"


def evidence_lines(rows):
    yield "# Evidence"
    yield ""
    yield "Written by `tests/published/evidence.py` from the tables in `tests/published` and a run"
    yield "of the tests; do not edit. Only rows of kind *outside* and *limit* are evidence. A known"
    yield "disagreement is a published number that the model misses: it is kept, does not count as"
    yield "passed, and its reason is given. *Of tolerance* is the distance from the expected number"
    yield "as a part of what is allowed (1.00 is the edge), for a limit the distance from it. (m)"
    yield "marks a source that was remembered, not read."
    yield ""
    yield from summary_lines(rows)
    known = [r for r in rows if r.verdict == "known"]
    yield ""
    yield "## Known disagreements"
    yield ""
    if known:
        yield from table_lines(known)
        yield ""
        yield "Why:"
        yield ""
        for row in sorted(known, key=lambda r: (-r.distance(), r.id)):
            yield f"- `{row.id}`: {row.known}"
    else:
        yield "None."
    for kind, what in KINDS.items():
        mine = [r for r in rows if r.kind == kind and r.verdict != "known"]
        if mine:
            yield ""
            yield f"## {kind.capitalize()}: {what}"
            yield ""
            yield from table_lines(mine)


def written_rows():
    """id: (expected, got, verdict, source) as docs/evidence.md has them."""
    found = {}
    try:
        with open(EVIDENCE, encoding="utf-8") as file:
            lines = file.read().split("\n")
    except FileNotFoundError:
        return found
    for line in lines:
        cells = [c.strip().replace("\\|", "|") for c in re.split(r"(?<!\\)\|", line)]
        if len(cells) == 9 and cells[1].startswith("`"):
            found[cells[1].strip("`")] = (cells[3], cells[4], cells[6], cells[7])
    return found


def same_number(text, row):
    try:
        value = float(text)
    except ValueError:
        return False
    if math.isnan(value) or math.isnan(row.got):
        return math.isnan(value) and math.isnan(row.got)
    width = row.high - row.low
    noise = SAME * width if math.isfinite(width) else 0.0
    return abs(value - row.got) <= max(SAME * abs(row.got), noise)


def in_step(rows):
    """What docs/evidence.md does not say as the results do."""
    written = written_rows()
    for name in sorted(set(written) - {r.id for r in rows}):
        yield f"{name}: in docs/evidence.md, but in no table"
    for row in rows:
        if row.id not in written:
            yield f"{row.id}: not in docs/evidence.md"
            continue
        expected, got, verdict, source = written[row.id]
        if (expected, verdict, source) != (row.allowed(), VERDICTS[row.verdict], row.source):
            yield f"{row.id}: docs/evidence.md has another expected number, verdict or source"
        if not same_number(got, row):
            yield f"{row.id}: docs/evidence.md has {got}, got {number(row.got)}"


def check(rows):
    mistakes = []
    for row in rows:
        if row.verdict is None:
            mistakes.append(f"{row.place}: no test checks the row {row.id}")
        elif row.verdict == "fail":
            mistakes.append(f"{row.place}: {row.id} failed")
        elif row.verdict == "unmark":
            mistakes.append(f"{row.place}: {row.id} is met now: remove its mark")
    if not mistakes:
        mistakes = list(in_step(rows))
        if mistakes:
            mistakes.append("to write docs/evidence.md anew: tests/published/evidence.py write "
                            "build/published-results.tsv")
    return mistakes


def write(rows):
    kept = [r for r in rows if r.verdict is not None]
    for row in rows:
        if row.verdict is None:
            print(f"{row.place}: no test checks the row {row.id}: left out", file=sys.stderr)
    new = EVIDENCE + ".new"
    with open(new, "w", encoding="utf-8") as file:
        file.write("\n".join(evidence_lines(kept)) + "\n")
    os.replace(new, EVIDENCE)


def main():
    mode = sys.argv[1] if len(sys.argv) > 1 else ""
    results = sys.argv[2] if len(sys.argv) > 2 else os.environ.get("PR_PUBLISHED_RESULTS", "")
    if mode not in ("tables", "check", "write"):
        print(__doc__, file=sys.stderr)
        return 2
    rows, mistakes = read_tables()
    if mode != "tables":
        if not results:
            print("PR_PUBLISHED_RESULTS is not set (tests/run.sh sets it): skipped")
            return 77
        mistakes += read_results(results, rows) if os.path.exists(results) else []
        if mode == "write":
            write(rows.values())
        else:
            mistakes += check(rows.values())
    for mistake in mistakes[:20] + mistakes[20:][-1:]:
        print(mistake)
    print(f"{len(rows)} rows, {len(mistakes)} mistakes")
    return 1 if mistakes or not rows else 0


if __name__ == "__main__":
    sys.exit(main())
