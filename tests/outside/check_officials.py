#!/usr/bin/env python3
"""A whole bout with open scoring, a knockdown, a deduction, an even card and a split decision, run from the keyboard
through the real program; the sheet in text and JSON, the CSV dump and the log must agree with the cards typed. And
what bad input gets: each line names what is wrong, and nothing is written.

usage: check_officials.py RINGTALLY"""
import csv
import io
import json
import os
import subprocess
import sys
import tempfile

PROGRAM = os.path.abspath(sys.argv[1])
CARD = """[card]
id = officials
title = Officials
date = 2026-12-05
venue = Lantern Quay Hall
[bout 2]
weight = women -60 kg
rules = sanda
referee = Ivo Lantern
judges = Ada One, Bo Two, Cy Three, Di Four, Ed Five
red.name = Rufus Ember
blue.name = Bela Frost
[bout 1]
weight = women -60 kg
rules = kickboxing
terms = scoring.open = yes, scoring.tie = draw
referee = Ivo Lantern
judges = Ada One, Bo Two, Cy Three, Di Four, Ed Five
red.name = Rufus Ember
blue.name = Bela Frost
"""
# red-blue by judge and round; the judges took blue's deduction in round 2 off themselves
CARDS = {"Ada One": [(10, 8), (9, 9), (9, 10)], "Bo Two": [(10, 8), (9, 9), (10, 9)],
         "Cy Three": [(10, 10), (9, 9), (9, 10)], "Di Four": [(10, 10), (9, 9), (10, 10)],
         "Ed Five": [(10, 8), (10, 8), (9, 10)]}


def keys():
    at = 0.0

    def key(name, wait=0.4):
        nonlocal at
        at += wait
        return f"{at:.3f} {name}\n"

    text = ""
    for number in range(3):
        text += key("Enter", 60.0)  # the rest
        text += key("i", 5.0) + key("E", 1.0)
        if number == 0:
            text += key("4", 0.5)
        if number == 1:
            text += key("]", 2.0) + key("d", 0.5)
        text += key("F2", 185.0)
        for scores in CARDS.values():
            for points in scores[number]:
                text += key(str(points % 10), 0.5)
        text += key("Esc")
    return text + key("F2", 2.0) + key("+") + key("+") + key("Esc")


def sanda_keys():
    """Two rounds of two minutes, even on every card; an admonition of red in each."""
    at, text = 0.0, ""
    for _ in range(2):
        for name, wait in (("Enter", 60.0), ("[", 5.0), ("a", 0.5), ("F2", 120.0), *(("3", 0.5),) * 10, ("Esc", 0.5)):
            at += wait
            text += f"{at:.3f} {name}\n"
    return text


def officials(*words):
    run("result", *words)
    return json.loads(run("result", words[0], "--format", "json"))["officials"]


def check_sanda(keys_path):
    """What settles rounds, and two of three as a result, where rounds decide."""
    run("desk", "2", "--keys", keys_path, "--speed", "max", "--headless", "--operator", "ana")
    now = officials("2")
    # even points: the admonitions settle both rounds for blue (IWUF Art. 24.2.4), and two are the bout (24.3.1)
    expect((now["implied"]["kind"], now["implied"]["winner"]) == ("rounds_won", "blue"), now["implied"])
    now = officials("2", "--round-to", "red", "--round", "2")
    expect(now["implied"]["kind"] == "open" and "gave red round 2" in now["implied"]["reason"], now["implied"])
    now = officials("2", "--round-to", "nobody", "--round", "2")
    expect(now["implied"]["winner"] == "blue", now["implied"])
    now = officials("2", "--announce", "rounds_won", "--winner", "red")
    expect(now["differs"] and not now["not_compared"], now)
    run("result", "2", "--weights", "59.85-60.1")
    expect("red weighed 59.850 kg" in run("log", "2"), "the weights")
    before = run("log", "2", "--all")
    for words in (("--winner", "red"), ("--round", "2"), ("--round-to", "red"), ("--weights", "60"),
                  ("--weights", "60-60", "--round-to", "red", "--round", "1"), ("--round-to", "red", "--round", "3"),
                  ("--no-action",), ("--announce", "draw", "--no-action"), ("--ended", "knockout", "--round", "2"),
                  ("--ended", "knockout", "--winner", "red", "--round", "9", "--time", "59:59"),
                  ("--ended", "disqualification"), ("--ended", "intentional_foul", "--round", "2", "--time", "1:00")):
        run("result", "2", *words, ok=False)
    expect(run("log", "2", "--all") == before, "nothing written by what was refused")


def run(*words, ok=True):
    done = subprocess.run([PROGRAM, *words], capture_output=True, text=True, timeout=60)
    if ok and done.returncode:
        sys.exit(f"{words}: {done.stderr}")
    if not ok and (not done.returncode or done.stderr.count("\n") != 1 or done.stdout):
        sys.exit(f"{words}: one line of refusal was expected: {done}")
    return done.stdout if ok else done.stderr


def expect(condition, what):
    if not condition:
        sys.exit(f"not so: {what}")


def main():
    folder = tempfile.mkdtemp()
    os.environ["RINGTALLY_DB"] = os.path.join(folder, "t.db")
    paths = {}
    for name, text in {"card.ini": CARD, "bout.keys": keys(), "sanda.keys": sanda_keys()}.items():
        paths[name] = os.path.join(folder, name)
        with open(paths[name], "w", encoding="utf-8") as file:
            file.write(text)
    run("card", "load", paths["card.ini"])
    run("desk", "1", "--keys", paths["bout.keys"], "--speed", "max", "--headless", "--operator", "ana")

    sheet = json.loads(run("sheet", "1", "--format", "json"))
    shown = sheet["officials"]
    for card in shown["cards"]:
        typed = CARDS[card["judge"]]
        expect([(s["red"], s["blue"]) for s in card["scores"]] == typed, f"scores of {card}")
        expect((card["total"]["red"], card["total"]["blue"]) ==
               tuple(sum(s[i] for s in typed) for i in (0, 1)), f"total of {card}")
    # 28-27 29-26 28-29 29-29 29-26: three for red, one for blue, one even. At least one for the opponent: a split
    # decision, as N.J.A.C. 13:46-24A (of mixed martial arts) has it for three judges.
    expect(shown["implied"]["kind"] == "split_decision", shown["implied"])
    expect(shown["implied"]["winner"] == "red", shown["implied"])
    expect(shown["implied"]["vote"] == {"red": 3, "blue": 1, "even": 1}, shown["implied"])
    expect([c["total"] for c in shown["cards"] if c["judge"] == "Di Four"] == [{"red": 29, "blue": 29}], "29-29")
    expect(shown["announced"]["kind"] == "split_decision", shown["announced"])
    expect(shown["announced"]["as_implied"] and shown["announced"]["referee"] is None, shown["announced"])
    expect(shown["differs"] is None and shown["not_compared"] is None, shown["differs"])
    expect(sheet["blue"]["points_deducted"] == 1, "deduction")
    expect(sheet["red"]["knockdowns"] == 1, "knockdown")
    text = run("sheet", "1")
    for words in ("10-8", "29-29", "split decision, red (3-1-1 red-blue-even)", "entered    split decision", "entered as implied"):
        expect(words in text, f"{words} on the sheet")
    expect(max(map(len, text.splitlines())) <= 80, "80 columns")
    rows = list(csv.DictReader(io.StringIO(run("scores", "dump", "1"), newline="")))
    expect({(r["judge"], int(r["round"])): (float(r["red"]), float(r["blue"])) for r in rows} ==
           {(j, n + 1): s for j, scores in CARDS.items() for n, s in enumerate(scores)}, "the dump")

    # what is announced otherwise is shown, never corrected
    run("result", "1", "--announce", "majority_decision", "--winner", "red", "--vote", "3-0-2")
    shown = json.loads(run("result", "1", "--format", "json"))["officials"]
    expect(shown["implied"]["kind"] == "split_decision" and shown["differs"], "the difference")

    before = run("log", "1", "--all", "--format", "json")
    def bad_scores(text):
        path = os.path.join(folder, "bad.csv")
        with open(path, "w", encoding="utf-8", newline="") as file:
            file.write("judge,round,red,blue,names\r\n" + text)
        return run("scores", "load", "1", path, ok=False)

    expect("bad.csv:2" in bad_scores("Ada One,4,10,9,\r\n"), "a round not boxed")
    expect("bad.csv:2" in bad_scores("Nobody,1,10,9,\r\n"), "a judge not on the bout")
    expect("bad.csv:3" in bad_scores("Ada One,1,10,9,\r\nBo Two,1,ten,9,\r\n"), "no number")
    expect("override" in run("result", "1", "--announce", "knockout", "--winner", "blue", "--round", "4",
                             ok=False), "a knockout in round 4 of 3")
    run("result", "1", "--announce", "winning", ok=False)
    run("result", "1", "--announce", "knockout", "--time", "1:75", ok=False)
    expect(run("log", "1", "--all", "--format", "json") == before, "nothing written by what was refused")
    early = ("result", "1", "--ended", "knockout", "--winner", "red", "--round", "2")
    expect("override" in run(*early, ok=False), "a knockout in round 2 of a bout that went on")
    expect("red" in run(*early, "--override"), "so entered all the same")
    check_sanda(paths["sanda.keys"])
    print("officials: all as typed")


main()
