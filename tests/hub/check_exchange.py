#!/usr/bin/python3
"""A hub and several halls: whatever is sent, brought, killed and cut in whatever order, all have the
same entries and counts in the end, and nothing twice. PostgreSQL is a real one.

usage: check_exchange.py RINGTALLY SCRIBE [PART ...]
       check_exchange.py RINGTALLY SCRIBE many N      interleavings and cuts, of N seeds
"""
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time

from hub_kit import Desk, Hall, Yard, until
import check_merge
from check_merge import BOUTS, CARD, Place, head, portable, random_bout, sealed

NAMES = [f"{CARD['id']}/{bout}" for bout in BOUTS]


def content(hall):
    return Place(hall.database.parent, hall.program).content(hall.database)


def steps_of(rng, bouts, machines):
    """Who writes what when: each desk's entries in order, on a machine, some on two (a rescue file
    carried over), in pieces."""
    steps = []
    for bout, (desks, logs) in bouts.items():
        for desk in desks:
            uid = desk["desk"]
            home = rng.choice(machines)
            upto = 0
            while upto < len(logs[uid]):
                upto = min(len(logs[uid]), upto + rng.randrange(1, 25))
                steps.append((bout, uid, upto, home))
                if rng.random() < 0.15:
                    steps.append((bout, uid, upto, rng.choice(machines)))
    return steps


def shuffled(rng, steps):
    """Any order that keeps each desk's own."""
    lanes = {}
    for step in steps:
        lanes.setdefault(step[:2], []).append(step)
    lanes = list(lanes.values())
    while lanes:
        lane = rng.choice(lanes)
        yield lane.pop(0)
        if not lane:
            lanes.remove(lane)


def write(hall, bouts, step):
    bout, uid, upto, _ = step
    desks, logs = bouts[bout]
    hall.load(portable(bout, desks, logs, {desk["desk"]: upto if desk["desk"] == uid else 0
                                           for desk in desks}))


def expected_of(yard, program, bouts, number):
    whole = Hall(program, yard.folder / f"whole-{number}.db")
    for bout, (desks, logs) in bouts.items():
        whole.load(portable(bout, desks, logs, {uid: 10**6 for uid in logs}))
    return whole


def check_views(cluster, hall, database):
    """One query serves both: the views of the hub have the rows of the local ones."""
    seen = 0
    with sqlite3.connect(hall.database) as local:
        for view in ("official_desk", "standing", "strike", "incident", "knockdown", "view_blocked",
                     "round_total"):
            columns = [row[1] for row in local.execute(f"PRAGMA table_info({view})")]
            there = cluster.sql("SELECT string_agg(column_name, ',' ORDER BY ordinal_position) FROM "
                                f"information_schema.columns WHERE table_name = '{view}'", database)
            assert there.split(",") == columns, (view, there, columns)
            # Ids are each database's own.
            shown = [name for name in columns if name not in ("bout_id", "root")]
            if view == "official_desk":
                shown.remove("bout")
            query = f"SELECT {', '.join(shown)} FROM {view}"
            here = sorted(json.dumps(row) for row in local.execute(query))
            rows = cluster.sql(f"SELECT json_agg(row_to_json(v)) FROM ({query}) AS v", database)
            there = [[int(value) if isinstance(value, bool) else value for value in row.values()]
                     for row in json.loads(rows or "[]") or []]
            assert sorted(map(json.dumps, there)) == here, view
            seen += bool(here)
    return seen


def check_history(hall, uri, names):
    """What a hub says of a fighter is what the log says, to the byte, whatever came when."""
    for name in names:
        for words in ((), ("--format", "json")):
            here = hall.run("history", name, *words)
            there = hall.ask("history", name, *words, "--hub", uri)
            assert here == there, (name, here, there)


def check_interleavings(yard, program, rng, number):
    cluster, database = yard.clusters[0], f"order{number}"
    cluster.create(database)
    uri = cluster.uri(database)
    halls = [Hall(program, yard.folder / f"{database}-{i}.db") for i in range(3)]
    halls[0].run("hub", "init", uri)
    bouts = {bout: random_bout(rng, rng.randrange(40, 90)) for bout in BOUTS}
    for step in shuffled(rng, steps_of(rng, bouts, range(3))):
        hall = halls[step[3]]
        write(hall, bouts, step)
        for other in halls:
            if rng.random() < 0.15:
                other.run("hub", "follow", uri, "--once", "--card", CARD["id"])
    for _ in range(2):
        for hall in halls:
            hall.run("hub", "follow", uri, "--once", "--card", CARD["id"])
    whole = expected_of(yard, program, bouts, database)
    wanted = content(whole)
    for hall in halls:
        assert content(hall) == wanted, "a hall has something else"
        assert hall.status(uri) == {"to_send": 0, "to_fetch": 0, "behind_ms": 0}
    count = sum(len(entries) for _, logs in bouts.values() for entries in logs.values())
    assert cluster.sql("SELECT count(*) FROM entry", database) == str(count)
    assert check_views(cluster, whole, database) >= 4
    check_history(whole, uri, ("Red 1", "Blue 1", "Blue 2"))
    # Digests went along unchanged.
    rows = cluster.sql("SELECT d.uid, e.seq, encode(e.prior, 'hex') FROM entry AS e JOIN desk AS d "
                       "ON d.id = e.desk ORDER BY 1, 2", database)
    with sqlite3.connect(halls[0].database) as local:
        here = local.execute("SELECT d.uid, e.seq, lower(hex(e.prior)) FROM entry AS e JOIN desk AS d "
                             "ON d.id = e.desk ORDER BY 1, 2").fetchall()
    assert rows == "\n".join("|".join(map(str, row)) for row in here)


def check_cuts(yard, program, rng, number):
    """Followers are killed, connections ended, batches sent twice, while halls write."""
    cluster, database = yard.clusters[0], f"cuts{number}"
    cluster.create(database)
    uri = cluster.uri(database)
    halls = [Hall(program, yard.folder / f"{database}-{i}.db") for i in range(3)]
    halls[0].run("hub", "init", uri)
    bouts = {bout: random_bout(rng, 500) for bout in BOUTS}
    killed = ended = 0
    try:
        for step in shuffled(rng, steps_of(rng, bouts, range(3))):
            write(halls[step[3]], bouts, step)
            for hall in halls:
                if hall.follower and rng.random() < 0.2:
                    hall.kill()
                    killed += 1
                if not hall.follower and rng.random() < 0.7:
                    hall.follow(uri, "--wait", "--card", CARD["id"])
            if rng.random() < 0.15:
                ended += int(cluster.sql(
                    "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity "
                    f"WHERE datname = '{database}' AND pid <> pg_backend_pid()", database))
        for hall in halls:
            if not hall.follower:
                hall.follow(uri, "--wait", "--card", CARD["id"])
        count = sum(len(entries) for _, logs in bouts.values() for entries in logs.values())
        def has(hall):
            return hall.database.exists() and sqlite3.connect(hall.database).execute(
                "SELECT count(*) FROM entry").fetchone()[0]

        for hall in halls:
            until(lambda: f"a hall has {has(hall)} of {count}: {hall.said.read_text()[-700:]}", lambda: has(hall) == count)
        assert cluster.sql("SELECT count(*) FROM entry", database) == str(count)
        for hall in halls:
            assert hall.follower.poll() is None, hall.said.read_text()
    finally:
        for hall in halls:
            hall.kill()
    wanted = content(expected_of(yard, program, bouts, database))
    for hall in halls:
        assert content(hall) == wanted, "a hall has something else"
    assert killed > 20 and ended > 20, (killed, ended)
    print(f"{killed} followers killed, {ended} connections ended, {count} entries on all sides")


def harbour(yard):
    card = yard.folder / "card.ini"
    card.write_text("[card]\nid = harbour-9\ntitle = Harbour Nine\ndate = 2026-03-07\nvenue = Net Loft\n"
                    "[bout 1]\nrules = kickboxing\nred.name = Ada Quill\nblue.name = Bo Tern\n", encoding="utf-8")
    return card


def check_live(yard, program, scribe):
    """What a desk writes is at the hub and in another hall without anybody asking."""
    cluster, database = yard.clusters[0], "live"
    cluster.create(database)
    uri = cluster.uri(database)
    hall, truck = (Hall(program, yard.folder / f"{database}-{name}.db") for name in ("hall", "truck"))
    hall.run("hub", "init", uri)
    card = harbour(yard)
    hall.run("card", "load", card)
    desk = Desk(scribe, hall.database, "harbour-9/1", "ann")
    tell = desk.tell

    def attempted(of):
        done = subprocess.run([program, "--db", of.database, "counts", "harbour-9/1", "--format",
                               "json"], capture_output=True, timeout=60)
        return done.returncode == 0 and json.loads(done.stdout)["red"]["attempted"]

    try:
        tell("start")
        hall.follow(uri)
        truck.follow(uri, "--card", "harbour-9")
        for round_ in range(3):
            for _ in range(5):
                tell("strike red left_hand head landed")
            until("the truck counts it", lambda: attempted(truck) == 5 * (round_ + 1))
        # The hub cannot be reached for a while: nobody at the desk knows.
        cluster.stop()
        for _ in range(7):
            tell("strike red left_hand head landed")
        note = hall.database.with_name(hall.database.name + ".hub")
        until("the note says what waits", lambda: note.read_text().split()[0:3:2] == ["7", "1"])
        assert attempted(truck) == 15
        cluster.start()
        until("the truck has it", lambda: attempted(truck) == 22)
        until("nothing waits", lambda: note.read_text().split()[0:3:2] == ["0", "0"])
        assert hall.status(uri)["to_send"] == 0
        check_note(cluster, hall, uri, note, tell)
        said = hall.said.read_text().splitlines()
        assert any("entries wait here" in line for line in said), said
        assert said[-1].endswith("both sides have the same"), said
    finally:
        desk.close()
        hall.kill()
        truck.kill()


def check_note(cluster, hall, uri, note, tell):
    """What the console's last line says comes from a note, which says by when it says more."""
    def read():
        waiting, _, away, until_ms = map(int, note.read_text().split())
        return waiting, away, until_ms

    with cluster.stalled():  # no answer, and the connection stands
        for _ in range(3):
            tell("strike red left_hand head landed")
        until("it says that three wait", lambda: read()[0] == 3)
        promised = read()[2]
        until("it goes on to say so", lambda: read()[2] > promised)
        assert read()[:2] == (3, 0)
    until("nothing waits", lambda: read()[:2] == (0, 0))
    hall.kill()
    assert note.exists(), "killed, it leaves a note that nothing follows"
    hall.follow(uri)
    promised = read()[2]
    until("it goes on", lambda: read()[2] > promised)
    hall.follower.terminate()
    assert hall.follower.wait(60) == 0 and not note.exists(), "told to end it takes its note away"
    hall.follow(uri)


def check_both(yard, program, scribe):
    """Two machines write into one bout, and one is held up while the other sends: neither misses anything,
    without a new connection."""
    cluster, database = yard.clusters[0], "together"
    cluster.create(database)
    uri = cluster.uri(database)
    halls = [Hall(program, yard.folder / f"{database}-{i}.db") for i in range(2)]
    halls[0].run("hub", "init", uri)
    card = harbour(yard)
    desks = []
    try:
        for i, hall in enumerate(halls):
            hall.run("card", "load", card)
            desks.append(Desk(scribe, hall.database, "harbour-9/1", f"tagger {i}"))
            hall.follow(uri)

        def counts():
            return {sqlite3.connect(hall.database).execute("SELECT count(*) FROM entry").fetchone()[0]
                    for hall in halls}

        written = 6  # both took all the offices
        until("both have all", lambda: counts() == {written})
        for held, free in ((0, 1), (1, 0), (0, 1)):
            os.kill(halls[held].follower.pid, signal.SIGSTOP)
            desks[free].tell("many 5")
            desks[held].tell("many 3")
            written += 8
            until("the free one has sent", lambda: cluster.sql("SELECT count(*) FROM entry", database)
                  == str(written - 3))
            os.kill(halls[held].follower.pid, signal.SIGCONT)
            until("both have all", lambda: counts() == {written}, 20)
        for hall in halls:
            assert len(hall.said.read_text().splitlines()) == 1, hall.said.read_text()
    finally:
        for desk in desks:
            desk.kill()
        for hall in halls:
            hall.kill()


def check_twice(yard, program, rng):
    """Two machines send the same batch, neither knowing of the other: it is there once, and that is no error."""
    cluster, database = yard.clusters[0], "twice"
    cluster.create(database)
    uri = cluster.uri(database)
    halls = [Hall(program, yard.folder / f"{database}-{i}.db") for i in range(2)]
    halls[0].run("hub", "init", uri)
    desks, logs = random_bout(rng, 80)
    total = sum(map(len, logs.values()))

    def there():
        return int(cluster.sql("SELECT count(*) FROM entry", database))

    def waiting(hall):
        return hall.database.with_name(hall.database.name + ".hub").read_text().split()[0]

    try:
        for hall in halls:
            hall.load(portable(1, desks, logs, {uid: 2 for uid in logs}))
            hall.follow(uri)
        until("both follow", lambda: all("same" in hall.said.read_text() for hall in halls))
        os.kill(halls[0].follower.pid, signal.SIGSTOP)
        for hall in halls:
            hall.load(portable(1, desks, logs, {uid: 10**6 for uid in logs}))
        until("one has sent all", lambda: there() == total)
        os.kill(halls[0].follower.pid, signal.SIGCONT)
        # The statement of the second one raised the bout's count, and added nothing.
        until("it was sent twice", lambda: int(cluster.sql("SELECT arrivals FROM bout", database)) >= 2 * total - 10)
        until("nothing waits", lambda: all(waiting(hall) == "0" for hall in halls))
        assert there() == total
        for hall in halls:
            assert len(hall.said.read_text().splitlines()) == 1, hall.said.read_text()
            assert hall.status(uri)["to_send"] == 0
    finally:
        for hall in halls:
            hall.kill()


def check_contradiction(yard, program, rng):
    """Two different entries of one name: both are named, that bout is left alone, others go on."""
    cluster, database = yard.clusters[0], "two"
    cluster.create(database)
    uri = cluster.uri(database)
    a = Hall(program, yard.folder / f"{database}-a.db")
    a.run("hub", "init", uri)
    desks, logs = random_bout(rng, 80)
    others, other_logs = random_bout(rng, 30)
    whole = {uid: 10**6 for uid in logs}
    a.load(portable(1, desks, logs, whole))
    a.run("hub", "follow", uri, "--once")
    before = cluster.sql("SELECT count(*) FROM entry", database)
    uid = desks[0]["desk"]
    # The newest entry, compared as such; an older one, told by the digest that the newest carries.
    for place, parts in ((-1, (f"entry {len(logs[uid])} of desk {uid}", "elapsed_ms")),
                         (2, (f"desk {uid}", "digests differ"))):
        taken = json.loads(json.dumps(logs))
        taken[uid][place]["elapsed_ms"] += 1
        b = Hall(program, yard.folder / f"{database}{place}.db")
        b.load(portable(1, desks, taken, whole))
        said = b.run("hub", "follow", uri, "--once", code=1)
        assert all(part in said for part in parts), (said, parts)
        assert cluster.sql("SELECT count(*) FROM entry", database) == before
        b.load(portable(2, others, other_logs, {uid: 10**6 for uid in other_logs}))
        said = b.run("hub", "follow", uri, "--once", code=1)
        before = cluster.sql("SELECT count(*) FROM entry", database)
    count = sum(len(entries) for some in (logs, other_logs) for entries in some.values())
    assert before == str(count), "the other bout came"


def check_many(program, seeds):
    for seed in range(seeds):
        with Yard() as yard:
            yard.cluster()
            rng = random.Random(seed)
            print(f"seed {seed}", flush=True)
            check_interleavings(yard, program, rng, seed)
            check_cuts(yard, program, rng, seed)
    return 0


def main():
    program, scribe = sys.argv[1:3]
    if sys.argv[3:4] == ["many"]:
        return check_many(program, int(sys.argv[4]))
    rng = random.Random(20261128)
    with Yard() as yard:
        yard.cluster()
        for name, check in (("interleavings", lambda: check_interleavings(yard, program, rng, 1)),
                            ("cuts", lambda: check_cuts(yard, program, rng, 1)),
                            ("live", lambda: check_live(yard, program, scribe)),
                            ("both", lambda: check_both(yard, program, scribe)),
                            ("contradiction", lambda: check_contradiction(yard, program, rng)),
                            ("twice", lambda: check_twice(yard, program, rng))):
            if len(sys.argv) == 3 or name in sys.argv[3:]:
                begun = time.monotonic()
                check()
                print(f"{name}: {time.monotonic() - begun:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
