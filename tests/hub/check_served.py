#!/usr/bin/python3
"""The feed of a whole league: served from a hub and from its standby, live; an old bout on asking.

usage: check_served.py RINGTALLY SCRIBE
"""
import json
import os
import subprocess
import sys
import time
import urllib.error
import urllib.request

from hub_kit import Desk, Hall, Yard, until

LATER = 60  # cards: more than the feed knows before it is asked


class Feed:
    def __init__(self, program, uri):
        self.process = subprocess.Popen([program, "feed", "--hub", uri, "--listen", "127.0.0.1:0",
                                         "--max-age", "0"], stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, text=True)
        self.url = self.process.stdout.readline().strip()
        assert self.url.startswith("http://"), self.process.stderr.read()

    def get(self, path):
        try:
            with urllib.request.urlopen(self.url.rstrip("/") + path, timeout=20) as answer:
                return answer.status, json.load(answer)
        except urllib.error.HTTPError as refusal:
            return refusal.code, None

    def landed(self, bout):
        status, counts = self.get(f"/v1/bouts/{bout}/counts")
        return counts["red"]["landed"] if status == 200 else status

    def close(self):
        self.process.terminate()
        said = self.process.communicate(timeout=60)[1]
        assert self.process.returncode == 0, said
        return said


def hall_of(yard, program, scribe, number):
    card = f"pier-{number}"
    path = yard.folder / f"{card}.ini"
    path.write_text(f"[card]\nid = {card}\ntitle = Pier {number}\ndate = 2026-03-07\nvenue = Net Loft\n"
                    "[bout 1]\nrules = kickboxing\nred.name = Ada Quill\nblue.name = Bo Tern\n",
                    encoding="utf-8")
    hall = Hall(program, yard.folder / f"{card}.db")
    hall.run("card", "load", path)
    desk = Desk(scribe, hall.database, f"{card}/1", "ann")
    desk.tell("start")
    desk.tell("strike red left_hand head landed")
    return hall, desk


def main():
    program, scribe = sys.argv[1:3]
    with Yard() as yard:
        os.environ["TMPDIR"] = str(yard.folder / "tmp")
        os.mkdir(os.environ["TMPDIR"])
        primary = yard.cluster("primary")
        primary.create()
        hall, desk = hall_of(yard, program, scribe, 1)
        hall.run("hub", "init", primary.uri())
        desk.close()
        hall.run("hub", "follow", primary.uri(), "--once")
        # Many later cards push it out of what is known beforehand.
        primary.sql("INSERT INTO card (id, title, date, venue) SELECT 'later-' || n, 'Later', "
                    f"'2026-04-01', 'Hall' FROM generate_series(1, {LATER}) AS n")
        standby = yard.cluster("standby", primary)
        feeds, halls = [], []
        try:
            halls = [hall_of(yard, program, scribe, number) for number in (2, 3)]
            halls[0][0].follow(primary.uri())
            halls[1][0].follow(primary.uri())
            until("all is at the standby", lambda: standby.sql(
                "SELECT count(DISTINCT bout) FROM entry WHERE kind = 'strike'") == "3")
            feeds = [Feed(program, cluster.uri()) for cluster in (primary, standby)]
            for feed in feeds:
                assert feed.landed("pier-1/1") == 1, "an old bout, asked for"
                assert feed.landed("pier-99/1") == 404
                for number in (2, 3):
                    assert feed.landed(f"pier-{number}/1") == 1
                status, cards = feed.get("/v1/cards")
                names = [card["card"]["id"] if "card" in card else card["id"]
                         for card in cards["cards"]]
                assert status == 200 and "pier-2" in names and "pier-3" in names, names
            for number in range(2, 6):
                halls[number % 2][1].tell("strike red right_hand head landed")
            begun = time.monotonic()
            for feed in feeds:
                for number in (2, 3):
                    until("it is served", lambda: feed.landed(f"pier-{number}/1") == 3)
            print(f"served {time.monotonic() - begun:.2f} s after the strikes")
            # The primary away: the feed says what it has.
            primary.stop()
            assert feeds[0].landed("pier-2/1") == 3 and feeds[1].landed("pier-3/1") == 3
            primary.start()
            halls[0][1].tell("strike red right_hand head landed")
            for feed in feeds:
                until("it goes on", lambda: feed.landed("pier-2/1") == 4)
        finally:
            for hall, desk in halls:
                desk.kill()
                hall.kill()
            said = [feed.close() for feed in feeds]
        assert any("hub" in line for line in said[0].splitlines()), said
        assert os.listdir(os.environ["TMPDIR"]) == [], "nothing is left behind"
    return 0


if __name__ == "__main__":
    sys.exit(main())
