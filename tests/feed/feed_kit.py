"""What the feed's tests share: a feed, a desk without a console, curl, sockets, event streams."""
import json
import os
import pathlib
import queue
import select
import signal
import socket
import subprocess
import sys
import threading
import time

CARD = "saltglass-4"
PATIENCE = 30.0


def until(what, check, seconds=PATIENCE):
    """Polls until check() is true, and returns its value."""
    deadline = time.monotonic() + seconds
    while True:
        value = check()
        if value:
            return value
        if time.monotonic() > deadline:
            raise AssertionError(f"never: {what}")
        select.select([], [], [], 0.02)


class Programs:
    """Paths of the programs under test: feed, scribe, ringtally, examples."""

    def __init__(self, feed, scribe, ringtally, source):
        self.feed, self.scribe, self.ringtally = feed, scribe, ringtally
        self.source = pathlib.Path(source)
        self.card = self.source / "examples" / "card.ini"
        # A sanitizer keeps what was freed for a while: memory says nothing there.
        self.plain = not any(name in pathlib.Path(feed).read_bytes()
                             for name in (b"__asan_init", b"__tsan_init"))


class Scribe:
    """A desk. Its commands return once the entries are durable."""

    def __init__(self, programs, db, number=1, operator="Iris Palm", card=True):
        words = [programs.scribe, str(db), f"{CARD}/{number}", operator]
        self.process = subprocess.Popen(words + ([str(programs.card)] if card else []), text=True,
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        assert self.process.stdout.readline() == "ready\n"
        self.entries = 3  # it made itself official

    def do(self, command):
        self.process.stdin.write(command + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        assert answer.startswith("ok"), (command, answer)
        if answer.strip() != "ok":
            self.entries = int(answer.split()[1])
        return self.entries

    def kill(self):
        self.process.kill()
        self.close()

    def close(self):
        if self.process.stdin and not self.process.stdin.closed:
            try:
                self.process.stdin.close()
            except BrokenPipeError:
                pass
        self.process.wait(PATIENCE)
        self.process.stdout.close()


class Feed:
    def __init__(self, programs, db, *options, port=0):
        self.process = subprocess.Popen(
            [programs.feed, "--db", str(db), "--listen", f"127.0.0.1:{port}", *options], text=True,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.url = self.process.stdout.readline().strip()
        assert self.url, self.process.stderr.read()
        self.port = int(self.url.rstrip("/").rsplit(":", 1)[1])
        self.said = queue.Queue()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        for line in self.process.stderr:
            self.said.put(line.strip())

    def memory_kib(self):
        with open(f"/proc/{self.process.pid}/status", encoding="ascii") as status:
            return next(int(line.split()[1]) for line in status if line.startswith("VmRSS:"))

    def stop(self, how=signal.SIGTERM):
        self.process.send_signal(how)
        code = self.process.wait(PATIENCE)
        self.process.stdout.close()
        said = list(self.said.queue)
        assert code == (0 if how == signal.SIGTERM else -how), (code, said)
        return code


class Answer:
    def __init__(self, text):
        head, _, self.body = text.partition("\r\n\r\n")
        lines = head.split("\r\n")
        self.status = int(lines[0].split()[1])
        self.headers = {}
        for line in lines[1:]:
            name, _, value = line.partition(":")
            self.headers[name.strip().lower()] = value.strip()

    def json(self):
        return json.loads(self.body, parse_constant=lambda name: 1 / 0)  # RFC 8259, from memory: no NaN


def curl(url, *options):
    """What curl makes of the feed's answer."""
    done = subprocess.run(["curl", "-s", "-i", "--path-as-is", "--max-time", "20", *options, url],
                          capture_output=True, check=True)
    return Answer(done.stdout.decode("utf-8"))


def raw(port, data, seconds=10.0):
    """All that comes back for these bytes, until the other end closes or falls quiet."""
    with socket.create_connection(("127.0.0.1", port), timeout=seconds) as line:
        got = b""
        try:
            line.sendall(data)
            while True:
                piece = line.recv(65536)
                if not piece:
                    return got
                got += piece
        except (ConnectionError, TimeoutError):
            return got


class Parser:
    """Server-sent events, step by step as WHATWG HTML 9.2.6 has it."""

    def __init__(self):
        self.text, self.data, self.name, self.last_id, self.events = "", [], "", "", []

    def feed(self, text):
        self.text += text.replace("\r\n", "\n").replace("\r", "\n")
        while "\n" in self.text:
            line, self.text = self.text.split("\n", 1)
            self._line(line)

    def _line(self, line):
        if not line:
            if self.data:
                self.events.append({"event": self.name or "message", "data": "\n".join(self.data),
                                    "id": self.last_id})
            self.data, self.name = [], ""
            return
        field, colon, value = line.partition(":")
        if not field and colon:
            return
        value = value[1:] if value.startswith(" ") else value
        if field == "data":
            self.data.append(value)
        elif field == "event":
            self.name = value
        elif field == "id" and "\0" not in value:
            self.last_id = value


class Stream:
    """A client of /events over a bare socket."""

    def __init__(self, feed, number=1, last_id=None, headers=(), path=None):
        self.line = socket.create_connection(("127.0.0.1", feed.port), timeout=PATIENCE)
        path = path or f"/v1/bouts/{CARD}/{number}/events"
        head = [f"GET {path} HTTP/1.1", "Host: 127.0.0.1", *headers]
        if last_id is not None:
            head.append(f"Last-Event-ID: {last_id}")
        self.line.sendall(("\r\n".join(head) + "\r\n\r\n").encode())
        self.pending, self.head, self.parser = b"", None, Parser()
        self.bytes, self.ended = 0, False
        self.taken = 0

    def _chunks(self):
        while b"\r\n" in self.pending:
            size, rest = self.pending.split(b"\r\n", 1)
            length = int(size, 16)
            if len(rest) < length + 2:
                return
            self.ended = self.ended or length == 0  # the last chunk (RFC 9112, 7.1)
            self.bytes += length
            self.pending = rest[length + 2:]
            yield rest[:length]

    def read(self, seconds=PATIENCE):
        """Reads once. False: the other end has closed, or nothing came in that time."""
        if not select.select([self.line], [], [], seconds)[0]:
            return False
        try:
            piece = self.line.recv(262144)
        except ConnectionError:
            return False
        if not piece:
            return False
        self.pending += piece
        if self.head is None:
            if b"\r\n\r\n" not in self.pending:
                return True
            head, self.pending = self.pending.split(b"\r\n\r\n", 1)
            self.head = Answer(head.decode() + "\r\n\r\n")
            assert self.head.status == 200, head
            assert self.head.headers["content-type"] == "text/event-stream"
        for chunk in self._chunks():
            # A character may be cut in two: latin-1 keeps bytes apart until an event is whole.
            self.parser.feed(chunk.decode("latin-1"))
        return True

    def next(self):
        """The next event that has come, or None."""
        if self.taken == len(self.parser.events):
            return None
        event = self.parser.events[self.taken]
        self.taken += 1
        data = event["data"].encode("latin-1").decode("utf-8")
        return {**event, "data": json.loads(data)}

    def wait(self, wanted, seconds=PATIENCE):
        """All events up to the first that wanted() takes."""
        got = []
        deadline = time.monotonic() + seconds
        while True:
            while event := self.next():
                got.append(event)
                if wanted(event):
                    return got
            left = deadline - time.monotonic()
            if left <= 0 or not self.read(left):
                raise AssertionError(f"the stream ended or fell silent; last: {got[-1:]}")

    def close(self):
        self.line.close()


def entry_names(events):
    return [(event["data"]["desk"], event["data"]["seq"]) for event in events
            if event["event"] == "entry"]


def main(tests):
    """Runs the tests named on the command line behind the programs, or all."""
    programs = Programs(*sys.argv[1:5])
    names = sys.argv[5:]
    os.environ["TZ"] = "UTC"
    for test in tests:
        if names and test.__name__ not in names:
            continue
        started = time.monotonic()
        test(programs)
        print(f"{test.__name__}: {time.monotonic() - started:.1f} s", flush=True)
    return 0
