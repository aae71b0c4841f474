#!/usr/bin/python3
"""Hostile text in every output, and hostile files: each text is put where people type (the card, the
operator's name, a reason), where a log from elsewhere brings it, and where another program writes it
straight into the database; then every command's output is held against what it must never hold.

usage: check_hostile.py EXAMPLES_DIR RINGTALLY
"""
import csv
import hashlib
import html.parser
import io
import json
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile
import unicodedata
import xml.etree.ElementTree

BOUT = "quay-1/1"
# What is tried: (name, text). A word in it is looked for, so that it is known to have come through.
TEXTS = (
    ("escape", "Mark\x1b[2J\x1b]0;owned\x07\x1b[31mX"),
    ("c1", "Mark\u009b31mX\u0090q\u009c"),
    ("bidi", "Mark\u202e\u2066gnp.exe\u2069\u202cX"),
    ("zero", "Mark\u200b\u200d\u2060\ufeffX"),
    ("combining", "Mark" + "\u0301" * 200 + "X"),
    ("lines", "Mark\r\nX-Injected: 1\r\n\r\n<b>X"),
    ("html", "Mark<script>alert(1)</script>\"'><img src=x onerror=alert(1)>&amp;"),
    ("formula", "=cmd|' /C calc'!A1 Mark"),
    ("plus", "+1+1 Mark"),
    ("minus", "-2+3 Mark"),
    ("at", "@SUM(1) Mark"),
    ("tab", "\t=1+1 Mark"),
    ("quotes", 'Mark","","=1+1'),
    ("path", "../../../../tmp/Mark"),
    ("format", "Mark%n%s%s%n%x"),
    ("null", "Mark\\0\\u0000X"),
    ("cue", "Mark --> 00:00:01.000\n\n00:00.000 --> 99:00.000\nX"),
    ("noncharacter", "Mark\ufffe\uffff\U0001fffe"),
    ("surrogates", "Mark\U0010ffffX"),
    ("wide", "Mark" + "界" * 30),
    ("long", "Mark" + "A" * 10000),
)
# Every output, and its form.
OUTPUTS = (
    (("card", "show"), "text"), (("card", "show", "--format", "json"), "json"),
    (("counts", BOUT), "text"), (("counts", BOUT, "--format", "csv"), "csv"),
    (("counts", BOUT, "--format", "json"), "json"),
    (("sheet", BOUT), "text"), (("sheet", BOUT, "--format", "markdown"), "markdown"),
    (("sheet", BOUT, "--format", "csv"), "csv"), (("sheet", BOUT, "--format", "json"), "json"),
    (("sheet", BOUT, "--format", "html"), "html"),
    (("sheet", BOUT, "--for", "red"), "text"), (("sheet", BOUT, "--for", "blue", "--format", "html"), "html"),
    (("log", BOUT, "--all"), "text"), (("log", BOUT, "--all", "--format", "csv"), "csv"),
    (("log", BOUT, "--all", "--format", "json"), "json"),
    (("remarks", BOUT), "text"), (("remarks", BOUT, "--format", "json"), "json"),
    (("marks", BOUT, "--start", "01:00:00:00", "--format", "webvtt"), "webvtt"),
    (("marks", BOUT, "--start", "01:00:00:00", "--format", "csv"), "csv"),
    (("marks", BOUT, "--start", "01:00:00:00", "--format", "edl"), "text"),
    (("marks", BOUT, "--start", "01:00:00:00", "--format", "json"), "json"),
    (("result", BOUT), "text"), (("result", BOUT, "--format", "json"), "json"),
    (("scores", "dump", BOUT), "csv"),
    (("export-log", BOUT), "lines"), (("verify", BOUT), "text"),
)
UNSAFE = {0x200b, 0x200e, 0x200f, 0x2028, 0x2029, 0xfeff, *range(0x202a, 0x202f), *range(0x2066, 0x206a)}


def no_control(text, where):
    """Nothing that drives a terminal, or turns what is read."""
    for number, char in enumerate(text):
        point = ord(char)
        bad = (point < 0x20 and char not in "\n\r") or 0x7f <= point < 0xa0 or point in UNSAFE
        assert not bad, (where, hex(point), text[max(0, number - 40):number + 20])
    run = 0
    for char in text:
        run = run + 1 if unicodedata.combining(char) else 0
        assert run <= 16, (where, "a flood of combining marks")


class Page(html.parser.HTMLParser):
    """No element and no attribute that a name could have brought."""

    def __init__(self, where):
        super().__init__()
        self.where, self.scripts = where, 0

    def handle_starttag(self, tag, attrs):
        assert tag not in ("script", "img", "iframe", "object", "link", "form"), (self.where, tag)
        for key, value in attrs:
            assert not key.startswith("on"), (self.where, key)
            assert "javascript:" not in (value or "").lower(), (self.where, value)


def check_csv(text, where, guarded=True):
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows if row}) <= 3, (where, "rows of any length")
    for cell in (cell for row in rows if guarded for cell in row):
        number = re.fullmatch(r"[-+]?[0-9]+(\.[0-9]+)?", cell)
        assert number or not cell[:1] in "=+-@\t\r" or cell == "" or cell == "-", (where, cell)


def check(form, text, where):
    no_control(text, where)
    if form == "json":
        json.loads(text)
    elif form == "lines":
        for line in text.splitlines():
            json.loads(line)
    elif form == "html":
        Page(where).feed(text)
    elif form == "csv":
        check_csv(text, where)
    elif form == "webvtt":
        for block in text.split("\n\n")[1:]:
            assert block.count("-->") <= 1, (where, block)
    elif form == "markdown":
        assert not re.search(r"(?<!\\)<(script|img|b>)", text), where


class Place:
    def __init__(self, folder, examples, program):
        self.folder, self.examples, self.program = pathlib.Path(folder), examples, program
        self.db = self.folder / "h.db"
        self.environment = {**os.environ, "XDG_CONFIG_HOME": folder, "HOME": folder, "LC_ALL": "C.UTF-8",
                            "TERM": "dumb"}

    def run(self, *words):
        done = subprocess.run([self.program, "--db", self.db, *words], capture_output=True, timeout=120,
                              env=self.environment, check=False)
        assert done.returncode in (0, 1, 2), (words, done)
        for stream in (done.stdout, done.stderr):
            stream.decode("utf-8")
        no_control(done.stderr.decode("utf-8"), ("stderr", words))
        return done

    def outputs(self, name):
        for words, form in OUTPUTS:
            done = self.run(*words)
            if os.environ.get("RINGTALLY_SAY") and done.returncode:
                print(name, words, done.stderr[:150])
            if done.returncode == 0:
                check(form, done.stdout.decode("utf-8"), (name, words))
            else:
                lines = done.stderr.decode("utf-8").strip().splitlines()
                assert len(lines) <= 2, (name, words, lines)
        drop = self.folder / "drop"
        done = self.run("drop", BOUT, "--dir", drop, "--once")
        if done.returncode:
            assert done.stderr.count(b"\n") <= 2, (name, done.stderr)
            return
        seen = set()
        for path in drop.iterdir():
            seen.add(path.name)
            text = path.read_bytes().decode("utf-8")
            form = {".json": "json"}.get(path.suffix, "text")
            check(form, text, (name, path.name))
            if path.suffix == ".csv":  # for graphics systems: a name goes on air as it is
                check_csv(text, (name, path.name), guarded=False)
            elif path.suffix == ".xml":
                xml.etree.ElementTree.fromstring(text)
        assert all(re.fullmatch(r"[.a-z0-9_-]+", file) for file in seen), seen


def ini(text):
    """A value that an INI file can carry at all."""
    return text.replace("\r", "").replace("\n", " ").replace("\0", "")[:150]


def typed(place, name, text):
    """Where people type it: the card, the operator, the reason, the note of a foul."""
    card = place.folder / "card.ini"
    card.write_text(f"[card]\nid = quay-1\ntitle = {ini(text)}\ndate = 2026-03-07\nvenue = {ini(text)}\n[bout 1]\n"
                    f"rules = kickboxing\nred.name = {ini(text)}\nblue.name = Bo Reef\nred.from = {ini(text)}\n"
                    f"referee = {ini(text)}\njudges = Ju Dge, Ar Biter, Um Pire\nweight = {ini(text)}\n",
                    encoding="utf-8", errors="replace")
    loaded = place.run("card", "load", card).returncode == 0
    if not loaded:  # said in one line, and nothing of it is there
        return False
    operator = text.replace("\0", "")
    place.run("desk", BOUT, "--keys", place.examples / "bout-1.keys", "--speed", "max", "--headless",
              "--operator", operator)
    place.run("sign", BOUT, "--operator", operator)
    place.run("reopen", BOUT, "--operator", "Ute", "--reason", operator)
    place.outputs(("typed", name))
    return True


def plain(place):
    card = place.folder / "card.ini"
    card.write_text("[card]\nid = quay-1\ntitle = Quay\ndate = 2026-03-07\n[bout 1]\nrules = kickboxing\n"
                    "red.name = Ana Lume\nblue.name = Bo Reef\njudges = Ju Dge, Ar Biter, Um Pire\n", encoding="utf-8")
    place.run("card", "load", card)
    place.run("desk", BOUT, "--keys", place.examples / "bout-1.keys", "--speed", "max", "--headless")


def written(place, name, text):
    """Where another program writes it: every text of every table, past triggers."""
    with sqlite3.connect(place.db) as db:
        triggers = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for trigger, _ in triggers:
            db.execute(f"DROP TRIGGER {trigger}")
        for column in ("title", "venue", "date"):
            db.execute(f"UPDATE card SET {column} = ?", (text,))
        for column in ("weight", "referee"):
            db.execute(f"UPDATE bout SET {column} = ?", (text,))
        for column in ("name", "short_name", "origin", "record"):
            db.execute(f"UPDATE corner SET {column} = ?{' || corner' if column == 'name' and len(text) < 80 else ''}",
                       (text,))
        db.execute("UPDATE judge SET name = ?", (text,))
        for column in ("operator", "name"):
            db.execute(f"UPDATE desk SET {column} = ?", (text,))
        db.execute("UPDATE entry SET text = ? WHERE kind <> 'result'", (text,))
        for _, sql in triggers:
            db.execute(sql)
    db.close()
    place.outputs(("written", name))


def brought(place, name, text):
    """Where a log brings it: loaded, or refused in one line; as a desk's operator and as a note."""
    log = place.folder / "in.jsonl"
    fighter = {"name": "Ana", "short": "Ana", "stance": "orthodox", "from": text[:40], "record": ""}
    lines = [{"ringtally": "log", "version": 1, "card": {"id": "far-2", "title": text[:80], "date": "", "venue": ""},
              "bout": {"number": 1, "weight": "", "rules": "kickboxing", "rounds": 0, "terms": "",
                       "referee": text[:40], "judges": [], "red": fighter, "blue": {**fighter, "name": "Bo"}}},
             {"desk": "0" * 31 + "1", "operator": text[:20], "name": text[:20], "corners": "both", "shadow": False,
              "opened_ms": 1700000000000},
             {"entry": 1, "desk": "0" * 31 + "1", "utc_ms": 1700000000000, "at_ms": 1700000000000, "kind": "note",
              "act": "add", "round": 1, "elapsed_ms": 0, "corner": "red", "position": "open", "text": text[:40]}]
    above = "".join(json.dumps(line) + "\n" for line in lines)
    end = {"end": len(lines), "sha256": hashlib.sha256(above.encode()).hexdigest()}
    log.write_text(above + json.dumps(end) + "\n", encoding="utf-8")
    done = place.run("import-log", log)
    if done.returncode == 0:
        for words in (("log", "far-2/1", "--all"), ("sheet", "far-2/1"), ("card", "show", "--card", "far-2")):
            shown = place.run(*words)
            check("text", shown.stdout.decode("utf-8"), ("brought", name, words))
    else:
        assert done.stderr.count(b"\n") == 1, (name, done.stderr)


def paths(place):
    """Outputs never go through a link, nor into a folder that is not there; a card's id is no path."""
    victim = place.folder / "victim.txt"
    victim.write_text("mine", encoding="utf-8")
    for number, words in enumerate((("sheet", BOUT), ("export-log", BOUT), ("scores", "dump", BOUT),
                                    ("marks", BOUT, "--start", "01:00:00:00"))):
        link = place.folder / f"link-{number}"
        link.symlink_to(victim)
        done = place.run(*words, "-o", link)
        assert done.returncode == 1 and b"this is a link" in done.stderr, (words, done)
        done = place.run(*words, "-o", place.folder / "none" / "out.txt")
        assert done.returncode == 1 and not (place.folder / "none").exists(), (words, done)
    for words in (("backup",), ("key", "new"), ("card", "new", "-o")):
        link = place.folder / f"link-{words[0]}"
        link.symlink_to(victim)
        done = place.run(*words, link)
        assert done.returncode == 1, (words, done)
    record = place.folder / "link-record"
    record.symlink_to(victim)
    place.run("desk", BOUT, "--keys", place.examples / "bout-1.keys", "--speed", "max", "--headless", "--record", record)
    assert victim.read_text(encoding="utf-8") == "mine"
    for name in ("../../x", "/etc/passwd", "a/b", "..", "x\ny"):
        card = place.folder / "bad.ini"
        card.write_text(f"[card]\nid = {name}\ntitle = T\ndate = 2026-03-07\n[bout 1]\nrules = kickboxing\n"
                        "red.name = A\nblue.name = B\n", encoding="utf-8")
        assert place.run("card", "load", card).returncode == 1, name
        assert place.run("rules", "show", name).returncode == 1, name
        assert place.run("keys", "show", name).returncode == 1, name


def main():
    examples, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    came_through = 0
    for name, text in TEXTS:
        with tempfile.TemporaryDirectory() as folder:
            place = Place(folder, examples, program)
            came_through += typed(place, name, text)
        with tempfile.TemporaryDirectory() as folder:
            place = Place(folder, examples, program)
            plain(place)
            brought(place, name, text)
            written(place, name, text)
    assert came_through > len(TEXTS) // 2
    with tempfile.TemporaryDirectory() as folder:
        place = Place(folder, examples, program)
        plain(place)
        paths(place)
    print(f"{len(TEXTS)} texts, {len(OUTPUTS)} outputs and a folder of files, three ways in; {came_through} of the "
          "cards loaded")
    return 0


if __name__ == "__main__":
    sys.exit(main())
