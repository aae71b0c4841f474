"""A folder in which the program is run again and again while one of its calls to the machine fails: from a process that
waits before main() and forks (shim_faults.c), in a folder that is put back to what it was."""
import mmap
import os
import pathlib
import select
import shutil
import signal
import struct
import subprocess

CARD = "[card]\nid = other\ntitle = Other\ndate = 2026-03-01\n[bout 1]\nrules = boxing\nred.name = X\nblue.name = Y\n"
OLD = "what was there\n"
UNTOUCHED = 10**18  # the time of every file until somebody writes to it
DEADLINE = 60
BY_KIND, WALK, SIZE = 256, 384, 392  # where these stand in struct faults_control, and its size
ALL = 0xffff  # kinds
TRACED = 200000  # FAULTS_TRACED
WANTED = 8 + 8 * TRACED  # where that begins in struct faults_trace
PID, ENDED = 0, -1  # shim_walk.h
CHANGES = 77  # WALK_CHANGES


class Control:
    """The file by which the shim is told: struct faults_control."""

    def __init__(self, path):
        with open(path, "wb") as file:
            file.write(bytes(SIZE))
        self.file = open(path, "r+b")  # pylint: disable=consider-using-with
        self.map = mmap.mmap(self.file.fileno(), SIZE)

    def set(self, kind=0, nth=0, lasting=False, cause=0):
        self.map[0:56] = struct.pack("7q", kind, nth, lasting, cause, 0, 0, 0)
        self.map[BY_KIND:SIZE] = bytes(SIZE - BY_KIND)

    def walk(self, cause):
        self.set(ALL, 0, False, cause)
        self.map[WALK:SIZE] = struct.pack("q", 1)

    def calls(self):
        """So far, by kind."""
        return {1 << i: count for i, count in enumerate(struct.unpack("16q", self.map[BY_KIND:WALK]))}

    def hits(self):
        return struct.unpack("7q", self.map[0:56])[6]


class Done:
    """How a program ended, and what it said."""

    def __init__(self, code, out, err):
        self.returncode, self.stdout, self.stderr = code, out, err

    def __repr__(self):
        return f"exit {self.returncode}: {self.stdout[-300:]!r} {self.stderr[-1200:]!r}"


class Trace:
    """The file in which the shim notes who called, and is told where to try: struct faults_trace."""

    def __init__(self, path):
        with open(path, "wb") as file:
            file.truncate(WANTED + TRACED)
        self.file = open(path, "r+b")  # pylint: disable=consider-using-with
        self.map = mmap.mmap(self.file.fileno(), WANTED + TRACED)

    def note(self, on):
        self.map[0:8] = struct.pack("q", on)

    def stacks(self, calls):
        assert calls <= TRACED, calls
        return struct.unpack(f"{calls}Q", self.map[8:8 + 8 * calls])

    def want(self, calls):
        self.map[WANTED:WANTED + TRACED] = bytes(TRACED)
        for nth in calls:
            self.map[WANTED + nth - 1] = 1


class Server:
    """One call of the program, as often as it is asked for."""

    def __init__(self, bench, words):
        self.outputs = [open(bench.folder / f"{name}{len(bench.servers)}", "ab+") for name in ("out", "err")]
        ask, self.ask = os.pipe()
        self.told, tell = os.pipe()
        more = {"RINGTALLY_TEST_SERVE": f"{ask} {tell}", "RINGTALLY_TEST_TRACE": str(bench.folder / "trace")}
        self.process = subprocess.Popen([bench.program, *words], cwd=bench.work, stdin=subprocess.DEVNULL,
                                        stdout=self.outputs[0], stderr=self.outputs[1], pass_fds=(ask, tell),
                                        env=bench.environment() | more)
        os.close(ask)
        os.close(tell)

    def word(self, pid=None):
        """The next: of which call, and its status. One that does not come is brought about."""
        if not select.select([self.told], [], [], DEADLINE)[0]:
            assert pid, "the program does not begin"
            os.kill(pid, signal.SIGKILL)
        return struct.unpack("2i", os.read(self.told, 8))

    def said(self, status):
        texts = [os.pread(output.fileno(), 1 << 20, 0).decode("utf-8", "replace") for output in self.outputs]
        for output in self.outputs:
            os.ftruncate(output.fileno(), 0)
        return Done(os.waitstatus_to_exitcode(status), *texts)

    def run(self):
        os.write(self.ask, b"!")
        tag, pid = self.word()
        assert tag == PID, tag
        return self.said(self.word(pid)[1])

    def walk(self):
        """One run; each call that is wanted, and how a child of the run ended where it failed."""
        os.write(self.ask, b"!")
        pid = self.word()[1]
        while True:
            call, status = self.word(pid)
            if call == ENDED:
                ended = self.said(status)
                assert ended.returncode == 0, f"the walk itself: {ended}"
                return
            yield call, self.said(status)
            os.write(self.ask, b"!")

    def close(self):
        os.close(self.ask)
        os.close(self.told)
        self.process.wait(DEADLINE)
        for output in self.outputs:
            output.close()


class Bench:
    """A folder with databases (template), and a copy of it in which the program works."""

    def __init__(self, folder, examples, program, shim):
        self.folder = pathlib.Path(folder)
        self.program, self.shim = program, shim
        self.control = Control(self.folder / "control")
        self.trace = Trace(self.folder / "trace")
        self.template, self.work = self.folder / "template", self.folder / "work"
        self.servers = {}
        self.template.mkdir()
        self.work.mkdir()
        self.make(examples)
        self.folders = [path.relative_to(self.template) for path in self.template.rglob("*") if path.is_dir()]
        self.files = {str(path.relative_to(self.template)): path.stat().st_size
                      for path in self.template.rglob("*") if path.is_file()}
        self.fresh()

    def make(self, examples):
        at = self.template
        (at / "some.keys").write_text("0.0 Enter\n0.2 w\n0.4 E\n0.5 $\n0.6 i\n0.8 k\n1.0 Enter\n", encoding="utf-8")
        (at / "new.ini").write_text(CARD, encoding="utf-8")
        (at / "old.txt").write_text(OLD, encoding="utf-8")
        (at / "dropped").mkdir()
        desk = ["desk", "1", "--operator", "ana", "--keys", "some.keys", "--speed", "max", "--headless"]
        self.clean("card", "load", examples / "card.ini")
        self.clean(*desk)
        (at / "cards.csv").write_text(self.clean("scores", "dump", "1").stdout, encoding="utf-8")
        shutil.copy(at / "bouts.db", at / "signed.db")
        self.clean("--db", "signed.db", "sign", "1", "--operator", "A. Supervisor")
        self.clean("--db", "other.db", "card", "load", examples / "card.ini")
        self.clean("--db", "other.db", *[word if word != "1" else "3" for word in desk])
        self.clean("--db", "other.db", "export-log", "3", "-o", "other.jsonl")
        self.clean("key", "new", "sign.key")

    def environment(self):
        return {"LC_ALL": "C.UTF-8", "TZ": "UTC", "HOME": str(self.work), "PATH": "/usr/bin:/bin",
                "TMPDIR": str(self.work), "XDG_DATA_HOME": str(self.work / "data"),
                "ASAN_OPTIONS": "exitcode=99:verify_asan_link_order=0:detect_leaks=0:allocator_may_return_null=1",
                "UBSAN_OPTIONS": "exitcode=99",
                "LD_PRELOAD": self.shim, "RINGTALLY_TEST_FAULTS": str(self.folder / "control")}

    @staticmethod
    def full(words):
        return [str(word) for word in ([] if words[0] == "--db" else ["--db", "bouts.db"]) + list(words)]

    def clean(self, *words, at=None):
        """By itself, where nothing fails."""
        self.control.set()
        done = subprocess.run([self.program, *self.full(words)], cwd=at or self.template, stdin=subprocess.DEVNULL,
                              env=self.environment(), capture_output=True, text=True, timeout=120, check=False)
        assert done.returncode == 0 or at, (words, done)
        return done

    def server(self, words):
        words = tuple(self.full(words))
        if words not in self.servers:
            self.servers[words] = Server(self, words)
        return self.servers[words]

    def serve(self, words):
        """As clean, in the copy, faster; what is to fail stands in the control."""
        return self.server(words).run()

    def places(self, command, kind):
        """For each call of that kind a number: the same for the same stack of callers while the disk stood the same.
        (Within one command and kind: where a program lies in memory differs.)"""
        self.trace.note(True)
        self.run(command, kind)
        self.trace.note(False)
        return self.trace.stacks(self.control.calls()[kind])

    def walk(self, command, calls, cause):
        """Those of the calls for memory at which the program has changed nothing yet, as far as it would change
        nothing: the call, and how the program ended without."""
        self.trace.want(calls)
        self.fresh()
        self.control.walk(cause)
        for call, done in self.server(command.words).walk():
            if done.returncode != CHANGES:
                yield call, done
        self.control.set()

    def is_untouched(self, name):
        """Nobody wrote to this file since it was put there."""
        info = os.stat(self.work / name)
        return info.st_mtime_ns == UNTOUCHED and info.st_size == self.files.get(name)

    def fresh(self):
        """Puts the copy back."""
        there = set()
        for folder, names, files in os.walk(self.work):
            at = os.path.relpath(folder, self.work)
            for name in [*names]:
                if pathlib.Path(at, name) not in self.folders:
                    shutil.rmtree(os.path.join(folder, name))
                    names.remove(name)
            for name in files:
                path = os.path.normpath(os.path.join(at, name))
                if path in self.files and self.is_untouched(path):
                    there.add(path)
                else:
                    os.unlink(os.path.join(folder, name))
        for folder in self.folders:
            (self.work / folder).mkdir(parents=True, exist_ok=True)
        for name in self.files.keys() - there:
            shutil.copyfile(self.template / name, self.work / name)
            os.chmod(self.work / name, 0o600)
            os.utime(self.work / name, ns=(UNTOUCHED, UNTOUCHED))

    def run(self, command, kind=ALL, nth=0, lasting=False, cause=0):
        """How it ended, and how many calls failed. The control has the calls, until the next run."""
        self.fresh()
        self.control.set(kind, nth, lasting, cause)
        done = self.serve(command.words)
        hits = self.control.hits()
        if nth:
            self.control.set()
        return done, hits

    def close(self):
        for server in self.servers.values():
            server.close()
