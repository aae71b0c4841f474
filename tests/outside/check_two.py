#!/usr/bin/python3
"""What was put right, and by whom: the chain of every correction as table, CSV (csv module) and JSON
(json module, jsonschema), corrections made in the rest on the sheet of the round, two desks at once
added up by the sqlite3 shell, and what sheets say of a signature.

usage: check_two.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import csv
import io
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import jsonschema

BOUT = "saltglass-4/1"
ROUND_MS, REST_MS = 180000, 60000


class Place:
    def __init__(self, folder, program, examples, name="bouts.db"):
        self.folder, self.program, self.examples = pathlib.Path(folder), program, examples
        self.database = self.folder / name

    def run(self, *words, code=0):
        done = subprocess.run([self.program, "--db", self.database, *words], capture_output=True,
                              timeout=120)
        assert done.returncode == code, (words, done.returncode, done.stderr)
        return (done.stderr if code else done.stdout).decode("utf-8")

    def json(self, *words):
        return json.loads(self.run(*words, "--format", "json"))

    def script(self, keys):
        """A key script of "SECONDS KEY" pairs."""
        path = self.folder / "script.keys"
        path.write_text("".join(f"{at:.3f} {key}\n" for at, key in keys), encoding="utf-8")
        return path

    def desk(self, operator, keys, *how):
        path = keys if isinstance(keys, pathlib.Path) else self.script(keys)
        self.run("desk", BOUT, "--operator", operator, *how, "--keys", path, "--speed", "max",
                 "--headless")

    def rows(self, query):
        done = subprocess.run(["sqlite3", "-json", self.database, query], capture_output=True,
                              check=True, timeout=60)
        return json.loads(done.stdout or b"[]")

    def sheet(self, *words):
        return self.run("sheet", BOUT, *words)


def timed(keys, start=1.0, step=0.5):
    """Keys by name, a step apart, in order of time."""
    return [(start + i * step, key) for i, key in enumerate(keys.split())]


def unturned(words):
    """Without the stance, which is said only where it changes."""
    return re.sub(", (orthodox|southpaw|square)", "", words)


def history(document):
    """The corrections of each entry, each from what the one before made of it."""
    chains = {}
    for entry in document["entries"]:
        name = entry["desk"], entry["seq"]
        if entry["act"] == "add":
            chains[name] = []
        else:
            chain = chains[entry["subject"]["desk"], entry["subject"]["seq"]]
            assert entry["operator"] and entry["utc"] and entry["from"], entry
            assert entry["from"] != entry["to"], entry
            if chain:
                assert unturned(entry["from"]) == unturned(chain[-1]["to"]), (chain[-1], entry)
            chain.append(entry)
    return chains


def check_history(place, schema):
    place.run("card", "load", place.examples / "card.ini")
    # W becomes a body shot, then southpaw, then void, then counts again; e and a mark; an inserted
    # strike; a flag, accepted.
    place.desk("ana", timed("Enter W e Space Enter Up Down = d = 5 Delete") + timed(
        "Delete Esc Up + J Esc '", 7, 0.5))
    # Another operator amends an entry of hers once she has left.
    place.desk("ben", timed("Up Down = k = Space ' = ` Esc"))
    plain, whole = place.json("log", BOUT), place.json("log", BOUT, "--all")
    for document in (plain, whole, place.json("log", BOUT, "--all", "--round", "1")):
        schema.validate(document)
    assert not schema.is_valid({**whole, "entries": [{**whole["entries"][-1], "from": None}]})
    chains = history(whole)
    corrections = [entry for chain in chains.values() for entry in chain]
    assert {entry["act"] for entry in corrections} == {"refine", "amend", "void", "restore"}
    assert {entry["operator"] for entry in corrections} == {"ana", "ben"}
    stored = place.rows("SELECT count(*) AS n, sum(act <> 'add') AS corrections FROM entry")[0]
    assert len(corrections) == stored["corrections"]
    assert len(whole["entries"]) == stored["n"]
    assert len(plain["entries"]) == stored["n"] - stored["corrections"]
    assert whole["entries"] != plain["entries"]
    assert [e for e in whole["entries"] if e["act"] == "add"] == plain["entries"]
    longest = max(chains.values(), key=len)
    assert [entry["act"] for entry in longest][:4] == ["amend", "amend", "void", "restore"], longest
    assert longest[0]["from"] == "red left hand head, landed"
    assert longest[0]["to"] == "red right hand body, landed"
    assert (longest[1]["from"], longest[1]["to"]) == ("red right hand body, landed, orthodox",
                                                      "red right hand body, landed, southpaw")
    assert longest[2]["to"] == "void: red right hand body, landed"
    # Corrected, as the official count says it: each refinement made while tagging is none.
    official = sum(entry["corrections"] for entry in plain["entries"] if entry.get("official"))
    assert place.json("counts", BOUT)["corrections"] == official > 4
    assert f"{official} corrections" in place.sheet()

    for words, document in (((), plain), (("--all",), whole)):
        rows = list(csv.DictReader(io.StringIO(place.run("log", BOUT, *words, "--format", "csv"),
                                               newline="")))
        assert len(rows) == len(document["entries"])
        for row, entry in zip(rows, document["entries"]):
            assert None not in row and None not in row.values()
            assert (row["desk"], int(row["seq"])) == (entry["desk"], entry["seq"])
            for key in ("utc", "operator", "kind", "act", "code", "what"):
                assert row[key] == entry[key], (key, row, entry)
            assert (row["round"], row["elapsed_ms"]) == (str(entry["round"]),
                                                         str(entry["elapsed_ms"]))
            for key in ("corner", "limb", "target", "stance", "outcome"):
                if "strike" in entry:
                    assert row[key] == entry["strike"][key]
            subject = entry.get("subject", {"desk": "", "seq": ""})
            assert (row["subject_desk"], row["subject_seq"]) == (subject["desk"],
                                                                 str(subject["seq"]))
            assert row["from"] == entry.get("from", "")
        table = [line for line in place.run("log", BOUT, *words).splitlines()
                 if re.match(r" ?\d", line)]
        assert len(table) == len(document["entries"])
        for line, entry in zip(table, document["entries"]):
            assert entry["what"] in line and f"{entry['desk_name'][:4]}" in line
            assert entry["utc"][11:23] in line
            if "from" in entry:
                assert f"{entry['act']} ana#{entry['subject']['seq']}: {entry['from']} -> " in line
    assert place.run("log", BOUT, "--round", "2").count("\n") == 4, "nothing but the head"
    place.run("log", BOUT, "--round", "9", code=1)
    place.run("log", BOUT, "--format", "xml", code=2)


def check_rest(place):
    """Put right in the rest: on the sheet that prints before the next bell."""
    place.run("card", "load", place.examples / "card.ini")
    bell = 1 + ROUND_MS / 1000
    fight = [(1, "Enter")] + timed("q W e I o", 10, 1)
    place.desk("ana", fight + [(bell + 5, "s"), (bell + 6, "Tab")])
    before = place.json("sheet", BOUT, "--round", "1")
    assert before["red"]["attempted"] == 4 and "1 not looked at yet" in place.sheet()
    # s was W's other name: it is voided, and W amended to a knee to the body.
    rest = timed("Up Delete Esc Up Down Down Down Down Down = g Esc", 0.5, 0.5)
    place.desk("ana", rest)
    assert place.rows("SELECT max(round) AS r FROM entry WHERE kind = 'clock'")[0]["r"] == 1
    after = place.json("sheet", BOUT, "--round", "1")
    assert after["red"]["attempted"] == 3 and after["clock"]["state"] in ("rest", "over")
    text = place.sheet("--round", "1")
    assert "2 corrections" in text and "0 not looked at yet" in text
    amended = [entry for entry in place.json("log", BOUT, "--all")["entries"]
               if entry["act"] == "amend"]
    assert len(amended) == 1 and amended[0]["to"] .startswith("red knee body"), amended
    place.desk("ana", timed("Enter Enter q", 20, 2))  # early in the rest it asks
    assert place.json("counts", BOUT)["clock"]["round"] == 2
    assert place.json("sheet", BOUT, "--round", "1")["red"]["attempted"] == 3


def check_at_once(place):
    """Two processes write at the same time, each its corner; the shell adds up their sum."""
    place.run("card", "load", place.examples / "card.ini")
    red, blue = place.folder / "red.keys", place.folder / "blue.keys"
    keys = {red: "qWeRtAsDf", blue: "yUiOpHjKl"}
    for path, row in keys.items():
        lines = ["0.5 Enter"] if path is red else []
        lines += [f"{2 + i * 0.1:.3f} {row[i % len(row)]}" for i in range(400)]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    running = [subprocess.Popen([place.program, "--db", place.database, "desk", BOUT, "--operator",
                                 name, "--corner", corner, "--keys", path, "--speed", "10",
                                 "--headless"])
               for name, corner, path in (("ana", "red", red), ("ben", "blue", blue))]
    assert [desk.wait(60) for desk in running] == [0, 0]
    counts = place.json("counts", BOUT)
    for row in place.rows("""SELECT corner, sum(attempted) AS attempted, sum(landed) AS landed
                             FROM round_total GROUP BY corner"""):
        side = counts[row.pop("corner")]
        assert row == {key: side[key] for key in row} and row["attempted"] == 400, row
    spans = place.rows("SELECT min(utc_ms) AS a, max(utc_ms) AS b FROM entry GROUP BY desk")
    assert len(spans) == 2 and spans[0]["a"] < spans[1]["b"] and spans[1]["a"] < spans[0]["b"]
    # Whoever came first has the clock.
    roles = {desk["name"]: set(desk["official_for"]) for desk in counts["desks"]}
    assert sorted(roles["ana"] - {"clock"}) == ["red"] and sorted(roles["ben"] - {"clock"}) == [
        "blue"]
    assert ("clock" in roles["ana"]) != ("clock" in roles["ben"])


def check_signature(place):
    """Signed, and then a merge brings more: the sheet says how much the signature does not cover."""
    other = Place(place.folder, place.program, place.examples, "other.db")
    for machine in (place, other):
        machine.run("card", "load", place.examples / "card.ini")
    place.desk("ana", timed("Enter q W i"))
    assert "provisional: not signed" in place.sheet()
    place.run("sign", BOUT, "--operator", "Dora Quill")
    sheets = {name: place.sheet("--format", name) for name in ("text", "markdown", "csv", "json")}
    moment = place.rows("SELECT utc_ms FROM entry WHERE kind = 'sign'")[0]["utc_ms"]
    for text in sheets.values():
        assert re.search(r"signed by Dora Quill, \d{4}-\d\d-\d\dT", text) and "since" not in text
    assert f".{moment % 1000:03d}Z" in sheets["text"]
    place.run("sign", BOUT, "--operator", "Dora Quill", code=1)
    place.run("desk", BOUT, "--operator", "eve", "--keys", place.script([(1, "q")]), "--speed",
              "max", "--headless", code=1)
    assert place.rows("SELECT count(*) AS n FROM entry JOIN desk ON desk.id = entry.desk "
                      "WHERE operator = 'eve'")[0]["n"] == 0

    other.desk("fay", timed("q w e Space"), "--shadow")
    added = int(place.run("merge", other.database).split()[0])
    assert added == 4
    for name in sheets:
        assert "4 entries came in since, not covered by it" in place.sheet("--format", name), name
    assert all(len(line) <= 80 for line in place.sheet().splitlines())
    assert "signed, 4 since" in place.sheet().splitlines()[0]
    assert "4 entries" in place.run("sheet", BOUT, "--format", "html")

    place.run("reopen", BOUT, "--operator", "Dora Quill", code=2)
    place.run("reopen", BOUT, "--operator", "Dora Quill", "--reason", "", code=2)
    place.run("reopen", BOUT, "--operator", "Dora Quill", "--reason", "a merge came in")
    assert "provisional: reopened by Dora Quill" in place.sheet()
    place.run("reopen", BOUT, "--operator", "Dora Quill", "--reason", "again", code=1)
    place.run("sign", BOUT, "--operator", "Dora Quill")
    assert re.search(r"signed by Dora Quill, \S+$", place.sheet(), re.MULTILINE)
    listed = [(entry["code"], entry["operator"]) for entry in place.json("log", BOUT)["entries"]
              if entry["kind"] == "sign"]
    assert listed == [("sign", "Dora Quill"), ("reopen", "Dora Quill"), ("sign", "Dora Quill")]


def check_unknown(place):
    """A strike that the rules do not know, from elsewhere, is among what wants a look."""
    place.run("card", "load", place.examples / "card.ini")
    place.desk("ana", timed("Enter q W i"))
    assert "0 not looked at yet" in place.sheet()
    subprocess.run(["sqlite3", place.database,
                    "INSERT INTO entry SELECT 100 + arrival, desk, seq + 100, utc_ms, at_ms, kind, act, code, "
                    "subject_desk, subject_seq, undoes_desk, undoes_seq, round, elapsed_ms, "
                    "off_clock, review, accepted, unsure, corner, 'left_elbow', target, stance, position, "
                    "outcome, spinning, jumping, knockdown, value, text, NULL FROM entry "
                    "WHERE limb = 'left_leg'"], check=True, timeout=60)
    text = place.sheet()
    assert "1 not looked at yet" in text and "not in the rules" in text


def check_settled(place):
    """A settlement is an entry like any other: `log --all` has the other desk's word for it."""
    place.run("card", "load", place.examples / "card.ini")
    place.desk("ana", timed("Enter q W e"))
    place.desk("ben", timed("Enter q D e"), "--shadow")
    pair = place.json("agree", BOUT, "--desk", "ana", "--desk", "ben")["pairs"][0]
    assert len(pair["differences"]) == 1
    place.desk("cid", timed("F6 Right"))
    found = [entry for entry in place.json("log", BOUT, "--all")["entries"]
             if entry["operator"] == "cid" and entry["act"] != "add"]
    assert len(found) == 1 and found[0]["from"] == "red left hand head, landed"
    assert found[0]["to"] == "red right hand body, landed, accepted"
    leaf = place.json("counts", BOUT)["red"]["by_limb_target"]["right_hand"]["body"]
    assert leaf == {"attempted": 1, "landed": 1}


def main():
    schemas, examples, program = map(pathlib.Path, sys.argv[1:])
    schema = json.loads((schemas / "log-list.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for check in (check_history, check_rest, check_at_once, check_signature, check_unknown,
                  check_settled):
        with tempfile.TemporaryDirectory() as folder:
            place = Place(folder, program, examples)
            check(place, *([validator] if check is check_history else []))
    return 0


if __name__ == "__main__":
    sys.exit(main())
