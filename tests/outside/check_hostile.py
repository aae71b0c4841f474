#!/usr/bin/python3
"""Hostile text in every output, and hostile files: each text is put where people type (the card, the
operator's name, a reason), where a log from elsewhere brings it, and where another program writes it
straight into the database; then every command's output is held against what it must never hold.

usage: check_hostile.py EXAMPLES_DIR RINGTALLY READERS
"""
import csv
import hashlib
import html.parser
import io
import json
import os
import pathlib
import queue
import re
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import unicodedata
import xml.etree.ElementTree

from readers import Readers

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
SOME = ("escape", "bidi", "lines", "html", "quotes")  # where an output costs more
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
    (("counts", BOUT, "--format", "csv", "--bom"), "csv"), (("sheet", BOUT, "--format", "csv", "--bom"), "csv"),
    (("log", BOUT, "--all", "--format", "csv", "--bom"), "csv"), (("card", "show", "--history"), "text"),
    (("release", BOUT), "text"), (("agree", BOUT, "--desk", "ONE", "--desk", "TWO"), "text"),
    (("agree", BOUT, "--desk", "ONE", "--desk", "TWO", "--format", "json"), "json"),
    (("agree", BOUT, "--reference", "ONE", "--desk", "TWO"), "text"),
    (("agree", BOUT, "--reference", "ONE", "--desk", "TWO", "--format", "json"), "json"),
    (("history", "RED"), "text"), (("history", "RED", "--format", "json"), "json"),
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
    text = text.removeprefix("\ufeff")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows if row}) <= 3, (where, "rows of any length")
    for cell in (cell for row in rows if guarded for cell in row):
        number = re.fullmatch(r"[-+]?[0-9]+(\.[0-9]+)?", cell)
        assert number or not cell[:1] in "=+-@\t\r" or cell == "" or cell == "-", (where, cell)


def check(form, text, where):
    no_control(text.removeprefix("\ufeff") if form == "csv" else text, where)
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
    told = {}  # how often each output came

    def __init__(self, folder, examples, program, readers):
        self.folder, self.examples, self.program = pathlib.Path(folder), examples, program
        self.db = self.folder / "h.db"
        self.environment = {**os.environ, "XDG_CONFIG_HOME": folder, "HOME": folder, "LC_ALL": "C.UTF-8",
                            "TERM": "dumb"}
        self.readers = Readers(readers, env=self.environment)

    def run(self, *words):
        done = self.readers.call("--db", self.db, *words)
        assert done.returncode in (0, 1, 2), (words, done)
        for stream in (done.stdout, done.stderr):
            stream.decode("utf-8")
        no_control(done.stderr.decode("utf-8"), ("stderr", words))
        return done

    def names(self):
        """What two desks and a fighter are called, as the database has it."""
        with sqlite3.connect(self.db) as database:
            database.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
            desks = [row[0] for row in database.execute("SELECT DISTINCT name FROM desk WHERE corners <> 'none' OR shadow")]
            red = database.execute("SELECT name FROM corner WHERE corner = 'red'").fetchone()[0]
        database.close()
        desks = [desk or "?" for desk in desks] + ["?", "?"]
        return {"ONE": desks[0], "TWO": desks[1], "RED": red or "?"}

    def outputs(self, name):
        names = self.names()
        for words, form in OUTPUTS:
            if words[0] == "agree" and name[1] not in SOME:
                continue
            done = self.run(*(names.get(word, word) for word in words))
            told = done.returncode == 0
            self.told[words] = self.told.get(words, 0) + told
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


def typed(place, name, text, serve):
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
    place.run("desk", BOUT, "--keys", place.examples / "bout-1-second.keys", "--speed", "max", "--headless", "--shadow",
              "--operator", "ben" + operator[:10])
    place.run("sign", BOUT, "--operator", operator)
    place.run("reopen", BOUT, "--operator", "Ute", "--reason", operator)
    place.outputs(("typed", name))
    if serve:
        served(place, ("typed", name))
    return True


def practised(place, name, text):
    """Where an operator's name is of a database that belongs to no bout."""
    words = ("practice", "--level", "burst", "--seed", "3", "--seconds", "20")
    calls = place.run(*words, "--calls").stdout
    assert calls.count(b"\n") > 5, calls
    keys = place.folder / "calls.keys"
    keys.write_bytes(calls)
    done = place.run(*words, "--keys", keys, "--operator", text)
    if done.returncode:
        assert done.stderr.count(b"\n") == 1, (name, done.stderr)
        return
    check("text", done.stdout.decode("utf-8"), ("practised", name))
    store = sqlite3.connect(next(place.folder.rglob("*practice*.db")))
    held = store.execute("SELECT operator FROM session").fetchone()[0]
    store.execute("UPDATE session SET operator = ?", (text,))  # and past what the command would take
    store.commit()
    store.close()
    for asked in (held, text):
        for form in ("text", "json", "html"):
            done = place.run("practice", "--report", asked, "--format", form)
            if done.returncode == 0:
                check(form, done.stdout.decode("utf-8"), ("practised", name, form))
            else:
                assert done.stderr.count(b"\n") == 1, (name, done.stderr)


def served(place, name):
    """All that the feed serves of it: heads, documents, the stream's beginning."""
    feed = subprocess.Popen([place.program, "--db", place.db, "feed", "--listen", "127.0.0.1:0"], stdout=subprocess.PIPE,
                            stderr=subprocess.DEVNULL, env=place.environment, text=True)
    said = queue.Queue()
    threading.Thread(target=lambda: said.put(feed.stdout.readline()), daemon=True).start()
    try:
        port = int(re.search(r":([0-9]+)", said.get(timeout=60)).group(1))
        paths = json.loads((place.examples.parent / "schema" / "openapi.json").read_text(encoding="utf-8"))["paths"]
        card, number = BOUT.split("/")
        came = 0
        for path in paths:
            path = path.replace("{card}", card).replace("{number}", number).replace("{corner}", "red")
            if "{schema}" in path or path.endswith("openapi.json"):
                continue
            with socket.create_connection(("127.0.0.1", port), timeout=60) as link:
                link.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode())
                got = b""
                while True:
                    more = link.recv(65536)
                    got += more
                    if not more or (path.endswith("/events") and got.count(b"\n\n") > 0):
                        break
            head, _, body = got.partition(b"\r\n\r\n")
            lines = head.decode("ascii").split("\r\n")
            assert re.fullmatch(r"HTTP/1\.1 [0-9]{3} .*", lines[0]), (name, path, lines[0])
            for line in lines[1:]:
                assert re.fullmatch(r"[A-Za-z-]+: [\x20-\x7e]*", line) and "njected" not in line, (name, path, line)
            kind = next((line for line in lines if line.lower().startswith("content-type:")), "")
            if "chunked" in head.decode("ascii").lower():
                whole = b""
                while body:
                    size, _, rest = body.partition(b"\r\n")
                    whole, body = whole + rest[:int(size or b"0", 16)], rest[int(size or b"0", 16) + 2:]
                body = whole
            text = body.decode("utf-8", "strict" if not path.endswith("/events") else "ignore")
            form = "json" if "json" in kind else "html" if "html" in kind else "text"
            check(form, text, (name, path))
            came += lines[0].split()[1] == "200"
        assert came > 10 or name[0] == "written", (name, came)
    finally:
        feed.terminate()
        feed.wait(timeout=60)
        feed.stdout.close()


def plain(place):
    card = place.folder / "card.ini"
    card.write_text("[card]\nid = quay-1\ntitle = Quay\ndate = 2026-03-07\n[bout 1]\nrules = kickboxing\n"
                    "red.name = Ana Lume\nblue.name = Bo Reef\njudges = Ju Dge, Ar Biter, Um Pire\n", encoding="utf-8")
    place.run("card", "load", card)
    place.run("desk", BOUT, "--keys", place.examples / "bout-1.keys", "--speed", "max", "--headless", "--operator", "ana")
    place.run("desk", BOUT, "--keys", place.examples / "bout-1-second.keys", "--speed", "max", "--headless", "--shadow",
              "--operator", "ben")


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
    for words in (("practice", "--report", "ana", "-o"), ("agree", BOUT, "-o")):
        link = place.folder / f"link-{words[0]}"
        link.symlink_to(victim)
        assert place.run(*words, link).returncode in (1, 2), words
    folder = place.folder / "dropped"
    folder.mkdir()
    place.run("drop", BOUT, "--dir", folder, "--once")
    names = [path.name for path in folder.iterdir()]
    assert len(names) > 5
    for name in names:  # each file of it a link, and the folder's own link beside
        (folder / name).unlink()
        (folder / name).symlink_to(victim)
    place.run("drop", BOUT, "--dir", folder, "--once")
    for end in (".feed", ".feed-new", ".signs", ".desks", "-wal", "-shm", "-journal"):
        beside = pathlib.Path(f"{place.db}{end}")
        if not beside.exists():
            beside.symlink_to(victim)
            place.run("counts", BOUT)
            place.run("sync", BOUT, "--timecode", "01:00:00:00", "--now")
            beside.unlink(missing_ok=True)
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
    examples, program, readers = pathlib.Path(sys.argv[1]), sys.argv[2], sys.argv[3]
    came_through = 0

    def with_place(*steps):
        with tempfile.TemporaryDirectory() as folder:
            place = Place(folder, examples, program, readers)
            out = [step(place) for step in steps]
            place.readers.end()
            return out

    for name, text in TEXTS:
        some = name in SOME
        came_through += with_place(lambda place: typed(place, name, text, some))[0]
        with_place(plain, lambda place: practised(place, name, text.replace("\0", "")), lambda place: brought(place, name, text),
                   lambda place: written(place, name, text), lambda place: some and served(place, ("written", name)))
    assert came_through > len(TEXTS) // 2
    never = [words for words, _ in OUTPUTS if not Place.told.get(words)]
    assert not never, never  # an output that nobody ever saw proves nothing
    with_place(plain, paths)
    print(f"{len(TEXTS)} texts, {len(OUTPUTS)} outputs, the feed's, and a folder of files, three ways in; {came_through} of the "
          "cards loaded")
    return 0


if __name__ == "__main__":
    sys.exit(main())
