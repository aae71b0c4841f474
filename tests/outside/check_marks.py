#!/usr/bin/python3
"""Hands the marks to readers that are not ours, at every frame rate.

WebVTT: the strict checker in webvtt.py, itself held against good and bad files written here, and ffprobe where it
is installed (it is no dependency: the package is large). CSV: the csv module in strict mode. JSON: jsonschema
with schema/marks.schema.json. EDL: a reader of the plain text here (common
practice, from memory; the standard, SMPTE ST 258, was seen in its scope only), with time code counted by adding up
minutes one by one. All four must say the same.

usage: check_marks.py SCHEMA_DIR MARKS_DOCUMENTS_PROGRAM [RINGTALLY EXAMPLES_DIR]
"""
import copy
import csv
import datetime
import fractions
import io
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import jsonschema

import webvtt

RATES = {  # nominal, dropped, exact
    "23.976": (24, 0, (24000, 1001)), "24": (24, 0, (24, 1)), "25": (25, 0, (25, 1)),
    "29.97ndf": (30, 0, (30000, 1001)), "29.97df": (30, 2, (30000, 1001)), "30": (30, 0, (30, 1)),
    "50": (50, 0, (50, 1)), "59.94ndf": (60, 0, (60000, 1001)), "59.94df": (60, 4, (60000, 1001)),
    "60": (60, 0, (60, 1)),
}
LOCATOR = re.compile(r"\* LOC: (\d\d:\d\d:\d\d[:;]\d\d) (RED|BLUE|GREEN) +(R\d+ .+)")
EVENT = re.compile(r"(\d{3})  AX       V     C        (\S{11}) (\S{11}) (\S{11}) (\S{11})")


def frame_of(label, rate):
    """Adds up the lengths of the minutes before the label."""
    nominal, dropped, _ = RATES[rate]
    mark = ";" if dropped else ":"
    hours, minutes, seconds, frames = map(int, re.fullmatch(
        rf"(\d\d):(\d\d):(\d\d){mark}(\d\d)", label).groups())
    assert hours < 24 and minutes < 60 and seconds < 60 and frames < nominal, label
    assert not (minutes % 10 and seconds == 0 and frames < dropped), label
    before = sum(nominal * 60 - (dropped if minute % 10 else 0) for minute in range(hours * 60 + minutes))
    return before + nominal * seconds + frames - (dropped if minutes % 10 else 0)


def day_of(rate):
    return frame_of("23:59:59" + (";" if RATES[rate][1] else ":") + f"{RATES[rate][0] - 1}", rate) + 1


def moment(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))


def check_json(document, rate, label):
    """Each label is where the moment says, to half a frame."""
    frames, seconds = RATES[rate][2]
    exact = fractions.Fraction(frames, seconds)
    assert (document["rate"]["name"], document["rate"]["frames"], document["rate"]["seconds"]) == (
        rate, frames, seconds)
    assert document["sync"]["timecode"] == label
    day = day_of(rate)
    start = frame_of(label, rate)
    lead_in = fractions.Fraction(document["lead_in_ms"], 1000)
    lead_out = fractions.Fraction(document["lead_out_ms"], 1000)
    last = None
    for number, mark in enumerate(document["marks"], 1):
        assert mark["number"] == number
        at = fractions.Fraction((moment(mark["utc"]) - moment(document["sync"]["utc"]))
                                // datetime.timedelta(milliseconds=1), 1000)
        until = fractions.Fraction((moment(mark["until_utc"]) - moment(document["sync"]["utc"]))
                                   // datetime.timedelta(milliseconds=1), 1000)
        for key, wanted in (("at", at), ("in", at - lead_in), ("out", until + lead_out)):
            if key == "in" and start + wanted * exact < 0 <= start + at * exact:
                assert mark["in"].replace(";", ":") == "00:00:00:00", mark  # a recording has nothing before that
                continue
            off = (frame_of(mark[key], rate) - start - wanted * exact) % day
            assert min(off, day - off) <= fractions.Fraction(1, 2), (mark, key)
        assert (frame_of(mark["out"], rate) - frame_of(mark["in"], rate)) % day == mark["frames"]
        assert last is None or at >= last
        last = at
        assert (mark["exchange"] is not None) == (mark["kinds"] == ["exchange"])
        assert (mark["flurry"] is not None) == (mark["kinds"] == ["flurry"])
        if mark["exchange"]:
            sides = [mark["exchange"][corner] for corner in ("red", "blue")]
            assert all(0 <= side["landed"] <= side["attempted"] and side["attempted"] for side in sides)
            assert sum(side["landed"] for side in sides) > 0
    ranks = sorted((mark["exchange"]["rank"], -sum(mark["exchange"][c]["landed"] for c in ("red", "blue")))
                   for mark in document["marks"] if mark["exchange"])
    assert [rank for rank, _ in ranks] == list(range(1, len(ranks) + 1))
    assert [landed for _, landed in ranks] == sorted(landed for _, landed in ranks)


def check_csv(data, document):
    text = data.decode("utf-8")
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert all(len(row) == len(rows[0]) for row in rows)
    rows = [dict(zip(rows[0], row)) for row in rows[1:]]
    assert len(rows) == len(document["marks"])
    for row, mark in zip(rows, document["marks"]):
        for key in ("in", "at", "out", "utc"):
            assert row[key] == mark[key]
        assert row["kinds"].split() == mark["kinds"] and int(row["round"]) == mark["round"]
        assert row["what"] in (mark["what"], "'" + mark["what"]), row
        assert row["corner"] == (mark["corner"] or "")
        for cell in row.values():
            assert not cell.lstrip(" ").startswith(tuple("=+-@\t\r\n")), cell


def check_edl(data, document, rate):
    lines = data.decode("ascii").split("\r\n")
    assert lines.pop() == "" and not any("\n" in line or "\r" in line for line in lines)
    assert lines[0] == "TITLE: " + document["bout"]
    assert lines[1] == "FCM: " + ("DROP FRAME" if RATES[rate][1] else "NON-DROP FRAME")
    events = [EVENT.fullmatch(line) for line in lines[2:] if line and not line.startswith("* ")]
    assert all(events) and len(events) == len(document["marks"])
    record = frame_of("01:00:00;00" if RATES[rate][1] else "01:00:00:00", rate)
    for number, (event, mark) in enumerate(zip(events, document["marks"]), 1):
        assert int(event[1]) == number
        assert (event[2], event[3]) == (mark["in"], mark["out"])
        assert frame_of(event[4], rate) == record
        record += mark["frames"]
        assert frame_of(event[5], rate) == record
    # As editing systems have it: a clip's name, and a locator at its moment, in the list's own time.
    clips = [line for line in lines if line.startswith("* FROM CLIP NAME: ")]
    locators = [LOCATOR.fullmatch(line) for line in lines if line.startswith("* LOC: ")]
    assert len(clips) == len(locators) == len(events) and all(locators)
    for clip, locator, event, mark in zip(clips, locators, events, document["marks"]):
        assert clip.endswith(locator[3]) and locator[2] == {"red": "RED", "blue": "BLUE", None: "GREEN"}[mark["corner"]]
        behind = (frame_of(mark["at"], rate) - frame_of(mark["in"], rate)) % day_of(rate)
        assert frame_of(locator[1], rate) == frame_of(event[4], rate) + behind


def check_webvtt(data, document, rate, folder):
    """Counted from 00:00:00:00; what began before it is cut, what ended before it is left out."""
    frames, seconds = RATES[rate][2]
    cues = {name: (start, end) for name, start, end, _ in webvtt.cues(data)}
    day = day_of(rate)
    start = frame_of(document["sync"]["timecode"], rate)
    gone = 0
    for mark in document["marks"]:
        at = (moment(mark["utc"]) - moment(document["sync"]["utc"])) / datetime.timedelta(seconds=1)
        wanted = start + (frame_of(mark["in"], rate) - start) % day
        if at < document["lead_in_ms"] / 1000 + 1 and wanted - start > day / 2:
            wanted -= day  # it begins before the sync point
        if wanted + mark["frames"] <= 0:
            gone += 1
            continue
        begin, end = cues[f"mark-{mark['number']}"]
        assert abs(begin - max(wanted, 0) * seconds * 1000 / frames) <= 0.5 + 1e-6
        assert abs(end - (wanted + mark["frames"]) * seconds * 1000 / frames) <= 0.5 + 1e-6
    assert len(cues) == len(document["marks"]) - gone
    if shutil.which("ffprobe"):
        path = pathlib.Path(folder, "marks.vtt")
        path.write_bytes(data)
        done = subprocess.run(["ffprobe", "-v", "error", "-show_packets", "-of", "json", path],
                              capture_output=True, check=True)
        assert len(json.loads(done.stdout)["packets"]) == len(cues)


def check_schema_bites(validator, good):
    for key in good:
        bad = copy.deepcopy(good)
        del bad[key]
        assert not validator.is_valid(bad), key
    for key, value in (("in", "00:00:60:00"), ("out", "24:00:00:00"), ("kinds", []), ("frames", 0),
                       ("utc", "yesterday"), ("corner", "green"), ("surprise", 1)):
        bad = copy.deepcopy(good)
        bad["marks"][0][key] = value
        assert not validator.is_valid(bad), key


def check_all(write, validator, rate, label, folder):
    document = json.loads(write("json"))
    validator.validate(document)
    check_json(document, rate, label)
    check_csv(write("csv"), document)
    check_edl(write("edl"), document, rate)
    check_webvtt(write("webvtt"), document, rate, folder)
    return document


def check_program(program, examples, validator, folder):
    """The real program: a bout played, a sync point noted, the same marks by both ways of counting."""
    def run(*words, code=0):
        done = subprocess.run([program, "--db", f"{folder}/bouts.db", *words], capture_output=True,
                              timeout=60)
        assert done.returncode == code, (words, done.returncode, done.stderr)
        assert code == 0 or done.stderr.count(b"\n") == 1, done.stderr
        return done.stdout

    run("card", "load", examples / "card.ini")
    bout = "saltglass-4/1"
    run("marks", bout, code=1)
    run("marks", bout, "--start", "10:00:00:00", code=1)  # no bell yet
    run("desk", bout, "--operator", "Iris Palm", "--keys", examples / "bout-1.keys", "--speed", "max",
        "--headless")
    run("marks", bout, code=1)
    by_start = check_all(lambda form: run("marks", bout, "--format", form, "--rate", "29.97df", "--start",
                                          "10:00:00;00"), validator, "29.97df", "10:00:00;00", folder)
    assert by_start["sync"]["from"] == "start" and len(by_start["marks"]) > 5
    bell = by_start["sync"]["utc"]
    for words in (["--timecode", "10:00:00;00"], ["--timecode", "10:01:00;01", "--rate", "29.97df"],
                  ["--timecode", "10:00:00:00", "--at", "noon"],
                  ["--timecode", "10:00:00:00", "--at", bell, "--now"],
                  ["--timecode", "10:00:00:00", "--rate", "29.97"]):
        run("sync", bout, *words, code=2)
    run("sync", bout, "--timecode", "03:00:00:00", "--now")
    run("sync", bout, "--timecode", "10:00:00;00", "--rate", "29.97df", "--at", bell)
    by_sync = json.loads(run("marks", bout, "--format", "json"))
    assert by_sync["sync"] == {"from": "log", "utc": bell, "timecode": "10:00:00;00"}
    assert by_sync["marks"] == by_start["marks"]
    assert b"sync 10:00:00;00@29.97df" in run("log", bout)
    run("marks", bout, "--rate", "25", code=2)
    doubled = check_all(lambda form: run("marks", bout, "--rate", "59.94df", "--format", form), validator,
                        "59.94df", "10:00:00;00", folder)
    for once, twice in zip(by_sync["marks"], doubled["marks"]):
        assert once["at"][:8] == twice["at"][:8]
    counts = json.loads(run("counts", bout, "--format", "json"))
    for kind, key in (("knockdown", "knockdowns"), ("spinning", "spinning"), ("jumping", "jumping")):
        only = json.loads(run("marks", bout, "--format", "json", "--kinds", kind))
        assert len(only["marks"]) == counts["red"][key] + counts["blue"][key], kind
    incidents = json.loads(run("marks", bout, "--format", "json", "--kinds", "incident"))
    assert len(incidents["marks"]) == sum(sum(counts[c]["incidents"].values()) for c in ("red", "blue"))
    landed = json.loads(run("marks", bout, "--format", "json", "--kinds", "landed"))
    assert len(landed["marks"]) == counts["red"]["landed"] + counts["blue"]["landed"]
    bells = json.loads(run("marks", bout, "--format", "json", "--kinds", "bell"))["marks"]
    assert [(mark["round"], mark["what"]) for mark in bells] == [(n, f"round {n} begins") for n in (1, 2, 3)]
    # Said with the call, and of another bout of the same recording: nothing is written, a signed bout stays signed.
    run("sign", bout, "--operator", "A. Supervisor")
    before = json.loads(run("counts", bout, "--format", "json"))
    said = json.loads(run("marks", bout, "--format", "json", "--sync", f"10:00:00;00@{bell}", "--rate", "29.97df"))
    assert said["sync"] == {"from": "call", "utc": bell, "timecode": "10:00:00;00"} and said["marks"] == by_sync["marks"]
    other = "saltglass-4/2"
    run("desk", other, "--operator", "Iris Palm", "--keys", examples / "bout-2.keys", "--speed", "max", "--headless")
    run("marks", other, code=1)
    check_all(lambda form: run("marks", other, "--format", form, "--sync", "1"), validator, "29.97df", "10:00:00;00", folder)
    assert json.loads(run("marks", other, "--format", "json", "--sync", bout))["sync"]["from"] == "bout"
    after = json.loads(run("counts", bout, "--format", "json"))
    assert after["signed"] and after["entries"] == before["entries"]
    for words in ("10:00:00;00@noon", f"10:00@{bell}", f"@{bell}"):
        run("marks", bout, "--sync", words, code=2)
    run("marks", bout, "--sync", f"10:00:00:00@{bell}", "--start", "10:00:00:00", code=2)
    run("marks", bout, "--kinds", "knockdown,,", code=2)
    run("marks", bout, "--lead-in", "1,5", code=2)
    run("marks", bout, "--format", "webvtt", "--lead-in", "0", "--lead-out", "0", "-o", f"{folder}/m.vtt")
    webvtt.cues(pathlib.Path(folder, "m.vtt").read_bytes())


def main():
    webvtt.self_test()
    schema = json.loads(pathlib.Path(sys.argv[1], "marks.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    if not shutil.which("ffprobe"):
        print("ffprobe is not installed: WebVTT is read by the strict checker alone")
    with tempfile.TemporaryDirectory() as folder:
        for rate, (_, dropped, _) in RATES.items():
            for label in ("00:00:02", "00:01:03", "10:09:58", "23:59:50"):
                label += ";04" if dropped else ":04"
                for bout in ("played", "empty", "hostile"):
                    def write(form):
                        return subprocess.run([sys.argv[2], bout, form, rate, label], check=True,
                                              capture_output=True).stdout
                    document = check_all(write, validator, rate, label, folder)
                    assert bool(document["marks"]) == (bout != "empty")
                    if bout == "played" and rate == "25":
                        check_schema_bites(validator, document)
        if len(sys.argv) > 3:
            check_program(sys.argv[3], pathlib.Path(sys.argv[4]), validator, folder)
    return 0


if __name__ == "__main__":
    sys.exit(main())
