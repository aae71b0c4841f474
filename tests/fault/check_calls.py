#!/usr/bin/python3
"""Each call to the machine fails in turn, under each command: a command that says done has done it, one that says
failed has left nothing half-written, and what it left opens, folds and verifies.

usage: check_calls.py EXAMPLES_DIR RINGTALLY SHIM [TIMES|all [SEED [SECONDS]]]
TIMES: so many of the ways for a call to fail, alike of each command and kind; SECONDS: no longer than that.
"""
import collections
import errno
import json
import os
import pathlib
import random
import sqlite3
import sys
import tempfile
import time

from calls_kit import OLD, Bench

KINDS = {  # shim_faults.c
    "open": (1, [errno.EIO, errno.EMFILE]), "read": (2, [errno.EIO]), "write": (4, [errno.ENOSPC, errno.EIO]),
    "sync": (8, [errno.EIO]), "truncate": (16, [errno.EIO]), "rename": (32, [errno.EIO]),
    "unlink": (64, [errno.EIO]), "stat": (128, [errno.EIO]), "map": (256, [errno.ENOMEM]),
    "lock": (512, [errno.EIO]), "memory": (1024, [errno.ENOMEM]),
}
# Once, or from then on; memory and descriptors come and go, and disks stay full.
LASTING = {"write": [False, True], "open": [False, True], "sync": [False, True]}
# Where something was found once: always tried, every so many-th of so many.
FOUND = {("release", "read"): (3, 1000), ("release", "lock"): (3, 1000), ("card load", "memory"): (6, 300)}
BESIDE = ("-wal", "-shm", "-journal", ".desks", ".signs")


class Command:
    """words: what is run in a copy of the folder; partly: what it did so far may stay."""

    def __init__(self, name, words, partly=False):
        self.name, self.words, self.partly = name, words, partly


DESK = ["desk", "2", "--operator", "bo", "--keys", "some.keys", "--speed", "max", "--headless"]
COMMANDS = [
    Command("card load", ["card", "load", "new.ini"]),
    Command("card load, first of all", ["--db", "fresh/f.db", "card", "load", "new.ini"]),
    Command("card swap", ["card", "swap", "2", "--yes", "--operator", "bo"]),
    Command("desk", DESK, partly=True),
    Command("desk --record", [*DESK, "--record", "out.keys"], partly=True),
    Command("counts", ["counts", "1", "--format", "json"]),
    Command("sheet", ["sheet", "1", "--format", "html", "-o", "out.html"]),
    Command("sheet over a file", ["sheet", "1", "-o", "old.txt"]),
    Command("export-log", ["export-log", "1", "-o", "out.jsonl"]),
    Command("import-log", ["import-log", "other.jsonl"]),
    Command("merge", ["merge", "other.db"]),
    Command("move", ["move", "1", "2", "--operator", "bo", "--yes"]),
    Command("release", ["release", "1", "knockdowns", "--by", "bo"]),
    Command("backup", ["backup", "copy.db"]),
    Command("scores load", ["scores", "load", "1", "cards.csv", "--operator", "bo"]),
    Command("result", ["result", "1", "--ended", "no_contest", "--round", "1", "--time", "0:01", "--override", "--operator", "bo"]),
    Command("sign", ["sign", "1", "--operator", "A. Supervisor"]),
    Command("sign with a key", ["sign", "1", "--operator", "A. Supervisor", "--key", "sign.key"]),
    Command("reopen", ["--db", "signed.db", "reopen", "1", "--operator", "bo", "--reason", "typed wrong"]),
    Command("key new", ["key", "new", "made.key"]),
    Command("verify", ["--db", "signed.db", "verify"]),
    Command("drop", ["drop", "1", "--dir", "dropped", "--once"], partly=True),
]


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
                             "ORDER BY 1, 2, 3, desk.id, seq").fetchall()
        cards = db.execute("SELECT id, title, date FROM card ORDER BY id").fetchall()
        corners = db.execute("SELECT bout.card, number, corner, corner.name FROM corner JOIN bout ON bout.id = corner.bout "
                             "ORDER BY 1, 2, 3").fetchall()
        if not cards and not entries:
            return None
        seals = db.execute("SELECT count(*) FROM seal").fetchall()
    db.close()
    return entries, cards, corners, seals


class State:
    """What every file of the folder says; those that nobody wrote to say what they said before."""

    def __init__(self, bench, before=None):
        self.files, self.wrong, self.touched = {}, None, False
        for folder, _, names in os.walk(bench.work):
            for name in names:
                path = os.path.relpath(os.path.join(folder, name), bench.work)
                if path.endswith(BESIDE):
                    continue
                if before and bench.is_untouched(path) and not self.has_more(bench, path):
                    self.files[path] = before.files[path]
                else:
                    self.look(bench, path, before)
        self.files = {name: says for name, says in self.files.items() if says is not None}

    @staticmethod
    def has_more(bench, name):
        wal = bench.work / f"{name}-wal"
        return name.endswith(".db") and wal.exists() and wal.stat().st_size > 0 and not bench.is_untouched(wal.name)

    def look(self, bench, name, before):
        path = bench.work / name
        self.touched = True
        if name.endswith(".db"):
            self.files[name] = rows_of(path)
            if before and self.files[name] is not None:
                done = bench.serve(["--db", name, "verify"])
                if done.returncode:
                    self.wrong = f"{name} does not verify: {done}"
        elif name.startswith("dropped/") or name.endswith(".keys") and name != "some.keys":
            self.files[name] = "there"
        elif name.endswith(".key"):
            self.files[name] = f"a key of {path.stat().st_size} bytes, {path.stat().st_mode:o}"
        elif name in ("out.html", "old.txt", "out.jsonl"):
            text = path.read_text(encoding="utf-8")
            whole = text.rstrip().endswith("</html>") or '"sha256"' in text or "ringtally" in text or text == OLD
            self.files[name] = "old" if text == OLD else "whole" if whole else f"cut: {text[-60:]!r}"
        else:
            self.files[name] = path.read_bytes()

    def differing(self, other):
        return sorted(name for name in self.files.keys() | other.files.keys()
                      if self.files.get(name) != other.files.get(name))


def rest_of(entries, others):
    """Those of the others that are not among the entries; None where an entry is not among the others."""
    left = collections.Counter(others)
    left.subtract(entries)
    return None if min(left.values(), default=0) < 0 else list(left.elements())


class Judge:
    def __init__(self, bench):
        self.bench = bench
        bench.fresh()
        self.before = State(bench)
        self.before.touched = False
        self.after, self.said = {}, {}

    def learn(self, command):
        """What it leaves where nothing fails; and how many calls of each kind it makes."""
        done, _ = self.bench.run(command)
        calls = self.bench.control.calls()
        self.bench.control.set()
        assert done.returncode == 0, (command.name, done)
        self.said[command.name] = done
        self.after[command.name] = State(self.bench, self.before)
        assert not self.after[command.name].wrong, (command.name, self.after[command.name].wrong)
        return calls

    def desk(self, command, done, nowhere):
        """What a desk was told to log is in the database, or in a file that it names: from the first on, without a
        gap. (Where no disk can be written to, it says that it is lost.)"""
        if "are lost" in done.stderr and not nowhere:
            return "entries are lost"
        for path in self.bench.work.glob("*-ringtally-rescue-*.jsonl"):
            loaded = self.bench.clean("import-log", path, at=self.bench.work)
            if loaded.returncode:
                return f"the rescue file does not load: {loaded.stderr}"
            if path.name not in done.stderr:
                return "a rescue file that is not named"
        now = State(self.bench, self.before)
        if now.wrong:
            return now.wrong
        entries = now.files["bouts.db"][0]
        came = rest_of(self.before.files["bouts.db"][0], entries)
        meant = rest_of(self.before.files["bouts.db"][0], self.after[command.name].files["bouts.db"][0])
        if came is None or came != meant[:len(came)]:
            return f"not what was typed: {came}"
        return None

    def of(self, command, done, kind, lasting, now=None):
        """Why this is wrong, or None. now: what it left, where that is known."""
        if done.returncode < 0 or done.returncode not in (0, 1, 2):
            return f"ended by {done.returncode}: {done.stderr[-1200:]}"
        if done.returncode and command.name.startswith("desk") and not now:
            return self.desk(command, done, lasting and kind in ("open", "write", "sync"))
        remarks = self.said[command.name].stderr.splitlines()
        if done.returncode and len([line for line in done.stderr.splitlines() if line not in remarks]) != 1:
            return f"failed, and not in one line: {done.stderr!r}"
        now = now or State(self.bench, self.before)
        if now.wrong:
            return now.wrong
        if done.returncode == 0:
            wrong = now.differing(self.after[command.name])
            if kind == "unlink":  # what could not be taken away again is whole, and has another name
                wrong = [name for name in wrong if not name.endswith("-part")]
            return f"says done, and is not: {wrong}" if wrong else None
        wrong = now.differing(self.before)
        nobody_knows = kind == "sync" and lasting  # a disk that refuses every sync from then on
        if command.name == "merge" or nobody_knows:  # bouts that were merged whole stay
            wrong = wrong if now.differing(self.after[command.name]) else []
        if command.partly:
            for path in (self.bench.work / "dropped").glob("*.json"):
                json.loads(path.read_text(encoding="utf-8"))
            wrong = [name for name in wrong if not name.startswith("dropped/") or
                     "/." in name and name != "dropped/.ringtally-drop"]
        if wrong:
            return f"says failed ({done.stderr.strip()}), and something is left: {wrong}"
        return self.again(command) if now.touched and not nobody_knows else None

    def again(self, command):
        """What a failed command left is no hindrance."""
        done = self.bench.serve(command.words)
        now = State(self.bench, self.before)
        wrong = now.wrong or now.differing(self.after[command.name])
        return f"run again: {done}, {wrong}" if done.returncode or wrong else None


Job = collections.namedtuple("Job", "command kind nth lasting cause place")


def jobs_of(bench, judge, all_of_them):
    """Every way to fail. Its place: who called, and how the disk stood; where not all are tried, each is its own."""
    jobs = []
    for command in COMMANDS:
        calls = judge.learn(command)
        for kind, (number, causes) in KINDS.items():
            whose = kind == "memory" and all_of_them
            places = bench.places(command, number) if whose else range(calls[number])
            for nth, place in enumerate(places, 1):
                for cause in causes:
                    jobs += [Job(command, kind, nth, lasting, cause, (command.name, kind, lasting, cause, place))
                             for lasting in LASTING.get(kind, [False])]
    return jobs


def ranked(jobs, seed):
    """Lists of jobs: what was found before, then one at random of each place, then its first and its last, then all
    others; each alike of every command and kind, so that it may be cut anywhere."""
    last = {job.place: i for i, job in enumerate(jobs)}
    first = {job.place: i for i, job in reversed([*enumerate(jobs)])}
    edges = {*last.values(), *first.values()}
    turn = [*range(len(jobs))]
    random.Random(seed).shuffle(turn)
    seen, order, count = set(), ([], [], [], []), collections.Counter()
    for i in turn:
        rank = 2 if i in edges else 3
        if jobs[i].place not in seen:
            seen.add(jobs[i].place)
            rank = 1
        step, limit = FOUND.get((jobs[i].command.name, jobs[i].kind), (1, 0))
        if jobs[i].nth <= limit and jobs[i].nth % step == 0:
            rank = 0
        key = (rank, jobs[i].command.name, jobs[i].kind)
        count[key] += 1
        order[rank].append((count[key], i))
    return [[jobs[i] for _, i in sorted(rank)] for rank in order]


class Tries:
    """What was tried, and what came of it."""

    def __init__(self, bench, judge, end):
        self.bench, self.judge, self.end = bench, judge, end
        self.kinds, self.places = collections.Counter(), set()
        self.came = self.refused = self.failed = self.walked = 0

    def over(self):
        return time.monotonic() > self.end

    def note(self, job, done, hits, now=None):
        self.kinds[job.kind] += 1
        self.places.add(job.place)
        self.came += hits > 0
        self.refused += done.returncode != 0
        self.walked += now is not None
        try:
            wrong = self.judge.of(job.command, done, job.kind, job.lasting, now)
        except (AssertionError, sqlite3.Error, ValueError) as error:
            wrong = f"left something that cannot be read: {error!r}"
        if wrong:
            self.failed += 1
            print(f"{job.command.name}: {job.kind} {job.nth}{' and all later' if job.lasting else ''}, "
                  f"{errno.errorcode[job.cause]}: {wrong}", flush=True)

    def run(self, job):
        done, hits = self.bench.run(job.command, KINDS[job.kind][0], job.nth, job.lasting, job.cause)
        self.note(job, done, hits)

    def walk(self, jobs):
        """Tries those for which no start of the program is needed; the others are left."""
        left = dict.fromkeys(jobs)
        for command in COMMANDS:
            wanted = {job.nth: job for job in jobs if job.command is command and job.kind == "memory"}
            if wanted and not self.over():
                for nth, done in self.bench.walk(command, wanted, errno.ENOMEM):
                    self.note(wanted[nth], done, 1, self.judge.before)
                    del left[wanted[nth]]
                    if self.over():
                        break
        return [*left]

    def report(self, jobs):
        for kind, ways in collections.Counter(job.kind for job in jobs).items():
            places = {job.place for job in jobs if job.kind == kind}
            where = f", in {len(places & self.places)} of {len(places)} places" if len(places) < ways else ""
            print(f"{kind}: tried {self.kinds[kind]} of {ways}{where}")
        print(f"{len(COMMANDS)} commands, {len(jobs)} ways for a call to fail; tried {sum(self.kinds.values())}, "
              f"{self.walked} of them in a walk, {self.came} came to it, {self.refused} refused, {self.failed} wrong",
              flush=True)


def main():
    examples, program, shim = (pathlib.Path(word).resolve() for word in sys.argv[1:4])
    times = sys.argv[4] if len(sys.argv) > 4 else "250"
    seed = int(sys.argv[5]) if len(sys.argv) > 5 else 1
    end = time.monotonic() + (float(sys.argv[6]) if len(sys.argv) > 6 else 1e9)
    base = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=base) as folder:
        bench = Bench(folder, examples, str(program), str(shim))
        try:
            judge = Judge(bench)
            jobs = jobs_of(bench, judge, times == "all")
            tries = Tries(bench, judge, end)
            ranks = ranked(jobs, seed)
            if times != "all":
                some = ranks[1][:int(times)]
                ranks = [ranks[0], some]
            for rank in ranks:
                for job in tries.walk(rank):
                    if tries.over():
                        break
                    tries.run(job)
                if times == "all":
                    tries.report(jobs)
        finally:
            bench.close()
    if times != "all":
        tries.report(jobs)
    total = sum(tries.kinds.values())
    if tries.came <= total / 2 or total < 100:
        print("too little was tried")
        return 1
    return 1 if tries.failed else 0


if __name__ == "__main__":
    sys.exit(main())
