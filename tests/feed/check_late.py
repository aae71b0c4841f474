#!/usr/bin/python3
"""What comes in late, below what a reader knows already, reaches readers that run.

usage: check_late.py FEED SCRIBE RINGTALLY SOURCE_DIR [TEST...]
"""
import hashlib
import json
import pathlib
import subprocess
import sys
import tempfile

from feed_kit import CARD, PATIENCE, Feed, Scribe, Stream, entry_names, main


def part_of(text, keep):
    """A portable log with only those entries: what a rescue file is."""
    lines = [line for line in text.splitlines(True)[:-1]
             if not line.startswith('{"entry"') or keep(json.loads(line)["entry"])]
    body = "".join(lines)
    digest = hashlib.sha256(body.encode()).hexdigest()
    return body + json.dumps({"end": len(lines), "sha256": digest}) + "\n"


def events__rescue_file_loaded_before_the_rest__all_is_seen(programs):
    """A desk's newest entries come first, those below them later: running readers see both."""
    with tempfile.TemporaryDirectory() as folder:
        db = pathlib.Path(folder, "t.db")
        scribe = Scribe(programs, db)
        scribe.do("start")
        scribe.do("many 60")
        scribe.do("void")
        total = scribe.entries
        scribe.close()
        whole = subprocess.run([programs.ringtally, "--db", db, "export-log", f"{CARD}/1"],
                               capture_output=True, text=True, check=True).stdout
        here = pathlib.Path(folder, "here.db")
        subprocess.run([programs.ringtally, "--db", here, "card", "load", programs.card],
                       check=True, capture_output=True)
        feed = Feed(programs, here)
        stream = Stream(feed)
        follow = subprocess.Popen([programs.ringtally, "--db", here, "counts", f"{CARD}/1",
                                   "--format", "json", "--follow"], text=True,
                                  stdout=subprocess.PIPE)
        assert json.loads(follow.stdout.readline())["entries"] == 0
        got, last_id = [], None
        cut = total - 20
        for keep in (lambda seq: seq > cut, lambda seq: cut - 10 < seq <= cut, lambda seq: True):
            part = pathlib.Path(folder, "part.jsonl")
            text = part_of(whole, keep)
            part.write_text(text, encoding="utf-8")
            subprocess.run([programs.ringtally, "--db", here, "import-log", part], check=True,
                           capture_output=True)
            wanted = json.loads(subprocess.run(
                [programs.ringtally, "--db", here, "counts", f"{CARD}/1", "--format", "json"],
                capture_output=True, text=True, check=True).stdout)["entries"]
            events = stream.wait(lambda event, n=wanted: event["event"] == "counts" and
                                 event["data"]["entries"] == n)
            got += entry_names(events)
            while json.loads(follow.stdout.readline())["entries"] != wanted:
                pass
            if last_id is None:
                last_id = events[-1]["id"]
        assert wanted == total
        assert len(got) == len(set(got)) == total
        stream.close()
        # A client that has only the rescued ones is told that its place is none any more.
        stream = Stream(feed, last_id=last_id)
        events = stream.wait(lambda event: event["event"] == "counts")
        assert events[0]["event"] == "anew"
        assert len(set(entry_names(events))) == total
        last_id = events[-1]["id"]
        stream.close()
        stream = Stream(feed, last_id=last_id)
        events = stream.wait(lambda event: event["event"] == "counts")
        assert [event["event"] for event in events] == ["counts"]
        stream.close()
        follow.kill()
        follow.wait(PATIENCE)
        follow.stdout.close()
        feed.stop()


if __name__ == "__main__":
    sys.exit(main([value for name, value in list(globals().items()) if "__" in name.strip("_")
                   and callable(value)]))
