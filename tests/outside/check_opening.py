#!/usr/bin/python3
"""Who a desk is, through the real program: one operator's desk opened several times at once gives desks of their own,
none fails, and the next day the operator is who they were first.

usage: check_opening.py EXAMPLES_DIR RINGTALLY
"""
import pathlib
import signal
import subprocess
import sys
import tempfile
import time

BOUT = "saltglass-4/1"
AT_ONCE = 3


class Place:
    def __init__(self, folder, examples, program):
        self.folder, self.program = pathlib.Path(folder), program
        self.database = self.folder / "bouts.db"
        subprocess.run(self.words("card", "load", examples / "card.ini"), check=True, stdout=subprocess.DEVNULL)

    def words(self, *words):
        return [str(word) for word in (self.program, "--db", self.database, *words)]

    def desk(self, last):
        """One that strikes at once, and again `last` seconds later."""
        script = self.folder / f"{last}.keys"
        if not script.exists():  # another desk may be reading it
            script.write_text(f"0.0 w\n{last} w\n", encoding="utf-8")
        return subprocess.Popen(self.words("desk", BOUT, "--operator", "ana", "--keys", script, "--speed", "1",
                                           "--headless"), stderr=subprocess.PIPE)

    def rows(self, query):
        done = subprocess.run(["sqlite3", self.database, query], capture_output=True, check=True, timeout=60)
        return [line.split("|") for line in done.stdout.decode("utf-8").splitlines()]

    def until(self, query, expected, desks):
        end = time.monotonic() + 60
        while self.rows(query) != expected:
            for desk in desks:
                assert desk.poll() is None, desk.communicate()
            assert time.monotonic() < end, (query, self.rows(query))
            time.sleep(0.02)


def check(place):
    first = place.desk(600)
    place.until("SELECT count(*) FROM entry WHERE kind = 'strike'", [["1"]], [first])
    first.send_signal(signal.SIGKILL)
    first.communicate()
    # All at once, while nobody is at it: one goes on, the others are desks of their own.
    desks = [place.desk(600) for _ in range(AT_ONCE)]
    place.until("SELECT count(*) FROM (SELECT DISTINCT desk FROM entry WHERE kind = 'strike')", [[str(1 + AT_ONCE)]],
                desks)
    for desk in desks:
        assert desk.poll() is None, desk.communicate()
        desk.send_signal(signal.SIGKILL)
        desk.communicate()
    rows = place.rows("SELECT name, ifnull(continues, id) = 1 FROM desk ORDER BY id")
    assert sorted(rows) == [["ana", "1"], ["ana", "1"], ["ana-2", "0"], ["ana-3", "0"]], rows
    assert place.rows("SELECT count(*) FROM desk WHERE id NOT IN (SELECT desk FROM entry)") == [["0"]]
    # The next day.
    place.desk(0.1).communicate(timeout=60)
    newest = "FROM desk ORDER BY id DESC LIMIT 1"
    assert place.rows(f"SELECT name, continues {newest}") == [["ana", "1"]]
    counted = "SELECT count(*) FROM strike WHERE official AND at_ms >= "
    assert place.rows(f"{counted} (SELECT opened_ms {newest})") == [["2"]]


def main():
    with tempfile.TemporaryDirectory() as folder:
        check(Place(folder, pathlib.Path(sys.argv[1]), sys.argv[2]))
    print("opened several times, each is a desk of its own, and ana stays ana")


main()
