#!/usr/bin/python3
"""What a hub costs, beside floors of the same run. Prints; judges nothing.

usage: hub.py [--part send|history|strikes] RINGTALLY SCRIBE [DESKS SECONDS BOUTS]
       50 20 10000 if not said; history at BOUTS / 10 and BOUTS; --part: that one alone

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
from hub_kit import BIN, Desk, Hall, Yard, as_server, until  # noqa: E402


def row(what, value, floor="", target=""):
    print(f"{what:58} {value:>12} {floor:>14} {target:>16}", flush=True)


def card_of(yard, number):
    path = yard.folder / f"card-{number}.ini"
    path.write_text(f"[card]\nid = hall-{number}\ntitle = Hall\ndate = 2026-03-07\nvenue = Net Loft\n"
                    "[bout 1]\nrules = kickboxing\nred.name = Ada Quill\nblue.name = Bo Tern\n",
                    encoding="utf-8")
    return path


def bench_strikes(yard, cluster, program, scribe, desks, seconds):
    """Many desks, each with its own database and follower; from the key to the row."""
    cluster.create("live")
    uri = cluster.uri("live")
    halls = [Hall(program, yard.folder / f"live-{i}.db") for i in range(desks)]
    halls[0].run("hub", "init", uri)
    cluster.sql("CREATE TABLE bare (a bigint, b text)", "live")
    script = yard.folder / "insert.sql"
    script.write_text("INSERT INTO bare VALUES (1, 'strike');\n", encoding="ascii")

    def insert():
        said = as_server([BIN / "pgbench", "-n", "-T", "3", "-c", "1", "-f", script, "-h", yard.folder, "-p",
                          str(cluster.port), "-U", "hub", "live"]).stdout.decode()
        return float(re.search(r"latency average = ([\d.]+) ms", said).group(1))

    floor = insert()
    running = []
    try:
        for i, hall in enumerate(halls):
            hall.run("card", "load", card_of(yard, i))
            running.append(Desk(scribe, hall.database, f"hall-{i}/1", "ann"))
            running[-1].tell("start")
            hall.follow(uri, "--wait")
        until("all follow", lambda: cluster.sql("SELECT count(*) FROM bout", "live") == str(desks), 120)
        memory = [resident(hall.follower.pid) for hall in halls]
        stop = time.monotonic() + seconds

        def tag(desk, phase):
            time.sleep(phase)
            while time.monotonic() < stop:
                begun = time.monotonic()
                desk.tell("strike red left_hand head landed")
                time.sleep(max(0.0, 1 / 3 - (time.monotonic() - begun)))

        threads = [threading.Thread(target=tag, args=(desk, i / desks / 3)) for i, desk in enumerate(running)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        time.sleep(1)
        query = ("SELECT extract(epoch FROM pg_xact_commit_timestamp(xmin)) * 1000 - utc_ms FROM entry "
                 "WHERE kind = 'strike' ORDER BY 1")
        late = [float(value) for value in cluster.sql(query, "live").split()]
        strikes = len(late)
        row(f"strike to row at the hub, {desks} desks, {strikes} strikes: median ms",
            f"{statistics.median(late):.1f}", f"{floor:.2f} ms/INSERT")
        row("... p99 ms", f"{late[int(len(late) * 0.99)]:.1f}", "", "<= 50")
        grown = [resident(hall.follower.pid) for hall in halls]
        row("resident memory of follow, at the start, KiB", f"{statistics.median(memory):.0f}")
        row("... after these strikes", f"{statistics.median(grown):.0f}", "", "flat")
    finally:
        for desk in running:
            desk.kill()
        for hall in halls:
            hall.kill()


def resident(pid):
    return int(re.search(r"VmRSS:\s+(\d+)", pathlib.Path(f"/proc/{pid}/status").read_text()).group(1))


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


def psql(cluster, database, *commands):
    words = [word for command in commands for word in ("-c", command)]
    return subprocess.run([BIN / "psql", "-Xq", "-v", "ON_ERROR_STOP=1", "-d", cluster.uri(database), *words],
                          capture_output=True, check=True, text=True).stdout


FILL = """
SET session_replication_role = replica;
INSERT INTO card (id, title, date, venue) SELECT 'c' || i, 'Evening ' || i, '2026-01-01', 'Hall'
FROM generate_series({low} / 10, {high} / 10 - 1) AS i;
INSERT INTO bout (card, number, weight, rules, terms, referee) SELECT 'c' || (i / 10), i % 10 + 1, '', 'kickboxing',
'', '' FROM generate_series({low}, {high} - 1) AS i;
INSERT INTO corner SELECT b.id, c, f, lower(f), 'F', 'orthodox', '', '' FROM bout AS b, unnest(ARRAY['red', 'blue']) AS c,
LATERAL (SELECT 'Fighter ' || to_char(CASE c WHEN 'red' THEN b.id ELSE b.id + 1 + b.id / ({high} / 10) END
% ({high} / 10), 'FM000000') AS f) AS n WHERE b.id > {low};
INSERT INTO desk (uid, bout, operator, name, corners, shadow, opened_ms) SELECT lpad(to_hex(id), 32, '0'), id, 'T', 'T',
'both', false, 0 FROM bout WHERE id > {low};
INSERT INTO entry (bout, arrival, desk, seq, utc_ms, at_ms, kind, act, code, round, elapsed_ms, off_clock, review,
accepted, unsure, corner, limb, target, stance, position, outcome, spinning, jumping, knockdown, value, text)
SELECT d.bout, k, d.id, k, 1790000000000 + k * 900, 1790000000000 + k * 900,
CASE WHEN k < 4 THEN 'official' WHEN k = 4 THEN 'clock' ELSE 'strike' END, 'add',
CASE k WHEN 1 THEN 'red' WHEN 2 THEN 'blue' WHEN 3 THEN 'clock' WHEN 4 THEN 'start' ELSE '' END, 1, k * 400, false,
false, false, false, CASE WHEN k > 4 THEN (ARRAY['red', 'blue'])[1 + k % 2] END,
CASE WHEN k > 4 THEN (ARRAY['left_hand', 'right_leg', 'right_hand'])[1 + (d.bout + k) % 3] END,
CASE WHEN k > 4 THEN (ARRAY['head', 'body'])[1 + (d.bout * 7 + k) % 2] END, CASE WHEN k > 4 THEN 'orthodox' END, 'open',
CASE WHEN k > 4 THEN (ARRAY['landed', 'attempted', 'attempted'])[1 + (d.bout * 13 + k) % 3] END,
CASE WHEN k > 4 THEN false END, CASE WHEN k > 4 THEN false END, CASE WHEN k > 4 THEN false END, 0, ''
FROM desk AS d, generate_series(1, 404) AS k WHERE d.bout > {low};
"""


def bench_history(yard, cluster, program, bouts):
    """One fighter's twenty bouts among many, and the scan of the same entries by their index."""
    asker = Hall(program, yard.folder / "asker.db")
    took = {}
    for size in (bouts // 10, bouts):
        name = f"history{size}"
        cluster.create(name)
        uri = cluster.uri(name)
        asker.ask("hub", "init", uri)
        begun = time.monotonic()
        cluster.sql(FILL.format(low=0, high=size), name)
        cluster.sql("VACUUM ANALYZE", name)
        made = time.monotonic() - begun
        fighter = "Fighter 000002"
        scan = ("EXPLAIN (ANALYZE, TIMING OFF, FORMAT TEXT) SELECT bout, desk, seq FROM entry WHERE bout = ANY (ARRAY("
                f"SELECT bout FROM corner WHERE name = '{fighter}'))")
        floors, times, empties = [], [], []
        for _ in range(9):
            floors.append(float(re.search(r"Execution Time: ([\d.]+) ms", psql(cluster, name, scan)).group(1)))
            begun = time.monotonic()
            found = asker.ask("history", fighter, "--hub", uri)
            times.append((time.monotonic() - begun) * 1000)
            begun = time.monotonic()
            asker.ask("history", "Nobody There", "--hub", uri, code=1)
            empties.append((time.monotonic() - begun) * 1000)
        assert "20 bouts" in found, found
        took[size] = statistics.median(times)
        row(f"history of 20 bouts among {size} ({size * 400 / 1e6:.1f} million strikes), ms", f"{took[size]:.1f}",
            f"{statistics.median(floors):.1f} the scan", "<= 3 x, 50 ms")
        row("... of it the program's start and connection", f"{statistics.median(empties):.1f}")
        space = cluster.sql("SELECT sum(pg_table_size(inhrelid)) / c, sum(pg_indexes_size(inhrelid)) / c FROM pg_inherits, "
                            f"(SELECT {size} * 404.0 AS c) AS n WHERE inhparent = 'entry'::regclass GROUP BY c", name)
        table, indexes = (float(part) for part in space.split("|"))
        row("... bytes an entry, table and indexes", f"{table:.0f} + {indexes:.0f}")
        row("... made in s", f"{made:.0f}")
        if size != bouts:
            cluster.sql(f"DROP DATABASE {name}", "postgres")
    row("ten times the hub, the same bouts", f"{took[bouts] / took[bouts // 10]:.2f} x", "", "flat")


def main():
    parts = {"send": lambda: bench_send(yard, cluster, asked.program, asked.scribe, asked.desks),
             "history": lambda: bench_history(yard, cluster, asked.program, asked.bouts),
             "strikes": lambda: bench_strikes(yard, cluster, asked.program, asked.scribe, asked.desks, asked.seconds)}
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
