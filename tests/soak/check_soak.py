#!/usr/bin/python3
"""soak.c with a hub: a PostgreSQL cluster of its own, a database there for each evening; and in the end every entry of
the local log is at the hub as it is here, and none else.

usage: check_soak.py SOAK RINGTALLY ENDS [SEED]
"""
import pathlib
import sqlite3
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "hub"))
from hub_kit import Hall, Yard  # noqa: E402

EVENING = 150  # ENDS_A_DATABASE
FLAGS = ("off_clock", "review", "accepted", "unsure", "spinning", "jumping", "knockdown")
COLUMNS = ["desk.uid", "desk.operator", "entry.seq", "utc_ms", "at_ms", "kind", "act", "code", "subject.uid",
           "subject_seq", "undone.uid", "undoes_seq", "round", "elapsed_ms", *FLAGS, "corner", "limb", "target",
           "stance", "position", "outcome", "value", "text"]
JOINS = ("FROM entry JOIN desk ON desk.id = entry.desk LEFT JOIN desk AS subject ON subject.id = subject_desk "
         "LEFT JOIN desk AS undone ON undone.id = undoes_desk")


def entries_here(path):
    """As lines that psql would write."""
    with sqlite3.connect(path) as local:
        rows = local.execute(f"SELECT {', '.join(COLUMNS)}, lower(hex(entry.prior)) {JOINS}").fetchall()
    return sorted("|".join("" if value is None else str(value) for value in row) for row in rows)


def entries_there(cluster, database):
    columns = [f"{name}::int" if name in FLAGS else name for name in COLUMNS]
    return sorted(cluster.sql(f"SELECT {', '.join(columns)}, encode(entry.prior, 'hex') {JOINS}", database).split("\n"))


def main():
    soak, program, ends = sys.argv[1], sys.argv[2], int(sys.argv[3])
    seed = sys.argv[4] if len(sys.argv) > 4 else "2685821657736338717"
    evenings = (ends + EVENING - 1) // EVENING
    with Yard() as yard:
        cluster = yard.cluster()
        keep = yard.folder / "keep"
        keep.mkdir()
        for evening in range(evenings):
            cluster.create(f"evening{evening}")
            Hall(program, keep / "none.db").ask("hub", "init", cluster.uri(f"evening{evening}"))
        hub = f"host={cluster.sockets} port={cluster.port} user=hub"
        done = subprocess.run([soak, str(ends), seed, hub, str(keep)], check=False)
        count, wrong = 0, done.returncode != 0
        for evening in range(evenings if not wrong else 0):
            here = entries_here(keep / f"evening{evening}.db")
            there = entries_there(cluster, f"evening{evening}")
            count += len(here)
            if here != there or len(here) < 10:
                wrong = True
                print(f"evening {evening}: {len(here)} here, {len(there)} at the hub, first difference "
                      f"{sorted(set(here) ^ set(there))[:2]}")
    print(f"{count} entries of {evenings} evenings, {'NOT the same' if wrong else 'the same'} at the hub")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
