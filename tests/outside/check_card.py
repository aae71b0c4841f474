#!/usr/bin/python3
"""A card from nothing, and what may happen to it later: the template, every fault named at once, what
there is to choose from, corners swapped and people replaced over logged strikes, what a bout's line
says. Read through the command line, as its users do.

usage: check_card.py EXAMPLES_DIR RINGTALLY
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unicodedata

EXAMPLES, PROGRAM = pathlib.Path(sys.argv[1]), sys.argv[2]
RULES = EXAMPLES.parent / "shared" / "rules"


class Place:
    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        self.database = self.folder / "x.db"

    def run(self, *words, code=0, answer=None):
        done = subprocess.run([PROGRAM, "--db", self.database, *words], capture_output=True,
                              timeout=120, input=answer, cwd=self.folder,
                              env={**os.environ, "XDG_CONFIG_HOME": str(self.folder / "config")})
        assert done.returncode == code, (words, done.returncode, done.stderr)
        return (done.stderr if code else done.stdout).decode("utf-8")

    def bout(self, number):
        bouts = json.loads(self.run("card", "show", "--format", "json"))["bouts"]
        return next(bout for bout in bouts if bout["number"] == number)

    def notes(self):
        return [line.split("  card: ", 1)[1] for line in self.run("log", "1", "--all").splitlines()
                if "  card: " in line]


def check_template(place):
    place.run("card", "new", "-o", "night.ini")
    assert "is there already" in place.run("card", "new", "-o", "night.ini", code=1)
    text = (place.folder / "night.ini").read_text(encoding="utf-8")
    for known in ["venue", "rounds", "terms", "weight", "referee", "judges", "red.name", "red.short",
                  "red.stance", "red.from", "red.record", "blue.name", "blue.record", "muay-thai"]:
        assert known in text, known
    assert "@" not in text
    # As written it lacks two names and nothing else.
    assert place.run("card", "load", "night.ini", code=1).count("\n") == 1
    assert "red.name, blue.name are missing" in place.run("card", "load", "night.ini", code=1)
    filled = text.replace("red.name =", "red.name = Ana Ruiz").replace("blue.name =", "blue.name = Bo")
    for key in ["terms", "rounds", "weight", "red.stance", "red.record"]:
        filled = filled.replace(f"\n;{key} =", f"\n{key} =")
    (place.folder / "night.ini").write_text(filled, encoding="utf-8")
    place.run("card", "load", "night.ini")
    assert place.bout(1)["terms"] == "round_seconds = 120, scoring.open = yes"
    assert place.bout(1)["red"]["name"] == "Ana Ruiz"


def check_faults(place):
    (place.folder / "bad.ini").write_text(
        "[card]\nid = x\n[bout 1]\nred = A\nrules = amateur\n"
        "[bout 2]\nrules = boxing\nterms = foo = 1\nred.name = a\nblue.name = b\n")
    said = place.run("card", "load", "bad.ini", code=1).splitlines()
    for wanted in ["bad.ini:4: a bout knows no red: it knows weight, rules",
                   "bad.ini:4: bout 1: red.name, blue.name are missing",
                   "bad.ini: a card needs a title", "bad.ini: a card needs a date",
                   "bout 1: no rule set of that name: amateur (`rules list` says what there is)",
                   "bad.ini:7: bout 2: the rules know no foo"]:
        assert sum(wanted in line for line in said) == 1, (wanted, said)
    assert said[-1] == "ringtally: bad.ini: 6 things are wrong; nothing was loaded"
    assert len(said) == 7


def check_lists(place):
    own = place.folder / "config" / "ringtally" / "rules"
    own.mkdir(parents=True)
    text = place.run("rules", "show", "boxing", "--file")
    (own / "house.ini").write_text(text.replace("id = boxing", "id = house"), encoding="utf-8")
    listed = [line.split()[0] for line in place.run("rules", "list").splitlines()]
    assert listed == ["boxing", "house", "kickboxing", "low-kick", "muay-thai", "sanda"]
    assert place.run("keys", "list").split()[0] == "de-qwertz"
    assert "[" in place.run("keys", "show", "us-qwerty")
    # Every key that is listed can be set to what is listed beside it, and has its meaning there.
    for rules in listed:
        keys = [line for line in place.run("rules", "show", rules).splitlines()
                if " = " in line and line.rstrip().endswith(")") and "terms =" not in line]
        assert len(keys) == 30, (rules, len(keys))
        assert all(line[38:].split("(")[0].strip() for line in keys)
        # Where the rules are silent ("lowest = 0") there is nothing to say.
        terms = [line[:38].strip() for line in keys if "lowest = 0" not in line]
        for some in (", ".join(terms[i:i + 5]) for i in range(0, len(terms), 5)):
            (place.folder / "one.ini").write_text(
                f"[card]\nid = one\ntitle = One\ndate = 2026-12-05\n[bout 1]\nrules = {rules}\n"
                f"red.name = A\nblue.name = B\nterms = {some}\n", encoding="utf-8")
            place.run("card", "load", "one.ini")


def columns(line):
    return sum(0 if unicodedata.combining(c) or c == "\u200d" else 1 + (unicodedata.east_asian_width(c) in "WF")
               for c in line)


def check_width(place):
    """What is read at a console of 80 columns: the card, the list of commands, each command's words."""
    place.run("card", "load", EXAMPLES / "card.ini")
    shown = place.run("card", "show")
    assert all(columns(line) <= 80 for line in shown.splitlines()), shown
    assert "women -65 kg" in shown and "men -63.5 kg" in shown
    listed = place.run("--help")
    commands = re.findall(r"^  ([a-z-]+) +\S", listed, re.MULTILINE)
    assert len(commands) > 25 and len(listed.splitlines()) < 45, commands
    for text in [listed, *(place.run(command, "--help") for command in commands)]:
        assert all(columns(line) <= 80 for line in text.splitlines()), text
        assert text.count("[") == text.count("]"), text
    desk = place.run("desk", "--help")
    # An option's explanation hangs beside it, and stands together.
    assert "\n  --player SOCKET  the same with a player that runs already; --looks: it is a\n                   recorder" in desk
    assert "[--keys FILE [--speed N|max] [--headless]]" in desk


def check_changes(place):
    place.run("card", "load", EXAMPLES / "card.ini")
    place.run("desk", "1", "--operator", "ana", "--keys", EXAMPLES / "bout-1.keys", "--speed", "max",
              "--headless")
    before = place.bout(1)
    counts = json.loads(place.run("counts", "1", "--format", "json"))
    assert before["state"]["strikes"] == sum(counts[side]["attempted"] for side in ("red", "blue"))
    assert before["state"]["announced"] is None and before["state"]["signed_by"] is None
    # A swap says what it does and asks; no answer is none.
    assert "--yes answers" in place.run("card", "swap", "1", code=1)
    assert place.bout(1) == before
    said = place.run("card", "swap", "1", "--yes", "--operator", "ana")
    assert "goes from red to blue" in said and "they stay with their corner" in said
    after = place.bout(1)
    assert (after["red"], after["blue"]) == (before["blue"], before["red"])
    swapped = json.loads(place.run("counts", "1", "--format", "json"))
    assert swapped["red"]["attempted"] == counts["red"]["attempted"]
    assert swapped["red"]["fighter"] == counts["blue"]["fighter"]
    red, blue = before["red"]["name"], before["blue"]["name"]
    assert place.notes() == [f"swapped, red is {blue}, blue is {red}"]
    place.run("card", "swap", "1", "--yes")
    # Other people over logged strikes are asked for by name.
    other = (EXAMPLES / "card.ini").read_text(encoding="utf-8").replace(red, "Jo Strange")
    (place.folder / "other.ini").write_text(other, encoding="utf-8")
    refused = place.run("card", "load", "other.ini", code=1)
    assert f'--replace "{red}" gives them to Jo Strange' in refused
    place.run("card", "load", "other.ini", "--replace", "Nobody", code=1)
    assert place.bout(1)["red"]["name"] == red
    place.run("card", "load", "other.ini", "--replace", "Nobody", "--replace", red)
    assert place.bout(1)["red"]["name"] == "Jo Strange"
    assert place.notes()[-1] == f"red is Jo Strange, was {red}"
    # Rounds that are logged stay, and how many a bout has its own rules say too.
    (place.folder / "two.ini").write_text(
        other.replace("[bout 1]\n", "[bout 1]\nrounds = 2\n"), encoding="utf-8")
    assert "2 rounds are too few: round 3 has logged entries" in place.run(
        "card", "load", "two.ini", code=1)
    (place.folder / "three.ini").write_text(
        other.replace("[bout 1]\n", "[bout 1]\nrounds = 3\n"), encoding="utf-8")
    place.run("card", "load", "three.ini")
    own = place.folder / "config" / "ringtally" / "rules"
    own.mkdir(parents=True)
    builtin = (RULES / "kickboxing.ini").read_text(encoding="utf-8")
    (own / "kickboxing.ini").write_text(
        re.sub(r"(?m)^rounds = 3$", "rounds = 2", builtin), encoding="utf-8")
    assert "2 rounds are too few: round 3 has logged entries" in place.run(
        "card", "load", "other.ini", code=1)
    (own / "kickboxing.ini").unlink()
    # A bout goes only while nothing is logged on it.
    assert "entries are logged on it" in place.run("card", "drop", "1", "--yes", code=1)
    place.run("card", "drop", "7", "--yes")
    place.run("result", "1", "--announce", "knockout", "--winner", "red", "--round", "3", "--time",
              "1:47", "--override")
    place.run("sign", "1", "--operator", "A. Visor")
    state = place.bout(1)["state"]
    assert state["announced"] == "knockout, red, R3 1:47" and state["signed_by"] == "A. Visor", state
    table = place.run("card", "show")
    assert "announced: knockout, red, R3 1:47; signed by A. Visor" in table
    for words in (["card", "swap", "1", "--yes"],
                  ["card", "load", EXAMPLES / "card.ini", "--replace", "Jo Strange"]):
        assert "is signed, by A. Visor: reopen it first" in place.run(*words, code=1)


def main():
    for check in (check_template, check_faults, check_lists, check_width, check_changes):
        with tempfile.TemporaryDirectory() as folder:
            check(Place(folder))
    print("a card from nothing: all as expected")


main()
