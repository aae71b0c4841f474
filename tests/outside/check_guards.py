#!/usr/bin/python3
"""What would lose, overwrite or falsify something is refused in one line, by the real program, and nothing is changed.

usage: check_guards.py EXAMPLES_DIR RINGTALLY
"""
import hashlib
import json
import os
import pathlib
import pty
import sqlite3
import stat
import subprocess
import sys
import tempfile
import time

BOUT = "1"
STRIKE = ("INSERT INTO entry (desk, seq, utc_ms, at_ms, kind, act, code, round, elapsed_ms, off_clock, review, "
          "accepted, corner, limb, target, stance, position, outcome, spinning, jumping, knockdown, value, text) "
          "VALUES (1, 900, {utc}, {at}, '{kind}', 'add', '{code}', 1, 0, 0, 0, 0, 'red', 'left_hand', 'head', "
          "'orthodox', 'open', 'landed', 0, 0, 0, {value}, '')")


class Place:
    def __init__(self, folder, examples, program):
        self.folder, self.program, self.examples = pathlib.Path(folder), program, examples
        self.db = self.folder / "bouts.db"
        self.run("card", "load", examples / "card.ini")
        self.keys = self.folder / "some.keys"
        self.keys.write_text("0.0 Enter\n0.2 w\n0.4 E\n0.6 i\n0.8 Enter\n", encoding="utf-8")
        self.desk()

    def call(self, *words, db=None):
        return subprocess.run([str(word) for word in (self.program, "--db", db or self.db, *words)],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False)

    def run(self, *words, db=None):
        done = self.call(*words, db=db)
        assert done.returncode == 0, (words, done)
        return done.stdout

    def refused(self, reason, *words, db=None, code=None):
        done = self.call(*words, db=db)
        assert done.returncode in ((code,) if code else (1, 2)), (words, done)
        lines = [line for line in done.stderr.splitlines() if line]
        assert len(lines) == 1 and reason in lines[0], (words, done)

    def desk(self, *more, db=None):
        return self.run("desk", BOUT, "--operator", "ana", "--keys", self.keys, "--speed", "max", "--headless", *more,
                        db=db)

    def sql(self, text, db=None):
        with sqlite3.connect(db or self.db) as database:
            rows = database.execute(text).fetchall()
        database.close()
        return rows

    def card(self):
        return self.sql("SELECT id FROM card ORDER BY loaded DESC LIMIT 1")[0][0]

    def copy(self, name):
        """A database with all that this one has, and nothing beside it."""
        path = self.folder / name
        with sqlite3.connect(self.db) as source, sqlite3.connect(path) as target:
            source.backup(target)
        source.close()
        target.close()
        return path


def until(check):
    deadline = time.monotonic() + 60
    while not check():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def mode(path):
    return stat.S_IMODE(os.stat(path).st_mode)


def outputs__named_as_a_database__refused(place):
    other = place.copy("other.db")
    hard = place.folder / "hard.txt"
    os.link(place.db, hard)
    holder = sqlite3.connect(place.db)  # keeps the files beside it
    assert holder.execute("SELECT count(*) FROM entry").fetchone()[0] > 0
    before = place.sql("SELECT count(*) FROM entry")
    for path in (place.db, hard, other, f"{place.db}-wal", f"{place.db}-shm", f"{place.db}.desks"):
        assert os.path.exists(path), path
        for words in (("sheet", BOUT), ("export-log", BOUT), ("scores", "dump", BOUT), ("marks", BOUT, "--start", "01:00:00:00")):
            place.refused("this is a database", *words, "-o", path)
        place.refused("this is a database", "desk", BOUT, "--keys", place.keys, "--speed", "max", "--headless",
                      "--record", path)
        for words in (("practice", "--report", "ana"), ("card", "new")):
            done = place.call(*words, "-o", path)
            assert done.returncode in (1, 2) and done.stderr.count("\n") == 1, (words, path, done)
    holder.close()
    assert place.sql("SELECT count(*) FROM entry") == before
    assert place.sql("PRAGMA integrity_check") == [("ok",)]
    hard.unlink()


def record__name_taken__is_left_alone(place):
    record = place.folder / "rec.keys"
    place.desk("--record", record)
    first = record.read_bytes()
    assert first.count(b"\n") == 5
    assert mode(record) == 0o600
    # A desk that does not start touches nothing.
    done = place.call("desk", BOUT, "--record", place.folder / "none.keys")
    assert done.returncode == 1 and not (place.folder / "none.keys").exists(), done
    done = place.call("desk", BOUT, "--record", record)
    assert done.returncode == 1 and record.read_bytes() == first
    # Nor does one that does.
    done = place.call("desk", BOUT, "--operator", "ana", "--keys", place.keys, "--speed", "max", "--headless", "--record",
                      record)
    assert done.returncode == 0 and "rec-2.keys" in done.stderr, done
    assert record.read_bytes() == first
    assert (place.folder / "rec-2.keys").read_bytes().count(b"\n") == 5


def files__made__are_the_owners_and_no_links(place):
    assert mode(place.db) == 0o600
    for end in (".desks", ".signs"):
        assert mode(f"{place.db}{end}") == 0o600, end
    out = place.folder / "out.jsonl"
    place.run("export-log", BOUT, "-o", out)
    assert mode(out) == 0o600
    os.chmod(out, 0o640)
    place.run("export-log", BOUT, "-o", out)
    assert mode(out) == 0o640
    target, link = place.folder / "target.txt", place.folder / "link.txt"
    target.write_text("kept", encoding="utf-8")
    link.symlink_to(target)
    place.refused("this is a link", "sheet", BOUT, "-o", link)
    assert link.is_symlink() and target.read_text(encoding="utf-8") == "kept"
    # Files beside the database are never opened through a link.
    other = place.copy("linked.db")
    for end in (".desks", ".signs", ".feed-new"):
        os.symlink(target, f"{other}{end}")
    place.refused("linked.db.desks", "desk", BOUT, "--keys", place.keys, "--speed", "max", "--headless", db=other)
    os.unlink(f"{other}.desks")
    place.desk(db=other)
    assert target.read_text(encoding="utf-8") == "kept"


def version__below_zero__named(place):
    other = place.copy("version.db")
    place.sql("PRAGMA user_version = -1", other)
    place.refused("no version", "desk", BOUT, "--keys", place.keys, "--speed", "max", "--headless", db=other, code=1)
    place.refused("no version", "counts", BOUT, db=other, code=1)


def merge__what_import_refuses__refused_too(place):
    utc = 1700000000000
    cases = (
        dict(utc=2**63 - 1, at=utc, kind="strike", code="", value=0),
        dict(utc=utc, at=253402300800001, kind="strike", code="", value=0),
        dict(utc=-1, at=utc, kind="strike", code="", value=0),
        dict(utc=utc, at=utc, kind="incident", code="deduction", value=2**31 - 1),
        dict(utc=utc, at=utc, kind="clock", code="nudge", value=2**63 - 1),
    )
    before = place.sql("SELECT count(*), max(utc_ms) FROM entry")
    for number, case in enumerate(cases):
        other = place.copy(f"bad-{number}.db")
        place.sql(STRIKE.format(**case), other)
        place.refused("out of range", "merge", other, code=1)
        place.refused("out of range", "counts", BOUT, db=other, code=1)
    assert place.sql("SELECT count(*), max(utc_ms) FROM entry") == before


def merge__terms_no_rules_know__refused_as_import_does(place):
    other = place.copy("moon.db")
    place.sql("UPDATE bout SET terms = 'scoring.moon = 3'", other)
    here, log = place.folder / "here.db", place.folder / "moon.jsonl"
    # (A bout that is here already keeps its own terms.)
    place.refused("scoring.moon", "merge", other, db=here, code=1)
    good = place.copy("good.db")
    place.run("export-log", BOUT, "-o", log, db=good)
    lines = log.read_text(encoding="utf-8").replace('"terms":""', '"terms":"scoring.moon = 3"').splitlines(keepends=True)
    above = "".join(lines[:-1])
    end = json.loads(lines[-1])
    end["sha256"] = hashlib.sha256(above.encode("utf-8")).hexdigest()
    log.write_text(above + json.dumps(end) + "\n", encoding="utf-8")
    place.refused("scoring.moon", "import-log", log, db=here, code=1)
    assert place.sql("SELECT count(*) FROM bout", here) == [(0,)]


def drop__database_of_a_files_name__is_left_alone(place):
    folder = place.folder / "drop"
    folder.mkdir()
    for name in ("counts.json", "status.json", "red-landed.txt"):
        database = place.copy(f"drop/{name}")
        before = database.read_bytes()
        done = subprocess.run([place.program, "--db", database, "drop", BOUT, "--dir", folder, "--once"],
                              capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 1 and "this is a database, which would be lost" in done.stderr, done
        assert database.read_bytes() == before
        for path in folder.iterdir():
            path.unlink()
        other = place.copy(f"drop/{name}")  # nor is any other
        done = subprocess.run([place.program, "--db", place.db, "drop", BOUT, "--dir", folder, "--once"],
                              capture_output=True, text=True, timeout=60, check=False)
        assert done.returncode == 1 and "this is a database, which would be lost" in done.stderr, done
        assert other.read_bytes() == before
        for path in folder.iterdir():
            path.unlink()


def signed__any_command__adds_nothing(place):
    place.run("sign", BOUT, "--operator", "Dora Quill")
    before = place.sql("SELECT count(*) FROM entry")
    scores = place.folder / "scores.csv"
    judges = [row[0] for row in place.sql("SELECT judge.name FROM judge JOIN bout ON bout.id = bout WHERE number = 1")]
    scores.write_text("judge,round,red,blue,names\n" + "".join(f"{name},1,10,9,\n" for name in judges), encoding="utf-8")
    place.refused("signed", "scores", "load", BOUT, scores)
    place.refused("signed", "sync", BOUT, "--timecode", "01:00:00:00", "--now")
    place.refused("signed", "result", BOUT, "--ended", "distance", "--round", "3", "--override", "--operator", "Dora Quill")
    place.refused("signed", "sign", BOUT, "--operator", "Dora Quill")
    assert place.sql("SELECT count(*) FROM entry") == before
    # What was written elsewhere is united all the same, and told as late.
    whole = place.run("export-log", BOUT)
    assert "late" not in whole
    place.run("reopen", BOUT, "--operator", "Dora Quill", "--reason", "a card was misread")
    place.run("scores", "load", BOUT, scores)


def hostile__schema_not_ours__refused_by_every_reader(place):
    """A trigger that swallows, falsifies or doubles entries; a table that is a view without an end."""
    endless = ("CREATE VIEW card AS WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) "
               "SELECT i AS id, i AS title, i AS date, i AS venue, i AS loaded FROM n")
    tricks = (
        ("evil", "CREATE TRIGGER evil BEFORE INSERT ON entry BEGIN SELECT raise(IGNORE); END"),
        ("evil", "CREATE TRIGGER evil AFTER INSERT ON entry BEGIN INSERT INTO card VALUES ('x', 'x', 'x', 'x', 99); END"),
        ("entry_update", "DROP TRIGGER entry_update"),
        ("entry_signed", "DROP TRIGGER entry_signed"),
        ("card", f"PRAGMA foreign_keys = OFF; ALTER TABLE card RENAME TO tickets; {endless}"),
        ("corner", "ALTER TABLE corner ADD COLUMN twin TEXT GENERATED ALWAYS AS (name || name)"),
        ("more", "CREATE TABLE more (x)"),
    )
    for number, (name, trick) in enumerate(tricks):
        other = place.copy(f"hostile-{number}.db")
        with sqlite3.connect(other) as database:
            database.executescript(trick)
        database.close()
        size = other.stat().st_size
        for words in (("counts", BOUT), ("log", BOUT), ("sheet", BOUT), ("card", "show"), ("export-log", BOUT),
                      ("card", "load", place.examples / "card.ini"),
                      ("desk", BOUT, "--keys", place.keys, "--speed", "max", "--headless")):
            place.refused("another program has changed this database", *words, db=other, code=1)
        done = place.call("merge", other)
        assert done.returncode == 1 and "another program has changed" in done.stderr, (name, done)
        assert other.stat().st_size == size
    # A view of one's own stands in nobody's way.
    other = place.copy("own.db")
    place.sql("CREATE VIEW mine AS SELECT count(*) FROM entry", other)
    place.run("counts", BOUT, db=other)
    place.desk(db=other)


def hostile__texts__are_cleaned_when_read(place):
    other = place.copy("texts.db")
    with sqlite3.connect(other) as database:
        database.execute("UPDATE corner SET name = 'Red' || char(27) || ']0;owned' || char(7) || char(27) || '[2J' "
                         "WHERE corner = 'red'")
        database.execute("UPDATE corner SET name = CAST(x'426c7565c328ff' AS TEXT) WHERE corner = 'blue'")
        database.execute("UPDATE card SET title = char(155) || '31m' || char(8238) || 'nights'")
    database.close()
    place.run("merge", other)
    for words in (("card", "show"), ("log", BOUT), ("sheet", BOUT), ("counts", BOUT), ("export-log", BOUT),
                  ("sheet", BOUT, "--format", "json"), ("sheet", BOUT, "--format", "html")):
        done = subprocess.run([place.program, "--db", other, *words], capture_output=True, timeout=120, check=True)
        text = done.stdout.decode("utf-8")
        assert not any(character in text for character in "\x1b\x07\x9b\u202e"), words


def merge__while_a_desk_writes__never_waits_for_more_than_a_bout(place):
    """The lock of another connection is held for a bout at a time: one that asks in between gets it."""
    archive = place.folder / "archive.db"
    card = "[card]\nid = old-{0}\ntitle = Old {0}\ndate = 2025-01-0{1}\nvenue = Hall\n"
    for number in range(3):
        text = card.format(number, number + 1) + "".join(
            f"[bout {bout}]\nrules = kickboxing\nred.name = R {number} {bout}\nblue.name = B {number} {bout}\n"
            for bout in range(1, 41))
        path = place.folder / "old.ini"
        path.write_text(text, encoding="utf-8")
        place.run("card", "load", path, db=archive)
    place.run("merge", place.db, db=archive)
    # A desk strikes every 20 ms meanwhile; what another one sees of it are its commits.
    script = place.folder / "long.keys"
    script.write_text("".join(f"{number * 0.02:.2f} {'wi'[number % 2]}\n" for number in range(2000)), encoding="utf-8")
    desk = subprocess.Popen([place.program, "--db", place.db, "desk", f"{place.card()}/2", "--operator", "ben", "--keys",
                             script, "--speed", "1", "--headless"])
    count = "SELECT (SELECT count(*) FROM bout), (SELECT count(*) FROM entry WHERE kind = 'strike')"
    strikes = place.sql(count)[0][1]
    until(lambda: place.sql(count)[0][1] > strikes)
    merging = subprocess.Popen([place.program, "--db", place.db, "merge", archive], stdout=subprocess.PIPE, text=True)
    seen = {}
    while merging.poll() is None:
        bouts, strikes = place.sql(count)[0]
        seen.setdefault(bouts, set()).add(strikes)
    desk.kill()
    desk.wait()
    assert merging.returncode == 0, merging.stdout.read()
    merging.stdout.close()
    under_way = [bouts for bouts in seen if min(seen) < bouts < max(seen)]
    assert len(under_way) > 3, seen
    assert len({strikes for bouts in under_way for strikes in seen[bouts]}) > 3, seen
    here = place.sql("SELECT count(*) FROM bout")[0][0]
    there = place.sql("SELECT count(*) FROM bout", archive)[0][0]
    assert here == there, (here, there)
    assert "0 entries new" in place.run("merge", archive)


def merge__clock_ahead__is_told(place):
    other = place.copy("ahead.db")
    place.sql(STRIKE.format(utc="(strftime('%s', 'now') + 300) * 1000", at="0", kind="strike", code="", value=0), other)
    done = place.call("merge", other)
    assert done.returncode == 0 and "1 entries new" in done.stdout, done
    assert "ahead of this machine's clock" in done.stderr, done


def signing__what_is_missing__is_said_and_asked(place):
    """No result is announced, and a strike stands off the clock: told, and at a terminal asked."""
    place.keys.write_text("0.0 q\n0.2 Enter\n0.4 w\n0.6 Enter\n", encoding="utf-8")
    place.desk()
    words = ("sign", BOUT, "--operator", "Dora Quill")

    def at_terminal(answer):
        pid, terminal = pty.fork()
        if pid == 0:
            os.execv(place.program, [str(word) for word in (place.program, "--db", place.db, *words)])
        said, answered = b"", False
        try:
            while True:
                said += os.read(terminal, 4096)
                if not answered and b"Sign all the same? [y/N]" in said:
                    os.write(terminal, answer)
                    answered = True
        except OSError:  # its end
            pass
        os.close(terminal)
        status = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
        assert answered and status == 0, (said, status)
        return said

    said = at_terminal(b"n\n")
    assert b"no result is announced" in said and b"not looked at yet" in said and b"left unsigned" in said, said
    assert place.sql("SELECT count(*) FROM entry WHERE kind = 'sign'") == [(0,)]
    done = place.call(*words)  # no terminal: it is said, and done
    assert done.returncode == 0 and "no result is announced" in done.stderr, done
    assert place.sql("SELECT count(*) FROM entry WHERE kind = 'sign'") == [(1,)]


def signed__desk_open_or_script__refused(place):
    """A signature is not overtaken by a desk, and a script on a signed bout is told that it does nothing."""
    script = place.folder / "long.keys"
    script.write_text("0.0 w\n600 w\n", encoding="utf-8")
    desk = subprocess.Popen([place.program, "--db", place.db, "desk", BOUT, "--operator", "ben", "--keys", script,
                             "--speed", "1", "--headless"])
    until(lambda: place.sql("SELECT count(*) FROM entry JOIN desk ON desk.id = desk WHERE operator = 'ben'") != [(0,)])
    place.refused("desk is open on it", "sign", BOUT, "--operator", "Dora Quill", code=1)
    desk.kill()
    desk.wait()
    place.run("sign", BOUT, "--operator", "Dora Quill")
    before = place.sql("SELECT count(*) FROM entry")
    place.refused("no key would be logged", "desk", BOUT, "--keys", place.keys, "--speed", "max", "--headless", code=1)
    assert place.sql("SELECT count(*) FROM entry") == before


def backup__desk_writes_meanwhile__has_all(place):
    """What stands in the WAL alone is in the backup too, and a file that is there stays."""
    writer = sqlite3.connect(place.db)
    writer.execute("PRAGMA wal_autocheckpoint = 0")
    writer.execute(STRIKE.format(utc=1, at=1, kind="strike", code="", value=0))
    writer.commit()
    copy = place.folder / "copy.db"
    place.run("backup", copy)
    assert mode(copy) == 0o600
    assert place.sql("SELECT count(*) FROM entry", copy) == place.sql("SELECT count(*) FROM entry")
    assert place.sql("PRAGMA integrity_check", copy) == [("ok",)]
    assert place.run("counts", BOUT, "--format", "csv", db=copy)
    before = copy.read_bytes()
    place.refused("already", "backup", copy, code=1)
    place.refused("already", "backup", place.db, code=1)
    place.refused("No such file", "backup", place.folder / "none" / "copy.db", code=1)
    assert copy.read_bytes() == before
    assert not list(place.folder.glob("*-part"))
    writer.close()


def read_only__folder_of_an_archive__is_read(place):
    """Nothing can be made beside it; who may write anywhere (root) asks as somebody who may not."""
    folder = place.folder / "archive"
    folder.mkdir()
    copy = folder / "bouts #1.db"
    place.run("backup", copy)
    with sqlite3.connect(copy) as database:
        database.execute("PRAGMA journal_mode = WAL")
    database.close()
    copy.chmod(0o644)
    place.folder.chmod(0o755)
    folder.chmod(0o555)
    nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"] if os.geteuid() == 0 else []
    for words in (("counts", BOUT, "--format", "csv"), ("export-log", BOUT)):
        done = subprocess.run([*nobody, place.program, "--db", copy, *words], capture_output=True, text=True, check=False)
        if "Permission denied" in done.stderr and nobody:
            print("  (the program itself is out of that user's reach: not tried)")
            break
        assert done.returncode == 0 and done.stdout, done
    folder.chmod(0o755)


def main():
    examples, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    for name, check in list(globals().items()):
        if "__" in name.strip("_") and callable(check) and (len(sys.argv) < 4 or name in sys.argv[3:]):
            with tempfile.TemporaryDirectory() as folder:
                check(Place(folder, examples, program))
            print(name)


main()
