#!/usr/bin/python3
"""A whole evening: three halls, a hub with a standby, a truck. A network is cut, another goes dead, the
primary is killed while its standby lacks what was sent last, a desk is killed. In the end all five
have the same. And with a synchronous standby nothing that was seen at the hub is missing.

usage: check_evening.py RINGTALLY SCRIBE
"""
import json
import pathlib
import signal
import sqlite3
import sys
import time

from hub_kit import Desk, Hall, Line, Yard, until

CARD = "quay-night"


def write_card(yard):
    path = yard.folder / "card.ini"
    text = f"[card]\nid = {CARD}\ntitle = Quay Night\ndate = 2026-03-07\nvenue = Three Halls\n"
    for bout in (1, 2, 3):
        text += (f"[bout {bout}]\nrules = kickboxing\nred.name = Red {bout} Quill\n"
                 f"blue.name = Blue {bout} Tern\n")
    path.write_text(text, encoding="utf-8")
    return path


def entries_of(database):
    with sqlite3.connect(database) as local:
        return local.execute("SELECT count(*) FROM entry").fetchone()[0]


def totals_here(database):
    with sqlite3.connect(database) as local:
        return sorted(local.execute("SELECT bout, round, corner, attempted, landed, blocked, unsure, "
                                    "knockdowns FROM round_total"))


def totals_there(cluster):
    rows = cluster.sql("SELECT json_agg(json_build_array(bout, round, corner, attempted, landed, "
                       "blocked, unsure, knockdowns)) FROM round_total")
    return sorted(tuple(row) for row in json.loads(rows or "[]") or [])


def names_of(database):
    with sqlite3.connect(database) as local:
        return set(local.execute("SELECT desk.uid, seq FROM entry JOIN desk ON desk.id = desk"))


def check_evening(yard, program, scribe):
    primary = yard.cluster("primary")
    primary.create()
    lines = [[Line(primary.port)] for _ in range(4)]
    standby = yard.cluster("standby", primary)
    for line in lines:
        line.append(Line(standby.port))
    uris = [f"host=127.0.0.1,127.0.0.1 port={one.port},{other.port} dbname=league user=hub"
            for one, other in lines]
    card = write_card(yard)
    places = [Hall(program, yard.folder / f"hall{i}.db") for i in (1, 2, 3)]
    places.append(Hall(program, yard.folder / "truck.db"))
    places[0].run("hub", "init", uris[0])
    desks = []
    try:
        for place, uri in zip(places, uris):
            place.run("card", "load", card)
            place.follow(uri, "--wait")
        desks = [Desk(scribe, place.database, f"{CARD}/{i + 1}", f"tagger {i + 1}")
                 for i, place in enumerate(places[:3])]

        def tag(strikes):
            for desk in desks:
                desk.tell(f"many {strikes}")
                desk.tell("strike red right_hand head landed")
                desk.tell("void")

        def all_there(cluster, but=()):
            said = "".join(place.said.read_text()[-300:] for place in places)
            kept = [place for i, place in enumerate(places) if i not in but]
            until(f"the truck has what the halls have: {said}", lambda: len(
                {entries_of(place.database) for place in kept}) == 1 and entries_of(
                    places[3].database) == int(cluster.sql("SELECT count(*) FROM entry")))

        for desk in desks:
            desk.tell("start")
        tag(40)
        all_there(primary)
        # Hall 1's network is cut, hall 2's goes dead; tagging goes on.
        for line in lines[0]:
            line.cut()
        for line in lines[1]:
            line.cut("dead")
        tag(30)
        until("hall 3 and the truck go on", lambda: entries_of(places[3].database) >= 4 * 40)
        for line in lines[0] + lines[1]:
            line.mend()
        all_there(primary)
        # A desk is killed, and opened again.
        desks[2].tell("many 25")
        desks[2].kill()
        desks[2] = Desk(scribe, places[2].database, f"{CARD}/3", "tagger 3")
        for desk in desks:
            desk.tell("stop")
            desk.tell("start")
        tag(20)
        all_there(primary)
        # The standby falls behind, the primary dies, the standby is promoted.
        until("the standby follows", lambda: standby.sql("SELECT count(*) FROM entry") ==
              primary.sql("SELECT count(*) FROM entry"))
        standby.stop()
        tag(25)
        all_there(primary)
        sent = int(primary.sql("SELECT count(*) FROM entry"))
        primary.stop(signal.SIGKILL)
        for line in lines:
            line[0].end()
        tag(10)
        standby.start()
        lacking = sent - int(standby.sql("SELECT count(*) FROM entry"))
        assert lacking >= 3 * 25, lacking
        standby.promote()
        for desk in desks:
            desk.tell("stop")
        all_there(standby)
        for desk in desks:
            desk.close()
        desks = []
        all_there(standby)
        wanted = totals_here(places[0].database)
        assert sum(row[3] for row in wanted) > 350, wanted
        for place in places:
            assert totals_here(place.database) == wanted
            assert names_of(place.database) == names_of(places[0].database)
            assert place.follower.poll() is None, place.said.read_text()
        assert totals_there(standby) == wanted
        print(f"{entries_of(places[0].database)} entries; the new primary lacked {lacking}")
    finally:
        for desk in desks:
            desk.kill()
        for place in places:
            place.kill()


def check_synchronous(yard, program, scribe):
    """What anybody saw at the hub is at the standby."""
    primary = yard.cluster("sync")
    primary.create()
    standby = yard.cluster("sync-standby", primary)
    uri = (f"host={yard.folder},{yard.folder} port={primary.port},{standby.port} dbname=league "
           "user=hub")
    hall = Hall(program, yard.folder / "sync.db")
    hall.run("hub", "init", uri)
    primary.sql("ALTER SYSTEM SET synchronous_standby_names = '*'")
    primary.sql("SELECT pg_reload_conf()")
    until("the standby is synchronous", lambda: primary.sql(
        "SELECT count(*) FROM pg_stat_replication WHERE sync_state = 'sync'") == "1")
    hall.run("card", "load", write_card(yard))
    desk = Desk(scribe, hall.database, f"{CARD}/1", "ann")
    try:
        hall.follow(uri)
        end = time.monotonic() + 1
        while time.monotonic() < end:
            desk.tell("many 7")
        until("all is there", lambda: int(primary.sql("SELECT count(*) FROM entry")) ==
              entries_of(hall.database))
        # The standby stands still: what is written now nobody sees at the hub, nor takes for sent.
        with standby.stalled():
            desk.tell("many 7")
            until("the primary waits for it", lambda: primary.sql(
                "SELECT count(*) FROM pg_stat_activity WHERE wait_event = 'SyncRep'") == "1")
            seen = int(primary.sql("SELECT count(*) FROM entry"))
            assert seen == entries_of(hall.database) - 7
            until("the follower says so", lambda: pathlib.Path(
                f"{hall.database}.hub").read_text().split()[0] == "7")
            primary.stop(signal.SIGKILL)
        standby.promote()
        assert int(standby.sql("SELECT count(*) FROM entry")) >= seen > 0
        standby.sql("ALTER SYSTEM RESET synchronous_standby_names")
        standby.sql("SELECT pg_reload_conf()")
        desk.close()
        until("all is there", lambda: int(standby.sql("SELECT count(*) FROM entry")) ==
              entries_of(hall.database))
    finally:
        desk.kill()
        hall.kill()


def main():
    program, scribe = sys.argv[1:3]
    with Yard() as yard:
        for check in (check_evening, check_synchronous):
            begun = time.monotonic()
            check(yard, program, scribe)
            print(f"{check.__name__}: {time.monotonic() - begun:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
