#!/usr/bin/python3
"""Tags one bout by two key scripts and holds what `agree` reports against the list of differences in
the header of the second script, which its generator wrote; and against the schema.

usage: check_agree.py SCHEMA_DIR EXAMPLES_DIR RINGTALLY
"""
import collections
import json
import pathlib
import subprocess
import sys
import tempfile

import jsonschema

BOUT = "saltglass-4/1"
FIELD_KINDS = {("corner",): "other corner", ("limb",): "other limb", ("target",): "other target"}


def listed(script):
    """The header's differences, in time order: (kind, what the first says, what the second says)."""
    found, counts = [], {}
    for line in script.read_text(encoding="utf-8").splitlines():
        if line.startswith("# differences, "):
            kind, count = line[len("# differences, "):].split(": ")
            counts[kind] = int(count)
        if line.startswith("# at "):
            kind, words = line.split(" ", 3)[3].split(": ")
            first, _, second = words.partition(" -> ")
            found.append((kind, None, first) if kind == "extra" else (kind, first, second or None))
    assert collections.Counter(kind for kind, _, _ in found) == counts and len(found) == 36
    return found


def words_of(strike):
    return strike and "{corner} {limb} {target} {outcome}".format(**strike)


def reported(pair):
    for item in pair["differences"]:
        first, second = words_of(item["a"]), words_of(item["b"])
        if item["kind"] == "only_a":
            kind = "missed"
        elif item["kind"] == "only_b":
            kind = "extra"
        elif item["fields"] == ["landed"]:
            says = ["landed" if item[desk]["outcome"] == "landed" else "attempted" for desk in "ab"]
            kind = " seen as ".join(says)
        else:
            kind = FIELD_KINDS[tuple(item["fields"])]
        yield kind, first, second


def expected_totals(script):
    for line in script.read_text(encoding="utf-8").splitlines():
        words = line.split()
        if words[:3] == ["#", "expected", "all"]:
            yield words[3], "attempted", int(words[4])
            yield words[3], "landed", int(words[5])


def kappa(table):
    """Cohen's, written down once more."""
    n = sum(map(sum, table))
    agreed = sum(row[i] for i, row in enumerate(table)) / n
    chance = sum(sum(row) * sum(other[i] for other in table) for i, row in enumerate(table)) / n**2
    return (agreed - chance) / (1 - chance)


def check_pair(pair):
    for field in pair["fields"].values():
        assert sum(map(sum, field["table"])) == field["paired"] == pair["paired"]
        assert all(len(row) == len(field["categories"]) for row in field["table"])
        assert sum(row[i] for i, row in enumerate(field["table"])) == field["agreed"]
        assert abs(kappa(field["table"]) - field["kappa"]) < 1e-12
        assert field["only_a"] == pair["only_a"] and field["only_b"] == pair["only_b"]
    for total in pair["totals"]:
        mean = (total["a"] + total["b"]) / 2
        error = 100 * abs(total["a"] - total["b"]) / mean if mean else None
        assert error == total["error_percent"] or abs(error - total["error_percent"]) < 1e-9


def check_names(pair, log):
    """The entries named are those of the log, and say the same."""
    entries = {(entry["desk"], entry["seq"]): entry for entry in log}
    for item in pair["differences"]:
        for strike in filter(None, (item["a"], item["b"])):
            entry = entries[strike["desk"], strike["seq"]]
            assert all(entry["strike"][part] == strike[part]
                       for part in ("corner", "limb", "target", "outcome"))


def moved(script, folder, name, move):
    """The script with its Enter keys, which work the clock, moved by seconds (None: never pressed)."""
    lines = []
    for line in script.read_text(encoding="utf-8").splitlines():
        words = line.split()
        if line.startswith("#") or words[1:] != ["Enter"]:
            lines.append(line)
            continue
        by = move(float(words[0]))
        if by is not None:
            lines.append(f"{float(words[0]) + by:.3f} Enter")
    comments = [line for line in lines if line.startswith("#")]
    keys = sorted((line for line in lines if not line.startswith("#")),
                  key=lambda line: float(line.split()[0]))
    out = pathlib.Path(folder, name)
    out.write_text("\n".join(comments + keys) + "\n", encoding="utf-8")
    return out


def check_clocks(folder, first, tag, agree):
    """The same keys, only the shadow's clock is worked otherwise: everything is paired."""
    cases = {
        "late1": (lambda at: 1.5 if at < 250 else -1.5 if at > 500 else 0, [-1500, 0, 1500], "ccc"),
        "late4": (lambda at: 4, [-4000, -4000, -4000], "ccc"),
        # Never started in round 2: what it then calls round 2 is round 3.
        "lost2": (lambda at: None if 250 < at < 500 else 0, [0, None, None], "cuu"),
    }
    for name, (move, late, bases) in cases.items():
        tag(name, moved(first, folder, f"{name}.keys", move), "--shadow")
        pair = agree("ana", name)["pairs"][0]
        assert pair["only_a"] == pair["only_b"] == 0 and pair["differences"] == [], name
        assert pair["warnings"] == [] and pair["estimated"]["wrong_pairs"] < 3
        assert pair["chance_pairs"] < pair["paired"] / 3
        for item, expected, base in zip(pair["rounds"], late, bases):
            assert item["base"][0] == base and not item["at_limit"]
            assert expected is None or abs(item["lateness_ms"] - expected) < 60, (name, item)
        for field in pair["fields"].values():
            assert field["estimated"]["agreed_share"] > 0.995


def check_reference(schemas, run, strikes):
    """The first tagger's count, held against the second as if that had come from a recording."""
    schema = json.loads((schemas / "reference.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    for live in ((), ("--desk", "cleo")):
        words = ("agree", BOUT, "--reference", "ben", *live)
        document = json.loads(run(*words, "--format", "json"))
        jsonschema.Draft202012Validator(schema).validate(document)
        rows = collections.defaultdict(list)
        for row in document["rows"]:
            rows[row["by"]].append(row)
            assert abs(row["had"] - row["right"]) <= sum(row["wrong"].values()) + 1e-6
        whole = rows["all"][0]
        for kind in rows.values():
            for figure in ("reference", "had", "right", "right_first_time", "added"):
                assert abs(sum(row[figure] for row in kind) - whole[figure]) < 1e-6, figure
        # The second tagger missed nine of the first one's strikes and has five that are none.
        assert whole["reference"] == strikes - 9 + 5 and document["strikes"]["live"] == strikes
        assert abs(whole["missed"] - 5) < 1.5 and abs(whole["added"] - 9) < 1.5
        assert all(len(line) <= 80 for line in run(*words).splitlines())
    run("agree", BOUT, "--reference", "ben", "--desk", "ben", code=1)
    run("agree", BOUT, "--reference", "ben", "--desk", "ana", "--desk", "cleo", code=2)


def check_refusals(run, tag, agree, nothing):
    tag("rob", nothing, "--corner", "red")
    tag("bea", nothing, "--corner", "blue")
    assert "common" in run("agree", BOUT, "--desk", "rob", "--desk", "bea", code=1)
    unknown = run("agree", BOUT, "--desk", "ana", "--desk", "dora", code=1)
    assert "dora" in unknown and all(name in unknown for name in ("ana", "ben", "cleo"))
    assert "twice" in run("agree", BOUT, "--desk", "ana", "--desk", "ana", code=1)
    run("agree", BOUT, "--desk", "ana", code=2)
    run("agree", BOUT, "--desk", "ana", "--desk", "ben", "--window", "0", code=2)
    run("agree", BOUT, "--desk", "ana", "--desk", code=2)
    # Among seventeen desks two must share the first of sixteen digits.
    starts = collections.Counter()
    for number in range(17):
        tag(f"guest{number}", nothing, "--shadow")
        starts[agree("ana", f"guest{number}")["desks"][1]["desk"][0]] += 1
        start, count = starts.most_common(1)[0]
        if count > 1:
            break
    assert "more than one" in run("agree", BOUT, "--desk", "ana", "--desk", start, code=1)


def main():
    schemas, examples, program = map(pathlib.Path, sys.argv[1:])
    schema = json.loads((schemas / "agree.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    first, second = examples / "bout-1.keys", examples / "bout-1-second.keys"
    with tempfile.TemporaryDirectory() as folder:
        def run(*words, code=0):
            done = subprocess.run([program, "--db", f"{folder}/bouts.db", *words],
                                  capture_output=True, timeout=60)
            assert done.returncode == code, (words, done.returncode, done.stderr)
            return (done.stderr if code else done.stdout).decode("utf-8")

        def tag(name, script, *how):
            run("desk", BOUT, "--operator", name, *how, "--keys", script, "--speed", "max",
                "--headless")

        def agree(*desks):
            document = json.loads(run("agree", BOUT, *(word for desk in desks
                                                       for word in ("--desk", desk)),
                                      "--format", "json"))
            validator.validate(document)
            return document

        run("card", "load", examples / "card.ini")
        tag("ana", first)
        tag("ben", second, "--shadow")
        document = agree("ana", "ben")
        pair = document["pairs"][0]
        assert sorted(map(str, reported(pair))) == sorted(map(str, listed(second)))
        assert list(reported(pair)) == listed(second), "the order of time"
        assert (pair["only_a"], pair["only_b"]) == (9, 5) and document["all"] is None
        totals = {(total["corner"], total["count"]): total for total in pair["totals"]
                  if total["limb"] is None}
        for script, desk in ((first, "a"), (second, "b")):
            for corner, count, figure in expected_totals(script):
                assert totals[corner, count][desk] == figure
        check_pair(pair)
        check_names(pair, json.loads(run("log", BOUT, "--format", "json"))["entries"])
        mirrored = agree("ben", "ana")["pairs"][0]
        assert [(item["b"], item["a"]) for item in mirrored["differences"]] == [
            (item["a"], item["b"]) for item in pair["differences"]]
        uid = document["desks"][1]["desk"]
        assert agree("ana", uid[:12])["pairs"] == document["pairs"]

        tag("cleo", first, "--shadow")
        three = agree("ana", "ben", "cleo")
        assert three["pairs"][0] == pair
        assert three["pairs"][1]["differences"] == []
        assert three["pairs"][1]["fields"]["limb"]["kappa"] == 1
        strikes = sum(figure for _, count, figure in expected_totals(first) if count == "attempted")
        shared = strikes - 9  # the second tagger missed nine
        assert (three["all"]["strikes"], three["all"]["shared"]) == (strikes, shared)
        assert 0.9 < three["all"]["fields"]["landed"]["fleiss_kappa"] < 1
        table = run("agree", BOUT, "--desk", "ana", "--desk", "ben", "--desk", "cleo")
        assert all(len(line) <= 80 for line in table.splitlines())
        assert "hides misses: 9 only A, 5 only B" in table and f"{strikes} strikes the {shared}" in table

        check_reference(schemas, run, strikes)
        check_clocks(folder, first, tag, agree)
        nothing = pathlib.Path(folder, "nothing.keys")
        nothing.write_text("1.000 Tab\n", encoding="utf-8")
        check_refusals(run, tag, agree, nothing)
        damaged = json.loads(json.dumps(document))
        del damaged["pairs"][0]["only_b"]
        assert not validator.is_valid(damaged)
    return 0


if __name__ == "__main__":
    sys.exit(main())
