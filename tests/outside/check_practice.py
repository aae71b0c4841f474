#!/usr/bin/python3
"""Simulated trainees answer the calls of `practice`, with faults that are known: what comes out must be those.
Eyes: a trainee's keys are held against a reference. All documents against the schema; bouts stay untouched.

usage: check_practice.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import json
import pathlib
import random
import sqlite3
import subprocess
import sys
import tempfile

import jsonschema

BOUT = "saltglass-4/1"
SWAP = dict(zip("weioWEIO", "ewoiEWOI"))  # the other hand, same target


def main():
    schemas, examples, program = map(pathlib.Path, sys.argv[1:])
    schema = json.loads((schemas / "practice.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    dice = random.Random(14)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        database = folder / "bouts.db"

        def run(*words, code=0):
            done = subprocess.run([program, "--db", database, *words], capture_output=True, timeout=60)
            assert done.returncode == code, (words, done.returncode, done.stderr)
            return (done.stderr if code else done.stdout).decode("utf-8")

        def report(name):
            document = json.loads(run("practice", "--report", name, "--format", "json"))
            jsonschema.validate(document, schema)
            return document

        def calls(level, seed, *more):
            lines = run("practice", "--level", level, "--seed", str(seed), "--calls", *more).splitlines()
            return [(float(line.split()[0]), line.split()[1]) for line in lines]

        def answer(name, level, seed, keys):
            script = folder / "answers.keys"
            script.write_text("".join(f"{at:.3f} {key}\n" for at, key in sorted(keys)), encoding="utf-8")
            return run("practice", "--level", level, "--seed", str(seed), "--keys", script, "--operator", name)

        # The same seed calls the same; the rhythm is what is said of it, both corners together.
        assert calls("bout", 1) == calls("bout", 1) != calls("bout", 2)
        for level, low, high in (("slow", 0.45, 0.55), ("bout", 0.72, 0.95), ("burst", 1.1, 1.8)):
            rates = [len(calls(level, seed)) / 116.5 for seed in range(8)]
            assert low < sum(rates) / len(rates) < high, (level, rates)
        assert {key.lower() for _, key in calls("bout", 3, "--drill", "we")} == {"w", "e"}

        # Perfect fingers are ready for everything; one session alone is not enough.
        for session in range(2):
            assert report("pia")["ready_for"] is None
            called = calls("burst", session)
            answer("pia", "burst", session, [(at + 0.35, key) for at, key in called])
        document = report("pia")
        assert document["ready_for"] == "burst"
        newest = document["sessions"][0]
        assert newest["called"] == len(called)
        assert abs(newest["answered"] - len(called)) < 0.5 and abs(newest["right_first"] - len(called)) < 0.5
        assert abs(newest["reaction_ms"] - 350) < 2 and newest["not_called"] < 0.5
        assert document["drills"] == []

        # Poor ones: a quarter missed, w for e and so on in a third of those keys, late.
        missed = swapped = 0
        for session in range(2):
            keys = []
            for at, key in calls("bout", 50 + session):
                if dice.random() < 0.25:
                    missed += 1
                    continue
                if key in SWAP and dice.random() < 0.35:
                    key = SWAP[key]
                    swapped += 1
                keys.append((at + max(0.25, dice.gauss(0.7, 0.15)), key))
            text = answer("paul", "bout", 50 + session, keys)
            assert all(len(line) <= 80 for line in text.splitlines())
        document = report("paul")
        sessions = document["sessions"]
        assert document["ready_for"] is None and len(sessions) == 2
        assert abs(sum(s["called"] - s["answered"] for s in sessions) - missed) < 4
        assert abs(sum(s["wrong"]["limb"] for s in sessions) - swapped) < 4
        assert all(abs(s["reaction_ms"] - 700) < 60 for s in sessions)
        hit = [cell for cell in document["cells"] if cell["hit"] and cell["hit"]["limb"] != cell["limb"]]
        assert abs(sum(cell["count"] for cell in hit) - swapped) < 6
        weakest = document["drills"][0]
        assert len(document["drills"]) == 3 and weakest["right"] < weakest["called"]
        assert "ready for: nothing yet" in run("practice", "--report", "paul")
        page = run("practice", "--report", "paul", "--format", "html")
        assert page.count("<polyline") == 2 and "Ready for: nothing yet" in page

        # Corrected at once: right, and not at first.
        keys = []
        for number, (at, key) in enumerate(calls("slow", 9)):
            if number % 5 == 0:
                keys += [(at + 0.4, "t" if key.lower() != "t" else "r"), (at + 0.7, "Backspace"), (at + 0.9, key)]
            else:
                keys.append((at + 0.4, key))
        answer("cora", "slow", 9, keys)
        newest = report("cora")["sessions"][0]
        assert newest["right_first"] < newest["called"] - 4 and newest["corrected"] > 4, newest
        assert newest["answered"] > newest["called"] - 1.5

        # Thresholds of one's own.
        own = folder / "config" / "ringtally" / "practice"
        own.mkdir(parents=True)
        bar = "[{}]\nhad = 60\nfirst = 40\nreaction_ms = 900\nsessions = 2\n"
        (own / "practice.ini").write_text("".join(map(bar.format, ("slow", "bout", "burst"))), encoding="utf-8")
        done = subprocess.run([program, "--db", database, "practice", "--report", "paul"], capture_output=True,
                              env={"XDG_CONFIG_HOME": str(folder / "config"), "LC_ALL": "C.UTF-8"}, timeout=60)
        assert b"ready for: bout" in done.stdout, done
        (own / "practice.ini").write_text("[slow]\nhad = 160\n", encoding="utf-8")
        done = subprocess.run([program, "--db", database, "practice", "--report", "paul"], capture_output=True,
                              env={"XDG_CONFIG_HOME": str(folder / "config"), "LC_ALL": "C.UTF-8"}, timeout=60)
        assert done.returncode == 1 and b"practice.ini:2: had = 160" in done.stderr, done

        # Eyes: the same keys as the reference's, and then with every ninth missing.
        assert not database.exists(), "practice makes no database of bouts"
        run("card", "load", examples / "card.ini")
        script = examples / "bout-1.keys"
        run("desk", BOUT, "--operator", "ana", "--shadow", "--keys", script, "--speed", "max", "--headless")
        before = run("log", BOUT, "--format", "json")
        eyes = ("practice", "eyes", BOUT, "--reference", "ana", "--recording", "none.mkv", "--operator", "eva")
        run(*eyes, "--keys", script)
        newest = report("eva")["sessions"][0]
        assert newest["kind"] == "eyes" and newest["called"] > 300
        assert newest["answered"] > newest["called"] - 1 and newest["right_first"] > newest["called"] * 0.9, newest
        lines = script.read_text(encoding="utf-8").splitlines(keepends=True)
        pad = [i for i, line in enumerate(lines) if line[0].isdigit() and len(line.split()[1]) == 1
               and line.split()[1].lower() in "qwertyuiopasdfghjklzvbnm"]
        for i in pad[::9]:
            lines[i] = ""
        thinned = folder / "thinned.keys"
        thinned.write_text("".join(lines), encoding="utf-8")
        run(*eyes, "--keys", thinned)
        newest = report("eva")["sessions"][0]
        assert abs(newest["called"] - newest["answered"] - newest["called"] / 9) < 6, newest
        assert run("log", BOUT, "--format", "json") == before, "practice touches no bout"
        with sqlite3.connect(folder / "practice.db") as store:
            assert store.execute("SELECT count(*) FROM session").fetchone() == (7,)

        run("practice", "toes", code=2)
        run("practice", "eyes", BOUT, code=2)
        run("practice", "--drill", "1", code=2)
        run("practice", "--level", "hard", code=2)
        assert "no desk of that name" in run("practice", "eyes", BOUT, "--reference", "nobody", "--recording", "x",
                                             code=1)
    return 0


if __name__ == "__main__":
    sys.exit(main())
