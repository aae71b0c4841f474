#!/usr/bin/python3
"""The union of databases through the program itself: its laws on random logs, what it refuses, and
kill -9 at random moments. Exports are compared with their lines in order, counts as documents,
untouched databases by the sqlite3 shell's dump.

usage: check_merge.py RINGTALLY
"""
import hashlib
import itertools
import json
import pathlib
import random
import sqlite3
import subprocess
import sys
import tempfile
import time

import chain

CARD = {"id": "quay-7", "title": "Quay Seven", "date": "2026-03-07", "venue": "Old Rope Hall"}
BOUTS = (1, 2)
LIMBS = ("left_hand", "right_hand", "knee", "left_leg", "right_leg")
TARGETS = ("head", "body", "leg")
KILLS = 50


def fighter(name):
    return {"name": name, "short": name[:12], "stance": "orthodox", "from": "", "record": ""}


def head(bout):
    return {"ringtally": "log", "version": 2, "card": CARD,
            "bout": {"number": bout, "weight": "", "rules": "kickboxing", "rounds": 0, "terms": "",
                     "referee": "", "judges": [], "red": fighter(f"Red {bout}"),
                     "blue": fighter(f"Blue {bout}")}}


def sealed(objects):
    """The portable text of these objects, with its last line."""
    lines = "".join(json.dumps(item, ensure_ascii=False, separators=(",", ":")) + "\n"
                    for item in objects)
    end = {"end": len(objects), "sha256": hashlib.sha256(lines.encode("utf-8")).hexdigest()}
    return lines + json.dumps(end) + "\n"


def random_strike(rng):
    outcome = rng.choice(("attempted", "landed", "blocked"))
    strike = {"corner": rng.choice(("red", "blue")), "limb": rng.choice(LIMBS),
              "target": rng.choice(TARGETS), "stance": rng.choice(("orthodox", "southpaw")),
              "outcome": outcome}
    if outcome == "landed" and rng.random() < 0.05:
        strike["knockdown"] = True
    return strike


def random_bout(rng, count):
    """Desk lines and, by desk, entries: handovers, own and foreign corrections, voids, restores."""
    desks = []
    for i in range(4):
        uid = f"{rng.getrandbits(128):032x}"
        desks.append({"desk": uid, "operator": f"tagger {i}", "name": f"tagger {i}",
                      "corners": "both", "shadow": i == 2, "opened_ms": 1700000000000 + i})
    desks[3]["continues"] = desks[1]["desk"]
    logs = {desk["desk"]: [] for desk in desks}
    moments = dict.fromkeys(logs, 0)
    strikes, now = [], 1700000000000
    for i in range(count):
        uid = rng.choice(desks)["desk"] if i > 1 else desks[i]["desk"]
        now += rng.randrange(4) * 40
        moments[uid] = max(moments[uid], now + rng.randrange(3) * 60)
        entry = {"entry": len(logs[uid]) + 1, "desk": uid, "utc_ms": moments[uid],
                 "at_ms": moments[uid], "kind": "strike", "act": "add",
                 "round": 1 + i * 3 // count, "elapsed_ms": rng.randrange(180000),
                 "position": "open"}
        what = rng.random()
        if i < 2 or what < 0.04:
            entry |= {"kind": "official",
                      "code": ("red", "blue")[i] if i < 2 else rng.choice(("red", "blue"))}
        elif what < 0.35 and strikes:
            about = rng.choice(strikes)
            entry |= random_strike(rng)
            entry |= {"act": rng.choice(("refine", "amend", "void", "restore")),
                      "subject": {"desk": about["desk"], "seq": about["entry"]}}
        else:
            entry |= random_strike(rng)
            strikes.append(entry)
        logs[uid].append(entry)
    return desks, logs


def portable(bout, desks, logs, upto):
    """The log as one machine has it: of each desk the entries up to a number."""
    kept = [entry for desk in desks for entry in logs[desk["desk"]][:upto[desk["desk"]]]]
    kept.sort(key=lambda entry: (entry["utc_ms"], entry["desk"], entry["entry"]))
    return sealed([head(bout), *desks, *chain.chained(CARD["id"], bout, desks, kept)[0]])


class Place:
    """A folder of databases, and the program on them."""

    def __init__(self, folder, program):
        self.folder, self.program, self.number = pathlib.Path(folder), program, 0

    def run(self, database, *words, code=0):
        done = subprocess.run([self.program, "--db", database, *words], capture_output=True,
                              timeout=60)
        assert done.returncode == code, (words, done.returncode, done.stderr)
        return (done.stderr if code else done.stdout).decode("utf-8")

    def new(self):
        self.number += 1
        return self.folder / f"{self.number}.db"

    def copy(self, database):
        """A second one with the same content, whatever its journal says."""
        twin = self.new()
        with sqlite3.connect(database) as source, sqlite3.connect(twin) as target:
            source.backup(target)
        return twin

    def load(self, database, text, code=0):
        path = self.folder / "in.jsonl"
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return self.run(database, "import-log", path, code=code)

    def merged(self, first, *others):
        database = self.copy(first)
        for other in others:
            self.run(database, "merge", other)
        return database

    def dump(self, database):
        return subprocess.run(["sqlite3", database, ".dump"], capture_output=True, check=True,
                              timeout=60).stdout

    def content(self, database):
        """What is in it, whatever the order in which it came."""
        found = []
        for bout in BOUTS:
            name = f"{CARD['id']}/{bout}"
            lines = self.run(database, "export-log", name).splitlines()
            counts = json.loads(self.run(database, "counts", name, "--format", "json"))
            for key in ("as_of", "newest_entry_age_ms", "desks", "clock", "running_ms"):
                counts.pop(key)
            for corner in ("red", "blue"):
                counts[corner].pop("output_per_min")
            found.append((sorted(lines[:-1]), counts))
        return found


def check_laws(place, rng):
    """Idempotent, commutative, associative; and as if one machine had written everything."""
    bouts = {bout: random_bout(rng, rng.randrange(60, 160)) for bout in BOUTS}
    databases = []
    most = {bout: dict.fromkeys(logs, 0) for bout, (_, logs) in bouts.items()}
    for _ in range(3):
        databases.append(place.new())
        for bout, (desks, logs) in bouts.items():
            upto = {uid: rng.randrange(len(entries) + 1) for uid, entries in logs.items()}
            most[bout] = {uid: max(most[bout][uid], upto[uid]) for uid in logs}
            place.load(databases[-1], portable(bout, desks, logs, upto))
    a, b, c = databases
    whole = place.new()
    for bout, (desks, logs) in bouts.items():
        place.load(whole, portable(bout, desks, logs, most[bout]))
    expected = place.content(whole)
    for order in itertools.permutations(databases):
        assert place.content(place.merged(*order)) == expected, "commutative"
    assert place.content(place.merged(a, place.merged(b, c))) == expected, "associative"
    assert place.content(place.merged(place.merged(a, b), c)) == expected, "associative"
    once = place.merged(a, b)
    before = place.dump(once)
    for other in (b, a, once):
        assert place.run(once, "merge", other).startswith("0 entries new"), "idempotent"
    assert place.dump(once) == before, "idempotent, to the byte"
    carried = place.copy(a)  # the same by the portable text
    for other in (c, b, c):
        for bout in BOUTS:
            path = place.folder / "out.jsonl"
            place.run(other, "export-log", f"{CARD['id']}/{bout}", "-o", path)
            place.load(carried, path.read_bytes())
    assert place.content(carried) == expected, "merge and import are one"


def refused(place, database, words, *parts):
    """One line that says all this, and nothing changed."""
    before = place.dump(database)
    said = place.run(database, *words, code=1)
    assert said.count("\n") == 1 and said.endswith("\n"), said
    assert all(part in said for part in parts), (parts, said)
    assert place.dump(database) == before
    return said


def check_refusals(place, rng):
    desks, logs = random_bout(rng, 120)
    whole = {uid: len(entries) for uid, entries in logs.items()}
    text = portable(1, desks, logs, whole)
    lines = text.splitlines(keepends=True)
    database, path = place.new(), place.folder / "bad.jsonl"
    place.load(database, portable(1, desks, logs, {uid: 20 for uid in logs}))

    # A sequence number already taken, by an import and by a merge: both versions are named.
    taken = json.loads(json.dumps(logs))
    victim = next(entry for entry in taken[desks[0]["desk"]][:20] if entry["kind"] == "strike")
    was, now = victim["target"], TARGETS[(TARGETS.index(victim["target"]) + 1) % 3]
    victim["target"] = now
    path.write_text(portable(1, desks, taken, whole), encoding="utf-8")
    about = (f"entry {victim['entry']} of desk {victim['desk']}", f"here target {was}",
             f"target {now}")
    refused(place, database, ("import-log", path), f"in {path}", *about)
    other = place.new()
    place.run(other, "import-log", path)
    refused(place, database, ("merge", other), f"in {other}", *about)

    # Cut anywhere; edited anywhere.
    for cut in [0, 1, len(text) - 2] + [rng.randrange(len(text) - 1) for _ in range(60)]:
        path.write_bytes(text.encode("utf-8")[:cut])
        refused(place, database, ("import-log", path), str(path))
    for number in range(1, len(lines) - 1):
        edited = list(lines)
        what = rng.randrange(3)
        if what == 0:
            del edited[number]
        elif what == 1:
            edited[number] = edited[number].replace("17", "18", 1)
        else:
            edited.insert(number, edited[number])
        if edited != lines:
            path.write_text("".join(edited), encoding="utf-8")
            refused(place, database, ("import-log", path), str(path))
    path.write_text(text.replace('"elapsed_ms":1', '"elapsed_ms":2', 1), encoding="utf-8")
    assert "SHA-256" in refused(place, database, ("import-log", path), str(path))

    # What is no log, or somebody else's.
    for bad in (b"", b"\0" * 4096, b"{}\n", b'{"ringtally":"cat"}\n', b"\xff\xfe\n", b"GIF89a",
                text.encode("utf-16")):
        path.write_bytes(bad)
        refused(place, database, ("import-log", path), str(path))
        refused(place, database, ("merge", path), str(path))
    refused(place, database, ("import-log", place.folder), str(place.folder))
    foreign = place.folder / "foreign.db"
    with sqlite3.connect(foreign) as others:
        others.execute("CREATE TABLE entry (desk, seq)")
    refused(place, database, ("merge", foreign), "another program")
    refused(place, database, ("merge", place.folder / "none.db"), "no such database")
    damaged = place.copy(other)
    with open(damaged, "r+b") as file:
        file.seek(4096)
        file.write(b"\x5a" * 8192)
    refused(place, database, ("merge", damaged), str(damaged))
    # Nor is a database made for a file that is none.
    place.run(place.folder / "fresh.db", "import-log", path, code=1)
    place.run(place.folder / "fresh.db", "merge", foreign, code=1)
    assert not (place.folder / "fresh.db").exists()
    # The log goes on as if nothing had been.
    place.load(database, text)


def check_kills(place, rng):
    """Each bout as before or after, at whatever moment it dies."""
    target, source = place.new(), place.new()
    half = None
    desks, logs = random_bout(rng, 400)
    place.load(target, portable(1, desks, logs, {uid: 30 for uid in logs}))
    for bout in (1, 2):
        if bout == 2:
            desks, logs = random_bout(rng, 6000)
        place.load(source, portable(bout, desks, logs, {uid: 10**6 for uid in logs}))
        if bout == 1:
            part = place.copy(target)
            place.run(part, "merge", source)
            half = place.dump(part)
    before = place.dump(target)
    finished = place.copy(target)
    begun = time.monotonic()
    place.run(finished, "merge", source)
    took = time.monotonic() - begun
    after = place.dump(finished)
    outcomes = {before: 0, half: 0, after: 0}
    killed = tries = 0
    while killed < KILLS or not (outcomes[before] and outcomes[after]):
        tries += 1
        assert tries < 10 * KILLS, "it is never met under way"
        database = place.copy(target)
        with subprocess.Popen([place.program, "--db", database, "merge", source],
                              stdout=subprocess.DEVNULL) as merging:
            try:
                merging.wait(rng.uniform(0, took * 1.1))
            except subprocess.TimeoutExpired:
                merging.kill()
                killed += merging.wait() == -9
        done = place.dump(database)
        assert done in outcomes, "neither before nor after nor between two bouts"
        outcomes[done] += 1
        assert subprocess.run(["sqlite3", database, "PRAGMA integrity_check"], timeout=60,
                              capture_output=True, check=True).stdout == b"ok\n"
        place.run(database, "merge", source)
        assert place.dump(database) == after, "and it can be finished"
        for end in ("", "-wal", "-shm"):
            pathlib.Path(f"{database}{end}").unlink(missing_ok=True)
    print(f"killed {killed} of {tries}: {outcomes[before]} as before, {outcomes[half]} after the "
          f"first bout, {outcomes[after]} as after")


def main():
    program = sys.argv[1]
    rng = random.Random(20260307)
    for check, times in ((check_laws, 5), (check_refusals, 1), (check_kills, 1)):
        for _ in range(times):
            with tempfile.TemporaryDirectory() as folder:
                check(Place(folder, program), rng)
    return 0


if __name__ == "__main__":
    sys.exit(main())
