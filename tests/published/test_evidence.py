#!/usr/bin/env python3
"""Runs evidence.py on small tables: it must refuse what it is there to refuse."""

import os
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
HEAD = "id\tinput\texpected\ttolerance\tkind\tsource\tknown\n"
ROWS = (HEAD + "far\tx|y\t10\t1 %\toutside\tbook, p. 1\ttoo simple a model\n"
        "near\tx\t12.65\t0.03\toutside\tbook, p. 2\n"
        "mark\tx\t>= 9.6\t\tlimit\tstandard\n"
        "rule\tx\t5\t1\tpractice\tcommon practice, no source\n"
        "more\tsame at 2\t1\t1\toutside\tsheet\n"
        "most\tsame, but cold\t1\t1\toutside\tsame, p. 3\n")
RESULTS = ("near\t12.66\tpass\t12.62\t12.68\nmark\t10.1\tpass\t9.6\tinf\n"
           "far\t12\tknown\t9.9\t10.1\nrule\t5.5\tpass\t4\t6\n"
           "more\t1\tpass\t0\t2\nmost\t1\tpass\t0\t2\n")


class Tree:
    def __init__(self, folder):
        self.published = os.path.join(folder, "tests", "published")
        self.docs = os.path.join(folder, "docs")
        os.makedirs(self.published)
        os.makedirs(self.docs)
        shutil.copy(os.path.join(HERE, "evidence.py"), self.published)

    def run(self, mode, table=ROWS, results=RESULTS):
        with open(os.path.join(self.published, "topic.tsv"), "w", encoding="utf-8") as file:
            file.write(table)
        path = os.path.join(self.docs, "results")
        with open(path, "w", encoding="utf-8") as file:
            file.write(results)
        done = subprocess.run([sys.executable, os.path.join(self.published, "evidence.py"), mode,
                               path], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)
        return done.returncode, done.stdout.decode()

    def evidence(self):
        with open(os.path.join(self.docs, "evidence.md"), encoding="utf-8") as file:
            return file.read()


failed = 0


def expect(what, condition, shown):
    global failed
    if not condition:
        print(f"{what}:\n{shown}")
        failed += 1


def refused(tree, what, mode, said, **changed):
    status, out = tree.run(mode, **changed)
    expect(what, status == 1 and said in out, out)


def test_check(tree):
    refused(tree, "no evidence yet", "check", "near: not in docs/evidence.md")
    expect("write", tree.run("write")[0] == 0, "failed")
    text = tree.evidence()
    expect("in step", tree.run("check")[0] == 0, tree.run("check")[1])
    expect("worst first", text.index("`far`") < text.index("`near`") < text.index("`mark`"), text)
    expect("reason given", "- `far`: too simple a model" in text, text)
    expect("counted apart", "| 4 | 3 | 1 |" in text, text)
    expect("same spelt out", "| x; same, but cold |" in text and
           "| sheet, p. 3 |" in text, text)
    expect("limit", "| >= 9.6 | 10.1 | 5.21 % inside | pass |" in text, text)
    expect("share of tolerance", "| 12.65 ± 0.03 | 12.66 | 0.33 | pass |" in text, text)
    refused(tree, "row not checked", "check", "no test checks the row near",
            results=RESULTS.replace("near\t12.66\tpass\t12.62\t12.68\n", ""))
    refused(tree, "no results at all", "check", "no test checks the row near", results="")
    refused(tree, "row failed", "check", "mark failed", results=RESULTS.replace(
        "10.1\tpass", "9.1\tfail"))
    refused(tree, "worst of two checks", "check", "mark failed",
            results=RESULTS + "mark\t9.1\tfail\t9.6\tinf\n")
    refused(tree, "known row met", "check", "far is met now",
            results=RESULTS.replace("12\tknown", "10\tunmark"))
    refused(tree, "another result", "check", "near: docs/evidence.md has 12.66",
            results=RESULTS.replace("12.66", "12.62"))
    refused(tree, "another expectation", "check", "near: docs/evidence.md has another",
            table=ROWS.replace("0.03", "0.04"))
    refused(tree, "row gone", "check", "rule: in docs/evidence.md, but in no table",
            table=ROWS[:ROWS.index("rule")] + ROWS[ROWS.index("more"):],
            results=RESULTS[:RESULTS.index("rule")] + RESULTS[RESULTS.index("more"):])
    status, out = tree.run("check", results=RESULTS.replace("12.66", "12.660001"))
    expect("last digits may differ", status == 0, out)


def test_tables(tree):
    status, out = tree.run("tables")
    expect("good table", status == 0, out)
    line = "a\tx\t1\t1\toutside\tbook\n"
    for what, table, said in [
            ("no head", line, "the columns must be"),
            ("same id", HEAD + line + line, "id a stands at topic.tsv:2 already"),
            ("kind", HEAD + line.replace("outside", "nice"), "kind 'nice'"),
            ("source", HEAD + line.replace("book", " "), "source is empty"),
            ("few cells", HEAD + "a\tx\t1\t1\toutside\n", "5 cells"),
            ("many cells", HEAD + line.replace("\n", "\tb\tc\n"), "8 cells"),
            ("id", HEAD + line.replace("a\t", "a b\t"), "is no id"),
            ("practice", HEAD + line.replace("outside", "practice"), "says 'common practice"),
            ("sourceless", HEAD + line.replace("book", "no source"), "needs a source")]:
        refused(tree, what, "tables", said, table=table)


def main():
    for test in (test_check, test_tables):
        with tempfile.TemporaryDirectory() as folder:
            test(Tree(folder))
    print(f"{failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
