#!/usr/bin/python3
"""What a producer asks for: the bout that is on, its headline, the counts since the bell; a bout's own
terms; and that caches and slow lines are told the truth.

usage: check_onair.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import datetime
import gzip
import json
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile
import time

from check_feed import BASE, played, schemas, validate
from feed_kit import CARD, Feed, Scribe, Stream, curl, main, until


def run(programs, db, *words, code=0, env=None):
    done = subprocess.run([programs.ringtally, "--db", str(db), *words], capture_output=True, text=True,
                          env={**os.environ, **(env or {})}, timeout=60, check=False)
    assert done.returncode == code, (words, done.returncode, done.stderr)
    return done.stdout if code == 0 else done.stderr


def moment_ms(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp() * 1000


def example(programs, folder, number=1):
    """A bout of the example card, played to its end."""
    db = pathlib.Path(folder, "t.db")
    run(programs, db, "card", "load", str(programs.card))
    run(programs, db, "desk", f"{CARD}/{number}", "--operator", "Iris Palm", "--keys",
        str(programs.source / "examples" / f"bout-{number}.keys"), "--speed", "max", "--headless")
    return db


def window__each_kind__same_by_sql(programs):
    """Landed and attempted of both corners, by the condition that window.h states, on the view."""
    store = schemas(programs)
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        # A script played as fast as it goes: its entries lie ahead of time, and that is said.
        whole = json.loads(run(programs, db, "counts", f"{CARD}/1", "--format", "json"))
        assert whole["newest_entry_age_ms"] < -100000
        feed = Feed(programs, db)
        answer = curl(f"{feed.url}v1/bouts/{CARD}/1/counts")
        assert answer.headers["ringtally-entry-age"].startswith("-") and answer.json()["newest_entry_age_ms"] < 0
        assert curl(f"{feed.url}health").json()["newest_entry_age_ms"] < 0
        stream = Stream(feed)
        beat = stream.wait(lambda event: event["event"] == "beat")[-1]["data"]
        assert abs(moment_ms(beat["heartbeat"]) - time.time() * 1000) < 5000, "the heartbeat is now"
        stream.close()
        log = sqlite3.connect(f"file:{db}?mode=ro", uri=True)
        # The official clock's running time of each round, from the sheet that was proved elsewhere.
        ran = {round_["round"]: round_["running_ms"] for round_ in whole["rounds"]}
        last_round = max(ran)

        def back(seconds):
            left, round_ = seconds * 1000, last_round
            while ran[round_] < left and round_ > 1:
                left -= ran[round_]
                round_ -= 1
            return round_, max(0, ran[round_] - left)

        down = log.execute("SELECT round, elapsed_ms FROM strike WHERE official AND knockdown "
                           "ORDER BY round DESC, elapsed_ms DESC LIMIT 1").fetchone()
        assert down, "the example has a knockdown"
        some = log.execute("SELECT desk, seq, round, elapsed_ms FROM strike WHERE round = 2 "
                           "ORDER BY elapsed_ms LIMIT 1 OFFSET 5").fetchone()
        moment = log.execute("SELECT at_ms FROM strike ORDER BY at_ms LIMIT 1 OFFSET 30").fetchone()[0]
        text = subprocess.run(["date", "-u", "-d", f"@{moment / 1000:.3f}", "+%Y-%m-%dT%H:%M:%S.%3NZ"],
                              capture_output=True, text=True, check=True).stdout.strip()
        place = "(round > ? OR (round = ? AND elapsed_ms >= ?))"
        behind = place.replace(">=", ">")
        cases = [(("since", "bell"), place, (last_round, last_round, 0)),
                 (("since", "R2"), place, (2, 2, 0)),
                 (("since", "R2,1:30"), place, (2, 2, 90000)),
                 (("since", "knockdown"), behind, (down[0], *down)),
                 (("since", f"{some[0]}.{some[1]}"), behind, (some[2], *some[2:])),
                 (("since", text), "at_ms >= ?", (moment,))]
        for seconds in (1, 10, 60, 170, 200, 3600):
            round_, elapsed = back(seconds)
            cases.append((("last", str(seconds)), place, (round_, round_, elapsed)))
        different = set()
        for (name, value), condition, values in cases:
            expected = {corner: [0, 0, 0] for corner in ("red", "blue")}
            for row in log.execute("SELECT corner, count(*), sum(outcome = 'landed'), sum(knockdown) FROM strike "
                                   f"WHERE official AND {condition} GROUP BY corner", values):
                expected[row[0]] = list(row[1:])
            told = json.loads(run(programs, db, "counts", f"{CARD}/1", "--format", "json", f"--{name}", value))
            asked = curl(f"{feed.url}v1/bouts/{CARD}/1/counts?{name}={value}").json()
            for counts in (told, asked):
                validate(store, BASE + "counts.schema.json", counts)
                for corner, numbers in expected.items():
                    got = [counts[corner][what] for what in ("attempted", "landed", "knockdowns")]
                    assert got == numbers, (name, value, corner, got, numbers)
                assert counts["window"]["asked"] == (f"since {value}" if name == "since" else f"last {value} s")
            different.add(json.dumps(expected))
            if name == "last" and int(value) * 1000 <= sum(ran.values()):
                assert told["running_ms"] == int(value) * 1000, (value, told["running_ms"])
        assert len(different) > 8
        # Words that are none, and what is not there.
        for words in ("since=bells", "since=R0", "since=R21", "since=R2,9", "since=", "last=0", "last=3601", "last=x",
                      "last=60&since=bell", "since=bell&round=1"):
            assert curl(f"{feed.url}v1/bouts/{CARD}/1/counts?{words}").status == 400, words
        assert curl(f"{feed.url}v1/bouts/{CARD}/1/counts?since={'0' * 32}.1").status == 404
        assert curl(f"{feed.url}v1/bouts/{CARD}/2/counts?since=knockdown").status == 404
        run(programs, db, "counts", f"{CARD}/1", "--last", "60", "--round", "1", code=2)
        assert "no knockdown" in run(programs, db, "counts", f"{CARD}/2", "--since", "knockdown", code=1)
        assert "last 60 s" in run(programs, db, "counts", f"{CARD}/1", "--last", "60")
        log.close()
        feed.stop()


def window__followed__moves_with_the_bell(programs):
    with tempfile.TemporaryDirectory() as folder:
        db, scribe = played(programs, folder)
        follow = subprocess.Popen([programs.ringtally, "--db", str(db), "counts", f"{CARD}/1", "--follow",
                                   "--since", "bell"], text=True, stdout=subprocess.PIPE)
        first = json.loads(follow.stdout.readline())
        assert first["window"]["round"] == 1 and first["red"]["attempted"] > 0
        scribe.do("strike red left_leg leg landed")
        line = first
        while "heartbeat" in line or line["entries"] == first["entries"]:
            line = json.loads(follow.stdout.readline())
        assert line["red"]["landed"] == first["red"]["landed"] + 1
        follow.stdout.close()
        follow.wait(20)
        # A window that has no beginning yet is waited for.
        follow = subprocess.Popen([programs.ringtally, "--db", str(db), "counts", "now", "--follow", "--heartbeat", "1",
                                   "--since", "knockdown"], text=True, stdout=subprocess.PIPE)
        assert "heartbeat" in json.loads(follow.stdout.readline())
        scribe.do("strike red left_leg leg landed")
        assert "heartbeat" in json.loads(follow.stdout.readline()) and follow.poll() is None
        follow.stdout.close()
        follow.wait(20)
        assert json.loads(run(programs, db, "counts", "now", "--format", "json"))["bout"] == f"{CARD}/1"
        scribe.close()


def headline__played__small_and_as_the_counts(programs):
    store = schemas(programs)
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        feed = Feed(programs, db)
        answer = curl(f"{feed.url}v1/bouts/{CARD}/1/headline")
        head = answer.json()
        validate(store, BASE + "headline.schema.json", head)
        assert len(answer.body) < 1700, len(answer.body)
        for scope, words in (("whole", ""), ("now", f"?round={head['clock']['round']}"), ("minute", "?last=60")):
            counts = curl(f"{feed.url}v1/bouts/{CARD}/1/counts{words}").json()
            for corner in ("red", "blue"):
                mine, theirs = head[scope][corner], counts[corner]
                for what in ("landed", "attempted", "knockdowns"):
                    assert mine[what] == theirs[what], (scope, corner, what)
                assert abs(float(mine["accuracy"]) - 100 * theirs["accuracy"]) < 1
                assert abs(float(mine["output"]) - theirs["output_per_min"]) < 0.0500001
        by = head["whole"]["red"]["landed"] - head["whole"]["blue"]["landed"]
        assert head["lead"] == (None if by == 0 else {"corner": "red" if by > 0 else "blue", "by": abs(by)})
        assert "no basis for scoring" in head["notice"].lower() and head["notice"].startswith("Unofficial")
        feed.stop()


def now__bout_changes__address_stays(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        run(programs, db, "card", "load", str(programs.card))
        feed = Feed(programs, db)
        for path in ("counts", "headline", "events", "coach/red"):
            answer = curl(f"{feed.url}v1/now/{path}")
            assert answer.status == 404 and "begun" in answer.json()["error"], path
        first = Scribe(programs, db, 1, card=False)
        first.do("start")
        until("the first bout", lambda: curl(f"{feed.url}v1/now/counts").status == 200)
        assert curl(f"{feed.url}v1/now/counts").json()["bout"] == f"{CARD}/1"
        stream = Stream(feed, path="/v1/now/events")
        assert stream.wait(lambda event: event["event"] == "counts")[-1]["data"]["bout"] == f"{CARD}/1"
        first.close()
        # A card for another day, loaded meanwhile, is not what is on.
        other = pathlib.Path(folder, "other.ini")
        other.write_text("[card]\nid = far-pier-2\ntitle = Far Pier\ndate = 2027-01-09\n[bout 1]\nrules = boxing\n"
                         "rounds = 4\nred.name = Ada Holm\nblue.name = Bo Reef\n", encoding="utf-8")
        run(programs, db, "card", "load", str(other))
        second = Scribe(programs, db, 3, card=False)
        second.do("start")
        second.do("many 7")
        until("the third bout", lambda: curl(f"{feed.url}v1/now/counts").json()["bout"] == f"{CARD}/3")
        while stream.read(10):  # ends, so that its reader comes back to the bout that is on
            pass
        stream.close()
        stream = Stream(feed, path="/v1/now/events", last_id=stream.parser.last_id)
        events = stream.wait(lambda event: event["event"] == "counts")
        assert events[0]["event"] == "anew" and events[-1]["data"]["bout"] == f"{CARD}/3"
        assert len([event for event in events if event["event"] == "entry"]) == second.entries
        stream.close()
        assert curl(f"{feed.url}v1/now/headline").json()["bout"] == f"{CARD}/3"
        assert "coach" in curl(f"{feed.url}v1/now/coach/blue").body.lower()
        assert curl(f"{feed.url}coach/red").headers["location"] == f"/bout/{CARD}/3/coach/red"
        assert curl(f"{feed.url}now").headers["content-type"].startswith("text/html")
        second.close()
        feed.stop()


def card__of_forty_bouts__all_answered(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        card = pathlib.Path(folder, "big.ini")
        card.write_text(f"[card]\nid = {CARD}\ntitle = All day\ndate = 2026-12-05\n" + "".join(
            f"[bout {n}]\nrules = kickboxing\nred.name = Red {n}\nblue.name = Blue {n}\n" for n in range(1, 81)),
            encoding="utf-8")
        run(programs, db, "card", "load", str(card))
        feed = Feed(programs, db)
        memory = []
        for _ in range(3):
            for number in range(1, 81):
                assert curl(f"{feed.url}v1/bouts/{CARD}/{number}/counts").status == 200, number
            memory.append(feed.memory_kib())
        assert memory[-1] - memory[0] < 4000 or not programs.plain, memory
        feed.stop()


def terms__of_one_bout__hold_in_the_feed(programs):
    """A rule set of the user's own opens the scoring, and one bout of it closes it again; another has rounds of
    a minute. What changes on the card is noticed by a feed that runs."""
    with tempfile.TemporaryDirectory() as folder:
        config = pathlib.Path(folder, "config", "ringtally", "rules")
        config.mkdir(parents=True)
        env = {"XDG_CONFIG_HOME": str(pathlib.Path(folder, "config"))}
        rules = (programs.source / "shared" / "rules" / "kickboxing.ini").read_text(encoding="utf-8")
        assert "open = no" in rules
        (config / "openly.ini").write_text(rules.replace("open = no", "open = yes", 1), encoding="utf-8")
        card = pathlib.Path(folder, "card.ini")

        def load(*words, **fields):
            lines = [f"[card]\nid = {CARD}\ntitle = Terms\ndate = 2026-12-05\n"]
            for number in (1, 2):
                own = {"terms": "scoring.open = no" if number == 1 else "round_seconds = 60", "blue.name": "Bo Reef",
                       "judges": "Aurelia Quintwell, Bea Orr, Col Ash", **(fields if number == 2 else {})}
                lines.append(f"[bout {number}]\nrules = openly\nred.name = Ada Holm\n" +
                             "".join(f"{name} = {value}\n" for name, value in own.items()))
            card.write_text("".join(lines), encoding="utf-8")
            run(programs, db, "card", "load", str(card), *words, env=env)

        db = pathlib.Path(folder, "t.db")
        load()
        scores = pathlib.Path(folder, "scores.csv")
        scores.write_text("judge,round,red,blue,names\r\nAurelia Quintwell,1,10,8,\r\n", encoding="utf-8")
        os.environ.update(env)
        try:
            scribes = [Scribe(programs, db, number, card=False) for number in (1, 2)]
            for number, scribe in enumerate(scribes, 1):
                scribe.do("start")
                scribe.do("many 12")
                run(programs, db, "scores", "load", f"{CARD}/{number}", str(scores), "--operator", "Odd Kvam", env=env)
            feed = Feed(programs, db)
            base = f"{feed.url}v1/bouts/{CARD}/"
            # The rule set is open: bout 2 tells the card. Bout 1's terms close it: nothing does.
            assert "10-8" in curl(f"{base}2/log").body and curl(f"{base}2/sheet").json()["officials"]["cards"]
            for what in ("log", "sheet", "counts", "headline", "remarks", "coach/red", "events"):
                if what == "events":
                    stream = Stream(feed, last_id="0")
                    text = json.dumps(stream.wait(lambda event: event["event"] == "counts"))
                    stream.close()
                else:
                    text = curl(f"{base}1/{what}").body
                assert not re.search("(?<![0-9a-f])10-8", text), (what, text)  # a desk's id may end in 10
                assert "Quintwell" not in text, (what, text)
            told = json.loads(run(programs, db, "counts", f"{CARD}/2", "--format", "json", env=env))
            asked = curl(f"{base}2/counts").json()
            assert 0 < asked["clock"]["remaining_ms"] <= 60000
            assert abs(told["clock"]["remaining_ms"] - asked["clock"]["remaining_ms"]) < 5000
            # Each edit of the card under a running feed.
            load(terms="round_seconds = 90")
            until("other terms", lambda: 60000 < curl(f"{base}2/counts").json()["clock"]["remaining_ms"] <= 90000)
            load("--replace", "Bo Reef", terms="round_seconds = 90", **{"blue.name": "Cy Wren"})
            until("another fighter", lambda: curl(f"{base}2/counts").json()["blue"]["fighter"] == "Cy Wren")
            tag = curl(f"{base}2/sheet").headers["etag"]
            load(terms="round_seconds = 90", **{"blue.name": "Cy Wren", "referee": "Dag Umber",
                                                "judges": "Aurelia Quintwell, Bea Orr, Dov Lind"})
            until("referee and judges", lambda: "Dag Umber" in curl(f"{feed.url}v1/cards").body and
                  curl(f"{base}2/sheet").headers["etag"] != tag)
            assert len(curl(f"{base}2/sheet").json()["officials"]["cards"]) >= 1
            for scribe in scribes:
                scribe.close()
            feed.stop()
        finally:
            del os.environ["XDG_CONFIG_HOME"]


def corner__nobody_tags__unknown_never_zero(programs):
    """A desk for red alone: in every live form blue is unknown."""
    store = schemas(programs)
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        run(programs, db, "card", "load", str(programs.card))
        run(programs, db, "desk", f"{CARD}/1", "--operator", "Iris Palm", "--corner", "red", "--keys",
            str(programs.source / "examples" / "bout-1.keys"), "--speed", "max", "--headless")
        feed = Feed(programs, db)
        base = f"{feed.url}v1/bouts/{CARD}/1/"
        for words in ("counts", "counts?last=60", "counts?since=R2"):
            counts = curl(base + words).json()
            validate(store, BASE + "counts.schema.json", counts)
            assert counts["red"]["tagged"] and counts["red"]["attempted"] > 0, words
            assert not counts["blue"]["tagged"], words
            for what in ("attempted", "landed", "accuracy", "output_per_min", "knockdowns"):
                assert counts["blue"][what] is None, (words, what)
        assert all(round_["blue"]["landed"] is None for round_ in curl(base + "counts").json()["rounds"])
        head = curl(base + "headline").json()
        validate(store, BASE + "headline.schema.json", head)
        for scope in ("whole", "now", "minute"):
            assert head[scope]["blue"] == {"tagged": False, **dict.fromkeys(
                ("landed", "attempted", "accuracy", "output", "knockdowns"))}
        assert head["lead"] is None and head["unseen"].startswith("blue: not tagged")
        run(programs, db, "drop", f"{CARD}/1", "--dir", f"{folder}/out", "--once")
        texts = {path.name: path.read_text(encoding="utf-8") for path in pathlib.Path(folder, "out").glob("blue-*.txt")}
        assert texts.pop("blue-name.txt") and texts.pop("blue-tagged.txt") == "no"
        assert set(texts.values()) == {"-"}, texts
        feed.stop()


def csv__for_people_and_for_machines__guard_and_mark(programs):
    """A name that begins as a formula does: with an apostrophe for a spreadsheet, as it is for the air. And
    the mark by which a spreadsheet takes UTF-8 for what it is."""
    with tempfile.TemporaryDirectory() as folder:
        db, card = pathlib.Path(folder, "t.db"), pathlib.Path(folder, "card.ini")
        card.write_text(programs.card.read_text(encoding="utf-8").replace("Maëlle Kervadenn", "-Maëlle Kervadenn"), encoding="utf-8")
        run(programs, db, "card", "load", str(card))
        plain = run(programs, db, "counts", f"{CARD}/1", "--format", "csv")
        assert "'-Maëlle Kervadenn" in plain and not plain.startswith("\ufeff")
        for words in (("counts",), ("sheet",), ("log",)):
            text = run(programs, db, words[0], f"{CARD}/1", "--format", "csv", "--bom")
            assert text.startswith("\ufeff") and text[1] != "\ufeff"
            assert not run(programs, db, words[0], f"{CARD}/1", "--format", "json", "--bom").startswith("\ufeff") if words[0] != "log" else True
        run(programs, db, "drop", f"{CARD}/1", "--dir", f"{folder}/out", "--once")
        for name in ("counts.csv", "table.csv"):
            text = pathlib.Path(folder, "out", name).read_text(encoding="utf-8")
            assert "'" not in text, name
        assert ",-Maëlle Kervadenn" in pathlib.Path(folder, "out", "counts.csv").read_text(encoding="utf-8")


def caches__live_signed_and_secret__told_how_long(programs):
    with tempfile.TemporaryDirectory() as folder:
        db, scribe = played(programs, folder)
        feed = Feed(programs, db)
        counts = f"{feed.url}v1/bouts/{CARD}/1/counts"
        live = curl(counts).headers
        assert live["cache-control"].startswith("public, max-age=1, s-maxage=1, stale-while-revalidate=1, stale-if-error=")
        assert live["vary"] == "Accept-Encoding"
        assert curl(f"{feed.url}health").headers["cache-control"] == "no-cache"
        assert curl(f"{feed.url}nothing").headers["cache-control"] == "no-store"
        # Packed: the same document under another tag, and asked about like the other.
        for path in ("sheet", "counts", "log"):
            url = counts.replace("counts", path)
            plain = curl(url)
            done = subprocess.run(["curl", "-s", "-D", "-", "-o", f"{folder}/body", "-H", "Accept-Encoding: br, gzip;q=0.8", url],
                                  capture_output=True, text=True, check=True).stdout.lower()
            assert "content-encoding: gzip" in done, done
            packed = pathlib.Path(folder, "body").read_bytes()
            assert json.loads(gzip.decompress(packed)).keys() == plain.json().keys()
            assert len(packed) < len(plain.body.encode()) / 2
            tag = next(line.split(": ", 1)[1].strip() for line in done.splitlines() if line.startswith("etag"))
            assert tag.endswith('-z"') and len(tag) == 20
            for other in ("identity", "gzip;q=0", "deflate", "gzipped", ""):
                assert "content-encoding" not in curl(url, "-H", f"Accept-Encoding: {other}").headers, other
        scribe.do("stop")
        scribe.close()
        run(programs, db, "sign", f"{CARD}/1", "--operator", "A. Supervisor")
        until("kept for longer", lambda: "immutable" in curl(counts).headers["cache-control"])
        signed = curl(counts)
        body = signed.json()
        assert body["signed"] and body["signed_by"] == "A. Supervisor" and body["signed_at"].startswith("20")
        assert not body["notice"].startswith("Unofficial")
        # Who signed is no checking desk.
        assert [desk["name"] for desk in body["desks"]] == ["Iris Palm"]
        etag = signed.headers["etag"]
        assert curl(counts, "-H", f"If-None-Match: {etag}").status == 304
        feed.stop()
        feed = Feed(programs, db, "--max-age", "0")
        assert curl(f"{feed.url}v1/bouts/{CARD}/1/counts").headers["cache-control"] == "no-cache"
        feed.stop()
        secret = pathlib.Path(folder, "token")
        secret.write_text("A-token.of_some~length\n", encoding="ascii")
        secret.chmod(0o600)
        feed = Feed(programs, db, "--token-file", str(secret), "--max-age", "5")
        answer = curl(f"{feed.url}v1/bouts/{CARD}/1/counts", "-b", "ringtally=old", "-b", "ringtally=A-token.of_some~length",
                      "-H", "Authorization: Basic eDp5")
        assert answer.status == 200 and answer.headers["cache-control"] == "private, no-cache"
        feed.stop()


if __name__ == "__main__":
    sys.exit(main([value for name, value in list(globals().items())
                   if "__" in name.strip("_") and callable(value) and value.__module__ == "__main__"]))
