#!/usr/bin/python3
"""Databases made to trick: schemas that say one thing and do another, files that are none, what lies beside a
database. Every command that reads refuses them in one line, or tells exactly what it told before; none is told half,
none hangs or crashes, and no reader changes the file.

usage: check_foreign.py EXAMPLES_DIR RINGTALLY READERS
"""
import hashlib
import os
import pathlib
import re
import shutil
import sqlite3
import struct
import subprocess
import sys
import tempfile
import time

from readers import Readers

CARD = ("[card]\nid = quay-1\ntitle = Quay\ndate = 2026-03-07\n[bout 1]\nrules = kickboxing\nred.name = Ana Lume\n"
        "blue.name = Bo Reef\njudges = Ju Dge, Ar Biter, Um Pire\n[bout 2]\nrules = boxing\nred.name = Cy Mast\n"
        "blue.name = Dee Keel\n")
KEYS = "0.0 Enter\n1.0 w\n1.4 E\n1.8 i\n2.2 s\n3.0 [\n3.2 w\n5.0 O\n6.0 Backspace\n7.0 g\n9.0 l\n20.0 Enter\n3000.0 `\n"  # ahead of time, so that "now" stands still
# Those whose output says nothing of this moment come first: they are held against what they were.
SAME = (("export-log", "1"), ("log", "1", "--all", "--format", "csv"), ("counts", "1", "--format", "csv"), ("sheet", "1"),
        ("history", "Ana Lume"), ("card", "show"))
OTHERS = (("counts", "1", "--format", "json"), ("sheet", "1", "--format", "html"), ("log", "1"), ("remarks", "1"),
          ("marks", "1", "--start", "01:00:00:00"), ("agree", "1", "--desk", "ana", "--desk", "ben"), ("result", "1"),
          ("scores", "dump", "1"), ("sheet", "1", "--for", "red"), ("release", "1"), ("verify",))
# By readers alone: who may write does with a journal what every program with SQLite in it would.
REFUSED, UNREAD, RIGHT, EITHER, ANY = "refused", "unread", "right", "either", "any"


class Place:
    def __init__(self, folder, program, readers):
        self.folder, self.program = pathlib.Path(folder), program
        self.environment = {**os.environ, "XDG_CONFIG_HOME": folder, "HOME": folder, "LC_ALL": "C.UTF-8", "TZ": "UTC"}
        self.readers = Readers(readers, cwd=folder, env=self.environment)
        self.base, self.home = self.folder / "base.db", self.folder / "home.db"
        for name, text in (("card.ini", CARD), ("some.keys", KEYS), ("shadow.keys", "0.0 w\n0.5 i\n1.0 O\n")):
            (self.folder / name).write_text(text, encoding="utf-8")
        for words in (("card", "load", "card.ini"),
                      ("desk", "1", "--operator", "ana", "--keys", "some.keys", "--speed", "max", "--headless"),
                      ("desk", "1", "--operator", "ben", "--shadow", "--keys", "shadow.keys", "--speed", "max", "--headless")):
            code, _, _, words = self.ask(self.base, *words)
            assert code == 0, words
        with sqlite3.connect(self.base) as database:
            database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            database.execute("PRAGMA journal_mode = DELETE")
        database.close()
        shutil.copy(self.base, self.home)
        self.wanted = [self.ask(self.base, *words)[:3] for words in SAME]
        assert all(code == 0 for code, _, _ in self.wanted)
        self.tried = 0

    def ask(self, db, *words):
        """(exit code, size and digest of what it wrote, its complaint with "|" for a line's end)"""
        done = self.readers.call("--db", db, *words)
        return (done.returncode, len(done.stdout), hashlib.sha256(done.stdout).digest(),
                done.stderr.decode("utf-8").replace("\n", "|"))

    def fresh(self, name):
        path = self.folder / name
        for end in ("", "-wal", "-shm", "-journal", ".desks", ".signs"):
            pathlib.Path(f"{path}{end}").unlink(missing_ok=True)
        shutil.copy(self.base, path)
        return path

    def one_line(self, code, size, complaint, what):
        assert code in (0, 1), (what, code, complaint)
        if code:
            assert complaint.count("|") == 1 and complaint.endswith("|"), (what, complaint)
            assert not any(ord(char) < 32 or 127 <= ord(char) < 160 for char in complaint), (what, complaint)

    def judge(self, path, wanted, name):
        """All readers, then the merge of it into another, then whoever would write."""
        def state():
            if not os.path.isfile(path):
                return None
            return [(end, pathlib.Path(f"{path}{end}").read_bytes()) for end in ("", "-wal", "-journal")
                    if os.path.isfile(f"{path}{end}") and 0 < os.stat(f"{path}{end}").st_size < 1 << 26]

        before = state()
        refused = told = other = 0
        writers, wanted = wanted != UNREAD, REFUSED if wanted == UNREAD else wanted
        for number, words in enumerate((*SAME, *OTHERS)):
            code, size, digest, complaint = self.ask(path, *words)
            what = (name, words)
            if words != ("verify",):
                self.one_line(code, size, complaint, what)
                assert code == 0 or size == 0, (what, "half of it was told", size, complaint)
            else:
                assert code in (0, 1), (what, code, complaint)
                told = code
                continue
            refused += code
            other += number < len(SAME) and (code, size, digest) != self.wanted[number]
            if wanted == REFUSED:
                assert code == 1, (what, "was read")
            elif wanted == RIGHT:
                assert code == 0, (what, complaint)
            if code == 0 and number < len(SAME) and wanted in (RIGHT, EITHER):
                assert (code, size, digest) == self.wanted[number], (what, "tells something else")
            self.tried += 1
        # Whatever is told otherwise than before, verify does not call whole; but for what nobody sealed.
        assert told == 1 or (wanted != REFUSED and (not other or name in UNSEALED)), name
        drop, backup = self.folder / "drop", self.folder / "backup.db"
        for words in (("drop", "1", "--dir", drop, "--once"), ("backup", backup)):
            code, size, _, complaint = self.ask(path, *words)
            self.one_line(code, size, complaint, (name, words))
            assert wanted != REFUSED or code == 1 or (not writers and words[0] == "backup"), (name, words)
            if code:
                assert not backup.exists() or words[0] == "drop", name
            shutil.rmtree(drop, ignore_errors=True)
            backup.unlink(missing_ok=True)
        code, size, _, complaint = self.ask(self.home, "merge", path)
        self.one_line(code, size, complaint, (name, "merge"))
        assert wanted != REFUSED or code == 1, (name, "was merged")
        if wanted != ANY:
            assert self.ask(self.home, *SAME[0])[:3] == self.wanted[0], (name, "came in")
        assert state() == before, (name, "a reader changed it")
        code, size, _, complaint = self.ask(path, "desk", "1", "--operator", "cyd", "--keys", "some.keys", "--speed", "max",
                                            "--headless")
        if wanted == REFUSED and writers:
            self.one_line(code, size, complaint, (name, "desk"))
            assert code == 1 and state() == before, (name, "was written to")
        assert code in (0, 1), (name, "desk", code, complaint)
        if wanted == ANY:  # what came in there is not for the next
            for end in ("", "-wal", "-shm"):
                pathlib.Path(f"{self.home}{end}").unlink(missing_ok=True)
            shutil.copy(self.base, self.home)
        return refused


def sql(path, *texts):
    database = sqlite3.connect(path, isolation_level=None)
    database.execute("PRAGMA foreign_keys = OFF")
    database.execute("PRAGMA ignore_check_constraints = ON")
    database.execute("PRAGMA writable_schema = ON")
    for text in texts:
        database.execute(*(text if isinstance(text, tuple) else (text,)))
    database.close()


def schema_sql(path, name):
    database = sqlite3.connect(path)
    text = database.execute("SELECT sql FROM sqlite_schema WHERE name = ?", (name,)).fetchone()[0]
    database.close()
    return text


def rewritten(path, name, old, new):
    """The text of a table as it stands in the schema, and nothing else, changed."""
    text = schema_sql(path, name)
    assert old in text, (name, old)
    sql(path, ("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (text.replace(old, new, 1), name)))


def rebuilt(path, table, change):
    """The table anew by a changed text, with its rows; indexes and triggers as they were."""
    database = sqlite3.connect(path, isolation_level=None)
    database.execute("PRAGMA foreign_keys = OFF")
    rest = database.execute("SELECT name, type, sql FROM sqlite_schema WHERE tbl_name = ? AND type <> 'table' AND sql "
                            "IS NOT NULL", (table,)).fetchall()
    text = change(schema_sql(path, table))
    columns = ", ".join(row[1] for row in database.execute(f"PRAGMA table_info({table})"))
    for name, kind, _ in rest:
        database.execute(f"DROP {kind} {name}")
    for name, in database.execute("SELECT name FROM sqlite_schema WHERE type = 'view'").fetchall():
        database.execute(f"DROP VIEW {name}")
    database.execute("PRAGMA legacy_alter_table = ON")
    database.execute(f"ALTER TABLE {table} RENAME TO was")
    database.execute(text)
    database.execute(f"INSERT INTO {table} ({columns}) SELECT {columns} FROM was")
    database.execute("DROP TABLE was")
    for _, _, more in rest:
        database.execute(more)
    database.close()


def behind_the_text(path, table, texts):
    """Rows that the table's own text forbids: it is loosened, they are put in, and the text is what it was."""
    text = schema_sql(path, table)
    database = sqlite3.connect(path, isolation_level=None)
    names = database.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for name, _ in names:
        database.execute(f"DROP TRIGGER {name}")
    database.execute("PRAGMA writable_schema = ON")
    loose = re.sub(r"\b(INTEGER|TEXT|BLOB) NOT NULL", "\\1", text.replace("STRICT, ", "").replace(" STRICT", ""))
    database.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (loose, table))
    version = database.execute("PRAGMA schema_version").fetchone()[0]
    database.execute(f"PRAGMA schema_version = {version + 1}")
    database.close()
    sql(path, *texts)
    sql(path, ("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (text, table)), f"PRAGMA schema_version = {version + 2}")
    database = sqlite3.connect(path, isolation_level=None)
    for _, more in names:
        database.execute(more)
    database.close()


def patched(path, at, data):
    with open(path, "r+b") as file:
        file.seek(at)
        file.write(data)


def root_of(path, name):
    database = sqlite3.connect(path)
    root = database.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (name,)).fetchone()[0]
    database.close()
    return root


# --- schemas ----------------------------------------------------------------------------------------------------

def schemas(place):
    """(name, what is expected, how)"""
    def entry_view(path):
        sql(path, "PRAGMA legacy_alter_table = ON", "ALTER TABLE entry RENAME TO entry_real",
            "CREATE VIEW entry AS SELECT * FROM entry_real WHERE limb IS NOT 'left_hand'")

    def virtual(table, using):
        def make(path):
            sql(path, "PRAGMA legacy_alter_table = ON", f"ALTER TABLE {table} RENAME TO was",
                f"CREATE VIRTUAL TABLE {table} USING {using}")
        return make

    def triggers(path):
        sql(path, *(f"CREATE TRIGGER evil_{table}_{kind} AFTER {kind} ON {table} BEGIN DELETE FROM entry; "
                    "UPDATE corner SET name = 'Eve'; END" for table in ("card", "bout", "corner", "judge", "desk", "seal", "entry")
                    for kind in ("INSERT", "UPDATE", "DELETE")))

    def huge(path):
        sql(path, f"CREATE TRIGGER huge BEFORE INSERT ON desk BEGIN SELECT '{'x' * 2_000_000}'; END")

    def many(path):
        sql(path, "BEGIN", *(f"CREATE TABLE t{number} (x)" for number in range(3000)), "COMMIT")

    def deep(path):
        sql(path, "CREATE VIEW deep AS SELECT 1 AS x", ("UPDATE sqlite_schema SET sql = ? WHERE name = 'deep'", (
            "CREATE VIEW deep AS SELECT " + "(" * 3000 + "1" + ")" * 3000 + " AS x",)))

    def views(path):
        sql(path, "CREATE VIEW a AS SELECT 1 AS x", "CREATE VIEW b AS SELECT x FROM a", "DROP VIEW a",
            "CREATE VIEW a AS SELECT x FROM b",
            "CREATE VIEW endless AS WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n",
            "CREATE VIEW boom AS SELECT count(*) AS x FROM " + ", ".join(f"entry AS e{number}" for number in range(20)))

    def our_view(path):
        sql(path, "DROP VIEW strike", "CREATE VIEW strike AS WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) "
            "SELECT i AS bout FROM n")

    def lying_index(path):
        text = schema_sql(path, "entry_official")
        sql(path, "DROP INDEX entry_official", text.replace("kind = 'official'", "kind = 'none'"))
        sql(path, ("UPDATE sqlite_schema SET sql = ? WHERE name = 'entry_official'", (text,)))

    def statistics(path):
        sql(path, "ANALYZE", "UPDATE sqlite_stat1 SET stat = '9223372036854775807 -1 x unordered noskipscan sz=0'",
            "INSERT INTO sqlite_stat1 VALUES ('entry', 'entry_sign', '1 1 1'), ('nowhere', 'none', 'none'), (NULL, NULL, NULL)")

    def roots(path):
        database = sqlite3.connect(path)
        a, b = root_of(path, "corner"), root_of(path, "judge")
        database.close()
        sql(path, f"UPDATE sqlite_schema SET rootpage = {b} WHERE name = 'corner'",
            f"UPDATE sqlite_schema SET rootpage = {a} WHERE name = 'judge'")

    def same_root(path):
        sql(path, f"UPDATE sqlite_schema SET rootpage = {root_of(path, 'desk')} WHERE name = 'entry'")

    def no_root(path):
        sql(path, "UPDATE sqlite_schema SET rootpage = 0 WHERE name = 'entry'")

    yield "entry is a view", REFUSED, entry_view
    yield "entry is full text", REFUSED, virtual("entry", "fts5(desk, seq, kind, text)")
    yield "card is the file's statistics", REFUSED, virtual("card", "dbstat")
    yield "card is a table of r-trees", REFUSED, virtual("card", "rtree(id, a, b)")
    yield "a module that is nowhere", REFUSED, lambda path: sql(path, (
        "INSERT INTO sqlite_schema VALUES ('table', 'ghost', 'ghost', 0, 'CREATE VIRTUAL TABLE ghost USING nowhere(1)')",))
    yield "judge with a rowid", REFUSED, lambda path: rebuilt(path, "judge", lambda text: text.replace("WITHOUT ROWID", "").replace(
        "STRICT,", "STRICT").rstrip(", "))
    yield "desk without a rowid", REFUSED, lambda path: rewritten(path, "desk", "STRICT", "STRICT, WITHOUT ROWID")
    yield "a column computed anew at each look", REFUSED, lambda path: sql(path, (
        "ALTER TABLE corner ADD COLUMN now TEXT GENERATED ALWAYS AS (name || typeof(bout)) VIRTUAL",))
    yield "one of ours is computed", REFUSED, lambda path: rewritten(
        path, "entry", "value        INTEGER NOT NULL", "value        INTEGER AS (random() % 2)")
    yield "triggers on every table", REFUSED, triggers
    yield "an index by another order", REFUSED, lambda path: sql(path, "CREATE UNIQUE INDEX odd ON corner (name COLLATE NOCASE)")
    yield "an index by an order that is nowhere", REFUSED, lambda path: (sql(path, "CREATE INDEX odd ON corner (name)"), rewritten(
        path, "odd", "(name)", "(name COLLATE nowhere)"))
    yield "an index on an expression", REFUSED, lambda path: sql(path, "CREATE INDEX odd ON entry (abs(value), lower(text))")
    yield "a part of an index", REFUSED, lambda path: rewritten(path, "entry_sign", "kind = 'sign'", "kind = 'sing'")
    yield "an index that lies", ANY, lying_index
    yield "a check left out", REFUSED, lambda path: rewritten(path, "entry", "CHECK (round BETWEEN 1 AND 20)", "")
    yield "not strict", REFUSED, lambda path: rewritten(path, "entry", ") STRICT", ")")
    yield "columns in another order", REFUSED, lambda path: rebuilt(path, "card", lambda text: text.replace("title", "\0").replace(
        "venue", "title").replace("\0", "venue"))
    yield "a column more", REFUSED, lambda path: sql(path, "ALTER TABLE seal ADD COLUMN more TEXT")
    yield "a table more", REFUSED, lambda path: sql(path, "CREATE TABLE \"x\n\x1b[2J\" (a)")
    yield "a name with a line break in a damaged schema", REFUSED, lambda path: sql(path, (
        "INSERT INTO sqlite_schema VALUES ('table', ?, ?, 2, 'CREATE TABLE x (')", ("a\nb\x1b[2J", "a\nb\x1b[2J")))
    yield "a name of a blob", REFUSED, lambda path: sql(path, "UPDATE sqlite_schema SET name = CAST(name AS BLOB) WHERE name = "
                                                              "'entry_sign'")
    yield "3000 tables", REFUSED, many
    yield "two megabytes of schema", REFUSED, huge
    yield "a schema deeper than any parser", REFUSED, deep
    yield "views around each other, without end", RIGHT, views
    yield "our view without end", RIGHT, our_view
    yield "statistics of nonsense", RIGHT, statistics
    yield "two tables' roots exchanged", ANY, roots
    yield "two tables on one root", ANY, same_root
    yield "a table without a root", ANY, no_root
    yield "a version to come", REFUSED, lambda path: sql(path, "PRAGMA user_version = 99")
    yield "a version below zero", REFUSED, lambda path: sql(path, "PRAGMA user_version = -2147483648")
    yield "no version", REFUSED, lambda path: sql(path, "PRAGMA user_version = 0")
    yield "an old version's number on a new schema", REFUSED, lambda path: sql(path, "PRAGMA user_version = 2")
    yield "another program's", REFUSED, lambda path: sql(path, "PRAGMA application_id = 252006673")
    yield "no program's", REFUSED, lambda path: sql(path, "PRAGMA application_id = 0")


# --- values that no table of ours would take ----------------------------------------------------------------------

# What is said of a bout that is not signed, beside its entries, may be changed by anybody.
UNSEALED = {"a fighter's name of zeros", "a bout of a text", "a bout of a huge number", "a card that was loaded before all",
            "a card without an end", "another's -wal"}
# What another program may have meant; verify names it.
READ = {"seq beyond all": ANY, "no text that is UTF-8": ANY, "a desk that is nowhere": ANY}


def values(place):
    del place
    strike = "(SELECT min(arrival) FROM entry WHERE kind = 'strike')"
    entries = (
        ("a blob for a text", f"UPDATE entry SET text = x'00ff' WHERE arrival = {strike}"),
        ("a real for a number", f"UPDATE entry SET value = 1e308 WHERE arrival = {strike}"),
        ("infinity", f"UPDATE entry SET at_ms = 9e999 WHERE arrival = {strike}"),
        ("no number", f"UPDATE entry SET round = 0.0 / 0.0 WHERE arrival = {strike}"),
        ("a text for a number", f"UPDATE entry SET round = 'one' WHERE arrival = {strike}"),
        ("numbers beyond all", f"UPDATE entry SET utc_ms = 9223372036854775807, at_ms = -9223372036854775808 WHERE arrival = {strike}"),
        ("seq beyond all", f"UPDATE entry SET seq = 9223372036854775807 WHERE arrival = {strike}"),
        ("seq below zero", f"UPDATE entry SET seq = -9223372036854775808 WHERE arrival = {strike}"),
        ("two megabytes of nothing", f"UPDATE entry SET text = CAST(zeroblob(2000000) AS TEXT) WHERE arrival = {strike}"),
        ("a blob of two megabytes", f"UPDATE entry SET prior = zeroblob(2000000) WHERE arrival = {strike}"),
        ("no text that is UTF-8", f"UPDATE entry SET text = CAST(x'fffec0808080' AS TEXT) WHERE arrival = {strike}"),
        ("a zero in a text", f"UPDATE entry SET kind = 'strike' || char(0) || 'x' WHERE arrival = {strike}"),
        ("a kind that is none", f"UPDATE entry SET kind = 'stroke' WHERE arrival = {strike}"),
        ("nothing at all", f"UPDATE entry SET kind = NULL, act = NULL, position = NULL, text = NULL WHERE arrival = {strike}"),
        ("a desk that is nowhere", f"UPDATE entry SET desk = 99 WHERE arrival = {strike}"),
    )
    for name, text in entries:
        yield name, READ.get(name, UNREAD), lambda path, text=text: behind_the_text(path, "entry", (text,))
    for name, table, text in (
            ("desks that go on from each other", "desk", "UPDATE desk SET continues = 3 - id WHERE id < 3"),
            ("a desk that goes on from itself", "desk", "UPDATE desk SET continues = id"),
            ("a desk's number of a text", "desk", "UPDATE desk SET uid = 'z' || uid"),
            ("a desk's name of a blob", "desk", "UPDATE desk SET name = x'1b5b324a', operator = x'00'"),
            ("a fighter's name of zeros", "corner", "UPDATE corner SET name = char(0) || 'x' || char(27) || '[2J'"),
            ("a bout of a text", "bout", "UPDATE bout SET number = 'one' WHERE id = 1"),
            ("a bout of a huge number", "bout", "UPDATE bout SET number = 9223372036854775807, rounds = -1 WHERE id = 1"),
            ("a card that was loaded before all", "card", "UPDATE card SET loaded = -9223372036854775808"),
            ("a card without an end", "card", "UPDATE card SET title = CAST(zeroblob(900000) AS TEXT)")):
        yield name, ANY, lambda path, table=table, text=text: behind_the_text(path, table, (text,))


# --- files --------------------------------------------------------------------------------------------------------

def files(place):
    def vacuumed(*pragmas):
        def make(path):
            sql(path, *pragmas, "VACUUM")
        return make

    def utf16(path):
        other = place.folder / "utf16.tmp"
        other.unlink(missing_ok=True)
        source, target = sqlite3.connect(path), sqlite3.connect(other, isolation_level=None)
        target.execute("PRAGMA encoding = 'UTF-16le'")
        target.execute("CREATE TABLE x (a)")
        target.execute("DROP TABLE x")
        views = [line for line in source.iterdump() if "sqlite_sequence" not in line]
        target.executescript("\n".join(views))
        for pragma in ("application_id", "user_version"):
            target.execute(f"PRAGMA {pragma} = {source.execute(f'PRAGMA {pragma}').fetchone()[0]}")
        source.close()
        target.close()
        os.replace(other, path)

    def foreign_wal(path):
        other = place.folder / "wal.tmp"
        shutil.copy(place.base, other)
        database = sqlite3.connect(other, isolation_level=None)
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("UPDATE corner SET name = 'Eve' WHERE corner = 'red'")
        shutil.copy(f"{other}-wal", f"{path}-wal")
        database.close()
        patched(path, 18, b"\2\2")

    def noise_wal(path):
        patched(path, 18, b"\2\2")
        pathlib.Path(f"{path}-wal").write_bytes(bytes(range(256)) * 300)

    def journal(path):
        """As a program that was killed leaves it: the pages of another database, to be put back."""
        size = 4096
        pages = os.path.getsize(path) // size
        nonce = 7
        page = bytes(range(256)) * (size // 256)
        check = (nonce + sum(page[at] for at in range(size - 200, 0, -200))) & 0xffffffff
        head = b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + struct.pack(">IIIII", 2, nonce, pages, 512, size)
        record = b"".join(struct.pack(">I", number) + page + struct.pack(">I", check) for number in (2, 3))
        pathlib.Path(f"{path}-journal").write_bytes(head.ljust(512, b"\0") + record)

    def freelist(number):
        def make(path):
            patched(path, 32, struct.pack(">II", number, 2))
        return make

    def loop(path):
        """The first page of a tree leads to itself."""
        root = root_of(path, "entry")
        patched(path, (root - 1) * 4096, bytes([5, 0, 0, 0, 1, 0x0f, 0, 0]) + struct.pack(">I", root) + struct.pack(">H", 0x0f00))
        patched(path, (root - 1) * 4096 + 0xf00, struct.pack(">I", root) + b"\x05")

    def claims(path):
        """A row that says it has a gigabyte."""
        root = root_of(path, "card")
        start = (root - 1) * 4096
        page = pathlib.Path(path).read_bytes()[start:start + 4096]
        cell = struct.unpack(">H", page[8:10])[0]
        patched(path, start + cell, b"\x83\xdc\xd6\x80\x00")

    yield "pages of 512", RIGHT, vacuumed("PRAGMA page_size = 512")
    yield "pages of 65536", RIGHT, vacuumed("PRAGMA page_size = 65536")
    yield "that vacuums itself", RIGHT, vacuumed("PRAGMA auto_vacuum = FULL")
    yield "in UTF-16", EITHER, utf16
    yield "another's -wal", ANY, foreign_wal
    yield "a -wal of noise", RIGHT, noise_wal
    yield "another's hot journal", UNREAD, journal
    yield "a freelist beyond the end", ANY, freelist(9_999_999)
    yield "a freelist into the schema", ANY, freelist(1)
    yield "a freelist into the entries", ANY, lambda path: freelist(root_of(path, "entry"))(path)
    yield "a tree that leads to itself", ANY, loop
    yield "a row of a gigabyte", ANY, claims
    yield "more pages than there are", ANY, lambda path: patched(path, 28, b"\x7f\xff\xff\xff")
    yield "noise behind the first page", REFUSED, lambda path: patched(path, 100, bytes(range(256)) * 15)


def nothing_regular(place):
    """Paths that lead to no file, or round about to one."""
    fifo, link, around = place.folder / "fifo", place.folder / "link.db", place.folder / "around.db"
    os.mkfifo(fifo)
    around.symlink_to(around)
    tricks = [(path, REFUSED) for path in (fifo, around, place.folder, "/dev/null", "/dev/zero", "/dev/full", "/proc/self/mem",
                                           "/proc/self/environ", place.folder / "none.db", place.folder / "card.ini" / "x")]
    empty = place.folder / "empty.db"
    empty.write_bytes(b"")
    text = place.folder / "text.db"
    text.write_bytes(b"SQLite format 3\0" + b"x" * 5000)
    tricks += [(empty, None), (text, REFUSED)]
    link.symlink_to(place.fresh("behind.db"))
    tricks += [(link, RIGHT)]
    far, short = place.folder / ("d" * 200) / "far.db", place.folder / "s"
    far.parent.mkdir()
    short.symlink_to(place.fresh("trick.db").rename(far))
    tricks += [(short, RIGHT)]
    for path, wanted in tricks:
        for words in (SAME[0], SAME[2], SAME[3], ("verify",), ("marks", "1", "--start", "01:00:00:00"), ("history", "Ana Lume"),
                      ("backup", place.folder / "none-2.db")):
            code, size, digest, complaint = place.ask(path, *words)
            if words[0] != "verify":
                place.one_line(code, size, complaint, (path, words))
            assert code == (0 if wanted == RIGHT else 1), (path, words, complaint)
            (place.folder / "none-2.db").unlink(missing_ok=True)
            place.tried += 1
        code, size, _, complaint = place.ask(place.home, "merge", path)
        place.one_line(code, size, complaint, (path, "merge"))
        assert code == (0 if wanted == RIGHT else 1), (path, "merge", complaint)
        if wanted == REFUSED and path != place.folder / "none.db":
            code, size, _, complaint = place.ask(path, "card", "load", "card.ini")
            place.one_line(code, size, complaint, (path, "card load"))
            assert code == 1, (path, complaint)
    assert empty.stat().st_size == 0 and fifo.is_fifo()
    # What lies beside a database lies beside where the link leads, however far.
    next(how for name, _, how in files(place) if name == "another's hot journal")(far)
    for words in SAME:
        code, size, _, complaint = place.ask("s", *words)
        assert code == 1 and size == 0, (words, complaint)
    return len(tricks)


def feed(place):
    """The feed does not begin on any of them."""
    for name in ("entry is a view", "triggers on every table", "a version to come", "another's hot journal"):
        how = next(how for trick, _, how in (*schemas(place), *files(place)) if trick == name)
        path = place.fresh("feed.db")
        how(path)
        began = time.monotonic()
        done = subprocess.run([place.program, "--db", path, "feed", "--listen", "127.0.0.1:0"], capture_output=True, text=True,
                              timeout=30, check=False, env=place.environment)
        assert done.returncode == 1 and len(done.stderr.strip().splitlines()) == 1, (name, done)
        assert time.monotonic() - began < 25


def main():
    program, readers = pathlib.Path(sys.argv[2]).resolve(), pathlib.Path(sys.argv[3]).resolve()
    only = sys.argv[4:]
    with tempfile.TemporaryDirectory() as folder:
        place = Place(folder, program, readers)
        count, refused = 0, 0
        for tricks in (schemas, values, files):
            for name, wanted, how in tricks(place):
                if only and name not in only:
                    continue
                path = place.fresh("trick.db")
                how(path)
                now = place.judge(path, wanted, name)
                if os.environ.get("RINGTALLY_SAY"):
                    print(f"{name}: {wanted}, {now} refused")
                refused += now > 0
                count += 1
        if not only:
            count += nothing_regular(place)
            feed(place)
        place.readers.end()
        print(f"{count} tricks, {place.tried} times read; {refused} refused; the slowest command took {place.readers.slowest} ms of the "
              "processor")


main()
