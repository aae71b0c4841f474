#!/usr/bin/python3
"""Hands the remarks to readers that are not ours.

JSON: the json module and the jsonschema package with schema/remarks.schema.json; damaged documents
must be refused. Text: 80 columns, no figure that is none. With the program at hand the example
bouts are played through it, and each query is run by the sqlite3 module on the database that the
program wrote: its one row must be the numbers of the remark.

usage: check_remarks.py SCHEMA_DIR EXAMPLES_DIR REMARKS_DOCUMENT [RINGTALLY]
"""
import copy
import json
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile

import jsonschema


def refuse_constant(name):
    raise ValueError(f"{name} is no JSON")


def parse(text):
    assert text.count("\n") == 1
    return json.loads(text, parse_constant=refuse_constant)


def validator(folder):
    schema = json.loads((folder / "remarks.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def check_text(text, document):
    lines = text.splitlines()
    for remark in document["remarks"]:
        assert remark["text"] in lines, remark["text"]
    for line in lines:
        assert not re.search(r"\b(nan|inf)\b", line, re.IGNORECASE), line
        assert len(line) <= 120, line


WORDS = "no one two three four five six seven eight nine ten eleven twelve".split()


def check_sentence(remark):
    """Every number of a sentence but clock and rates stands among its numbers."""
    text = re.sub(r"\b\d+:\d\d\b|\b\w+ seconds? into", "", remark["text"])
    said = {int(n) for n in re.findall(r"(?<![\d.:])\d+(?![\d:]|\.\d)", text)}
    if remark["kind"] in ("run", "knockdown"):
        said |= {WORDS.index(n) for n in re.findall("|".join(WORDS), text) if n not in ("no", "one")}
    known = set(remark["numbers"].values()) | {remark["round"], remark["through_round"]}
    assert said <= known, (remark["text"], remark["numbers"])
    rates = [float(n) for n in re.findall(r"\d+\.\d", text)]
    if remark["kind"] == "pace":
        real = [n * 60000 / ms for n, ms in zip(remark["numbers"].values(), remark["running_ms"])]
        assert all(abs(a - b) <= 0.0500001 for a, b in zip(rates, real, strict=True)), remark
    assert len(text.split()) <= 28, text  # six seconds or so
    assert (remark["sort"] == "finding") == (remark["evidence"] is not None)


def check_bites(check, good):
    """Every key of a remark taken away, every number made text or negative is an error."""
    def refused(change):
        bad = copy.deepcopy(good)
        change(bad)
        assert not check.is_valid(bad), "a damaged document passed"
    for key in good:
        refused(lambda bad: bad.pop(key))
    sorts = {(remark["kind"], remark["variant"]): remark for remark in good["remarks"]}
    good = {**good, "remarks": list(sorts.values())}
    assert check.is_valid(good)
    for i, remark in enumerate(good["remarks"]):
        for key in remark:
            refused(lambda bad: bad["remarks"][i].pop(key))
        for key in remark["numbers"]:
            refused(lambda bad: bad["remarks"][i]["numbers"].pop(key))
            refused(lambda bad: bad["remarks"][i]["numbers"].update({key: -1}))
            refused(lambda bad: bad["remarks"][i]["numbers"].update({key: 0.5}))
        refused(lambda bad: bad["remarks"][i]["numbers"].update(surprise=1))
        refused(lambda bad: bad["remarks"][i].update(surprise=1))
        refused(lambda bad: bad["remarks"][i].update(kind="dominance"))
        refused(lambda bad: bad["remarks"][i].update(corner="none"))
        if remark["evidence"]:
            refused(lambda bad: bad["remarks"][i]["evidence"].update(low=0, high=0))
            refused(lambda bad: bad["remarks"][i].update(sort="fact"))
            refused(lambda bad: bad["remarks"][i].update(evidence=None))


def check_documents(check, program):
    def document(*words):
        done = subprocess.run([program, *map(str, words)], check=True, capture_output=True)
        return done.stdout.decode("utf-8")
    kinds = set()
    for bout in ("0", "3", "5", "9", "bout-1.keys", "bout-2.keys"):
        whole = parse(document(bout, 0, 0, "json"))
        check.validate(whole)
        assert whole["found"] == len(whole["remarks"])
        check_text(document(bout, 0, 0, "text"), whole)
        for remark in whole["remarks"]:
            check_sentence(remark)
            kinds.add(remark["kind"])
        for round_ in (1, 2, 3, 9):
            part = parse(document(bout, round_, 0, "json"))
            check.validate(part)
            assert part["remarks"] == [c for c in whole["remarks"] if c["round"] == round_]
        top = parse(document(bout, 0, 3, "json"))
        assert top["remarks"] == whole["remarks"][:3] and top["found"] == whole["found"]
        if bout in ("0", "5", "bout-2.keys"):
            check_bites(check, whole)
    assert len(kinds) >= 10, kinds
    empty = parse(document("0", 0, 0, "json"))
    assert empty["remarks"] == [] and empty["compared"] == 0


def check_program(check, program, examples):
    with tempfile.TemporaryDirectory() as folder:
        path = f"{folder}/bouts.db"

        def run(*words):
            done = subprocess.run([program, "--db", path, *map(str, words)], check=True,
                                  capture_output=True, timeout=60)
            return done.stdout.decode("utf-8")
        run("card", "load", examples / "card.ini")
        for bout in (1, 2):
            run("desk", bout, "--headless", "--speed", "max", "--operator", "ana", "--keys",
                examples / f"bout-{bout}.keys")
            found = parse(run("remarks", bout, "--format", "json"))
            check.validate(found)
            assert len(found["remarks"]) > 10
            base = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
            base.row_factory = sqlite3.Row
            for remark in found["remarks"]:
                rows = [dict(row) for row in base.execute(remark["query"])]
                assert rows == [remark["numbers"]], remark
            base.close()
            top = parse(run("remarks", bout, "--format", "json", "--top", 2, "--round", 3))
            assert len(top["remarks"]) <= 2 and {c["round"] for c in top["remarks"]} == {3}
            check_text(run("remarks", bout), found)


def main():
    schemas, examples = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    check = validator(schemas)
    check_documents(check, sys.argv[3])
    if len(sys.argv) > 4:
        check_program(check, sys.argv[4], examples)
    return 0


sys.exit(main())
