#!/usr/bin/python3
"""What is signed and then changed, taken out, put in, put back or copied, told by the real program; and that a
chain is the same wherever it goes.

usage: check_tamper.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY TAMPER_BYTES [BYTES|all]
"""
import hashlib
import json
import os
import pathlib
import sqlite3
import subprocess
import sys
import tempfile

from file_map import SAYS_NOTHING, Map

CARD = """[card]
id = quay-1
title = Quay Night
date = 2026-03-07
venue = Old Rope Hall
[bout 1]
rules = kickboxing
red.name = Ana Lume
red.from = Quay
red.record = 3-1-0
blue.name = Bo Reef
blue.stance = southpaw
referee = Ref Eree
judges = Ju Dge, Ar Biter, Um Pire
weight = women -65 kg
terms = scoring.open = yes
[bout 2]
rules = kickboxing
red.name = Cy Mast
blue.name = Dee Keel
"""
KEYS = ("0.0 Enter\n1.0 w\n1.3 E\n1.8 i\n2.1 Space\n3.0 s\n3.3 4\n4.0 [\n4.2 w\n5.0 -\n6.0 O\n7.0 Backspace\n8.0 g\n"
        "8.4 `\n9.0 l\n9.3 '\n20.0 Enter\n")
SHADOW = "0.0 w\n0.4 i\n0.8 O\n"


class Place:
    def __init__(self, folder, program):
        self.folder, self.program = pathlib.Path(folder), program
        self.db = self.folder / "bouts.db"
        self.environment = {**os.environ, "XDG_CONFIG_HOME": folder, "HOME": folder, "LC_ALL": "C.UTF-8"}

    def call(self, *words, db=None):
        return subprocess.run([str(word) for word in (self.program, "--db", db or self.db, *words)], text=True,
                              stdin=subprocess.DEVNULL, capture_output=True, timeout=120, check=False,
                              env=self.environment)

    def run(self, *words, db=None):
        done = self.call(*words, db=db)
        assert done.returncode == 0, (words, done)
        return done.stdout

    def verify(self, db=None, bout="1", *more):
        """The line, and whether it is whole."""
        done = self.call("verify", bout, *more, db=db)
        assert done.returncode in (0, 1) and (done.returncode == 0) == ("NOT WHOLE" not in done.stdout + done.stderr
                                                                        and done.stdout != ""), done
        return done.stdout + (done.stderr if not done.stdout else ""), done.returncode == 0

    def whole(self, *words, db=None, bout="1"):
        line, whole = self.verify(db, bout)
        assert whole and all(word in line for word in words), (words, line)
        return line

    def told(self, *words, db=None, bout="1"):
        line, whole = self.verify(db, bout)
        assert not whole and any(word in line for word in words), (words, line)
        assert line.count("\n") == 1, line
        return line

    def write(self, name, text):
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return path

    def make(self, key=True):
        """Bout 1 with all that a record can have, two desks, signed; bout 2 with a few strikes."""
        keys = self.write("some.keys", KEYS)
        if key:
            self.key = self.run("key", "new").strip()
        self.run("card", "load", self.write("card.ini", CARD))
        headless = ("--speed", "max", "--headless")
        self.run("desk", "1", "--operator", "ana", "--keys", keys, *headless)
        self.run("desk", "1", "--operator", "ben", "--shadow", "--keys", self.write("shadow.keys", SHADOW), *headless)
        self.run("desk", "2", "--operator", "ana", "--keys", keys, *headless)
        self.run("scores", "load", "1", "--operator", "Dora Quill",
                 self.write("scores.csv", "judge,round,red,blue,names\nJu Dge,1,10,9,\nAr Biter,1,9,10,\nUm Pire,1,10,9,\n"))
        self.run("sync", "1", "--timecode", "01:00:00:00", "--now", "--operator", "Dora Quill")
        self.run("card", "swap", "2", "--yes")
        self.run("result", "1", "--operator", "Dora Quill", "--ended", "knockout", "--winner", "red", "--round", "1",
                 "--time", "0:20", "--override")
        self.run("sign", "1", "--operator", "Ute Visor", "--yes")
        self.still()

    def still(self, db=None):
        """What is signed is in the database itself, not in what stands beside it."""
        wal = pathlib.Path(f"{db or self.db}-wal")
        assert not wal.exists() or wal.stat().st_size == 0, wal.stat().st_size

    def copy(self, name, changes=()):
        """A copy that a program changed which minds neither triggers nor constraints."""
        path = self.folder / name
        for end in ("", "-wal", "-shm"):
            pathlib.Path(f"{path}{end}").unlink(missing_ok=True)
        with sqlite3.connect(self.db) as source, sqlite3.connect(path) as target:
            source.backup(target)
            target.execute("PRAGMA foreign_keys = OFF")
            target.execute("PRAGMA ignore_check_constraints = ON")
            triggers = target.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
            for trigger, _ in triggers:
                target.execute(f"DROP TRIGGER {trigger}")
            for change in changes:
                target.execute(*(change if isinstance(change, tuple) else (change,)))
            for _, sql in triggers:
                target.execute(sql)
        source.close()
        target.execute("PRAGMA journal_mode = DELETE")
        target.close()
        return path

    def rows(self, text, db=None):
        with sqlite3.connect(db or self.db) as database:
            out = database.execute(text).fetchall()
        database.close()
        return out


# --- bytes of the file ------------------------------------------------------------------------------------------

def bytes__changed__told_or_say_nothing(place, tool, count):
    for sort in os.environ.get("RINGTALLY_SEALED", "keyed unkeyed").split():
        with tempfile.TemporaryDirectory() as folder:
            here = Place(folder, place.program)
            here.make(sort == "keyed")
            path = here.copy("bytes.db")
            with sqlite3.connect(path) as database:  # small pages: less of the file is free
                database.execute("PRAGMA page_size = 512")
                database.execute("VACUUM")
            database.close()
            kinds = Map(path)
            done = subprocess.run([tool, path, "1", count], capture_output=True, text=True, check=False,
                                  env=here.environment)
            answers, silent, wrong = {}, {}, []
            for line in done.stdout.splitlines():
                at, answer = line.split()
                answers[answer] = answers.get(answer, 0) + 1
                kind = kinds.kind(int(at))
                if answer in ("silent", "views"):
                    silent[kind] = silent.get(kind, 0) + 1
                row = kinds.names.get(int(at) // kinds.size + 1, ("", ""))[0]
                nothing = kind in SAYS_NOTHING or (kind == "row" and row in ("card", "entry"))
                if answer == "UNNOTICED" or (answer != "told" and not nothing):
                    wrong.append((sort, answer, at, kind, row, kinds.bytes[int(at) - 40:int(at) + 40]))
            assert not wrong, wrong
            assert done.returncode == 0, (done.returncode, done.stderr)
            assert answers["told"] > sum(answers.values()) / 20
            print(f"  {sort}: {sum(answers.values())} of {len(kinds.bytes)} bytes: {answers}; "
                  f"what says nothing: {dict(sorted(silent.items()))}")


# --- rows taken out, put in, exchanged --------------------------------------------------------------------------

ANA = "(SELECT id FROM desk WHERE bout = 1 AND operator = 'ana')"
COLUMNS = ("utc_ms, at_ms, kind, act, code, round, elapsed_ms, off_clock, review, accepted, unsure, corner, limb, target, "
           "stance, position, outcome, spinning, jumping, knockdown, value, text")


def rows__gone_new_or_exchanged__are_told(place):
    """Of entries, desks, seals, people; each is named as what it is."""
    line = place.whole(f"key {place.key}", "signed by Ute Visor")
    assert "since" not in line, line
    cases = (
        # An entry, its desk's end, a whole desk; and what is made to hide it.
        ([f"DELETE FROM entry WHERE desk = {ANA} AND seq = 5"], ("entry 5 of ana", "sealed entries")),
        ([f"DELETE FROM entry WHERE desk = {ANA} AND seq > 9"], ("sealed entries of desk",)),
        ([f"DELETE FROM entry WHERE desk = {ANA} AND seq = 5", f"UPDATE entry SET seq = seq - 1 WHERE desk = {ANA} AND seq > 5"],
         ("of ana", "of desk")),
        (["DELETE FROM entry WHERE desk IN (SELECT id FROM desk WHERE operator = 'ben')",
          "DELETE FROM desk WHERE operator = 'ben'"], ("which was sealed, is not here",)),
        (["UPDATE desk SET bout = 2 WHERE operator = 'ben'"], ("which was sealed, is not here",)),
        # Two change places: by number, by content, or with each other's digests too.
        ([f"UPDATE entry SET seq = -1 WHERE desk = {ANA} AND seq = 6", f"UPDATE entry SET seq = 6 WHERE desk = {ANA} AND seq = 7",
          f"UPDATE entry SET seq = 7 WHERE desk = {ANA} AND seq = -1"], ("of ana", "of desk")),
        ([f"CREATE TEMP TABLE a AS SELECT * FROM entry WHERE desk = {ANA} AND seq IN (6, 7)",
          f"UPDATE entry SET ({COLUMNS}) = (SELECT {COLUMNS} FROM a WHERE a.seq = 13 - entry.seq) "
          f"WHERE desk = {ANA} AND seq IN (6, 7)"], ("of ana", "of desk")),
        # An entry put in behind, as if its desk had gone on: its digest is not what a chain makes.
        ([f"INSERT INTO entry (desk, seq, {COLUMNS}, prior) SELECT desk, (SELECT max(seq) + 1 FROM entry WHERE desk = {ANA}), "
          f"{COLUMNS}, randomblob(32) FROM entry WHERE desk = {ANA} AND kind = 'strike' LIMIT 1"], ("is not what the next",)),
        # Seals.
        (["DELETE FROM seal"], ("the seal of its signature is gone",)),
        (["DELETE FROM seal", "DELETE FROM entry WHERE kind = 'sign'"], ()),  # below: what can not be told
        (["UPDATE seal SET bout = 2"], ("the seal of its signature is gone",)),
        (["UPDATE seal SET signature = zeroblob(64)"], ("signature does not hold",)),
        (["UPDATE seal SET signature = NULL"], ("signature is gone",)),
        (["UPDATE seal SET digest = zeroblob(32)"], ("words were changed",)),
        (["UPDATE seal SET statement = replace(statement, 'Ref Eree', 'Ref Other')", "UPDATE bout SET referee = 'Ref Other' WHERE id = 1"],
         ("words were changed",)),
        # People and terms.
        (["UPDATE corner SET name = 'Bo Wreck' WHERE corner = 'blue' AND bout = 1"], ('blue.name is "Bo Wreck"',)),
        (["UPDATE corner SET corner = 'x' WHERE corner = 'red' AND bout = 1",
          "UPDATE corner SET corner = 'red' WHERE corner = 'blue' AND bout = 1",
          "UPDATE corner SET corner = 'blue' WHERE corner = 'x'"], ("red.name",)),
        (["UPDATE bout SET terms = '' WHERE id = 1"], ("terms is",)),
        (["UPDATE bout SET rounds = 5 WHERE id = 1"], ("rounds is",)),
        (["UPDATE bout SET rules = 'low-kick', terms = '' WHERE id = 1"], ("rules is",)),
        (["UPDATE bout SET number = 3 WHERE id = 1"], None),
        (["UPDATE judge SET name = 'Ju Other' WHERE seat = 1"], ("judge.1 is",)),
        (["UPDATE card SET date = '2026-03-08'"], ("date is",)),
        (["UPDATE desk SET operator = 'eve' WHERE operator = 'ben'"], ("is not what its first entry says",)),
        (["UPDATE desk SET name = 'eve' WHERE operator = 'ben'"], ("is not what its first entry says",)),
        (["UPDATE desk SET shadow = 0 WHERE operator = 'ben'"], ("is not what its first entry says",)),
    )
    for number, (changes, words) in enumerate(cases):
        other = place.copy("changed.db", changes)
        if words is None:
            place.told("is not what its first entry says", db=other, bout="3")
        elif words:
            line = place.told(*words, db=other)
            if "seal" not in changes[0]:
                continue
            sheet = place.call("sheet", "1", db=other)
            assert sheet.returncode or "NOT AS IT WAS SIGNED" in sheet.stdout.upper(), (number, changes, sheet.stdout[-700:])
        else:
            # Without its signature a record is one that nobody signed: it was put back, and that alone no file can tell.
            assert place.whole("; not signed", db=other)
            line, whole = place.verify(other, "1", "--key", place.key)
            assert not whole and "is not signed with the key that was asked for" in line, line


def seal__of_another_bout_or_key__is_told(place):
    """A seal copied, a key exchanged, a seal that claims to be of the time before seals."""
    keys = place.folder / "other.key"
    place.run("key", "new", keys)
    place.run("sign", "2", "--operator", "Ute Visor", "--key", keys, "--yes")
    other = place.copy("copied.db", ["DELETE FROM seal WHERE bout = 1", "UPDATE seal SET bout = 1"])
    place.told("the seal of its signature is gone", db=other)
    more = place.copy("more.db", ["CREATE TEMP TABLE s AS SELECT * FROM seal WHERE bout = 2", "DELETE FROM seal WHERE bout = 2",
                                  "INSERT INTO seal SELECT 9, 1, statement, digest, signature FROM s"])
    place.told("which was sealed, is not here", db=more)
    # Signed with another key: whole, by a key that is shown; who asks for the right one hears of it.
    line, whole = place.verify(bout="2")
    assert whole and place.key not in line, line
    line, whole = place.verify(None, "2", "--key", place.key)
    assert not whole and "is not signed with the key" in line, line
    # The statement kept, another key's signature put to it.
    text = place.rows("SELECT statement, signature FROM seal ORDER BY bout")
    theirs = place.copy("theirs.db", [("UPDATE seal SET signature = ? WHERE bout = 1", (text[1][1],))])
    place.told("signature does not hold", db=theirs)
    # A seal as a migration makes it, by somebody without the key, who changed what is below it.
    for made, wanted in (("migration", "the seal of its signature is gone"), ("sign", "is gone")):
        lines = [line for line in text[0][0].splitlines() if not line.startswith(("key ", "made ", "by "))]
        lines = ["ringtally seal 1", lines[1], f"made {made}", lines[2], "key none",
                 *[line for line in lines if line.startswith("desk ") and made != "migration"]]
        forged = "\n".join(lines) + "\n"
        digest = hashlib.blake2b(forged.encode(), digest_size=32).digest()
        made_up = place.copy("forged.db", ["DELETE FROM seal WHERE bout = 1",
                                           ("INSERT INTO seal VALUES (9, 1, ?, ?, NULL)", (forged, digest))])
        place.told(wanted, db=made_up)


def state__put_back_or_cut__is_told_where_it_can_be(place):
    """An older copy is whole, and is what it was: the paper and the exported log say that there was more."""
    older = place.copy("older.db")
    place.run("reopen", "1", "--operator", "Ute Visor", "--reason", "a card was misread")
    place.run("scores", "load", "1", "--operator", "Dora Quill",
              place.write("new.csv", "judge,round,red,blue,names\nJu Dge,1,9,10,\n"))
    place.run("sign", "1", "--operator", "Ute Visor", "--yes")
    place.still()
    place.whole("signed by Ute Visor")
    log = place.folder / "newest.jsonl"
    place.run("export-log", "1", "-o", log)
    place.whole("signed by Ute Visor", db=older)  # which no look at it alone could tell
    assert "0 entries" not in place.run("import-log", log, db=older)
    assert place.run("export-log", "1", db=older) == log.read_text(encoding="utf-8")
    # Cut short, at any place.
    whole = place.copy("whole.db").read_bytes()
    for size in (0, 1, 50, 100, 512, 1000, 4096, 4097, len(whole) // 2, len(whole) - 4096, len(whole) - 1):
        cut = place.folder / "cut.db"
        cut.write_bytes(whole[:size])
        done = place.call("verify", "1", db=cut)
        if done.returncode == 0:  # the end of the last page was free: then nothing is lost
            assert size == len(whole) - 1
            assert place.run("export-log", "1", db=cut) == place.run("export-log", "1", db=place.folder / "whole.db")
        assert done.returncode in (0, 1) and (done.stdout + done.stderr).count("\n") <= 3, (size, done)
        for words in (("sheet", "1"), ("counts", "1"), ("export-log", "1")):
            done = place.call(*words, db=cut)
            assert done.returncode == 0 or (done.returncode == 1 and done.stderr.count("\n") == 1 and not done.stdout), done


def sign__while_others_have_it_open__leaves_nothing_beside_it(place):
    """What stands in a -wal file SQLite passes over where a byte of it is off: no signature may depend on it."""
    holder = sqlite3.connect(place.db)
    assert holder.execute("SELECT count(*) FROM entry").fetchone()[0] > 0
    place.run("sign", "2", "--operator", "Ute Visor", "--yes")
    place.still()
    assert pathlib.Path(f"{place.db}-wal").exists()
    holder.close()
    place.whole("signed by Ute Visor", bout="2")


# --- wherever it goes -------------------------------------------------------------------------------------------

def chains(place, db, bout="1"):
    """What the heads of the bout's chains are, and its seals."""
    lines = [json.loads(line) for line in place.run("export-log", bout, db=db).splitlines()]
    priors = {(line["desk"], line["entry"]): line.get("prior") for line in lines if "entry" in line}
    assert priors and all(priors.values())
    seals = sorted((line["seal"], line["digest"], line.get("signature")) for line in lines if "seal" in line)
    return priors, seals


def chain__wherever_it_goes__is_the_same(place):
    """Export, import, merge, backup and a migration's worth of copies: every digest and seal as it was."""
    place.run("release", "1", "all", "--by", "Pro Ducer")
    place.run("release", "1", "all", "--by", "Pro Ducer", "--withdraw")
    line = place.whole(f"key {place.key}", "since")
    here = chains(place, place.db)
    assert len(here[1]) == 1 and here[1][0][2]
    log = place.folder / "log.jsonl"
    place.run("export-log", "1", "-o", log)
    ways = {
        "imported": lambda db: place.run("import-log", log, db=db),
        "merged": lambda db: (place.run("card", "load", place.folder / "card.ini", db=db), place.run("merge", place.db, db=db)),
        "backed": lambda db: place.run("backup", db),
    }
    for name, way in ways.items():
        db = place.folder / f"{name}.db"
        way(db)
        assert chains(place, db) == here, name
        assert place.whole(f"key {place.key}", "since", db=db) == line, name
    # Twice is once, and there and back again.
    for _ in range(2):
        place.run("merge", place.folder / "imported.db")
        place.run("import-log", log)
    assert chains(place, place.db) == here and place.whole() == line
    # An entry out of the middle of the file, which no digest of the whole file covers any more.
    lines = log.read_text(encoding="utf-8").splitlines(keepends=True)
    for at in [number for number, line in enumerate(lines) if '"kind":"strike"' in line][2:5]:
        left = lines[:at] + lines[at + 1:-1]
        end = {"end": len(left), "sha256": hashlib.sha256("".join(left).encode()).hexdigest()}
        place.write("left.jsonl", "".join(left) + json.dumps(end) + "\n")
        db = place.folder / f"left-{at}.db"
        done = place.call("import-log", place.folder / "left.jsonl", db=db)
        if done.returncode == 0:
            place.told("is not here", db=db)


def chain__moved_and_back__is_whole_in_both(place):
    done = place.call("move", "2", "1", "--yes")
    assert done.returncode == 1 and "signed" in done.stderr, done  # a signed bout takes none
    place.run("reopen", "1", "--operator", "Ute Visor", "--reason", "it was the other bout")
    before = chains(place, place.db)[0]
    place.run("move", "1", "2", "--corner", "red", "--yes")
    place.whole("not signed")
    place.whole("not signed", bout="2")
    after = chains(place, place.db)[0]
    assert before.items() <= after.items() and len(after) > len(before)  # what was is as it was
    place.run("sign", "2", "--operator", "Ute Visor", "--yes")
    place.whole(f"key {place.key}", bout="2")
    for words in (("UPDATE entry SET limb = 'knee' WHERE arrival = (SELECT max(arrival) FROM entry AS e JOIN desk ON "
                   "desk.id = e.desk WHERE bout = 2 AND e.kind = 'strike' AND limb <> 'knee')"),):
        place.told("is not what the next", "is not as it was sealed", db=place.copy("moved.db", [words]), bout="2")


# --- from before there were digests -----------------------------------------------------------------------------

def older_database(place, schema, path, version):
    """What a program of that version left: its schema, and the signed bout's rows without digests or seals."""
    with sqlite3.connect(path) as database:
        for step in range(1, version + 1):
            database.executescript(next(schema.glob(f"{step:03d}-*.sql")).read_text(encoding="utf-8"))
        database.execute("ATTACH ? AS new", (str(place.db),))
        names = [row[0] for row in database.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'")]
        triggers = [row[0] for row in database.execute("SELECT sql FROM sqlite_schema WHERE type = 'trigger'")]
        for name in names:
            database.execute(f"DROP TRIGGER {name}")
        for table in ("card", "bout", "corner", "judge", "desk", "entry"):
            columns = [row[1] for row in database.execute(f"PRAGMA main.table_info({table})")]
            there = {row[1] for row in database.execute(f"PRAGMA new.table_info({table})")}
            listed = ", ".join(column for column in columns if column in there)
            order = "arrival" if table == "entry" else "1"
            database.execute(f"INSERT INTO main.{table} ({listed}) SELECT {listed} FROM new.{table} ORDER BY {order}")
        for sql in triggers:
            database.execute(sql)
        database.execute(f"PRAGMA application_id = {0x72746c79}")
        database.execute(f"PRAGMA user_version = {version}")
    database.close()
    return path


def plain(text):
    """A sheet but for what it says of moments and of how it is sealed."""
    return [line for line in text.splitlines() if "as of " not in line and "seal" not in line and "digest" not in line]


def older__signed_before_there_were_digests__is_told_as_that(place, schema):
    place.make(key=False)
    counts = place.run("counts", "1", "--format", "csv")
    sheet = place.run("sheet", "1")
    assert "sealed without a key" in sheet, sheet
    for version in (1, 2):
        old = older_database(place, schema, place.folder / f"old-{version}.db", version)
        before = old.read_bytes()
        # Readers leave it alone, and say what to do; so does a merge that reads it.
        for words in (("counts", "1"), ("sheet", "1"), ("verify", "1"), ("export-log", "1")):
            done = place.call(*words, db=old)
            assert done.returncode == 1 and f"has version {version}" in done.stderr and not done.stdout, done
        fresh = place.folder / f"fresh-{version}.db"
        place.run("card", "load", place.folder / "card.ini", db=fresh)
        done = place.call("merge", old, db=fresh)
        assert done.returncode == 1 and f"has version {version}" in done.stderr, done
        assert old.read_bytes() == before
        # Whoever opens it for writing brings it up to date; what was counted and signed stays.
        twin = place.folder / f"twin-{version}.db"
        twin.write_bytes(before)
        card = place.write("other.ini", CARD.replace("quay-1", "later-2"))
        for db in (old, twin):
            place.run("card", "load", card, db=db)
        line = place.whole("digests made later than the entries", "signed by Ute Visor, before there were seals",
                           db=old, bout="quay-1/1")
        assert "without a digest" not in line, line
        now = place.run("counts", "quay-1/1", "--format", "csv", db=old)
        assert plain(now) == plain(counts)
        now = place.run("sheet", "quay-1/1", db=old)
        assert "signed by Ute Visor" in now and "without a seal" in now and "NOT AS" not in now, now
        assert plain(now) == plain(sheet)
        state = json.loads(place.run("sheet", "quay-1/1", "--format", "json", db=old))
        assert '"seal": {"kind": "none"' in json.dumps(state) or '"kind": "none", "key": null, "holds": true' in json.dumps(state)
        # It goes elsewhere with the seal that says when its digests were made.
        here = chains(place, old, "quay-1/1")
        assert len(here[1]) == 1 and "made migration" in here[1][0][0] and here[1][0][2] is None, here[1]
        log = place.folder / f"old-{version}.jsonl"
        place.run("export-log", "quay-1/1", "-o", log, db=old)
        for name, words in (("in", ("import-log", log)), ("merged", ("merge", old))):
            db = place.folder / f"{name}-{version}.db"
            place.run("card", "load", card, db=db)
            place.run(*words, db=db)
            assert chains(place, db, "quay-1/1") == here, name
            there = place.whole("before there were seals", db=db, bout="quay-1/1")
            assert there == line, (name, there, line)
        # Two copies that each got theirs: the same digests, two seals, and both hold.
        place.run("merge", twin, db=old)
        both = chains(place, old, "quay-1/1")
        assert both[0] == here[0] and len(both[1]) in (1, 2), both[1]
        place.whole("digests made later", db=old, bout="quay-1/1")
        # It takes no entries, as any signed bout.
        done = place.call("sync", "quay-1/1", "--timecode", "01:00:00:00", "--now", db=old)
        assert done.returncode == 1 and "signed" in done.stderr, done
        # From then on a change is told, and so is the loss of what says so.
        saved, place.db = place.db, old
        place.told("is not what the next one says", "is not as it was sealed", bout="quay-1/1", db=place.copy(
            "old-changed.db", ["UPDATE entry SET limb = 'knee' WHERE kind = 'strike' AND limb <> 'knee' AND desk = 1"]))
        place.told("the seal of its signature is gone", db=place.copy("old-gone.db", ["DELETE FROM seal"]), bout="quay-1/1")
        place.run("key", "new") if version == 1 else None
        place.run("reopen", "quay-1/1", "--operator", "Ute Visor", "--reason", "to be sealed")
        place.run("sign", "quay-1/1", "--operator", "Ute Visor", "--yes")
        key = place.run("key", "show").strip()
        place.whole(f"key {key}", "digests made later", bout="quay-1/1")
        place.db = saved
        # A log that was exported before there were digests: imported, it says when they were made.
        lines = [json.loads(text) for text in log.read_text(encoding="utf-8").splitlines()]
        lines = [{key: value for key, value in line.items() if key != "prior"} for line in lines
                 if "seal" not in line and "end" not in line]
        for form in (1, 2):
            lines[0]["version"] = form
            above = "".join(json.dumps(line) + "\n" for line in lines)
            end = {"end": len(lines), "sha256": hashlib.sha256(above.encode()).hexdigest()}
            db = place.folder / f"early-{version}-{form}.db"
            place.run("import-log", place.write("early.jsonl", above + json.dumps(end) + "\n"), db=db)
            assert chains(place, db, "quay-1/1")[0] == here[0]
            if form == 1:
                assert "made import" in chains(place, db, "quay-1/1")[1][0][0]
                place.whole("before there were seals", "digests made later", db=db, bout="quay-1/1")
            else:  # one that came later, and whose seals somebody left out
                place.told("the seal of its signature is gone", db=db, bout="quay-1/1")


def main():
    schema, examples, program, tool = sys.argv[1:5]
    count = sys.argv[5] if len(sys.argv) > 5 else "240"
    only = sys.argv[6:]
    for name, check in list(globals().items()):
        if "__" in name.strip("_") and callable(check) and (not only or name in only):
            with tempfile.TemporaryDirectory() as folder:
                place = Place(folder, program)
                if name.startswith("bytes"):
                    check(place, tool, count)
                elif name.startswith("older"):
                    check(place, pathlib.Path(schema))
                else:
                    place.make()
                    check(place)
            print(name)


main()
