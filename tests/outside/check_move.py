#!/usr/bin/python3
"""What was logged on the wrong bout goes to the right one, and back: read with the sqlite3 module, beside what the
program tells beforehand.

usage: check_move.py EXAMPLES_DIR RINGTALLY
"""
import json
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile
import time

STRIKES = ("SELECT corner, limb, target, outcome, spinning, jumping, knockdown, position, round, elapsed_ms, at_ms, "
           "off_clock, review, unsure{more} FROM strike WHERE official AND bout = 'saltglass-4/{number}' "
           "ORDER BY at_ms, corner, limb, target")


class Place:
    def __init__(self, folder, examples, program):
        self.folder, self.program = pathlib.Path(folder), program
        self.db = self.folder / "bouts.db"
        self.run("card", "load", examples / "card.ini")

    def call(self, *words, db=None):
        return subprocess.run([str(word) for word in (self.program, "--db", db or self.db, *words)],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False)

    def run(self, *words, db=None):
        done = self.call(*words, db=db)
        assert done.returncode == 0, (words, done)
        return done.stdout

    def refused(self, reason, *words):
        done = self.call(*words)
        assert done.returncode in (1, 2), (words, done)
        lines = [line for line in done.stderr.splitlines() if line]
        assert len(lines) == 1 and reason in lines[0], (words, done)

    def script(self, keys):
        path = self.folder / "some.keys"
        path.write_text("".join(f"{0.2 + i * 0.3:.3f} {key}\n" for i, key in enumerate(keys.split())), encoding="utf-8")
        return path

    def desk(self, bout, operator, keys, *more):
        self.run("desk", bout, "--operator", operator, "--keys", self.script(keys), "--speed", "max", "--headless",
                 *more)

    def sql(self, text, db=None):
        with sqlite3.connect(db or self.db) as database:
            rows = database.execute(text).fetchall()
        database.close()
        return rows

    def strikes(self, number, stance=False, db=None):
        return self.sql(STRIKES.format(number=number, more=", stance" if stance else ""), db)

    def counts(self, bout, *more):
        """What counts of it say, but for what hangs on the moment or on the fighter's stance."""
        counts = json.loads(self.run("counts", bout, "--format", "json", *more))
        return {corner: {key: value for key, value in counts[corner].items()
                         if isinstance(value, int) and not key.endswith("_ms")} for corner in ("red", "blue")}


def tagged(place):
    """Two desks on bout 1, with marks, incidents, a stance, a knockdown, undo, and a correction in the log."""
    place.desk(1, "ana", "Enter q W 1 e 5 R 4 z Backspace a [ w [ k A Up = d Esc", "--corner", "red")
    place.desk(1, "ben", "i O 8 k ' l Space ` p \" ] d - m", "--corner", "blue")
    assert len(place.strikes(1)) == 12


def numbers(text):
    """What the plan says of the counts afterwards: bout -> (now, then)."""
    found = {}
    for line in text.splitlines():
        match = re.match(r"  bout saltglass-4/(\d) then counts red (\d+)/(\d+) \(now (\d+)/(\d+)\), "
                         r"blue (\d+)/(\d+) \(now (\d+)/(\d+)\)", line)
        if match:
            value = list(map(int, match.groups()))
            found[value[0]] = ((value[4], value[8]), (value[2], value[6]))
    return found


def gaps(sheet):
    return [line for line in sheet.splitlines() if "nobody" in line]


def attempted(place, bout):
    counts = place.counts(bout)
    return (counts["red"]["attempted"], counts["blue"]["attempted"])


def whole__goes_with_all_that_belongs_to_it(place):
    tagged(place)
    strikes, stances = place.strikes(1), place.strikes(1, stance=True)
    counts, unseen = place.counts(1), gaps(place.run("sheet", 1))
    clock = place.sql("SELECT code, round, elapsed_ms, at_ms FROM entry WHERE kind = 'clock' AND act = 'add'")
    assert clock
    place.refused("--yes answers", "move", 1, 2)
    assert place.strikes(1) == strikes
    told = place.run("move", 1, 2, "--yes", "--operator", "sue")
    assert "12 strikes and 3 incidents" in told and "(ana, ben)" in told and "the clock goes along" in told, told
    assert numbers(told) == {1: ((8, 4), (0, 0)), 2: ((0, 0), (8, 4))} or sum(numbers(told)[1][0]) == 12, told
    assert place.strikes(1) == [] and place.strikes(2) == strikes
    assert place.counts(2) == counts
    assert attempted(place, 1) == (0, 0)
    # A stance that no key had changed is that of the fighter who stands there: bout 2's red is square.
    for before, after in zip(stances, place.strikes(2, stance=True)):
        if before[0] == "red" and before[-1] == "orthodox":
            assert after[-1] == "square"
        elif before[0] == "red":
            assert after[-1] == before[-1] == "southpaw"
    assert place.sql("SELECT code, round, elapsed_ms, entry.at_ms FROM entry JOIN desk ON desk.id = entry.desk "
                     "JOIN bout ON bout.id = desk.bout WHERE kind = 'clock' AND act = 'add' AND number = 2") == clock
    # Time that was covered there is covered here, and no other.
    assert gaps(place.run("sheet", 2)) == unseen
    log = place.run("log", 1), place.run("log", 2)
    assert "moved to saltglass-4/2" in log[0] and "moved here from saltglass-4/1" in log[1]


def undo__belongs_to_the_bout_where_it_is_now(place):
    tagged(place)
    newest = place.strikes(1)
    place.run("move", 1, 2, "--yes")
    # Where it was, Backspace brings nothing back; where it is, the newest keystroke goes.
    place.desk(1, "ana", "Backspace Backspace Backspace", "--corner", "red")
    assert place.strikes(1) == []
    before = place.strikes(2)
    place.desk(2, "ben", "Backspace", "--corner", "blue")
    place.desk(2, "ben", "Backspace", "--corner", "blue")
    gone = set(before) - set(place.strikes(2))
    assert len(gone) == 1 and {row[0] for row in gone} == {"blue"}, (newest, gone)
    place.desk(2, "ben", "Backslash Backslash", "--corner", "blue")
    assert place.strikes(2) == before


def back__all_is_as_it_was(place):
    tagged(place)
    strikes, counts = place.strikes(1, stance=True), place.counts(1)
    for _ in range(2):
        place.run("move", 1, 2, "--yes")
        assert len(place.strikes(2)) == 12
        told = place.run("move", 1, 2, "--back", "--yes")
        assert numbers(told)[2][1] == (0, 0), told
        assert place.strikes(1, stance=True) == strikes and place.counts(1) == counts
        assert place.strikes(2) == []
    place.refused("nothing was moved from", "move", 1, 2, "--back", "--yes")
    # What is logged there later stays there; what was put right there goes back as it was here.
    place.run("move", 1, 2, "--yes")
    place.desk(2, "ana", "t Up Down = s Esc", "--corner", "red")
    place.run("move", 1, 2, "--back", "--yes")
    assert place.strikes(1, stance=True) == strikes
    assert [row[1] for row in place.strikes(2)] == ["knee"]


def parts__add_up(place):
    place.desk(1, "ana", "Enter q i w k F9 5 Enter")
    time.sleep(0.1)
    place.desk(1, "ana", " ".join(["Right"] * 10 + ["e"]))
    all_of_it = place.strikes(1)
    assert len(all_of_it) == 5
    since = place.sql("SELECT at_ms FROM entry WHERE limb = 'left_hand' AND corner = 'red' AND act = 'add'")[0][0]
    moment = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(since // 1000)) + f".{since % 1000:03d}Z"
    told = place.run("move", 1, 2, "--corner", "blue", "--until", moment, "--yes")
    assert "1 strike " in told and "the clock goes along" not in told
    assert [row[1] for row in place.strikes(2)] == ["left_hand"] and len(place.strikes(1)) == 4
    place.run("move", 1, 2, "--since", moment, "--yes")
    assert len(place.strikes(1)) == 1 and len(place.strikes(2)) == 4
    place.run("move", 1, 2, "--round", 1, "--yes")
    assert place.strikes(1) == [] and place.strikes(2) == all_of_it
    for left in (4, 1, 0):
        place.run("move", 1, 2, "--back", "--yes")
        assert len(place.strikes(2)) == left, left
    assert place.strikes(1) == all_of_it
    place.refused("nothing there to move", "move", 3, 2, "--yes")
    place.refused("no part of it", "move", 1, 2, "--back", "--round", 1)


def offices__stay_with_whom_they_were(place):
    """Somebody tagged the right bout meanwhile: what goes over is no second count."""
    place.desk(2, "cid", "Enter q w")
    place.desk(1, "ana", "Enter e r i")
    told = place.run("move", 1, 2, "--yes")
    assert "3 strikes will count apart" in told and "keeps its own" in told, told
    assert [row[1] for row in place.strikes(2)] == ["left_leg", "left_hand"]
    assert place.strikes(1) == []
    place.run("move", 1, 2, "--back", "--yes")
    assert len(place.strikes(1)) == 3 and len(place.strikes(2)) == 2


def relief__corrections_of_another_desk_go_along(place):
    place.desk(1, "ana", "Enter q w e")
    place.desk(1, "ben", "Up Down = S Esc r")  # takes over, puts one right, tags on
    place.desk(1, "ben", "Up Down Down Down Delete Esc")
    strikes = place.strikes(1)
    assert len(strikes) == 3 and any(row[2] == "body" for row in strikes), strikes
    place.run("move", 1, 2, "--yes")
    assert place.strikes(2) == strikes
    place.run("move", 1, 2, "--back", "--yes")
    assert place.strikes(1) == strikes and place.strikes(2) == []


def refused__nothing_is_written(place):
    tagged(place)
    entries = place.sql("SELECT count(*) FROM entry"), place.sql("SELECT count(*) FROM desk")
    place.refused("both are bout", "move", 1, "saltglass-4/1", "--yes")
    place.refused("two bouts", "move", 1)
    place.refused("no knee to the body", "move", 1, 3, "--yes") if any(
        row[1] == "knee" and row[2] == "body" for row in place.strikes(1)) else None
    place.run("sign", 2, "--operator", "Dora Quill")
    place.refused("saltglass-4/2 is signed", "move", 1, 2, "--yes")
    place.run("reopen", 2, "--operator", "Dora Quill", "--reason", "too early")
    entries = place.sql("SELECT count(*) FROM entry"), place.sql("SELECT count(*) FROM desk")
    keys = place.folder / "long.keys"
    keys.write_text("0.0 q\n60.0 w\n", encoding="utf-8")
    with subprocess.Popen([place.program, "--db", place.db, "desk", "1", "--operator", "dot", "--shadow", "--keys",
                           keys, "--headless"], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL) as open_desk:
        deadline = time.monotonic() + 30
        while not place.sql("SELECT 1 FROM desk WHERE operator = 'dot'") and time.monotonic() < deadline:
            time.sleep(0.02)
        place.refused("dot's desk is open on saltglass-4/1", "move", 1, 2, "--yes")
        open_desk.terminate()
    assert place.sql("SELECT count(*) FROM entry WHERE kind = 'note'") == [(0,)]
    assert entries[0][0][0] <= place.sql("SELECT count(*) FROM entry")[0][0] <= entries[0][0][0] + 1


def second_database__a_merge_brings_both_halves(place):
    tagged(place)
    other = place.folder / "other.db"
    place.run("merge", place.db, db=other)
    strikes = place.strikes(1)
    place.run("move", 1, 2, "--yes")
    place.run("merge", place.db, db=other)
    assert place.strikes(1, db=other) == [] and place.strikes(2, db=other) == strikes
    place.run("move", 1, 2, "--back", "--yes", db=other)
    place.run("merge", other)
    assert place.strikes(1) == strikes and place.strikes(2) == []


def resumed__corrects_what_was_read_from_the_log(place):
    """An entry read from the database carries its own place in the chain; what is made of it has another."""
    place.desk(1, "ana", "Enter q W i O")
    place.desk(1, "ana", "Backspace Backspace e")
    place.desk(1, "ana", "Backspace Backspace \\")
    place.run("verify")


def main():
    examples, program = map(pathlib.Path, sys.argv[1:])
    for check in (whole__goes_with_all_that_belongs_to_it, undo__belongs_to_the_bout_where_it_is_now,
                  back__all_is_as_it_was, parts__add_up, offices__stay_with_whom_they_were,
                  relief__corrections_of_another_desk_go_along, refused__nothing_is_written,
                  second_database__a_merge_brings_both_halves, resumed__corrects_what_was_read_from_the_log):
        with tempfile.TemporaryDirectory() as folder:
            try:
                place = Place(folder, examples, program)
                check(place)
                place.run("verify")
            except AssertionError:
                print(check.__name__, file=sys.stderr)
                raise
    return 0


if __name__ == "__main__":
    sys.exit(main())
