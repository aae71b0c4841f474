#!/usr/bin/python3
"""The producer's gate: what is held is nowhere, what is released is everywhere; and what is late is
the bout as it was.

usage: check_gate.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import hashlib
import json
import pathlib
import re
import signal
import subprocess
import tempfile
import threading
import time

from check_feed import BASE, schemas, validate
from check_onair import example, run
from feed_kit import CARD, Feed, Scribe, Stream, curl, main, until

# What differs from call to call and has nothing to do with what is told.
MOVES = re.compile(r'"(?:newest_entry_age_ms|seen_age_ms|seen_at|heartbeat)": ?(?:"[^"]*"|-?\d+|null)|~[0-9a-f]{8}')
GATE = re.compile(r'"gate": ?(?:null|\{.*?\{.*?\}.*?\})', re.S)


def told(text):
    text = text.replace("; some is held for review", "").replace(", some held", "")
    return GATE.sub('"gate":0', MOVES.sub("", text))


def resources(feed, bout=f"{CARD}/1"):
    """All that the feed tells of a bout, by address."""
    base = f"{feed.url}v1/bouts/{bout}/"
    rounds = [""] + [f"?round={n}" for n in (1, 2, 3)]
    names = [what + part for what in ("counts", "headline", "sheet", "remarks", "coach/red", "coach/blue") for part in rounds]
    names += ["counts?since=bell", "counts?since=knockdown", "counts?since=R2,1:00", "counts?last=60", "log"]
    got = {}
    for name in names:
        answer = curl(base + name)
        if answer.status == 200 and "json" in answer.headers["content-type"]:
            answer.json()
        got[name] = f"{answer.status} {told(answer.body)}"
    stream = Stream(feed, path=f"/v1/bouts/{bout}/events?after=0")
    events = stream.wait(lambda event: event["event"] == "counts")
    stream.close()
    got["events"] = told("\n".join(json.dumps(event, separators=(",", ":")) for event in events))
    return got


def dropped(programs, db, folder, *options):
    run(programs, db, "drop", f"{CARD}/1", "--dir", str(folder), "--once", *options)
    return {path.name: told(path.read_text(encoding="utf-8")) for path in pathlib.Path(folder).iterdir()
            if path.name not in ("status.json", "manifest.json", ".ringtally-drop", "held.txt")
            and not path.name.startswith((".", "table"))}


def without(programs, db, folder, keep):
    """Another database with the same bout, as if what keep() refuses had never been written; keep may
    change what it is given."""
    lines = run(programs, db, "export-log", f"{CARD}/1").splitlines()[:-1]
    kept = [line for line in (keep(json.loads(line)) for line in lines) if line]
    text = "".join(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n" for line in kept)
    end = {"end": len(kept), "sha256": hashlib.sha256(text.encode()).hexdigest()}
    path = pathlib.Path(folder, "without.jsonl")
    path.write_text(text + json.dumps(end, separators=(",", ":")) + "\n", encoding="utf-8")
    other = pathlib.Path(folder, "without.db")
    run(programs, other, "import-log", str(path))
    return other


def no_knockdown(line):
    if line.get("knockdown"):
        return None  # in this script the mark is an entry by itself, and nothing else names it
    return None if line.get("kind") == "release" or line.get("code") in ("knocked_down", "count") else line


def assert_same(one, other, what):
    assert one.keys() == other.keys()
    for name in one:
        if one[name] != other[name]:
            at = next(i for i, (a, b) in enumerate(zip(one[name], other[name])) if a != b)
            raise AssertionError((what, name, one[name][max(0, at - 200):at + 200], other[name][max(0, at - 200):at + 200]))


def held__knockdown__in_no_resource_as_if_it_never_was(programs):
    """Every resource of the feed, each file of drop: byte for byte those of a log that never had it."""
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        plain = run(programs, db, "counts", f"{CARD}/1", "--format", "json")
        assert json.loads(plain)["red"]["knockdowns"] == 1 and json.loads(plain)["gate"] is None
        never = without(programs, db, folder, no_knockdown)
        held, control = Feed(programs, db, "--hold", "knockdowns"), Feed(programs, never)
        one, other = resources(held), resources(control)
        for got in (one, other):  # the desk is on this machine in one of them: its last sign
            for name in got:
                got[name] = re.sub(r'"state": ?"(left|unknown)"', "", got[name])
        assert_same(one, other, "held")
        store = schemas(programs)
        counts = curl(f"{held.url}v1/bouts/{CARD}/1/counts").json()
        validate(store, BASE + "counts.schema.json", counts)
        assert counts["gate"] == {"holds": ["knockdowns"], "waiting": {"knockdowns": 1}, "delay_s": 0}, counts["gate"]
        headline = curl(f"{held.url}v1/bouts/{CARD}/1/headline").json()
        validate(store, BASE + "headline.schema.json", headline)
        assert headline["gate"] == counts["gate"]
        assert curl(f"{held.url}health").json()["holds"] == ["knockdowns"]
        assert "some is held for review" in curl(f"{held.url}v1/bouts/{CARD}/1/sheet").json()["heading"]["status"]
        one, other = dropped(programs, db, pathlib.Path(folder, "a"), "--hold", "knockdowns"), dropped(programs, never, pathlib.Path(folder, "b"))
        for got in (one, other):
            got["counts.json"] = re.sub(r'"state": ?"(left|unknown)"', "", got["counts.json"])
        assert_same(one, other, "drop")
        assert pathlib.Path(folder, "a", "held.txt").read_text(encoding="utf-8") == "held for review"
        assert pathlib.Path(folder, "b", "held.txt").read_text(encoding="utf-8") == ""

        # Released: everywhere, as where nothing is held.
        listed = run(programs, db, "release", f"{CARD}/1")
        name = next(line.split()[1] for line in listed.splitlines() if "knockdown" in line)
        assert "--by NAME is needed" in run(programs, db, "release", f"{CARD}/1", name, code=2)
        said = run(programs, db, "release", f"{CARD}/1", name, "--by", "P. Ducer")
        assert re.search(rf"^released +{name} .*knockdown.*released by P. Ducer$", said, re.M), said
        open_feed = Feed(programs, db)
        until("the release", lambda: curl(f"{held.url}v1/bouts/{CARD}/1/counts").json()["red"]["knockdowns"] == 1)
        assert_same(resources(held), resources(open_feed), "released")
        assert curl(f"{held.url}v1/bouts/{CARD}/1/counts").json()["gate"]["waiting"] == {"knockdowns": 0}
        assert '"kind":"release"' in resources(held)["log"] and "released by" in run(programs, db, "release", f"{CARD}/1")

        # And off the air again: only what else was written meanwhile, which is nothing.
        run(programs, db, "release", f"{CARD}/1", name, "--by", "P. Ducer", "--withdraw")
        until("the withdrawal", lambda: curl(f"{held.url}v1/bouts/{CARD}/1/counts").json()["red"]["knockdowns"] == 0)
        one, other = resources(held), resources(control)
        for got in (one, other):
            for name in got:
                got[name] = re.sub(r'"state": ?"(left|unknown)"', "", got[name])
                got[name] = re.sub(r"as_of\W+[^\"]+\"", "", got[name])
        assert_same(one, other, "withdrawn")
        log = run(programs, db, "log", f"{CARD}/1", "--all")
        assert "released for the air" in log and "withheld from the air" in log and "P. Ducer" in log
        for feed in (held, control, open_feed):
            feed.stop()


def held__stream__silent_then_anew(programs):
    """A stream that is open over all of it: the mark never passes before its release, and with it the
    stream begins anew, with what was held and without a gap."""
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        feed = Feed(programs, db, "--hold", "knockdowns")
        stream = Stream(feed)
        stream.wait(lambda event: event["event"] == "counts")
        scribe.do("start")
        scribe.do("strike red left_hand head landed")
        scribe.do("knockdown")
        scribe.do("down blue")
        scribe.do("strike blue knee body attempted")
        got = stream.wait(lambda event: event["event"] == "counts" and event["data"]["gate"]["waiting"]["knockdowns"] == 2
                          and event["data"]["blue"]["attempted"] == 1)
        text = json.dumps(got)
        assert '"knockdown": true' not in text and "knocked" not in text.replace('"knocked_down": 0', ""), text
        assert [event["data"]["kind"] for event in got if event["event"] == "entry"] == ["clock", "strike", "strike"], text
        assert all(event["data"]["red"]["knockdowns"] == 0 for event in got if event["event"] == "counts")
        position = [event["id"] for event in got if event["id"]][-1]
        run(programs, db, "release", f"{CARD}/1", "knockdowns", "--by", "P. Ducer")
        got = stream.wait(lambda event: event["event"] == "counts" and event["data"]["red"]["knockdowns"] == 1)
        assert "anew" in [event["event"] for event in got]
        stream.close()
        # A client that was away meanwhile is told the same.
        stream = Stream(feed, last_id=position)
        got = stream.wait(lambda event: event["event"] == "counts")
        assert got[0]["event"] == "anew" and got[-1]["data"]["red"]["knockdowns"] == 1
        entries = [event["data"] for event in got if event["event"] == "entry"]
        assert len(entries) == got[-1]["data"]["entries"] == 3 + 5 + 2, entries
        assert [entry["code"] for entry in entries if entry["kind"] == "release"] == ["released", "released"]
        position = got[-1]["id"]
        stream.close()
        # From there on as ever; and what comes next waits again.
        stream = Stream(feed, last_id=position)
        scribe.do("strike red left_hand head landed")
        scribe.do("knockdown")
        got = stream.wait(lambda event: event["event"] == "counts" and event["data"]["gate"]["waiting"]["knockdowns"] == 1)
        assert "anew" not in [event["event"] for event in got] and got[-1]["data"]["red"]["knockdowns"] == 1
        stream.close()
        feed.stop()
        # Another feed of the same log without the gate: that position is void there.
        feed = Feed(programs, db)
        stream = Stream(feed, last_id=position)
        assert stream.wait(lambda event: event["event"] == "counts")[0]["event"] == "anew"
        stream.close()
        feed.stop()
        scribe.close()


def held__result__after_the_signature_too(programs):
    """Announced, signed, and released when the ring announcer has said it: no entry that the signature
    would not cover."""
    with tempfile.TemporaryDirectory() as folder:
        db = example(programs, folder)
        feed = Feed(programs, db, "--hold", "results,decisions")
        counts = f"{feed.url}v1/bouts/{CARD}/1/counts"
        run(programs, db, "result", f"{CARD}/1", "--announce", "unanimous_decision", "--winner", "blue",
            "--operator", "Ida Roe", "--override")
        run(programs, db, "sign", f"{CARD}/1", "--operator", "S. Upervisor")
        until("the signature", lambda: curl(counts).json()["signed"])
        assert curl(counts).json()["announced"] is None and curl(counts).json()["gate"]["waiting"]["decisions"] == 1
        assert "unanimous" not in "".join(resources(feed).values())
        run(programs, db, "release", f"{CARD}/1", "decisions", "--by", "P. Ducer")
        until("the result", lambda: curl(counts).json()["announced"])
        assert curl(counts).json()["announced"]["winner"] == "blue"
        sheet = run(programs, db, "sheet", f"{CARD}/1")
        assert "signed by S. Upervisor" in sheet and "since" not in sheet.split("signed by")[1][:120], sheet
        # Nothing else is let in.
        assert "signed" in run(programs, db, "result", f"{CARD}/1", "--announce", "draw", "--operator", "x", "--override", code=1)
        feed.stop()


def without_time(counts):
    """What of the counts a delay must show as it was, and the clock's reading beside it."""
    text = told(json.dumps({key: value for key, value in counts.items() if key not in ("as_of", "gate", "running_ms")},
                           separators=(",", ":")))
    text = re.sub(r'"(?:remaining_ms|covered_ms|running_ms|unseen_ms|to_ms|from_ms)":\d+', "", text)
    text = re.sub(r'"output(?:_seen)?_per_min":[^,}]+', "", text)
    return text, counts["clock"]["remaining_ms"]


class Snapshots(threading.Thread):
    """The counts of a feed again and again, each with the moment before it was asked and after."""

    def __init__(self, feed, bout):
        super().__init__(daemon=True)
        self.url, self.taken, self.ends = f"{feed.url}v1/bouts/{bout}/counts", [], threading.Event()
        self.start()

    def run(self):
        while not self.ends.wait(0.1):
            before = time.monotonic()
            counts = curl(self.url).json()
            self.taken.append((before, time.monotonic(), *without_time(counts)))

    def stop(self):
        self.ends.set()
        self.join()
        return self.taken


def late__everything__as_it_was(programs):
    """Two feeds of one log, one of them 3 s late: whatever the late one says is what the other said 3 s
    before: strikes, corrections, the clock, a desk that dies."""
    delay = 3.0
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 20")
        now, late = Feed(programs, db, "--max-age", "0"), Feed(programs, db, "--delay", "3", "--max-age", "0")
        assert curl(f"{late.url}health").json()["delay_s"] == 3
        first = curl(f"{late.url}v1/bouts/{CARD}/1/counts").json()
        assert first["red"]["attempted"] in (0, None), "what is newer than 3 s when it starts waits too"
        until("what was there", lambda: curl(f"{late.url}v1/bouts/{CARD}/1/counts").json()["red"]["attempted"] == 10)
        live, behind = Snapshots(now, f"{CARD}/1"), Snapshots(late, f"{CARD}/1")
        for command in ("strike red left_hand head landed", "knockdown", "strike blue knee body attempted", "void", "stop",
                        "strike red left_leg leg landed", "start", "strike red knee body landed"):  # an entry each: no state is short
            scribe.do(command)
            until("a quiet moment", lambda at=time.monotonic(): time.monotonic() - at > 0.4)
        scribe.kill()
        killed = time.monotonic()
        until("the news of it", lambda: time.monotonic() - killed > delay + 3.0)
        live, behind = live.stop(), behind.stop()
        assert len(live) > 30 and len(behind) > 30
        compared = set()
        slack = 1.6  # signs of life are read once a second
        for before, after, text, left in behind:
            then = [(at, got, clock) for at, until_, got, clock in live if before - delay - slack <= at and until_ <= after - delay + slack]
            if before - delay < live[0][0]:
                continue
            same = [clock for at, got, clock in then if got == text]
            assert same, (before - killed, text, [got for _, got, _ in then])
            assert any(abs(clock - left) <= 1000 * slack for clock in same), (left, same)
            compared.add(text)
        assert len(compared) >= 9, len(compared)
        # Never earlier than asked: the first moment of each text on the late feed against the live one.
        for text in compared:
            seen = min(until_ for _, until_, got, _ in behind if got == text)
            was = [at for at, _, got, _ in live if got == text]
            assert seen - min(was) >= delay - 0.35, (seen - min(was), text)
        assert any('"state":"lost"' in text for text in compared)
        now.stop()
        late.stop(signal.SIGTERM)


def late__drop__the_same_rule(programs):
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        out = pathlib.Path(folder, "out")
        drop = subprocess.Popen([programs.ringtally, "--db", str(db), "drop", "--current", "--dir", str(out), "--delay", "2", "--every", "0.05"])
        landed = out / "red-landed.txt"
        until("a folder", lambda: landed.exists() and landed.read_text(encoding="utf-8") == "0")
        scribe.do("strike red left_hand head landed")
        done = time.monotonic()
        until("the strike", lambda: landed.read_text(encoding="utf-8") == "1")
        assert 1.9 < time.monotonic() - done < 4.5, time.monotonic() - done
        headline = json.loads((out / "headline.json").read_text(encoding="utf-8"))
        assert headline["gate"] == {"holds": [], "waiting": {}, "delay_s": 2}
        drop.terminate()
        assert drop.wait(20) == 0
        scribe.close()


if __name__ == "__main__":
    raise SystemExit(main([held__knockdown__in_no_resource_as_if_it_never_was, held__stream__silent_then_anew,
                           held__result__after_the_signature_too, late__everything__as_it_was, late__drop__the_same_rule]))
