#!/usr/bin/python3
"""Plays the example bouts through the program and holds what it writes against the totals in the
headers of the key scripts (which count_script.py counts by itself) and against the schemas.

usage: check_binary.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import json
import pathlib
import subprocess
import sys
import tempfile

import check_documents as documents

CARD = "saltglass-4"


def expected(script):
    """{("all" | round | stance, corner): (attempted, landed, blocked, knockdowns)}"""
    found = {}
    for line in script.read_text(encoding="utf-8").splitlines():
        words = line.split()
        if words[:2] == ["#", "expected"] and len(words) == 8 and words[3] in ("red", "blue"):
            found[words[2], words[3]] = tuple(map(int, words[4:]))
    assert ("all", "red") in found and ("1", "blue") in found
    return found


def check_bout(run, validators, bout, totals):
    rounds = sorted({int(scope) for scope, _ in totals if scope.isdigit()})
    for round_ in [0] + rounds:
        only = ["--round", str(round_)] if round_ else []
        counts = json.loads(run("counts", bout, *only, "--format", "json"))
        sheet = json.loads(run("sheet", bout, *only, "--format", "json"))
        validators["counts"].validate(counts)
        validators["sheet"].validate(sheet)
        documents.check_scope(counts)
        documents.check_csv(documents.rows_of(run("counts", bout, *only, "--format", "csv")), counts)
        documents.check_csv(documents.rows_of(run("sheet", bout, *only, "--format", "csv")), counts)
        for corner in ("red", "blue"):
            side = counts[corner]
            assert totals[str(round_) if round_ else "all", corner] == (
                side["attempted"], side["landed"], side["blocked"], side["knockdowns"])
            assert sheet[corner] == side
    documents.check_rounds(json.loads(run("sheet", bout, "--format", "json")))
    whole = json.loads(run("counts", bout, "--format", "json"))
    for (scope, corner), figures in totals.items():
        if scope in whole[corner]["by_stance"]:
            leaf = whole[corner]["by_stance"][scope]
            assert (leaf["attempted"], leaf["landed"]) == figures[:2]
    assert whole["off_clock"] == sum(figures[0] for (scope, _), figures in totals.items()
                                     if scope == "off-clock")
    text = run("sheet", bout)
    assert f"{whole['red']['landed']}/{whole['red']['attempted']}" in text
    assert all(len(line) <= 80 for line in text.splitlines())


def main():
    schemas, examples, program = map(pathlib.Path, sys.argv[1:])
    validators = documents.validators(schemas)
    with tempfile.TemporaryDirectory() as folder:
        def run(*words, code=0):
            done = subprocess.run([program, "--db", f"{folder}/bouts.db", *words],
                                  capture_output=True, timeout=60)
            assert done.returncode == code, (words, done.returncode, done.stderr)
            return done.stdout.decode("utf-8")

        run("card", "load", examples / "card.ini")
        for number in (1, 2):
            script = examples / f"bout-{number}.keys"
            bout = f"{CARD}/{number}"
            run("desk", bout, "--operator", "Iris Palm", "--keys", script, "--speed", "max",
                "--headless")
            check_bout(run, validators, bout, expected(script))
        run("counts", f"{CARD}/99", code=1)
        run("counts", f"{CARD}/1", "--format", "xml", code=2)
        run("sheet", f"{CARD}/1", "--format", "markdown", "-o", f"{folder}/sheet.md")
        page = pathlib.Path(folder, "sheet.md").read_text(encoding="utf-8")
        assert page.startswith("# Saltglass Evening 4, ") and page.count("| RED |") > 3
    return 0


if __name__ == "__main__":
    sys.exit(main())
