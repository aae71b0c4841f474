#!/usr/bin/python3
"""Each call to the machine fails in turn, under each command: a command that says done has done it, one that says
failed has left nothing half-written.

usage: check_calls.py EXAMPLES_DIR RINGTALLY SHIM [TIMES|all [SEED]]
"""
import errno
import json
import mmap
import os
import pathlib
import random
import shutil
import sqlite3
import struct
import subprocess
import sys
import tempfile

KINDS = {  # shim_faults.c
    "open": (1, [errno.EIO, errno.EMFILE]), "read": (2, [errno.EIO]), "write": (4, [errno.ENOSPC, errno.EIO]),
    "sync": (8, [errno.EIO]), "truncate": (16, [errno.EIO]), "rename": (32, [errno.EIO]),
    "unlink": (64, [errno.EIO]), "stat": (128, [errno.EIO]), "map": (256, [errno.ENOMEM]),
    "lock": (512, [errno.EIO]), "memory": (1024, [errno.ENOMEM]),
}
# Once, or from then on; memory and descriptors come and go, and disks stay full.
LASTING = {"write": [False, True], "open": [False, True], "sync": [False, True]}
BESIDE = ("-wal", "-shm", "-journal", ".desks", ".signs")
CARD = "[card]\nid = other\ntitle = Other\ndate = 2026-03-01\n[bout 1]\nrules = boxing\nred.name = X\nblue.name = Y\n"
OLD = "what was there\n"


class Control:
    """The file by which the shim is told."""

    def __init__(self, path):
        with open(path, "wb") as file:
            file.write(bytes(256))
        self.file = open(path, "r+b")  # pylint: disable=consider-using-with
        self.map = mmap.mmap(self.file.fileno(), 256)

    def set(self, kind=0, nth=0, lasting=False, cause=0):
        self.map[0:56] = struct.pack("7q", kind, nth, lasting, cause, 0, 0, 0)

    def calls(self):
        return struct.unpack("7q", self.map[0:56])[5]

    def hits(self):
        return struct.unpack("7q", self.map[0:56])[6]


class Command:
    """words: what is run in a copy of the folder; out: files that it writes; partly: what it did so far may stay."""

    def __init__(self, name, words, out=(), partly=False):
        self.name, self.words, self.out, self.partly = name, words, out, partly


COMMANDS = [
    Command("card load", ["card", "load", "new.ini"]),
    Command("card load, first of all", ["--db", "fresh/f.db", "card", "load", "new.ini"]),
    Command("desk", ["desk", "2", "--operator", "bo", "--keys", "some.keys", "--speed", "max", "--headless"],
            partly=True),
    Command("desk --record", ["desk", "2", "--operator", "bo", "--keys", "some.keys", "--speed", "max", "--headless",
                              "--record", "out.keys"], partly=True),
    Command("counts", ["counts", "1", "--format", "json"]),
    Command("sheet", ["sheet", "1", "--format", "html", "-o", "out.html"], ["out.html"]),
    Command("sheet over a file", ["sheet", "1", "-o", "old.txt"], ["old.txt"]),
    Command("export-log", ["export-log", "1", "-o", "out.jsonl"], ["out.jsonl"]),
    Command("import-log", ["import-log", "other.jsonl"]),
    Command("merge", ["merge", "other.db"]),
    Command("backup", ["backup", "copy.db"]),
    Command("scores load", ["scores", "load", "1", "cards.csv", "--operator", "bo"]),
    Command("result", ["result", "1", "--ended", "no_contest", "--round", "1", "--time", "0:01", "--override", "--operator", "bo"]),
    Command("sign", ["sign", "1", "--operator", "A. Supervisor"]),
    Command("drop", ["drop", "1", "--dir", "dropped", "--once"], partly=True),
]


class Bench:
    def __init__(self, folder, examples, program, shim):
        self.folder = pathlib.Path(folder)
        self.program, self.shim = program, shim
        self.control = Control(self.folder / "control")
        self.template, self.work = self.folder / "template", self.folder / "work"
        self.template.mkdir()
        self.make(examples)

    def make(self, examples):
        at = self.template
        (at / "some.keys").write_text("0.0 Enter\n0.2 w\n0.4 E\n0.6 i\n0.8 k\n1.0 Enter\n", encoding="utf-8")
        (at / "new.ini").write_text(CARD, encoding="utf-8")
        (at / "old.txt").write_text(OLD, encoding="utf-8")
        (at / "dropped").mkdir()
        (at / "cards.csv").write_text("", encoding="utf-8")
        desk = ["desk", "1", "--operator", "ana", "--keys", "some.keys", "--speed", "max", "--headless"]
        self.clean(at, "card", "load", examples / "card.ini")
        self.clean(at, *desk)
        (at / "cards.csv").write_text(self.clean(at, "scores", "dump", "1"), encoding="utf-8")
        self.clean(at, "--db", "other.db", "card", "load", examples / "card.ini")
        self.clean(at, "--db", "other.db", *[word if word != "1" else "3" for word in desk])
        self.clean(at, "--db", "other.db", "export-log", "3", "-o", "other.jsonl")

    def environment(self, ill):
        out = {"LC_ALL": "C.UTF-8", "TZ": "UTC", "HOME": str(self.work), "PATH": "/usr/bin:/bin",
               "TMPDIR": str(self.work), "XDG_DATA_HOME": str(self.work / "data"),
               "ASAN_OPTIONS": "exitcode=99:verify_asan_link_order=0:detect_leaks=0:allocator_may_return_null=1",
               "UBSAN_OPTIONS": "exitcode=99"}
        if ill:
            out |= {"LD_PRELOAD": self.shim, "RINGTALLY_TEST_FAULTS": str(self.folder / "control")}
        return out

    def call(self, at, words, ill=True):
        given = [] if words[0] == "--db" else ["--db", "bouts.db"]
        return subprocess.run([self.program, *given, *map(str, words)], cwd=at, stdin=subprocess.DEVNULL,
                              env=self.environment(ill), capture_output=True, text=True, timeout=120, check=False)

    def clean(self, at, *words):
        done = self.call(at, words, ill=False)
        assert done.returncode == 0, (words, done)
        return done.stdout

    def fresh(self):
        shutil.rmtree(self.work, ignore_errors=True)
        shutil.copytree(self.template, self.work)

    def run(self, command, kind=0, nth=0, lasting=False, cause=0):
        self.fresh()
        self.control.set(kind, nth, lasting, cause)
        done = self.call(self.work, command.words)
        hits = self.control.hits()
        calls = self.control.calls()
        self.control.set()
        return done, hits, calls


def rows_of(path):
    """What a database says, but for what differs in each run. None: there is none, or it is empty."""
    if not path.exists() or path.stat().st_size == 0:
        return None
    with sqlite3.connect(path) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)], path
        assert not db.execute("PRAGMA foreign_key_check").fetchall(), path
        if not db.execute("SELECT 1 FROM sqlite_schema WHERE name = 'entry'").fetchall():
            return None
        entries = db.execute("SELECT bout.card, bout.number, operator, kind, act, code, corner, limb, target, outcome, "
                             "value, text FROM entry JOIN desk ON desk.id = entry.desk JOIN bout ON bout.id = desk.bout "
                             "ORDER BY 1, 2, 3, seq").fetchall()
        cards = db.execute("SELECT id, title, date FROM card ORDER BY id").fetchall()
        corners = db.execute("SELECT bout.card, number, corner, corner.name FROM corner JOIN bout ON bout.id = corner.bout "
                             "ORDER BY 1, 2, 3").fetchall()
    db.close()
    return (entries, cards, corners) if cards or entries else None


def state_of(at):
    """Every file of the folder, as what it says."""
    out = {}
    for path in sorted(at.rglob("*")):
        name = str(path.relative_to(at))
        if path.is_dir() or any(name.endswith(end) for end in BESIDE):
            continue
        if name.endswith(".db"):
            rows = rows_of(path)
            if rows is not None:
                out[name] = rows
        elif name.startswith("dropped/") or name.endswith(".keys") and name != "some.keys":
            out[name] = "there"
        elif name == "out.html" or name == "old.txt" or name == "out.jsonl":
            text = path.read_text(encoding="utf-8")
            whole = text.rstrip().endswith("</html>") or '"sha256"' in text or "ringtally" in text or text == OLD
            out[name] = "old" if text == OLD else "whole" if whole else f"cut: {text[-60:]!r}"
        else:
            out[name] = path.read_bytes()
    return out


def differing(a, b):
    return sorted(name for name in a.keys() | b.keys() if a.get(name) != b.get(name))


def judge_desk(bench, done, nowhere):
    """What a desk was told to log is in the database, or in a file that it names. (Where no disk can be written to, it
    says that it is lost.)"""
    if "are lost" in done.stderr and not nowhere:
        return "entries are lost"
    for path in bench.work.glob("*-ringtally-rescue-*.jsonl"):
        loaded = bench.call(bench.work, ["import-log", path], ill=False)
        if loaded.returncode:
            return f"the rescue file does not load: {loaded.stderr}"
    rows_of(bench.work / "bouts.db")
    return None


def judge(bench, command, before, after, done, kind, lasting):
    """Why this is wrong, or None."""
    if done.returncode < 0 or done.returncode not in (0, 1, 2):
        return f"ended by {done.returncode}: {done.stderr[-600:]}"
    if done.returncode and not done.stderr.strip():
        return "failed without a word"
    now = state_of(bench.work)
    if done.returncode == 0:
        wrong = differing(now, after)
        if kind == "unlink":  # what could not be taken away again is whole, and has another name
            wrong = [name for name in wrong if not name.endswith("-part")]
        return f"says done, and is not: {wrong}" if wrong else None
    if command.name.startswith("desk"):
        return judge_desk(bench, done, lasting and kind in ("open", "write", "sync"))
    wrong = differing(now, before)
    if command.name == "merge" or kind == "sync" and lasting:
        # Bouts that were merged whole stay; and where a disk refuses every sync from then on, nobody can know.
        wrong = wrong if differing(now, after) else []
    if command.partly:
        for path in (bench.work / "dropped").glob("*.json"):
            json.loads(path.read_text(encoding="utf-8"))
        wrong = [name for name in wrong if not name.startswith("dropped/") or
                 "/." in name and name != "dropped/.ringtally-drop"]
    return f"says failed ({done.stderr.strip()}), and something is left: {wrong}" if wrong else None


def jobs_of(bench):
    """Every way to fail, and what each command leaves where nothing fails."""
    jobs, after = [], {}
    for command in COMMANDS:
        bench.control.set()
        bench.fresh()
        done = bench.call(bench.work, command.words)
        assert done.returncode == 0, (command.name, done)
        after[command.name] = state_of(bench.work)
        for name, (kind, causes) in KINDS.items():
            _, _, calls = bench.run(command, kind)
            for nth in range(1, calls + 1):
                for cause in causes:
                    jobs += [(command, name, nth, lasting, cause) for lasting in LASTING.get(name, [False])]
    return jobs, after


def main():
    examples, program, shim = (pathlib.Path(word).resolve() for word in sys.argv[1:4])
    times = sys.argv[4] if len(sys.argv) > 4 else "250"
    seed = int(sys.argv[5]) if len(sys.argv) > 5 else 1
    tried, failed, refused = 0, [], 0
    base = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=base) as folder:
        bench = Bench(folder, examples, str(program), str(shim))
        jobs, after = jobs_of(bench)
        before = state_of(bench.template)
        total = len(jobs)
        random.Random(seed).shuffle(jobs)
        if times != "all":  # memory is asked for most: of each kind alike
            order = {}
            jobs.sort(key=lambda job: order.setdefault((job[0].name, job[1]), []).append(1) or
                      len(order[(job[0].name, job[1])]))
            jobs = jobs[:int(times)]
        for command, name, nth, lasting, cause in jobs:
            done, hits, _ = bench.run(command, KINDS[name][0], nth, lasting, cause)
            tried += hits > 0
            refused += done.returncode != 0
            wrong = judge(bench, command, before, after[command.name], done, name, lasting)
            if wrong:
                failed.append(f"{command.name}: {name} {nth}{' and all later' if lasting else ''}, "
                              f"{errno.errorcode[cause]}: {wrong}")
    for line in failed[:40]:
        print(line)
    print(f"{len(COMMANDS)} commands, {total} ways for a call to fail; tried {len(jobs)}, {tried} came to it, "
          f"{refused} refused, {len(failed)} wrong")
    assert tried > len(jobs) / 2
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
