#!/usr/bin/python3
"""Does to the feed what networks and databases do: the desk must never notice, and the feed answers
what is true or says what is wrong.

usage: check_faults.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import os
import pathlib
import random
import resource
import select
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time

from feed_kit import (CARD, Answer, Feed, Scribe, Stream, curl, main, raw, until)

COUNTS = f"/v1/bouts/{CARD}/1/counts"
HEAD = "Host: 127.0.0.1\r\n"


class Stage:
    """A feed, a desk that writes, and a client that must not be disturbed."""

    def __init__(self, programs, *options):
        self.folder = tempfile.TemporaryDirectory()
        self.db = pathlib.Path(self.folder.name, "t.db")
        self.programs = programs
        self.before = 0  # entries of desks before this one
        self.scribe = Scribe(programs, self.db)
        self.scribe.do("start")
        self.feed = Feed(programs, self.db, *options)
        self.witness = Stream(self.feed)
        self.witness.wait(lambda event: event["event"] == "counts")

    def all_well(self):
        """A strike reaches the witness, and the feed answers others. Seconds that it took."""
        started = time.monotonic()
        self.scribe.do("strike red left_leg leg landed")
        written = time.monotonic()
        entries = self.before + self.scribe.entries
        self.witness.wait(lambda event: event["event"] == "counts" and
                          event["data"]["entries"] == entries)
        assert written - started < 2, "the desk noticed"
        health = curl(f"{self.feed.url}health").json()
        assert health["status"] == "ok" and self.feed.process.poll() is None
        return time.monotonic() - written

    def another_desk(self):
        """One whose file was taken away saves nothing any more, also where the file comes back: another goes on."""
        self.scribe.kill()
        with sqlite3.connect(self.db) as log:
            self.before = log.execute("SELECT count(*) FROM entry").fetchone()[0]
        self.scribe = Scribe(self.programs, self.db, card=False)

    def close(self):
        self.witness.close()
        self.scribe.close()
        assert self.feed.stop() == 0
        self.folder.cleanup()


def requests__malformed__refused_and_nobody_disturbed(programs):
    stage = Stage(programs)
    port = stage.feed.port
    dice = random.Random(3)
    get = f"GET {COUNTS} HTTP/1.1\r\n{HEAD}"
    cases = [
        (b"\r\n\r\n\r\n", None), (b"GET\r\n\r\n", None), (b"\x16\x03\x01\x02\x00\x01\x00", None),
        (b"GET / HTTP/9.9\r\n\r\n", (400, 505)), (b"GET / HTTP/1.1\r\n\r\n", (400,)),
        (b"G\0T / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", (400, 405)),
        (b"BREW / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", (405,)),
        (f"GET /{'a' * 100000} HTTP/1.1\r\n{HEAD}\r\n".encode(), (400, 413, 414, 431)),
        (f"{get}X: {'b' * 100000}\r\n\r\n".encode(), (400, 413, 431)),
        ((get + "".join(f"X-{i}: 1\r\n" for i in range(5000)) + "\r\n").encode(), (400, 413, 431)),
        (f"{get}no colon\r\n\r\n".encode(), None),
        (f"{get}Content-Length: 5\r\n\r\nhello".encode(), (413,)),
        (f"{get}Content-Length: -1\r\n\r\n".encode(), (400, 413)),
        (f"{get}Content-Length: 99999999999999999999\r\n\r\n".encode(), (400, 413)),
        (f"{get}Transfer-Encoding: chunked\r\n\r\nzz\r\n".encode(), (400, 413)),
        (f"POST {COUNTS} HTTP/1.1\r\n{HEAD}Content-Length: 1000000000\r\n\r\nx".encode(), (405,)),
        (f"{get}If-None-Match: {'x,' * 3000}\r\n\r\n".encode(), (200,)),
        (f"GET {COUNTS}/../../../events HTTP/1.1\r\n{HEAD}\r\n".encode(), (404,)),
        (f"GET http://127.0.0.1:{port}/health HTTP/1.1\r\n{HEAD}\r\n".encode(), (200,)),
        (b"GET /health HTTP/1.1\r\nHost: LOCALHOST\r\n\r\n", (200,)),
        (f"GET {COUNTS}?ROUND=99 HTTP/1.1\r\n{HEAD}\r\n".encode(), (200,)),
        (f"GET /v1/bouts/{CARD}/1/events HTTP/1.1\r\n{HEAD}Last-Event-ID: {'9.' * 3000}\r\n\r\n".encode(),
         (200,)),
    ]
    for data, statuses in cases:
        answer = raw(port, data, 1.0)
        if statuses:
            assert answer and Answer(answer.decode("latin-1")).status in statuses, (data[:60], answer[:80])
        else:
            assert not answer or Answer(answer.decode("latin-1")).status == 400, (data[:60], answer[:80])
    for _ in range(200):
        raw(port, dice.randbytes(dice.randint(1, 400)) + b"\r\n\r\n", 0.05)
    # Two lengths, of which a proxy took the other one: one answer, and no more of this connection.
    for lengths in ("0\r\nContent-Length: 5", "5\r\nContent-Length: 0"):
        two = raw(port, f"{get}Content-Length: {lengths}\r\n\r\nhello".encode(), 1.0)
        assert two.count(b"HTTP/1.1 ") == 1 and two.split()[1] in (b"400", b"413"), two[:300]
    # Requests in one packet are answered one after the other.
    both = raw(port, (f"{get}\r\n" * 3).encode(), 1.0)
    assert both.count(b"HTTP/1.1 200") == 3
    stage.all_well()
    stage.close()


def paths__tricks__lead_nowhere(programs):
    stage = Stage(programs)
    for path in ("../etc/passwd", "web/../../../etc/passwd", "web/%2e%2e/%2e%2e/etc/passwd",
                 "web/..%2f..%2fetc%2fpasswd", "web//app.css", "//etc/passwd", "web/.app.css",
                 "web/app.css%00.html", "web/app.css/", "web/index.html", "web/%5c..%5capp.css",
                 "v1/cards%00x", "v1/../v1/cards", "v1//cards", "v1/bouts/%2e/1/counts", "v1/t.db",
                 "v1/../t.db", "t.db", f"v1/bouts/{CARD}/01/counts", f"v1/bouts/{CARD}/-1/counts",
                 f"v1/bouts/{CARD}/1e0/counts", f"v1/bouts/{CARD}/1000/counts",
                 f"v1/bouts/{'x' * 3000}/1/counts", f"v1/bouts/{CARD}/1/counts/", "v1/001-log.sql",
                 f"v1/bouts/{CARD}' OR 1=1 --/1/counts".replace(" ", "%20"), "%", "%zz", "%2",
                 "v1/bouts/%0d%0aSet-Cookie:x=1/1/counts", "bout/x/0", "bout/x/1/coach/green",
                 "coach/green", "enter/x/y", "a/" * 40):
        answer = curl(stage.feed.url + path)
        assert answer.status == 404 and "set-cookie" not in answer.headers, path
        assert "root:" not in answer.body and "CREATE TABLE" not in answer.body, path
    named = curl(f"{stage.feed.url}v1/bouts/%3Cscript%3E/1/counts")
    assert named.status == 404 and named.headers["content-type"] == "application/json"
    assert named.headers["x-content-type-options"] == "nosniff"
    stage.all_well()
    stage.close()


def clients__never_read__dropped_and_memory_flat(programs):
    stage = Stage(programs)
    stage.scribe.do("many 100")
    stage.all_well()
    deaf = []
    for _ in range(100):
        line = socket.socket()
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        line.connect(("127.0.0.1", stage.feed.port))
        line.sendall(f"GET /v1/bouts/{CARD}/1/events?after=0 HTTP/1.1\r\n{HEAD}\r\n".encode())
        deaf.append(line)
    stage.all_well()
    before = stage.feed.memory_kib()
    slowest = 0.0
    for _ in range(60):
        stage.scribe.do("many 20")
        slowest = max(slowest, stage.all_well())
    grown = stage.feed.memory_kib() - before
    assert slowest < 1.0, slowest
    # 1,260 entries more in the log, which the feed holds; nothing for those who do not read.
    assert grown < 6000 or not programs.plain, grown

    def streams():
        stage.all_well()
        return curl(f"{stage.feed.url}health").json()["clients"]

    until("all that do not read are let go", lambda: streams() <= 2, 60)
    for line in deaf:
        line.close()
    stage.close()


def clients__five_hundred_slow__memory_flat(programs):
    """Each takes a few bytes now and then, and comes back where it was let go; for a long run, RINGTALLY_SLOW_SECONDS
    says how long."""
    seconds = float(os.environ.get("RINGTALLY_SLOW_SECONDS", "12"))
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 4096), hard))
    stage = Stage(programs)
    slow = []

    def come():
        line = socket.create_connection(("127.0.0.1", stage.feed.port), timeout=10)
        line.sendall(f"GET /v1/bouts/{CARD}/1/events HTTP/1.1\r\n{HEAD}\r\n".encode())
        line.setblocking(False)
        return line

    slow.extend(come() for _ in range(500))
    back = 0
    stage.scribe.do("many 20")
    stage.all_well()
    memory, slowest = [], 0.0
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        for index, line in enumerate(slow):
            try:
                gone = not line.recv(1000)
            except BlockingIOError:
                gone = False
            except ConnectionError:
                gone = True
            if gone:
                line.close()
                slow[index] = come()
                back += 1
        select.select([], [], [], 0.2)
        stage.scribe.do("many 2")
        slowest = max(slowest, stage.all_well())
        memory.append(stage.feed.memory_kib())
    grown = max(memory[len(memory) // 2:]) - max(memory[:len(memory) // 2])
    print(f"500 slow clients for {seconds:.0f} s: {memory[0]} to {memory[-1]} KiB, slowest witness {1000 * slowest:.0f} ms,"
          f" {back} came back")
    assert slowest < 10.0, slowest
    assert grown < 3000 or not programs.plain, memory[:: max(1, len(memory) // 20)]
    for line in slow:
        line.close()
    stage.close()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def connections__thousands_and_half_open__witness_served(programs):
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 4096), hard))
    stage = Stage(programs)
    lines = []
    for number in range(1500):
        line = socket.socket()
        line.setblocking(False)
        line.connect_ex(("127.0.0.1", stage.feed.port))
        lines.append(line)
        if number % 3 == 0:  # half a request, and then nothing
            try:
                line.send(b"GET / HTTP/1.1\r\nHo")
            except OSError:
                pass
        if number % 500 == 499:
            stage.scribe.do("strike red left_leg leg landed")
            entries = stage.scribe.entries
            stage.witness.wait(lambda event: event["event"] == "counts" and
                               event["data"]["entries"] == entries)
    # Without a hand moved, the silent ones are let go and new clients come in.
    until("it answers again", lambda: b" 200 " in raw(
        stage.feed.port, f"GET /health HTTP/1.0\r\n{HEAD}\r\n".encode(), 1.0)[:20], 90)
    for line in lines:
        line.close()
    until("it is well again", lambda: stage.all_well() < 1.0)
    stage.close()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def connections__silent_ones_without_end__lock_nobody_out(programs):
    """As many as the house holds and half as many again, renewed all the time: a new client is served at once."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 4096), hard))
    stage = Stage(programs)
    request = f"GET /health HTTP/1.0\r\n{HEAD}\r\n".encode()
    lines, slowest = [], 0.0
    for number in range(3000):
        line = socket.socket()
        line.setblocking(False)
        line.connect_ex(("127.0.0.1", stage.feed.port))
        lines.append(line)
        if len(lines) > 1500:
            lines.pop(0).close()
        if number % 300 == 299:
            started = time.monotonic()
            assert b" 200 " in raw(stage.feed.port, request, 5.0)[:20], number
            slowest = max(slowest, time.monotonic() - started)
            stage.all_well()
    assert slowest < 2.0, slowest
    for line in lines:
        line.close()
    stage.close()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def requests__a_byte_at_a_time__let_go(programs):
    stage = Stage(programs)
    line = socket.create_connection(("127.0.0.1", stage.feed.port))
    line.settimeout(0.5)
    text = (f"GET {COUNTS} HTTP/1.1\r\n{HEAD}" + "X: y\r\n" * 200).encode()
    started = time.monotonic()
    closed = False
    for at in range(len(text)):
        try:
            line.send(text[at:at + 1])
            closed = line.recv(10) == b""
        except TimeoutError:
            pass
        except ConnectionError:
            closed = True
        if closed:
            break
    assert closed and time.monotonic() - started < 45
    line.close()
    stage.all_well()
    stage.close()


def database__gone_replaced_locked__said_and_recovered(programs):
    stage = Stage(programs)
    url = stage.feed.url
    counts = url.rstrip("/") + COUNTS
    before = curl(counts).json()
    away = pathlib.Path(f"{stage.db}.away")

    def status(path):
        return curl(path).status

    # Gone: the stream ends, every answer says why.
    stage.db.rename(away)
    until("503", lambda: status(counts) == 503)
    answer = curl(counts)
    assert "gone" in answer.json()["error"] or "no such" in answer.json()["error"]
    assert str(stage.folder.name) not in answer.body, "where it lies is nobody's business"
    assert answer.headers["retry-after"] == "1"
    health = curl(f"{url}health")
    assert health.status == 503 and health.json()["status"] == "trouble" and health.json()["trouble"]
    assert health.json()["bouts"] == []
    assert status(f"{url}v1/cards") == 503
    assert status(f"{url}v1/bouts/{CARD}/1/events") == 503
    assert status(url) == 200  # the page itself can say so
    while stage.witness.read(10):
        pass
    # Back.
    away.rename(stage.db)
    until("back", lambda: status(counts) == 200)
    assert curl(counts).json()["entries"] == before["entries"]
    stage.another_desk()
    stage.witness.close()
    stage.witness = Stream(stage.feed, last_id=stage.witness.parser.last_id)
    stage.witness.wait(lambda event: event["event"] == "counts")
    stage.all_well()
    # Replaced by another database: what the old one said is gone at once.
    other = pathlib.Path(stage.folder.name, "other.db")
    scribe = Scribe(programs, other, operator="Odd Kvam")
    scribe.do("many 5")
    scribe.close()
    with sqlite3.connect(other) as log:
        log.execute("PRAGMA journal_mode = DELETE")
    for end in ("", "-wal", "-shm"):
        if os.path.exists(f"{stage.db}{end}"):
            os.rename(f"{stage.db}{end}", f"{stage.db}.old{end}")
    other.rename(stage.db)
    until("the other's figures", lambda: (answer := curl(counts)).status == 200 and
          answer.json()["entries"] == 8)
    # Replaced by what is no database of ours.
    stage.db.unlink()
    for text, reason in ((b"no database at all, just words" * 100, "database"), (b"", "empty")):
        stage.db.write_bytes(text)
        until(reason, lambda r=reason: (answer := curl(counts)).status == 503 and
              r in answer.json()["error"])
        stage.db.unlink()
    for end in ("", "-wal", "-shm"):
        if os.path.exists(f"{stage.db}.old{end}"):
            os.rename(f"{stage.db}.old{end}", f"{stage.db}{end}")
    until("back again", lambda: status(counts) == 200)
    assert curl(counts).json()["entries"] == stage.before + stage.scribe.entries
    stage.another_desk()
    stage.witness.close()
    stage.witness = Stream(stage.feed)
    stage.witness.wait(lambda event: event["event"] == "counts")
    stage.all_well()
    # The desk writes on all the time, also while another program holds the database.
    stage.close()


def database__held_by_another_program__said_and_recovered(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("many 5")
        scribe.close()
        feed = Feed(programs, db)
        counts = feed.url.rstrip("/") + COUNTS
        stream = Stream(feed)
        stream.wait(lambda event: event["event"] == "counts")
        assert curl(counts).json()["entries"] == 8
        feed.stop()
        stream.close()
        holder = sqlite3.connect(db, isolation_level=None)
        holder.execute("PRAGMA locking_mode = EXCLUSIVE")
        holder.execute("BEGIN EXCLUSIVE")
        done = subprocess.run([programs.feed, "--db", str(db), "--listen", "127.0.0.1:0"],
                                            capture_output=True, text=True, timeout=30)
        assert done.returncode == 1 and "another program" in done.stderr
        holder.execute("COMMIT")
        holder.close()
        feed = Feed(programs, db)
        assert curl(feed.url.rstrip("/") + COUNTS).json()["entries"] == 8
        feed.stop()


def bouts__many_asked_for__let_go_again(programs):
    """Names that are none cost nothing that lasts."""
    stage = Stage(programs)
    for number in range(1, 1000):
        answer = curl(f"{stage.feed.url}v1/bouts/none-{number}/1/counts")
        assert answer.status in (404, 503), answer.status
        if number % 250 == 0:
            stage.all_well()
    before = stage.feed.memory_kib()
    for _ in range(200):
        curl(stage.feed.url.rstrip("/") + COUNTS)
    assert stage.feed.memory_kib() - before < 1000 or not programs.plain
    for number in range(2, 8):
        assert curl(f"{stage.feed.url}v1/bouts/{CARD}/{number}/counts").status == 200
    stage.all_well()
    stage.close()


if __name__ == "__main__":
    sys.exit(main([value for name, value in list(globals().items())
                   if "__" in name.strip("_") and callable(value)]))
