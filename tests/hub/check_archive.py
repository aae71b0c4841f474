#!/usr/bin/python3
"""What a hub answers: the commands with --hub say what they say of a local database, one query serves
both, and who is whom across spellings is what somebody said and nothing else.

usage: check_archive.py RINGTALLY SCRIBE
"""
import json
import os
import pathlib
import re
import sqlite3
import sys
import time

from hub_kit import Desk, Hall, Yard
from check_exchange import check_history, check_views

EXAMPLES = pathlib.Path(__file__).resolve().parent.parent.parent / "examples"
MOMENT = re.compile(r"as of 2\S+")


def play(hall):
    hall.run("card", "load", EXAMPLES / "card.ini")
    for bout in (1, 2):
        hall.run("desk", str(bout), "--operator", "ann", "--keys", EXAMPLES / f"bout-{bout}.keys",
                 "--speed", "max", "--headless")
    hall.run("desk", "1", "--operator", "ben", "--shadow", "--keys",
             EXAMPLES / "bout-1-second.keys", "--speed", "max", "--headless")


def check_commands(hall, away, uri, bout):
    for words in (("counts", bout), ("counts", bout, "--format", "json"),
                  ("counts", bout, "--round", "2", "--format", "csv"), ("sheet", bout),
                  ("sheet", bout, "--format", "html"), ("sheet", bout, "--for", "blue"),
                  ("remarks", bout), ("log", bout, "--all", "--format", "json")):
        here, there = hall.run(*words), away.ask(words[0], "--hub", uri, *words[1:])
        if words[2:] == ("--format", "json"):  # signs of life are a hall's own
            here, there = (json.loads(side) for side in (here, there))
            for side in (here, there):
                side.pop("desks")
                side.pop("newest_entry_age_ms")
                side.pop("as_of")
            assert here == there, words
        else:
            assert MOMENT.sub("", here) == MOMENT.sub("", there), words
    for name in ("Kervadenn", "SƯƠNG"):
        here, there = (json.loads(side) for side in (
            hall.run("history", name, "--format", "json"),
            away.ask("history", name, "--format", "json", f"--hub={uri}")))
        for side in (here, there):
            side.pop("as_of", None)
        # A bout on which nobody was at a desk is on the card only.
        assert there["bouts"] and there["bouts"] == [one for one in here["bouts"]
                                                     if one in there["bouts"]], name


def check_queries(hall, cluster, bout):
    """The query that a remark names gives its numbers on both sides."""
    tried = 0
    with sqlite3.connect(hall.database) as local:
        for remark in json.loads(hall.run("remarks", bout, "--format", "json"))["remarks"]:
            here = [list(row) for row in local.execute(remark["query"])]
            rows = cluster.sql("SELECT json_agg(row_to_json(q)) FROM ("
                               + remark["query"].rstrip("; \n") + ") AS q")
            there = [[int(value) if isinstance(value, bool) else value for value in row.values()]
                     for row in json.loads(rows)]
            assert here == there, remark
            tried += 1
    assert tried > 5, tried


def check_same(yard, program, scribe, cluster, uri):
    """Two evenings, three spellings, and one who only looks like it."""
    names = {"pier-1": ("Jo-Ann Tern", "Mira Quill"), "pier-2": ("Joann TERN", "Quill Mira"),
             "pier-3": ("Jo Ann Tern", "Zoe Rook")}
    for number, (card, (red, blue)) in enumerate(names.items()):
        hall = Hall(program, yard.folder / f"{card}.db")
        path = yard.folder / f"{card}.ini"
        path.write_text(f"[card]\nid = {card}\ntitle = Pier\ndate = 2026-03-0{number + 1}\nvenue = Hall\n"
                        f"[bout 1]\nrules = kickboxing\nred.name = {red}\nblue.name = {blue}\n",
                        encoding="utf-8")
        hall.run("card", "load", path)
        desk = Desk(scribe, hall.database, f"{card}/1", "ann")
        desk.tell("start")
        desk.tell("strike red left_hand head landed")
        for note in (r"\N", r"a\tb\\", "\\"):  # what a copy of rows writes otherwise
            desk.tell(f"note {note}")
        desk.tell("strike blue left_hand head landed")
        desk.tell("stop")
        desk.close()
        hall.run("hub", "follow", uri, "--once")
        check_history(hall, uri, (red, blue))
    asker = Hall(program, yard.folder / "asker.db")
    lines = asker.ask("hub", "same", uri).splitlines()
    assert len(lines) == 4, lines
    assert any('"Mira Quill"' in line and '"Quill Mira"' in line for line in lines), lines

    def bouts(name):
        return [one["bout"] for one in json.loads(asker.ask(
            "history", name, "--format", "json", "--hub", uri))["bouts"]]

    assert bouts("Jo-Ann Tern") == ["pier-1/1"], "nothing is merged by guess"
    asker.ask("hub", "same", uri, "Jo-Ann Tern", "Joann TERN", "--by", "the league")
    asker.ask("hub", "same", uri, "Joann TERN", "Jo Ann Tern", "--by", "the league", "--not")
    assert bouts("Jo-Ann Tern") == bouts("Joann TERN") == ["pier-2/1", "pier-1/1"]
    assert bouts("Jo Ann Tern") == ["pier-3/1"]
    assert len(asker.ask("hub", "same", uri).splitlines()) == 2
    asker.ask("hub", "same", uri, "Joann TERN", "Jo-Ann Tern", "--by", "the league", "--not")
    assert bouts("Jo-Ann Tern") == ["pier-1/1"], "the newest word holds"
    said = asker.ask("hub", "same", uri, "Jo-Ann Tern", "Nobody There", "--by", "x", code=1)
    assert said.count("\n") == 1, said
    # Nothing about a person is written over, and a desk does not say it.
    cluster.sql("CREATE ROLE booth LOGIN IN ROLE ringtally_desk; "
                "CREATE ROLE clerk LOGIN IN ROLE ringtally_editor")
    insert = "INSERT INTO same_person (name, other, same, said_by) VALUES ('a', 'b', true, 'x')"
    cluster.sql(insert, user="booth", code=1)
    cluster.sql(insert, user="clerk")
    said = [asker.ask("history", "Zoe Rook", "--hub", cluster.uri(user=user)) for user in ("clerk", "hub")]
    assert said[0] == said[1], said
    asker.ask("history", "Zoe Rook", "--hub", cluster.uri(user="booth"), code=1)
    for text in ("DELETE FROM same_person", "UPDATE same_person SET same = false"):
        cluster.sql(text, user="clerk", code=1)


# So many others that the server's planner sees what it would see in an archive.
OTHERS = """
INSERT INTO card SELECT 'other-' || i, 'Other', '2020-01-01', 'Hall' FROM generate_series(1, 300) AS i;
INSERT INTO bout (card, number, weight, rules, terms, referee) SELECT id, 1, '', 'kickboxing', '', '' FROM card
WHERE id LIKE 'other-%';
INSERT INTO corner SELECT id, c, c || ' ' || card, c || ' ' || card, 'O', 'orthodox', '', '' FROM bout,
unnest(ARRAY['red', 'blue']) AS c WHERE card LIKE 'other-%';
INSERT INTO desk (uid, bout, operator, name, corners, shadow, opened_ms) SELECT lpad(to_hex(id), 32, '0'), id, 'T',
'T', 'both', false, 0 FROM bout WHERE card LIKE 'other-%';
INSERT INTO entry (bout, arrival, desk, seq, utc_ms, at_ms, kind, act, code, round, elapsed_ms, off_clock, review,
accepted, unsure, corner, limb, target, stance, position, outcome, spinning, jumping, knockdown, value, text)
SELECT d.bout, k, d.id, k, 1700000000000 + k, 1700000000000 + k, 'strike', 'add', '', 1, k, false, false, false, false,
'red', 'left_hand', 'head', 'orthodox', 'open', 'landed', false, false, false, 0, ''
FROM desk AS d JOIN bout AS b ON b.id = d.bout, generate_series(1, 40) AS k WHERE b.card LIKE 'other-%';
ANALYZE
"""


def check_questions(cluster):
    """What the archive is asked reads entries of the bouts asked for, and of no others."""
    asked = {
        "a fighter": "SELECT bout.name FROM bout JOIN corner ON corner.bout = bout.id WHERE corner.name = 'Zoe Rook'",
        "a card": "SELECT name FROM bout WHERE card = 'pier-2'",
        "a season": "SELECT bout.name FROM bout JOIN card ON card.id = bout.card WHERE date > '2026-03-02' "
                    "AND date < '2026-03-31'",
        "a rule set": "SELECT name FROM bout WHERE rules = 'boxing'"}
    cluster.sql(OTHERS)
    cluster.sql("UPDATE bout SET rules = 'boxing' WHERE card = 'pier-1'")  # the table's owner may
    parts = ("SELECT coalesce(string_agg(DISTINCT tableoid::regclass::text, ','), '') FROM entry {}")
    everywhere = set(cluster.sql(parts.format("")).split(","))
    for what, bouts in asked.items():
        those = f"WHERE bout IN (SELECT id FROM bout WHERE name IN ({bouts}))"
        allowed = set(cluster.sql(parts.format(those)).split(","))
        assert allowed and allowed < everywhere, (what, allowed, everywhere)
        for view in ("strike", "round_total"):
            # A transaction knows what it read.
            said = cluster.sql(
                f"BEGIN; SELECT count(*) > 0 FROM {view} WHERE bout IN ({bouts}); SELECT relname FROM "
                "pg_stat_xact_user_tables WHERE relname ~ '^entry_[0-9]' AND seq_tup_read + idx_tup_fetch > 0")
            answer, *touched = said.splitlines()
            assert answer == "t" and set(touched) <= allowed, (what, view, said, allowed)


def check_strange(away, cluster, uri):
    """An entry of a later program, in the middle of others: one line, and no figures without it."""
    cluster.sql("INSERT INTO entry SELECT bout, 1 + arrival, desk, 1 + seq, utc_ms, at_ms, kind, act, code, "
                "subject_desk, subject_seq, undoes_desk, undoes_seq, round, elapsed_ms, off_clock, review, accepted, "
                "unsure, corner, 'tail', target, stance, position, outcome, spinning, jumping, knockdown, value, text "
                "FROM entry WHERE seq = 40 AND bout = (SELECT id FROM bout WHERE card = 'other-7')")
    said = away.ask("history", "red other-7", "--hub", uri, code=1)
    assert said.count("\n") == 1 and "entry 41 of desk" in said and "does not know" in said, said


def check_refusals(away, uri):
    for words, code in ((("counts", "atlantis/1"), 1), (("counts", "now"), 2), (("counts",), 2),
                        (("history", "Nobody There"), 1), (("counts", "1", "--follow"), 2),
                        (("sheet", "1", "--round", "19"), 1)):
        said = away.ask(*words, "--hub", uri, code=code)
        assert said.count("\n") == 1, said


def main():
    program, scribe = sys.argv[1:3]
    with Yard() as yard:
        cluster = yard.cluster()
        cluster.create()
        uri = cluster.uri()
        os.environ["TMPDIR"] = str(yard.folder / "tmp")
        os.mkdir(os.environ["TMPDIR"])
        hall, away = (Hall(program, yard.folder / f"{name}.db") for name in ("hall", "away"))
        hall.run("hub", "init", uri)
        play(hall)
        hall.run("hub", "follow", uri, "--once")
        cluster.sql("ANALYZE")  # as the server does by itself within a minute
        for name, check in (
                ("commands", lambda: check_commands(hall, away, uri, "saltglass-4/1")),
                ("views", lambda: check_views(cluster, hall, "league")),
                ("queries", lambda: check_queries(hall, cluster, "saltglass-4/1")),
                ("refusals", lambda: check_refusals(away, uri)),
                ("same", lambda: check_same(yard, program, scribe, cluster, uri)),
                ("questions", lambda: check_questions(cluster)),
                ("strange", lambda: check_strange(away, cluster, uri))):
            begun = time.monotonic()
            check()
            print(f"{name}: {time.monotonic() - begun:.1f} s")
        assert os.listdir(os.environ["TMPDIR"]) == [], "nothing is left behind"
    return 0


if __name__ == "__main__":
    sys.exit(main())
