#!/usr/bin/python3
"""A watched folder while a bout plays, and while the disk, the folder and the database misbehave.

A reader takes every file over and over and finds each whole; the figures are those that `counts` gives; then
the folder is full (a file-size limit; and a small tmpfs where this may be mounted), vanishes, the database
goes away and comes back as another. Each trouble is one line, and none is the end.

usage: check_drop.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import csv
import io
import json
import os
import pathlib
import re
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from xml.etree import ElementTree

import jsonschema

BOUT = "saltglass-4/1"
DEADLINE = 40
TEXTS = {
    re.compile(r"(red|blue)(-to-(head|body|leg)|-(hands|knees|legs|elbows))?-(landed|attempted|knockdowns)\.txt"):
        re.compile(r"-|\d+"),
    re.compile(r"(red|blue)-tagged\.txt"): re.compile(r"yes|partly|no"),
    re.compile(r"bout\.txt"): re.compile(r".+/\d+"),
    re.compile(r"notice\.txt"): re.compile(r".*No basis for scoring or betting\."),
    re.compile(r"(red|blue)-(round|minute|window)-(landed|attempted|knockdowns)\.txt"): re.compile(r"-|\d+"),
    re.compile(r"(red|blue)-accuracy\.txt"): re.compile(r"-|\d+%"),
    re.compile(r"(red|blue)-(round|minute|window)-accuracy\.txt"): re.compile(r"-|\d+%"),
    re.compile(r"(red|blue)-((round|minute|window)-)?output\.txt"): re.compile(r"-|\d+\.\d"),
    re.compile(r"(red|blue)-name\.txt"): re.compile(r"\S.*"),
    re.compile(r"clock\.txt"): re.compile(r"\d+:[0-5]\d"),
    re.compile(r"clock-state\.txt"): re.compile(r"ready|running|stopped|rest|over"),
    re.compile(r"round\.txt"): re.compile(r"\d+"),
    re.compile(r"remark\.txt"): re.compile(r"|[^\n]+\."),
    re.compile(r"held\.txt"): re.compile(r"|held for review"),
    re.compile(r"status\.txt"): re.compile(r"live|desk_missing|unreadable|stopped"),
}
FILES = 78
LOCK = ".ringtally-drop"


def until(holds, what):
    end = time.monotonic() + DEADLINE
    while time.monotonic() < end:
        found = holds()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"not in {DEADLINE} s: {what}")


class Watcher:
    """Reads a folder as a graphics system does."""

    def __init__(self, folder, schemas):
        self.folder = pathlib.Path(folder)
        self.valid = {}
        store = {}
        for name in ("counts", "status", "headline", "manifest"):
            schema = json.loads((schemas / f"{name}.schema.json").read_text(encoding="utf-8"))
            jsonschema.Draft202012Validator.check_schema(schema)
            store[schema["$id"]] = schema
            self.valid[f"{name}.json"] = jsonschema.Draft202012Validator(
                schema, resolver=jsonschema.RefResolver(schema["$id"], schema, store))
        self.reads = 0
        self.states = set()
        self.landed = set()

    def text(self, name):
        return (self.folder / name).read_text(encoding="utf-8")

    def status(self):
        try:
            return json.loads(self.text("status.json"))
        except FileNotFoundError:
            return {"state": None}

    def check(self, name, text):
        if name in self.valid:
            self.valid[name].validate(json.loads(text))
        elif name == "counts.csv":
            rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
            assert text.endswith("\r\n") and len(rows) > 100 and len({len(row) for row in rows}) == 1
            assert rows[-1][:1] == ["incidents"], "the table is cut"
        elif name == "table.csv":
            names, values = csv.reader(io.StringIO(text, newline=""), strict=True)
            assert len(names) == len(set(names)) == len(values) and text.endswith("\r\n")
            self.check_table(dict(zip(names, values)))
        elif name == "table.xml":
            figures = ElementTree.fromstring(text).findall("figure")
            self.check_table({figure.get("name"): figure.text or "" for figure in figures})
        elif name == "table.json":
            self.check_table(json.loads(text))
        else:
            kinds = [kind for known, kind in TEXTS.items() if known.fullmatch(name)]
            assert len(kinds) == 1, name
            assert kinds[0].fullmatch(text), (name, text)

    def check_table(self, table):
        for name, text in table.items():
            self.check(f"{name}.txt", text)
        assert list(table)[:2] == ["bout", "notice"] and len(table) > 60

    def tables(self):
        """All tables and the figures' own files say the same. Their names."""
        rows = list(csv.reader(io.StringIO(self.text("table.csv"), newline=""), strict=True))
        table = dict(zip(*rows))
        figures = ElementTree.fromstring(self.text("table.xml")).findall("figure")
        assert table == json.loads(self.text("table.json")), "CSV and JSON"
        assert table == {figure.get("name"): figure.text or "" for figure in figures}, "CSV and XML"
        for name, text in table.items():
            assert self.text(f"{name}.txt") == text, name
        return list(table)

    def sweep(self):
        for name in os.listdir(self.folder):
            if name.startswith("."):
                continue  # being written beside
            text = (self.folder / name).read_bytes().decode("utf-8")
            self.check(name, text)
            self.reads += 1
            if name == "status.txt":
                self.states.add(text)
            elif name == "red-landed.txt" and text != "-":
                self.landed.add(int(text))

    def names(self):
        return sorted(name for name in os.listdir(self.folder) if not name.startswith("."))


class Drop:
    def __init__(self, program, db, folder, log):
        self.log = pathlib.Path(log)
        self.process = subprocess.Popen(
            [program, "--db", db, "drop", BOUT, "--dir", folder, "--every", "0.05"],
            stderr=open(self.log, "wb"), stdout=subprocess.DEVNULL)

    def lines(self):
        return self.log.read_text(encoding="utf-8").splitlines()

    def alive(self):
        return self.process.poll() is None

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(DEADLINE) == 0, self.lines()


def settled(watcher, run):
    """The folder says what `counts` says."""
    def same():
        wanted = json.loads(run("counts", BOUT, "--format", "json"))
        found = json.loads(watcher.text("counts.json"))
        for counts in (wanted, found):  # ages grow
            for key in ("as_of", "newest_entry_age_ms", "desks"):
                del counts[key]
        return wanted == found
    def figures():
        """Files are whole one by one, not as a set: the figures follow counts.json."""
        counts = json.loads(watcher.text("counts.json"))
        for corner in ("red", "blue"):
            side = counts[corner]
            wanted = {"landed": side["landed"], "attempted": side["attempted"], "knockdowns": side["knockdowns"]}
            for target, leaf in side["by_target"].items():
                wanted[f"to-{target}-landed"] = leaf["landed"]
                wanted[f"to-{target}-attempted"] = leaf["attempted"]
            for group, leaf in side["by_group"].items():
                wanted[f"{group}-landed"] = leaf["landed"]
                wanted[f"{group}-attempted"] = leaf["attempted"]
            if any(watcher.text(f"{corner}-{name}.txt") != str(number) for name, number in wanted.items()):
                return False
            accuracy = float(watcher.text(f"{corner}-accuracy.txt")[:-1])
            output = watcher.text(f"{corner}-output.txt")
            told = side["output_per_min"]  # neither before half a minute
            if (abs(accuracy - 100 * side["accuracy"]) > 1 or (output == "-") != (told is None) or
                    (told is not None and abs(float(output) - told) > 0.0500001)):
                return False
        return True
    until(same, "counts.json as counts says")
    watcher.sweep()
    until(figures, "every figure's file as counts.json says")


def check_play(watcher, desk):
    """Reads without a pause while a console plays the bout at sixty times its pace."""
    fault = []

    def read():
        try:
            while desk.poll() is None:
                watcher.sweep()
        except Exception as error:  # pylint: disable=broad-except # told below
            fault.append(repr(error))

    readers = [threading.Thread(target=read) for _ in range(2)]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert not fault, fault
    assert desk.wait() == 0
    assert watcher.reads > 1000 and "live" in watcher.states and len(watcher.landed) > 10


def check_stillness(watcher):
    """Nothing happens: what says how old it is goes on, no figure is touched."""
    before = {name: (watcher.folder / name).stat().st_ino for name in watcher.names()}
    alive = watcher.status()["alive_at"]
    until(lambda: watcher.status()["alive_at"] > alive, "another sign of life")
    until(lambda: watcher.status()["alive_at"][:19] > alive[:19], "and another")
    after = {name: (watcher.folder / name).stat().st_ino for name in watcher.names()}
    assert {name for name in before if before[name] != after[name]} <= {
        "status.json", "counts.json", "counts.csv", "headline.json", "manifest.json"}


def check_size_limit(watcher, drop, run, root):
    soft, hard = resource.prlimit(drop.process.pid, resource.RLIMIT_FSIZE)
    told = len(drop.lines())
    resource.prlimit(drop.process.pid, resource.RLIMIT_FSIZE, (1000, hard))
    run("sync", BOUT, "--timecode", "10:00:00:00", "--operator", "Truck")
    line = until(lambda: drop.lines()[told:], "a line about the full folder")
    assert len(line) == 1 and str(root) in line[0] and line[0].endswith("; trying on"), line
    was = watcher.text("counts.json")
    run("sync", BOUT, "--timecode", "11:00:00:00", "--operator", "Truck")
    alive = time.monotonic() + 2.5  # more than two tries
    until(lambda: time.monotonic() > alive, "time")
    assert drop.alive() and drop.lines()[told:] == line and watcher.text("counts.json") == was
    watcher.sweep()
    assert [name for name in os.listdir(watcher.folder) if name.startswith(".")] == [LOCK], "a rest is left"
    manifest = json.loads(watcher.text("manifest.json"))
    assert {entry["name"]: entry["fresh"] for entry in manifest["files"]}["status.txt"]
    resource.prlimit(drop.process.pid, resource.RLIMIT_FSIZE, (soft, hard))
    until(lambda: len(drop.lines()) == told + 2, "a line that it is over")
    settled(watcher, run)


def check_vanished(watcher, drop, run):
    told = len(drop.lines())
    shutil.rmtree(watcher.folder)
    until(lambda: watcher.folder.is_dir() and len(watcher.names()) == FILES, "the folder again")
    settled(watcher, run)
    (watcher.folder / "red-landed.txt").unlink()
    until(lambda: (watcher.folder / "red-landed.txt").exists(), "a file again")
    told = len(drop.lines())
    aside = watcher.folder.parent.with_name("aside")
    watcher.folder.parent.rename(aside)
    until(lambda: len(drop.lines()) == told + 1, "one line")
    assert "No such file or directory" in drop.lines()[-1]
    aside.rename(watcher.folder.parent)
    until(lambda: len(drop.lines()) == told + 2, "a line that it is over")
    settled(watcher, run)


def check_database(watcher, drop, run, db, other):
    """Gone, back, and another in its place."""
    until(lambda: watcher.status()["state"] == "desk_missing", "the first status")
    told = len(drop.lines())
    family = [pathlib.Path(f"{db}{end}") for end in ("", "-wal", "-shm", ".desks")]
    family = [path for path in family if path.exists()]
    for path in family:
        path.rename(f"{path}.away")
    until(lambda: watcher.status()["state"] == "unreadable", "unreadable")
    assert "no such database" in watcher.status()["trouble"]
    until(lambda: not json.loads(watcher.text("manifest.json"))["fresh"], "the manifest says that they are old")
    for path in reversed(family):
        pathlib.Path(f"{path}.away").rename(path)
    until(lambda: watcher.status()["state"] == "desk_missing", "readable again")
    assert len(drop.lines()) == told + 2
    settled(watcher, run)
    for path in family:
        path.rename(f"{path}.away")
    pathlib.Path(other).rename(db)
    until(lambda: watcher.text("red-landed.txt") == "0", "the other database")
    watcher.sweep()


def check_lock(watcher, run, folder):
    """Another bout into the same folder is refused as long as the first drop lives."""
    before = watcher.text("red-name.txt")
    run("drop", BOUT.replace("/1", "/2"), "--dir", str(folder), "--once", code=1)
    assert watcher.text("red-name.txt") == before


def osc(data):
    """Address and argument of a message, by the specification of Open Sound Control 1.0."""
    def text(at):
        end = data.index(b"\0", at)
        after = end + 4 - end % 4
        assert after <= len(data) and not data[end:after].strip(b"\0"), data
        return data[at:end].decode("utf-8"), after
    assert len(data) % 4 == 0
    address, at = text(0)
    kind, at = text(at)
    if kind == ",i":
        assert at + 4 == len(data)
        return address, str(int.from_bytes(data[at:], "big", signed=True))
    assert kind == ",s", kind
    value, at = text(at)
    assert at == len(data)
    return address, value


def check_osc(ear, watcher):
    """What is sent comes to what stands in the folder, once every figure was sent again."""
    heard = {}
    end = time.monotonic() + 12
    wanted = {f"/ringtally/{name[:-4]}" for name in watcher.names() if name.endswith(".txt")}
    while time.monotonic() < end:
        address, value = osc(ear.recv(2048))
        heard[address] = value
        if wanted <= set(heard) and all(heard[name] == watcher.text(f"{name[11:]}.txt") for name in wanted):
            return
    raise AssertionError({name: (heard.get(name), watcher.text(f"{name[11:]}.txt")) for name in wanted
                          if heard.get(name) != watcher.text(f"{name[11:]}.txt")})


def check_current(program, db, root, schemas, run, examples):
    """The bout that is on, under names that stay; and a window's figures."""
    db = f"{root}/evening.db"
    run("card", "load", examples / "card.ini", base=db)
    folder = pathlib.Path(root, "current")
    log = pathlib.Path(root, "current.log")
    ear = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    ear.bind(("127.0.0.1", 0))
    ear.settimeout(DEADLINE)
    process = subprocess.Popen([program, "--db", db, "drop", "--osc", f"127.0.0.1:{ear.getsockname()[1]}", "--current", "--since", "R2", "--dir", folder,
                                "--every", "0.05"], stderr=open(log, "wb"))
    until(lambda: "no bout has begun" in log.read_text(encoding="utf-8"), "the word that none is on")
    watcher = Watcher(folder, schemas)
    names = None
    for number in (1, 2):
        bout = BOUT.replace("/1", f"/{number}")
        keys = examples / f"bout-{number}.keys"
        run("desk", bout, "--operator", "Iris Palm", "--keys", keys, "--speed", "max", "--headless", base=db)
        until(lambda: (folder / "bout.txt").exists() and watcher.text("bout.txt") == bout, "the next bout")
        counts = json.loads(run("counts", bout, "--format", "json", "--since", "R2", base=db))
        until(lambda: watcher.text("red-window-attempted.txt") == str(counts["red"]["attempted"]) and
              watcher.text("blue-window-landed.txt") == str(counts["blue"]["landed"]), "the window's figures")
        until(lambda: watcher.names() == (names or watcher.names()) and len(watcher.names()) == FILES + 10, "all names")
        names = watcher.names()
        watcher.sweep()
    check_osc(ear, watcher)
    process.send_signal(signal.SIGTERM)
    assert process.wait(DEADLINE) == 0
    run("drop", "--dir", str(folder), code=2)
    run("drop", BOUT, "--osc", "nowhere", "--dir", str(folder), code=2)
    run("drop", BOUT, "--current", "--dir", str(folder), code=2)


def check_tmpfs(program, db, root, schemas, run):
    """A folder that is really full; where none may be mounted, the size limit above has to do."""
    full = pathlib.Path(root, "small")
    full.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(full)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        print("no tmpfs can be mounted here: a full disk is the file-size limit alone")
        return
    try:
        drop = Drop(program, db, full, f"{root}/small.log")
        line = until(drop.lines, "a line about the full disk")
        assert len(line) == 1 and "No space left on device" in line[0], line
        subprocess.run(["mount", "-o", "remount,size=4m", str(full)], check=True)
        until(lambda: len(drop.lines()) == 2, "a line that it is over")
        settled(Watcher(full, schemas), run)
        drop.stop()
    finally:
        subprocess.run(["umount", str(full)], check=True)


def main():
    schemas, examples = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    program = sys.argv[3]
    with tempfile.TemporaryDirectory() as root:
        db, other = f"{root}/bouts.db", f"{root}/other.db"

        def run(*words, base=db, code=0):
            done = subprocess.run([program, "--db", base, *words], capture_output=True, timeout=DEADLINE)
            assert done.returncode == code, (words, done.returncode, done.stderr)
            return done.stdout.decode("utf-8")

        run("drop", BOUT, "--dir", f"{root}/x", "--once", code=1)  # no database
        for base in (db, other):
            run("card", "load", examples / "card.ini", base=base)
        pathlib.Path(root, "file").write_text("x", encoding="utf-8")
        run("drop", BOUT, "--dir", f"{root}/file", code=1)
        run("drop", BOUT, code=2)
        run("drop", BOUT, "--dir", f"{root}/x", "--every", "0", code=2)

        folder = pathlib.Path(root, "truck", "out")
        folder.parent.mkdir()
        watcher = Watcher(folder, schemas)
        drop = Drop(program, db, folder, f"{root}/drop.log")
        until(lambda: watcher.status()["state"] == "desk_missing", "the first status")
        until(lambda: len(watcher.names()) == FILES, "every file")
        assert watcher.text("red-accuracy.txt") == "-" and watcher.text("clock.txt") == "3:00"
        desk = subprocess.Popen([program, "--db", db, "desk", BOUT, "--operator", "Iris Palm", "--keys",
                                 examples / "bout-1.keys", "--speed", "60", "--headless"])
        check_play(watcher, desk)
        settled(watcher, run)
        until(lambda: watcher.status()["state"] == "desk_missing", "the desk has gone")
        red = watcher.status()["official"]["red"]
        assert red["desk"] == "Iris Palm" and red["state"] == "left"
        assert drop.lines() == []
        check_stillness(watcher)
        check_size_limit(watcher, drop, run, root)
        check_vanished(watcher, drop, run)
        check_tmpfs(program, db, root, schemas, run)
        check_lock(watcher, run, folder)
        watcher.tables()
        manifest = json.loads(watcher.text("manifest.json"))
        assert manifest["fresh"] and sorted(entry["name"] for entry in manifest["files"]) == [
            name for name in watcher.names() if name != "manifest.json"]
        drop.stop()
        manifest = json.loads(watcher.text("manifest.json"))
        assert not any(entry["fresh"] for entry in manifest["files"] if not entry["name"].startswith("status"))
        assert watcher.status()["state"] == "stopped" and watcher.text("status.txt") == "stopped"
        drop = Drop(program, db, folder, f"{root}/again.log")
        check_database(watcher, drop, run, db, other)
        drop.stop()
        run("drop", BOUT, "--dir", f"{root}/once", "--once")
        assert len(os.listdir(f"{root}/once")) == FILES + 1  # the lock's file
        check_current(program, other, root, schemas, run, examples)
    return 0


if __name__ == "__main__":
    sys.exit(main())
