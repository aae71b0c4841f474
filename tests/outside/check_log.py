#!/usr/bin/python3
"""Plays an example bout through the program, and holds its database and its exported log against
programs that are not ours: the sqlite3 shell adds up the views, the JSON Schema validates every
line of the log, and a second database that loads the log counts the same.

usage: check_log.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import hashlib
import json
import pathlib
import subprocess
import sys
import tempfile

import jsonschema

import chain

CARD = "saltglass-4"


def shell(database, query):
    """The rows that the sqlite3 shell finds."""
    done = subprocess.run(["sqlite3", "-json", database, query], capture_output=True, check=True,
                          timeout=60)
    return json.loads(done.stdout or b"[]")


def check_views(database, bout, counts):
    """The views' sums, made by the shell, against the program's counts of the whole bout."""
    for row in shell(database, f"""
            SELECT corner, sum(attempted) AS attempted, sum(landed) AS landed,
                   sum(blocked) AS blocked, sum(knockdowns) AS knockdowns
            FROM round_total WHERE bout = '{bout}' GROUP BY corner"""):
        side = counts[row.pop("corner")]
        assert row == {key: side[key] for key in row}, (row, side)
    seen = 0
    for row in shell(database, f"""
            SELECT corner, limb, target, count(*) AS attempted, sum(outcome = 'landed') AS landed
            FROM strike WHERE official AND bout = '{bout}' GROUP BY corner, limb, target"""):
        leaf = counts[row["corner"]]["by_limb_target"][row["limb"]][row["target"]]
        assert leaf == {"attempted": row["attempted"], "landed": row["landed"]}, (row, leaf)
        seen += row["attempted"]
    assert seen == counts["red"]["attempted"] + counts["blue"]["attempted"] > 300


def check_lines(schema, text, database):
    lines = text.splitlines()
    validator = jsonschema.Draft202012Validator(schema)
    for line in lines:
        validator.validate(json.loads(line))
    entries = [json.loads(line) for line in lines if "entry" in json.loads(line)]
    assert len(entries) == shell(database, "SELECT count(*) AS n FROM entry")[0]["n"]
    above = text[:text.rindex("\n", 0, -1) + 1].encode("utf-8")
    assert json.loads(lines[-1]) == {"end": len(lines) - 1,
                                     "sha256": hashlib.sha256(above).hexdigest()}
    # The digests, made a second time.
    head, desks = json.loads(lines[0]), [json.loads(line) for line in lines[1:]]
    desks = [desk for desk in desks if "operator" in desk]
    plain = [{key: value for key, value in entry.items() if key != "prior"} for entry in entries]
    linked, heads = chain.chained(head["card"]["id"], head["bout"]["number"], desks, plain)
    assert linked == entries
    seals = [json.loads(line) for line in lines if "seal" in json.loads(line)]
    assert len(seals) == 1
    for seal in seals:
        statement = seal["seal"].encode("utf-8")
        assert hashlib.blake2b(statement, digest_size=32).hexdigest() == seal["digest"]
        stated = {words[1]: words[4] for words in map(str.split, seal["seal"].splitlines())
                  if words[0] == "desk"}
        assert stated == {desk: digest.hex() for desk, digest in heads.items()}
    broken = dict(entries[0], limb="tail")
    assert not validator.is_valid(broken)


def main():
    schemas, examples, program = map(pathlib.Path, sys.argv[1:])
    schema = json.loads((schemas / "log.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    with tempfile.TemporaryDirectory() as folder:
        def run(database, *words):
            done = subprocess.run([program, "--db", f"{folder}/{database}", *words],
                                  capture_output=True, timeout=60)
            assert done.returncode == 0, (words, done.stderr)
            return done.stdout.decode("utf-8")

        bout = f"{CARD}/1"
        run("a.db", "card", "load", examples / "card.ini")
        run("a.db", "desk", bout, "--keys", examples / "bout-1.keys", "--speed", "max",
            "--headless")
        run("a.db", "sign", bout, "--operator", "Ute Visor")
        counts = json.loads(run("a.db", "counts", bout, "--format", "json"))
        check_views(f"{folder}/a.db", bout, counts)

        log = run("a.db", "export-log", bout)
        check_lines(schema, log, f"{folder}/a.db")
        pathlib.Path(folder, "log.jsonl").write_text(log, encoding="utf-8")
        run("b.db", "import-log", f"{folder}/log.jsonl")
        check_views(f"{folder}/b.db", bout, counts)
        assert run("b.db", "export-log", bout) == log
    return 0


if __name__ == "__main__":
    sys.exit(main())
