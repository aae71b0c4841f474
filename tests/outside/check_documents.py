#!/usr/bin/python3
"""Hands the documents of the sheets to readers that are not ours.

JSON: the json module, and the jsonschema package with the schemas in schema/ (JSON Schema
2020-12). Damaged documents must be refused, so that a schema that allows everything fails here.
CSV: the csv module in strict mode. Sums are added up again in Python.

usage: check_documents.py SCHEMA_DIR SHEET_DOCUMENTS_PROGRAM
"""
import copy
import csv
import io
import json
import pathlib
import subprocess
import sys

import jsonschema

LIMBS = ("left_hand right_hand left_elbow right_elbow knee left_knee right_knee left_leg"
         " right_leg").split()
TARGETS = ["head", "body", "leg"]


def validators(folder):
    schemas = {name: json.loads((folder / f"{name}.schema.json").read_text(encoding="utf-8"))
               for name in ("counts", "sheet", "heartbeat", "reference")}
    store = {schema["$id"]: schema for schema in schemas.values()}
    made = {}
    for name, schema in schemas.items():
        jsonschema.Draft202012Validator.check_schema(schema)
        made[name] = jsonschema.Draft202012Validator(
            schema, resolver=jsonschema.RefResolver(schema["$id"], schema, store))
    return made


def document(program, bout, round_, what):
    done = subprocess.run([program, bout, str(round_), what], check=True, capture_output=True)
    return done.stdout.decode("utf-8")


def total(leaves):
    return (sum(leaf["attempted"] for leaf in leaves), sum(leaf["landed"] for leaf in leaves))


def check_corner(corner, running_ms):
    """Every split adds up to the whole, and quotients are quotients."""
    whole = (corner["attempted"], corner["landed"])
    for split in ("by_limb", "by_target", "by_stance", "by_position", "by_group"):
        assert total(corner[split].values()) == whole, split
    for limb in LIMBS:
        leaf = corner["by_limb"][limb]
        assert total(corner["by_limb_target"][limb].values()) == (leaf["attempted"],
                                                                  leaf["landed"]), limb
    for target in TARGETS:
        leaf = corner["by_target"][target]
        cells = [corner["by_limb_target"][limb][target] for limb in LIMBS]
        assert total(cells) == (leaf["attempted"], leaf["landed"]), target
    assert whole[1] + corner["blocked"] <= whole[0]
    if whole[0]:
        assert abs(corner["accuracy"] - whole[1] / whole[0]) < 1e-12
    else:
        assert corner["accuracy"] is None
    if running_ms and running_ms >= 30000:  # before half a minute a rate is none
        assert abs(corner["output_per_min"] - whole[0] * 60000 / running_ms) < 1e-9
    else:
        assert corner["output_per_min"] is None


def check_scope(scope):
    check_corner(scope["red"], scope["running_ms"])
    check_corner(scope["blue"], scope["running_ms"])


def check_rounds(sheet):
    """The rounds add up to the whole bout."""
    for corner in ("red", "blue"):
        for key in ("attempted", "landed", "blocked", "knockdowns", "points_deducted"):
            assert sum(r[corner][key] for r in sheet["rounds"]) == sheet["whole"][corner][key], key
    for key in ("running_ms", "clock_stops", "off_clock", "review", "corrections"):
        assert sum(r[key] for r in sheet["rounds"]) == sheet["whole"][key], key
    assert len(sheet["off_clock_list"]) == sheet["whole"]["off_clock"]
    assert len(sheet["review_list"]) >= sheet["whole"]["review"]
    assert sheet["not_looked_at"] <= len(sheet["review_list"]) + len(sheet["off_clock_list"])


def paths(node, before=()):
    """The path of every key in the document, through objects only."""
    if isinstance(node, dict):
        for key, value in node.items():
            yield before + (key,)
            yield from paths(value, before + (key,))


def parent(node, path):
    for key in path[:-1]:
        node = node[key]
    return node


def refused(validator, good, change):
    bad = copy.deepcopy(good)
    change(bad)
    assert not validator.is_valid(bad), "a damaged document passed"


def check_schema_bites(validator, good, optional=()):
    """Every key taken away, every key added, every number made negative is an error."""
    for path in list(paths(good)):
        if path in optional:
            continue
        refused(validator, good, lambda bad: parent(bad, path).pop(path[-1]))
        value = parent(good, path)[path[-1]]
        if isinstance(value, dict):
            refused(validator, good,
                    lambda bad: parent(bad, path)[path[-1]].update(surprise=1))
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            if path != ("newest_entry_age_ms",):  # another machine's clock may run ahead
                refused(validator, good, lambda bad: parent(bad, path).update({path[-1]: -1}))
            refused(validator, good, lambda bad: parent(bad, path).update({path[-1]: "1"}))
    refused(validator, good, lambda bad: bad["red"].update(accuracy=1.01))
    refused(validator, good, lambda bad: bad["clock"].update(state="paused"))
    refused(validator, good, lambda bad: bad.update(as_of="yesterday"))
    refused(validator, good, lambda bad: bad.update(bout="no number"))


def rows_of(text):
    assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", "")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert rows[0] == ["section", "round", "clock", "corner", "item", "target", "attempted",
                       "landed", "value"]
    assert all(len(row) == len(rows[0]) for row in rows)
    return [dict(zip(rows[0], row)) for row in rows[1:]]


def check_csv(rows, counts):
    """The table says what the JSON document says."""
    round_ = "" if counts["round"] is None else str(counts["round"])
    for corner in ("red", "blue"):
        mine = [row for row in rows if row["corner"] == corner and row["round"] == round_]
        for row in mine:
            side = counts[corner]
            leaf = None
            if row["section"] == "total" and row["item"] == "strikes":
                leaf = side
            elif row["section"] == "limb_target":
                leaf = side["by_limb_target"][row["item"]][row["target"]]
            elif row["section"] == "target":
                leaf = side["by_target"][row["target"]]
            elif row["section"] in ("limb", "stance", "position", "group"):
                leaf = side["by_" + row["section"]][row["item"]]
            elif row["section"] == "incidents" and row["item"] in side["incidents"]:
                assert int(row["value"]) == side["incidents"][row["item"]]
            if leaf:
                assert (int(row["attempted"]), int(row["landed"])) == (leaf["attempted"],
                                                                       leaf["landed"]), row
        cells = {row["item"]: row["value"] for row in mine if row["section"] == "total"}
        for key, digits in (("accuracy", 4), ("output_per_min", 2)):
            value = counts[corner][key]
            if value is None:
                assert cells[key] == ""
            else:
                assert abs(float(cells[key]) - value) <= 0.5000001 * 10 ** -digits
        assert sum(row["section"] == "limb_target" for row in mine) == 27


def check_formulas(rows):
    """No text cell starts as a spreadsheet's formula does."""
    for row in rows:
        for cell in row.values():
            assert not cell.lstrip(" ").startswith(tuple("=+-@\t\r\n")), cell


def main():
    folder, program = pathlib.Path(sys.argv[1]), sys.argv[2]
    made = validators(folder)
    for bout in ("played", "empty", "hostile", "checked"):
        for round_ in (0, 1, 2, 3, 9):
            text = document(program, bout, round_, "counts-json")
            assert text.count("\n") == 1
            counts = json.loads(text)
            made["counts"].validate(counts)
            check_scope(counts)
            beat = json.loads(document(program, bout, round_, "heartbeat"))
            made["heartbeat"].validate(beat)
            assert all(counts[key] == beat[key] for key in ("entries", "desks", "clock"))
            sheet = json.loads(document(program, bout, round_, "json"))
            made["sheet"].validate(sheet)
            assert counts.pop("window") is None  # a sheet knows none
            counts.pop("rounds", None)  # short ones; the sheet has each whole, and check_rounds adds them up
            assert {key: sheet[key] for key in counts} == counts
            for scope in sheet["rounds"] + [sheet["whole"]]:
                check_scope(scope)
            if round_ == 0:
                check_rounds(sheet)
            for what in ("counts-csv", "csv"):
                rows = rows_of(document(program, bout, round_, what))
                check_csv(rows, counts)
                check_formulas(rows)
            if bout == "hostile" and round_ == 0:
                names = [row["value"] for row in rows if row["item"] == "fighter"]
                assert names[0] == "'" + counts["red"]["fighter"]
                assert names[1] == counts["blue"]["fighter"]
                assert "\x1b" not in text and "\n" not in names[0]
    played = json.loads(document(program, "played", 0, "counts-json"))
    check_schema_bites(made["counts"], played, {("rounds",)})
    check_schema_bites(made["sheet"], json.loads(document(program, "played", 1, "json")))
    return 0


if __name__ == "__main__":
    sys.exit(main())
