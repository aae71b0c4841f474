"""An archive at the hub, as large as asked for, and what it costs to ask it."""
import pathlib
import re
import statistics
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "hub"))
from hub_kit import BIN, Desk, Hall  # noqa: E402

FIGHTER = "Fighter 000002"  # in twenty bouts, as everybody here
TURNS = 15  # three in a smoke


def row(what, value, floor="", target=""):
    print(f"{what:58} {value:>12} {floor:>14} {target:>16}", flush=True)


def psql(cluster, database, *commands):
    words = [word for command in commands for word in ("-c", command)]
    return subprocess.run([BIN / "psql", "-Xq", "-v", "ON_ERROR_STOP=1", "-d", cluster.uri(database), *words],
                          capture_output=True, check=True, text=True).stdout


# Rows as a league's evenings leave them: fifty bouts are on at once, so that their entries lie between each
# other. In one transaction that empties the table first, which with wal_level = minimal writes no WAL, and
# with the indexes, as the schema has them, made at its end. The rows are read as any others.
FILL = """
SET session_replication_role = replica;
BEGIN;
INSERT INTO card (id, title, date, venue) SELECT 'c' || i, 'Evening ' || i,
to_char(date '2006-01-01' + (i * 7300 / ({bouts} / 10))::int, 'YYYY-MM-DD'), 'Hall' FROM generate_series(0, {bouts} / 10 - 1) AS i;
INSERT INTO bout (id, card, number, weight, rules, terms, referee, arrivals) OVERRIDING SYSTEM VALUE
SELECT i, 'c' || (i - 1) / 10, (i - 1) % 10 + 1, '', 'kickboxing', '', '', 404 FROM generate_series(1, {bouts}) AS i;
INSERT INTO corner SELECT b.id, c, f, lower(f), 'F', 'orthodox', '', '' FROM bout AS b, unnest(ARRAY['red', 'blue']) AS c,
LATERAL (SELECT 'Fighter ' || to_char((b.id - 1 + CASE c WHEN 'red' THEN 0 ELSE
1 + (b.id - 1) / ({bouts} / 10) % ({bouts} / 10 - 1) END) % ({bouts} / 10), 'FM000000') AS f) AS n;
INSERT INTO desk (id, uid, bout, operator, name, corners, shadow, opened_ms) OVERRIDING SYSTEM VALUE
SELECT id, lpad(to_hex(id), 32, '0'), id, 'T', 'T', 'both', false, 1700000000000 FROM bout;
SELECT setval(pg_get_serial_sequence(t, 'id'), {bouts}) FROM unnest(ARRAY['bout', 'desk']) AS t;
TRUNCATE entry;
CREATE TEMP TABLE step AS
SELECT 'DROP INDEX ' || indexrelid::regclass AS drop, replace(pg_get_indexdef(indexrelid), ' ON ONLY ', ' ON ') AS make
FROM pg_index WHERE indrelid = 'entry'::regclass AND NOT indisprimary
UNION ALL SELECT 'ALTER TABLE entry DROP CONSTRAINT ' || conname, 'ALTER TABLE entry ADD ' || pg_get_constraintdef(oid)
FROM pg_constraint WHERE conrelid = 'entry'::regclass AND contype = 'p';
DO $$ DECLARE i record; BEGIN
    FOR i IN SELECT * FROM step LOOP
        EXECUTE i.drop;
    END LOOP;
END $$;
INSERT INTO entry (bout, arrival, desk, seq, utc_ms, at_ms, kind, act, code, round, elapsed_ms, off_clock, review,
accepted, unsure, corner, limb, target, stance, position, outcome, spinning, jumping, knockdown, value, text, prior)
SELECT b, k, b, k, 1700000000000 + k * 1000, 1700000000000 + k * 1000,
CASE WHEN k < 4 THEN 'official' WHEN k % 135 = 4 THEN 'clock' ELSE 'strike' END, 'add',
CASE WHEN k = 1 THEN 'red' WHEN k = 2 THEN 'blue' WHEN k = 3 THEN 'clock' WHEN k % 135 = 4 THEN 'start' ELSE '' END,
1 + k / 139, k % 139 * 1000, false, false, false, false,
CASE WHEN s THEN (ARRAY['red', 'blue'])[1 + k % 2] END,
CASE WHEN s THEN (ARRAY['left_hand', 'right_leg', 'right_hand'])[1 + (b + k) % 3] END,
CASE WHEN s THEN (ARRAY['head', 'body'])[1 + (b * 7 + k) % 2] END, CASE WHEN s THEN 'orthodox' END, 'open',
CASE WHEN s THEN (ARRAY['landed', 'attempted', 'attempted'])[1 + (b * 13 + k) % 3] END,
CASE WHEN s THEN false END, CASE WHEN s THEN false END, CASE WHEN s THEN false END, 0, '',
CASE WHEN k > 1 THEN decode(lpad(to_hex(b * 404 + k), 64, '0'), 'hex') END
FROM generate_series(0, ({bouts} - 1) / 50) AS g, LATERAL generate_series(1, 404 + g * 0) AS k,
LATERAL generate_series(g * 50 + 1, least(g * 50 + 50, {bouts}) + k * 0) AS b,
LATERAL (SELECT k > 4 AND k % 135 <> 4 AS s) AS q;
DO $$ DECLARE i record; BEGIN
    FOR i IN SELECT * FROM step LOOP
        EXECUTE i.make;
    END LOOP;
END $$;
COMMIT;
"""


def scan_times(cluster, database, columns, bouts):
    """Through libpq, all rows taken: the first of a connection, as a command's is, and the next ones of it."""
    query = f"SELECT {columns} FROM entry WHERE bout = ANY ('{{{bouts}}}'::bigint[])"
    said = psql(cluster, database, "\\timing on", "\\o /dev/null", *[query] * 4)
    first, *others = (float(time_) for time_ in re.findall(r"Time: ([\d.]+) ms", said))
    return first, statistics.median(others)


def fill(cluster, database, bouts):
    begun = time.monotonic()
    psql(cluster, database, FILL.format(bouts=bouts))
    psql(cluster, database, "VACUUM ANALYZE")
    return time.monotonic() - begun


def took_ms(ask):
    begun = time.monotonic()
    ask()
    return (time.monotonic() - begun) * 1000


def fought(yard, program, scribe):
    """Bouts of a desk's own, whose digests hold: one fighter's twenty."""
    hall = Hall(program, yard.folder / "fought.db")
    for number in range(20):
        card = yard.folder / f"fought-{number}.ini"
        card.write_text(f"[card]\nid = fought-{number}\ntitle = Hall\ndate = 2027-01-{number + 1:02}\nvenue = Net Loft\n"
                        f"[bout 1]\nrules = kickboxing\nred.name = Ada Quill\nblue.name = Bo Tern {number}\n",
                        encoding="utf-8")
        hall.run("card", "load", card)
        desk = Desk(scribe, hall.database, f"fought-{number}/1", "ann")
        for line in ("start", "many 396", "stop"):
            desk.tell(line)
        desk.close()
    return hall


def ask_at(cluster, asker, hall, size):
    """One fighter's history among so many bouts; returns what it took, in ms."""
    name = f"history{size}"
    cluster.create(name)
    uri = cluster.uri(name)
    asker.ask("hub", "init", uri)
    made = fill(cluster, name, size)
    hall.run("hub", "follow", uri, "--once")
    bouts = psql(cluster, name, "\\t on", f"SELECT string_agg(bout::text, ',') FROM corner WHERE name = '{FIGHTER}'").strip()
    content = cluster.sql("SELECT string_agg(attname, ',') FROM pg_attribute WHERE attrelid = 'entry'::regclass AND "
                          "attnum > 0 AND attname NOT IN ('arrival', 'prior')", name)
    server = f"EXPLAIN (ANALYZE, TIMING OFF) SELECT bout, desk, seq FROM entry WHERE bout = ANY ('{{{bouts}}}'::bigint[])"
    psql(cluster, name, "INSERT INTO card VALUES ('new', 'New', '2027-02-01', 'Hall')",
         "INSERT INTO bout (card, number, weight, rules, terms, referee) VALUES ('new', 1, '', 'kickboxing', '', '')",
         "INSERT INTO corner SELECT id, c, 'New ' || c, 'new ' || c, 'N', 'orthodox', '', '' FROM bout, "
         "unnest(ARRAY['red', 'blue']) AS c WHERE card = 'new'")
    history, nothing, keys, rows, plain = [], [], [], [], []
    turns = TURNS if size > 999 else 3
    for _ in range(turns):
        history.append(took_ms(lambda: asker.ask("history", FIGHTER, "--hub", uri)))
        nothing.append(took_ms(lambda: asker.ask("history", "New red", "--hub", uri)))
        keys.append(scan_times(cluster, name, "bout, desk, seq", bouts))
        rows.append(scan_times(cluster, name, content, bouts))
        plain.append(float(re.search(r"Execution Time: ([\d.]+) ms", psql(cluster, name, server)).group(1)))
    said = asker.ask("history", FIGHTER, "--hub", uri).splitlines()[0]
    assert said.endswith("20 bouts, 20 logged"), said
    took, start = statistics.median(history), statistics.median(nothing)
    (first, warm), (all_first, all_warm) = ([statistics.median(part) for part in zip(*times)] for times in (keys, rows))
    row(f"history of 20 bouts among {size} ({size * 400 / 1e6:.1f} million strikes), ms", f"{took:.1f}", "", "<= 50")
    row("... of it where nothing was logged: start, connection", f"{start:.1f}")
    row("... the rest: what was logged, read and folded", f"{took - start:.1f}", f"{first:.1f} the scan", "<= 3 x")
    row("... of the covering index scan, both new to a connection", f"{(took - start) / first:.1f} x", "", "<= 3 x")
    row("the scan of the names alone, new to a connection; again", f"{first:.1f}", f"{warm:.1f} again")
    row("... on the server, nothing sent", f"{statistics.median(plain):.1f}")
    row("all columns but the digest, new to a connection; again", f"{all_first:.1f}", f"{all_warm:.1f} again")
    for words in (("counts", "fought-19/1"), ("sheet", "fought-19/1"), ("log", "fought-19/1"),
                  ("remarks", "fought-19/1"), ("history", "Ada Quill"), ("history", "quill")):
        times = [took_ms(lambda: asker.ask(*words, "--hub", uri)) for _ in range(max(1, turns // 3))]
        row(f"{' '.join(words)} --hub, ms", f"{statistics.median(times):.1f}")
    space = cluster.sql("SELECT sum(pg_table_size(inhrelid)) / c, sum(pg_indexes_size(inhrelid)) / c FROM pg_inherits, "
                        f"(SELECT {size} * 404.0 AS c) AS n WHERE inhparent = 'entry'::regclass GROUP BY c", name)
    table, indexes = (float(part) for part in space.split("|"))
    row("... bytes an entry, table and indexes", f"{table:.0f} + {indexes:.0f}")
    row("... made in s", f"{made:.0f}")
    cluster.sql(f"DROP DATABASE {name}", "postgres")
    return took


def bench_history(yard, program, scribe, bouts):
    """One fighter's twenty bouts among many and among ten times as many."""
    cluster = yard.cluster("archive", lines=("shared_buffers = 512MB", "max_wal_size = 8GB", "wal_level = minimal",
                                             "max_wal_senders = 0", "maintenance_work_mem = 512MB",
                                             "checkpoint_timeout = 1h"))
    asker, hall = Hall(program, yard.folder / "asker.db"), fought(yard, program, scribe)
    few, many = (ask_at(cluster, asker, hall, size) for size in (bouts // 10, bouts))
    row("ten times the hub, the same bouts", f"{many / few:.2f} x", "", "flat")
