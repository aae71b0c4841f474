#!/usr/bin/python3
"""Records: bouts are tagged through the program, and what it says was never more is held against
plain SQL over its database, written here; each remark's own query must give its numbers.

Twelve bouts, then one with more of everything. A bout that is not over counts for nothing, nor one
that comes later on the card; fewer than ten bouts make no record here, fewer than three none of
one's own.

usage: check_records.py SCHEMA_DIR RINGTALLY
"""
import json
import pathlib
import random
import sqlite3
import subprocess
import sys
import tempfile

import jsonschema

BOUTS = 14
PADS = {"red": "qwerasdfzv", "blue": "uiopjkl/m"}
WORDS = "none one two three four five six seven eight nine ten eleven twelve".split()


def card():
    """Rho meets another each time, by turns from red and from blue."""
    lines = ["[card]", "id = eve", "title = Eve", "date = 2026-05-01", "venue = Hall"]
    for n in range(1, BOUTS + 1):
        names = ["Rho Tarn", f"Other {chr(64 + n)}"]
        if n % 2 == 0:
            names.reverse()
        lines += [f"[bout {n}]", "rules = kickboxing", f"red.name = {names[0]}", "red.short = R",
                  f"blue.name = {names[1]}", "blue.short = B"]
    return "\n".join(lines) + "\n"


def script(seed, strikes):
    """Two rounds of so many strikes in the mean, half of them landed; then the third begins."""
    rolls = random.Random(seed)
    lines = []
    for round_ in range(3):
        at = 5 + 240 * round_
        lines.append(f"{at}.000 Enter")
        for i in range(strikes if round_ < 2 else 3):
            key = rolls.choice(PADS[rolls.choice(["red", "blue"])])
            if rolls.random() < 0.5:
                key = {"/": "Question"}.get(key, key.upper())
            key = {"/": "Slash"}.get(key, key)
            lines.append(f"{at + 1 + i * 150 / strikes:.3f} {key}")
    return "\n".join(lines) + "\n"


def condition(remark):
    """What is counted, from the sentence's own words."""
    text = remark["text"].split(", a ")[0]
    where = ["official", "outcome = 'landed'"]
    if " threw " in text:
        return "official"
    for words, limbs in (("punches", "%hand"), ("kick", "%leg"), ("knees", "%knee")):
        if words in text:
            where.append(f"limb LIKE '{limbs}'")
    for words, target in (("the head", "head"), ("head kick", "head"), ("the body", "body"),
                          ("body kick", "body"), ("the leg", "leg"), ("low kick", "leg")):
        if words in text:
            where.append(f"target = '{target}'")
    return " AND ".join(where)


def check_remark(db, remark, bout, over):
    numbers = remark["numbers"]
    assert remark["kind"] == "record" and remark["sort"] == "fact"
    rows = [dict(row) for row in db.execute(remark["query"])]
    assert rows == [numbers], (remark, rows)
    what = condition(remark)
    round_ = f"AND round = {remark['round']}" if remark["round"] else ""
    here = db.execute(f"SELECT count(*) FROM strike WHERE {what} AND bout = ? AND corner = ? "
                      f"{round_}", (f"eve/{bout}", remark["corner"])).fetchone()[0]
    assert here == numbers["number"], remark
    most = 0
    for n in over:
        corners = ["red", "blue"]
        if remark["variant"] == "own":
            corners = ["red" if n % 2 else "blue"]
        for corner in corners:
            for r in [1, 2, 3] if remark["round"] else ["round"]:
                count = db.execute(f"SELECT count(*) FROM strike WHERE {what} AND bout = ? AND "
                                   f"corner = ? AND round = {r}", (f"eve/{n}", corner))
                most = max(most, count.fetchone()[0])
    assert most == numbers["former"] < numbers["number"], (remark, most)
    assert numbers["bouts"] == len(over)
    said = WORDS[most] if most <= 12 else str(most)
    bouts = WORDS[len(over)] if len(over) <= 12 else str(len(over))
    best = "personal best" if remark["variant"] == "own" else "record here"
    scope = "a round of " if remark["round"] else ""
    assert f", a {best}: {said} was the most in {scope}{bouts} bouts logged" in remark["text"]


def main():
    schemas, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    schema = json.loads((schemas / "remarks.schema.json").read_text(encoding="utf-8"))
    check = jsonschema.Draft202012Validator(schema)
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder, "bouts.db")

        def run(*args):
            done = subprocess.run([program, "--db", path, *map(str, args)], capture_output=True,
                                  timeout=60, check=False)
            assert done.returncode == 0, (args, done.stderr)
            return done.stdout.decode("utf-8")

        def records(bout):
            found = json.loads(run("remarks", bout, "--format", "json"))
            check.validate(found)
            return [remark for remark in found["remarks"] if remark["kind"] == "record"]

        def tag(bout, strikes, over=True):
            keys = pathlib.Path(folder, "keys")
            keys.write_text(script(bout, strikes), encoding="utf-8")
            run("desk", bout, "--operator", "Iris", "--keys", keys, "--speed", "max", "--headless")
            if over:
                run("sign", bout, "--operator", "Sol Mark")

        file = pathlib.Path(folder, "card.ini")
        file.write_text(card(), encoding="utf-8")
        run("card", "load", file)
        tag(1, 40)
        tag(2, 40)
        tag(3, 120)
        assert records(3) == []  # two bouts of one's own are too few
        tag(4, 160)
        found = records(4)
        db = sqlite3.connect(path)
        db.row_factory = sqlite3.Row
        assert found and {remark["variant"] for remark in found} == {"own"}
        for remark in found:
            check_remark(db, remark, 4, [1, 2, 3])
        for bout in range(5, 12):
            tag(bout, 50)
        tag(12, 300, over=False)  # goes on: counts for nothing
        tag(14, 300)              # comes later
        tag(13, 220)
        over = [*range(1, 12)]
        found = records(13)
        kinds = {(remark["variant"], remark["round"] is None) for remark in found}
        assert ("here", True) in kinds and ("here", False) in kinds, kinds
        for remark in found:
            check_remark(db, remark, 13, over)
        # no sentence twice, and none whose wider one is said as well
        assert len({remark["text"] for remark in found}) == len(found)
        for remark in found:
            wider = [other for other in found if other is not remark and
                     other["corner"] == remark["corner"] and other["round"] == remark["round"] and
                     other["variant"] == remark["variant"] and " strikes" in other["text"] and
                     " landed " in other["text"] and " landed " in remark["text"]]
            assert not wider, (remark, wider)
        # an early bout knows nothing of later ones
        assert records(1) == []
        db.close()


main()
