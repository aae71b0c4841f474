#!/usr/bin/python3
"""Holds a fighter's history against the counts of the same bouts, against plain SQL over the view
`strike` (Python's sqlite3), and against its schema; and tries the ways to name a fighter.

usage: check_history.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import json
import pathlib
import sqlite3
import subprocess
import sys
import tempfile
import unicodedata

import jsonschema

CARD = "saltglass-4"
LATER = "saltglass-5"
RED = "Maëlle Kervadenn"
BLUE = "Quách Thị Diễm Sương"
SAME = ("attempted", "landed", "accuracy", "output_per_min", "blocked", "knockdowns", "by_group",
        "by_limb", "by_target", "by_stance")


def validator(folder):
    schemas = {name: json.loads((folder / f"{name}.schema.json").read_text(encoding="utf-8"))
               for name in ("counts", "history")}
    store = {schema["$id"]: schema for schema in schemas.values()}
    jsonschema.Draft202012Validator.check_schema(schemas["history"])
    return jsonschema.Draft202012Validator(
        schemas["history"],
        resolver=jsonschema.RefResolver(schemas["history"]["$id"], schemas["history"], store))


def check_sum(history):
    for side in ("throws", "takes"):
        for key in ("attempted", "landed", "blocked", "knockdowns"):
            assert history["all"][side][key] == sum(b[side][key] for b in history["bouts"]), key
        for split in ("by_group", "by_limb", "by_target", "by_stance"):
            for name, leaf in history["all"][side][split].items():
                for key in ("attempted", "landed"):
                    assert leaf[key] == sum(b[side][split][name][key] for b in history["bouts"])
    for key in ("rounds", "running_ms"):
        assert history["all"][key] == sum(b[key] for b in history["bouts"])


def check_sql(db, history, name):
    """The same sums from the database itself."""
    rows = db.execute(
        "SELECT s.corner = c.corner, count(*), sum(s.outcome = 'landed'), sum(s.knockdown) "
        "FROM corner AS c JOIN bout AS b ON b.id = c.bout JOIN strike AS s ON s.bout = b.name "
        "WHERE c.name = ? AND s.official GROUP BY 1", (name,)).fetchall()
    assert len(rows) == 2
    for own, attempted, landed, knockdowns in rows:
        side = history["all"]["throws" if own else "takes"]
        assert (side["attempted"], side["landed"], side["knockdowns"]) == (attempted, landed,
                                                                          knockdowns)


def main():
    schemas, examples, program = map(pathlib.Path, sys.argv[1:])
    check = validator(schemas)
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder, "bouts.db")

        def run(*args, code=0):
            done = subprocess.run([program, "--db", path, *args], capture_output=True, timeout=60)
            assert done.returncode == code, (args, done.returncode, done.stderr)
            return (done.stderr if code else done.stdout).decode("utf-8")

        def history(name):
            return json.loads(run("history", name, "--format", "json"))

        card = (examples / "card.ini").read_text(encoding="utf-8")
        later = card.replace(f"id = {CARD}", f"id = {LATER}").replace("2026-12-05", "2027-03-06")
        later = later.replace(f"red.name = {RED}", "red.name = X").replace(
            f"blue.name = {BLUE}", f"blue.name = {RED}").replace(
            "blue.short = Diễm Sương", "blue.short = Kervadenn").replace(
            "red.name = X", f"red.name = {BLUE}")
        for name, text in ((CARD, card), (LATER, later)):
            file = pathlib.Path(folder, f"{name}.ini")
            file.write_text(text, encoding="utf-8")
            run("card", "load", file)
        # the two meet twice: in the other corners the second time
        for bout, script in ((f"{CARD}/1", "bout-1"), (f"{LATER}/1", "bout-2")):
            run("desk", bout, "--operator", "Iris Palm", "--keys", examples / f"{script}.keys",
                "--speed", "max", "--headless")
        db = sqlite3.connect(path)
        for name, other, corners in ((RED, BLUE, ("blue", "red")), (BLUE, RED, ("red", "blue"))):
            found = history(name)
            check.validate(found)
            assert found["fighter"] == name and found["all"]["bouts_logged"] == 2
            assert [b["bout"] for b in found["bouts"]] == [f"{LATER}/1", f"{CARD}/1"]
            assert [b["date"] for b in found["bouts"]] == ["2027-03-06", "2026-12-05"]
            check_sum(found)
            check_sql(db, found, name)
            for bout, corner in zip(found["bouts"], corners):
                assert bout["corner"] == corner and bout["against"] == other
                counts = json.loads(run("counts", bout["bout"], "--format", "json"))
                against = {"red": "blue", "blue": "red"}[corner]
                for key in SAME:
                    assert bout["throws"][key] == counts[corner][key], key
                    assert bout["takes"][key] == counts[against][key], key

        # ways to say a name
        for text in (unicodedata.normalize("NFD", RED), "MAELLE kervadenn", "kervad", "Maëlle K"):
            assert history(text)["fighter"] == RED, text
        assert history("quach thi diem suong")["fighter"] == BLUE
        assert history("желтух")["bouts"][0]["throws"]["accuracy"] is None
        several = run("history", "s", code=1)
        assert " may be " in several and several.count("\n") == 1 and several.count(", ") >= 2
        assert "no fighter is called" in run("history", "Nobody", code=1)
        assert "name is needed" in run("history", "", code=2)
        run("history", RED, "--format", "xml", code=2)

        # side by side: the bout itself is left out
        table = run("card", "show", "--card", CARD, "--history")
        later = next(b for b in history(RED)["bouts"] if b["bout"] == f"{LATER}/1")
        landed = f"{later['throws']['landed']}/{later['throws']['attempted']}"
        assert table.count(landed) == 2, table  # red's own, and what blue takes
        assert "nothing logged of either" in table
        run("card", "show", "--history", "--format", "json", code=2)
        for line in (run("history", RED) + table[table.index(" before "):]).splitlines():
            wide = sum(2 if unicodedata.east_asian_width(c) in "WF" else
                       0 if unicodedata.combining(c) or unicodedata.category(c) == "Mn" else 1
                       for c in line)
            assert wide <= 80, line
        db.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
