#!/usr/bin/python3
"""What nobody saw, through the real program: a corner without a desk, and a desk that is killed and comes back.
Every format says so, no rate is taken over such time, and no count of an untagged corner is a number.

usage: check_coverage.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import csv
import io
import json
import pathlib
import signal
import subprocess
import sys
import tempfile
import time

import jsonschema

BOUT = "saltglass-4/1"
DEADLINE_S = 60
RATE_LEAST_MS = 30000


class Place:
    def __init__(self, folder, schema, examples, program):
        self.folder, self.examples, self.program = pathlib.Path(folder), examples, program
        self.database = self.folder / "bouts.db"
        documents = [json.loads(path.read_text(encoding="utf-8")) for path in schema.glob("*.schema.json")]
        store = {document["$id"]: document for document in documents}
        self.check = {}
        for document in documents:
            resolver = jsonschema.RefResolver.from_schema(document, store=store)
            name = document["$id"].rsplit("/", 1)[-1].split(".")[0]
            self.check[name] = jsonschema.Draft202012Validator(document, resolver=resolver)
        self.run("card", "load", examples / "card.ini")

    def words(self, *words):
        return [str(word) for word in (self.program, "--db", self.database, *words)]

    def run(self, *words):
        done = subprocess.run(self.words(*words), capture_output=True, timeout=120, check=False)
        assert done.returncode == 0, (words, done.stderr)
        return done.stdout.decode("utf-8")

    def json(self, schema, *words):
        document = json.loads(self.run(*words, "--format", "json"))
        self.check[schema].validate(document)
        return document

    def desk(self, keys, *how):
        """A desk that plays keys at the speed of time; it is the caller's to end."""
        script = self.folder / "script.keys"
        script.write_text("".join(f"{at:.3f} {key}\n" for at, key in keys), encoding="utf-8")
        return subprocess.Popen(self.words("desk", BOUT, "--operator", "ana", *how, "--keys", script, "--speed", "1",
                                           "--headless"))


def until(holds):
    """Polls; returns what holds() gives once it is true."""
    end = time.monotonic() + DEADLINE_S
    while time.monotonic() < end:
        value = holds()
        if value:
            return value
        time.sleep(0.05)
    raise AssertionError("it never came about")


def numbers(value):
    """All numbers in a document, however deep."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for item in value for number in numbers(item)]
    return [] if value is None or isinstance(value, (str, bool)) else [value]


def check_untagged(place):
    place.run("desk", BOUT, "--corner", "red", "--keys", place.examples / "bout-1.keys", "--speed", "max", "--headless")
    counts = place.json("counts", "counts", BOUT)
    red, blue = counts["red"], counts["blue"]
    assert red["tagged"] and red["covered_ms"] == counts["running_ms"] and red["gaps"] == [], red
    assert red["attempted"] == 200 and abs(red["output_per_min"] - 200 * 60000 / counts["running_ms"]) < 1e-9, red
    assert not blue["tagged"] and blue["covered_ms"] == 0, blue
    assert [gap["round"] for gap in blue["gaps"]] == [1, 2, 3], blue["gaps"]
    for name in ("attempted", "landed", "blocked", "accuracy", "output_per_min", "knockdowns", "by_limb", "by_target",
                 "by_limb_target", "by_stance", "by_position", "by_group"):
        assert numbers(blue[name]) == [], (name, blue[name])
    assert all(short["blue"]["attempted"] is None for short in counts["rounds"]), counts["rounds"]
    place.json("sheet", "sheet", BOUT)
    for words in (("counts", BOUT), ("sheet", BOUT), ("sheet", BOUT, "--for", "red")):
        assert "blue: not tagged" in place.run(*words), words
    assert "not tagged | ? | ? |" in place.run("sheet", BOUT, "--format", "markdown").replace("| BLUE ", "")
    page = place.run("sheet", BOUT, "--format", "html")
    assert "<strong>Not covered:</strong> blue: not tagged" in page
    coach = place.run("sheet", BOUT, "--for", "red")
    assert "Their corner was not tagged: unknown." in coach and "Nothing thrown at us" not in coach, coach
    rows = list(csv.DictReader(io.StringIO(place.run("sheet", BOUT, "--format", "csv"))))
    of_blue = [row for row in rows if row["corner"] == "blue" and row["section"] == "total" and not row["round"]]
    assert [(row["item"], row["value"]) for row in of_blue] == [("tagged", "no"), ("covered_ms", "0"),
                                                                ("unseen_ms", "0")], of_blue
    assert {row["round"] for row in rows if row["section"] == "gap"} == {"1", "2", "3"}
    past = place.json("history", "history", "Kervadenn")
    assert past["all"]["bouts_other_untagged"] == 1 and past["all"]["bouts_untagged"] == 0, past["all"]
    assert past["all"]["takes"]["attempted"] is None and past["all"]["throws"]["attempted"] == 200
    assert "left out, LANDS of 0 bouts, TAKES of 1" in place.run("history", "Kervadenn")


def check_away(place):
    first = place.desk([(0.1, "Enter")] + [(0.3 + 0.2 * i, "wi"[i % 2]) for i in range(8)] + [(60, "w")])
    until(lambda: (place.json("counts", "counts", BOUT)["blue"]["attempted"] or 0) >= 4)
    first.send_signal(signal.SIGKILL)
    first.wait()

    def lost():
        counts = place.json("counts", "counts", BOUT, "--round", "1")
        gaps = counts["red"]["gaps"]
        return counts if gaps and gaps[0]["to_ms"] - gaps[0]["from_ms"] > 3000 else None
    counts = until(lost)  # it grows while the clock runs and nobody is there
    assert counts["red"]["gaps"] == counts["blue"]["gaps"] and counts["red"]["gaps"][0]["why"] == "desk_away"
    second = place.desk([(0.1, "w"), (0.3, "W"), (60, "w")])
    until(lambda: place.json("counts", "counts", BOUT)["red"]["attempted"] == 6)
    counts = place.json("counts", "counts", BOUT, "--round", "1")
    red = counts["red"]
    assert len(red["gaps"]) == 1, red["gaps"]  # the next session does not make it vanish
    gap = red["gaps"][0]
    assert gap["to_ms"] < counts["running_ms"], counts
    assert red["covered_ms"] == counts["running_ms"] - (gap["to_ms"] - gap["from_ms"]), counts
    if red["covered_ms"] < RATE_LEAST_MS:  # too little for a rate, whatever the clock ran
        assert red["output_per_min"] is None, red
    else:
        assert abs(red["output_per_min"] - 6 * 60000 / red["covered_ms"]) < 1e-9, red
    second.send_signal(signal.SIGKILL)
    second.wait()
    clock = [f"0:{gap[edge] // 1000:02}" for edge in ("from_ms", "to_ms")]
    said = f"nobody at the desk R1 {clock[0]}-{clock[1]}"
    for words in (("counts", BOUT), ("sheet", BOUT), ("sheet", BOUT, "--round", "1"), ("sheet", BOUT, "--for", "red"),
                  ("sheet", BOUT, "--format", "markdown"), ("sheet", BOUT, "--format", "html"),
                  ("sheet", BOUT, "--for", "blue", "--format", "html")):
        assert said in place.run(*words), (said, place.run(*words))
    assert "Seen: " in place.run("sheet", BOUT, "--for", "red")


def main():
    schema, examples, program = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]
    for check in (check_untagged, check_away):
        with tempfile.TemporaryDirectory() as folder:
            check(Place(folder, schema, examples, program))
    print("what nobody saw is said, and is no zero")


main()
