#!/usr/bin/python3
"""What a hub costs, beside floors of the same run. Prints; judges nothing.

usage: hub.py [--part strikes|key|memory|send|history] RINGTALLY SCRIBE [DESKS SECONDS BOUTS]
       50 20 10000 if not said; history at BOUTS / 10 and BOUTS; --part: that one alone
       (100000 bouts: 12 GB in the temporary folder, and some ten minutes)

The cluster is a real one in a temporary folder, with fsync. Times of rows are the server's commit
timestamps, on the same clock as the desks' own.
"""
import argparse
import os
import pathlib
import re
import statistics
import subprocess
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "hub"))
from hub_archive import bench_history, psql, row  # noqa: E402
from hub_kit import BIN, Desk, Hall, Yard, as_server, until  # noqa: E402


def card_of(yard, number):
    path = yard.folder / f"card-{number}.ini"
    path.write_text(f"[card]\nid = hall-{number}\ntitle = Hall\ndate = 2026-03-07\nvenue = Net Loft\n"
                    "[bout 1]\nrules = kickboxing\nred.name = Ada Quill\nblue.name = Bo Tern\n",
                    encoding="utf-8")
    return path


class Inserts:
    """The floor, at the same time: a client that sends one INSERT twenty times a second."""

    def __init__(self, yard, cluster, seconds):
        self.prefix = yard.folder / "inserts"
        script = yard.folder / "insert.sql"
        script.write_text("INSERT INTO bare VALUES (1, 'strike');\n", encoding="ascii")
        self.thread = threading.Thread(target=as_server, args=([
            BIN / "pgbench", "-n", "-T", str(seconds), "-c", "1", "-R", "20", "-l", "--log-prefix", self.prefix,
            "-f", script, "-h", yard.folder, "-p", str(cluster.port), "-U", "hub", "live"],))
        self.thread.start()

    def latencies(self):
        """Sorted, in ms."""
        self.thread.join()
        log = next(self.prefix.parent.glob(f"{self.prefix.name}.*")).read_text()
        return sorted(float(line.split()[2]) / 1000 for line in log.splitlines())


def quantile(ordered, share):
    return ordered[min(len(ordered) - 1, int(len(ordered) * share))]


def tag(running, seconds):
    """Three strikes a second at every desk. How long each desk's own log took for each, sorted, in ms."""
    stop = time.monotonic() + seconds
    took = []

    def one(desk, phase):
        time.sleep(phase)
        while time.monotonic() < stop:
            begun = time.monotonic()
            desk.tell("strike red left_hand head landed")
            spent = time.monotonic() - begun
            took.append(spent * 1000)
            time.sleep(max(0.0, 1 / 3 - spent))

    threads = [threading.Thread(target=one, args=(desk, i / len(running) / 3)) for i, desk in enumerate(running)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(took)


def tell_lateness(cluster, begun_ms, took, floor):
    query = ("SELECT extract(epoch FROM pg_xact_commit_timestamp(xmin)) * 1000 - utc_ms, utc_ms, bout FROM entry "
             "WHERE kind = 'strike' ORDER BY 1")
    rows = [line.split("|") for line in cluster.sql(query, "live").splitlines()]
    late = [float(ms) for ms, _, _ in rows]
    halls = len({bout for _, _, bout in rows})
    row(f"strike to row at the hub, {halls} desks, {len(late)} strikes: median ms",
        f"{statistics.median(late):.1f}", f"{statistics.median(floor):.1f} INSERT")
    row("... p99 ms", f"{quantile(late, 0.99):.1f}", f"{quantile(floor, 0.99):.1f} INSERT", "<= 50")
    row("... of it the desk's own log: median, p99 ms",
        f"{statistics.median(took):.1f}, {quantile(took, 0.99):.1f}")
    row("... latest of all ms", f"{late[-1]:.1f}", f"{floor[-1]:.1f} INSERT")
    seconds = {}
    for ms, at, _ in rows:
        seconds.setdefault(int((float(at) - begun_ms) // 1000), []).append(float(ms))
    print("    by second, median/latest ms: " + " ".join(
        f"{at}:{statistics.median(of):.0f}/{max(of):.0f}" for at, of in sorted(seconds.items())))
    beyond = [bout for ms, _, bout in rows if float(ms) > 50]
    print(f"    beyond 50 ms: {len(beyond)} strikes of {len(set(beyond))} halls; load average "
          f"{os.getloadavg()[0]:.1f}", flush=True)


def bench_strikes(yard, cluster, program, scribe, desks, seconds):
    """Many desks, each with its own database and follower; from the key to the row."""
    cluster.sql("CHECKPOINT", "postgres")  # what other parts wrote is the disk's business no more
    os.sync()
    cluster.create("live")
    uri = cluster.uri("live")
    halls = [Hall(program, yard.folder / f"live-{i}.db") for i in range(desks)]
    halls[0].run("hub", "init", uri)
    cluster.sql("CREATE TABLE bare (a bigint, b text)", "live")
    running = []
    try:
        for i, hall in enumerate(halls):
            hall.run("card", "load", card_of(yard, i))
            running.append(Desk(scribe, hall.database, f"hall-{i}/1", "ann"))
            running[-1].tell("start")
            hall.follow(uri, "--wait")
        until("all follow", lambda: cluster.sql("SELECT count(DISTINCT bout) FROM entry", "live") == str(desks), 120)
        inserts = Inserts(yard, cluster, seconds)
        begun_ms = time.time() * 1000
        took = tag(running, seconds)
        until("all strikes are there", lambda: cluster.sql(
            "SELECT count(*) FROM entry WHERE kind = 'strike'", "live") == str(len(took)))
        tell_lateness(cluster, begun_ms, took, inserts.latencies())
    finally:
        for desk in running:
            desk.kill()
        for hall in halls:
            hall.kill()


def bench_key(cluster, program, scribe, strikes):
    """The desk's key to its screen while the hub stands still."""
    cluster.create("stalled")
    uri = cluster.uri("stalled")
    Hall(program, "none").ask("hub", "init", uri)
    with subprocess.Popen([beside(scribe, "bench_hub_key"), uri, str(strikes)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as desk:
        assert desk.stdout.readline() == "stall\n"
        until("all was sent", lambda: int(cluster.sql("SELECT count(*) FROM entry", "stalled")) > 0)
        with cluster.stalled():
            said = desk.communicate("go\n")[0]
        assert desk.returncode == 0, said
    print(f"{said.strip()}\n    load average {os.getloadavg()[0]:.1f}", flush=True)


def memory_of(pid):
    """What is resident of a process, and what of it is its own, in KiB."""
    rows = dict(re.findall(r"(\w+): +(\d+) kB", pathlib.Path(f"/proc/{pid}/smaps_rollup").read_text()))
    return int(rows["Rss"]), int(rows["Private_Clean"]) + int(rows["Private_Dirty"])


def bench_memory(yard, cluster, program, scribe, strikes):
    """A follower and the bare libraries on the same database; then many strikes."""
    cluster.create("memory")
    uri = cluster.uri("memory")
    hall = Hall(program, yard.folder / "memory.db")
    hall.run("hub", "init", uri)
    hall.run("card", "load", card_of(yard, 1))
    desk = Desk(scribe, hall.database, "hall-1/1", "ann")
    bare = subprocess.Popen([beside(scribe, "hub_floor"), hall.database, uri], stdin=subprocess.PIPE,
                            stdout=subprocess.PIPE, text=True)
    try:
        assert bare.stdout.readline() == "ready\n"
        desk.tell("start")
        hall.follow(uri)
        sent = 4

        def grown(more):
            """A third of a second's strikes at a time, as the follower gets them."""
            nonlocal sent
            for _ in range(more // 10):
                desk.tell("many 10")
            sent += more // 10 * 10
            until("all is sent", lambda: int(cluster.sql("SELECT count(*) FROM entry", "memory")) == sent)
            return memory_of(hall.follower.pid)

        first = grown(100)
        floor = memory_of(bare.pid)
        later = [grown(strikes // 10) for _ in range(10)]
        for i, what in enumerate(("resident memory of follow, KiB", "... of it its own")):
            row(what, f"{first[i]}", f"{floor[i]} bare")
            row("... of the bare libraries'", f"{first[i] / floor[i]:.2f} x", "", "" if i else "<= 2 x")
        row(f"resident memory after {sent} entries, highest, KiB", f"{max(rss for rss, _ in later)}")
        row("... last against first", f"{later[-1][0] / first[0]:.2f} x", "", "flat")
        hall.kill()
        hall.follow(uri)
        again = max(grown(10)[0] for _ in range(5))
        row("... of a follower that begins then", f"{again}", "", "")
    finally:
        bare.kill()
        bare.wait()
        desk.kill()
        hall.kill()


def beside(scribe, name):
    """A program of this folder, in the build that scribe is of."""
    return pathlib.Path(scribe).resolve().parent.parent / "bench" / name


def bench_send(yard, cluster, program, scribe, desks):
    """A bout of 1,500 entries, against COPY of the same rows."""
    hall = Hall(program, yard.folder / "send.db")
    hall.run("card", "load", card_of(yard, 900))
    desk = Desk(scribe, hall.database, "hall-900/1", "ann")
    desk.tell("start")
    desk.tell("many 1496")
    desk.close()
    sends, empties, copies = [], [], []
    for turn in range(3 if desks < 10 else 9):
        name = f"send{turn}"
        cluster.create(name)
        uri = cluster.uri(name)
        hall.run("hub", "init", uri)
        begun = time.monotonic()
        hall.run("hub", "follow", uri, "--once")
        sends.append(time.monotonic() - begun)
        begun = time.monotonic()
        hall.run("hub", "follow", uri, "--once")
        empties.append(time.monotonic() - begun)
        rows = yard.folder / "rows.copy"
        psql(cluster, name, f"\\copy (SELECT * FROM entry) TO '{rows}'")
        other = f"copy{turn}"
        cluster.create(other)
        hall.run("hub", "init", cluster.uri(other))
        for table in ("card", "bout", "desk"):
            dump = subprocess.run([BIN / "pg_dump", "-a", "-t", table, "--inserts", "-d", cluster.uri(name)],
                                  capture_output=True, check=True, text=True).stdout
            subprocess.run([BIN / "psql", "-Xq", "-d", cluster.uri(other)], input=dump, text=True, check=True,
                           capture_output=True)
        said = psql(cluster, other, "\\timing on", f"\\copy entry FROM '{rows}'")
        copies.append(float(re.search(r"Time: ([\d.]+) ms", said).group(1)) / 1000)
    took = statistics.median(sends) - statistics.median(empties)
    floor = statistics.median(copies)
    row("a bout of 1,500 entries sent, ms", f"{took * 1000:.1f}", f"{floor * 1000:.1f} COPY", "")
    row("... of COPY's speed", f"{floor / took:.2f} x", "", ">= 0.4 x")


def main():
    # The one that fills gigabytes comes last.
    parts = {"strikes": lambda: bench_strikes(yard, cluster, asked.program, asked.scribe, asked.desks, asked.seconds),
             "key": lambda: bench_key(cluster, asked.program, asked.scribe, asked.seconds * 50),
             "memory": lambda: bench_memory(yard, cluster, asked.program, asked.scribe, asked.seconds * 1500),
             "send": lambda: bench_send(yard, cluster, asked.program, asked.scribe, asked.desks),
             "history": lambda: bench_history(yard, asked.program, asked.scribe, asked.bouts)}
    words = argparse.ArgumentParser()
    words.add_argument("--part", choices=parts)
    for name in ("program", "scribe"):
        words.add_argument(name)
    for name, usual in (("desks", 50), ("seconds", 20), ("bouts", 10000)):
        words.add_argument(name, nargs="?", type=int, default=usual)
    asked = words.parse_args()
    os.environ["TZ"] = "UTC"
    with Yard() as yard:
        cluster = yard.cluster("bench", lines=("fsync = on", "track_commit_timestamp = on", "max_connections = 200",
                                               "shared_buffers = 512MB", "max_wal_size = 4GB"))
        print(f"{'':58} {'measured':>12} {'floor':>14} {'to reach':>16}")
        for name in [asked.part] if asked.part else parts:
            parts[name]()
    return 0


if __name__ == "__main__":
    sys.exit(main())
