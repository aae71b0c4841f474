/* merge.c: how fast one database is merged into another, beside SQLite alone.
 *
 * The floor: SQLite inserts the same rows, from memory, by one prepared statement in one
 * transaction, into the same tables with all their constraints and indexes and with foreign keys
 * on, but without the triggers that keep the log append-only. It reads no other database, checks
 * nothing, and gets the cards and desks for nothing. A second line lets SQLite alone copy them from
 * the other database (ATTACH, INSERT ... SELECT), triggers on.
 *
 * usage: bench_merge [BOUTS [TIMES]]; 1,500 entries a bout */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <sqlite3.h>

#include "ringtally/log/log.h"

#define ENTRIES 1500 /* of a bout, by two desks */
#define COLUMNS 30

static _Noreturn void die(const char *what, const char *why)
{
    fprintf(stderr, "bench_merge: %s: %s\n", what, why);
    exit(1);
}

static double now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static uint32_t roll(uint64_t *seed, uint32_t sides)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33) % sides;
}

/* Two desks, a corner each: strikes, every tenth entry a mark on the one before, every fiftieth a
 * correction of any older one. */
static void make_entries(struct entry *out, uint64_t *seed)
{
    int64_t seq[2] = {0, 0};
    for (int i = 0; i < ENTRIES; i++) {
        int desk = i < 2 ? i : (int)roll(seed, 2);
        struct entry entry = {.name = {desk, ++seq[desk]},
                              .undoes = ENTRY_NONE,
                              .utc_ms = 1700000000000 + 300 * i,
                              .at_ms = 1700000000000 + 300 * i,
                              .round = (uint8_t)(1 + i * 3 / ENTRIES),
                              .elapsed_ms = i % 500 * 360};
        entry.subject = entry.name;
        if (i < 2) {
            entry.kind = ENTRY_OFFICIAL;
            entry.code = (uint8_t)(CODE_RED + i);
        } else if (i > 10 && (i % 10 == 9 || i % 50 == 0)) {
            const struct entry *about = &out[i % 50 ? i - 1 : 2 + (int)roll(seed, (uint32_t)i - 2)];
            entry.act = i % 50 ? ACT_REFINE : ACT_AMEND;
            entry.subject = about->subject;
            entry.strike = about->strike;
            entry.strike.outcome = OUTCOME_BLOCKED;
        } else {
            entry.strike = (struct strike){.corner = (uint8_t)desk,
                                           .limb = (uint8_t)roll(seed, 4),
                                           .target = (uint8_t)roll(seed, TARGET_COUNT),
                                           .stance = (uint8_t)roll(seed, 2),
                                           .outcome = (uint8_t)(roll(seed, 10) < 4)};
        }
        out[i] = entry;
    }
}

static void make_source(const char *path, int bouts)
{
    struct error err = {0};
    struct log *log = NULL;
    uint64_t seed = 1;
    struct bout *bout = calloc((size_t)bouts, sizeof *bout);
    struct entry *entries = calloc(ENTRIES, sizeof *entries);
    if (!bout || !entries || log_open(&log, path, LOG_CREATE, NULL, &err)) {
        die("source", err.text);
    }
    for (int i = 0; i < bouts; i++) {
        bout[i] = (struct bout){.card = "bench", .number = i + 1, .rules = "kickboxing"};
        snprintf(bout[i].fighter[CORNER_RED].name, sizeof bout[i].fighter[0].name, "Red %d", i);
        snprintf(bout[i].fighter[CORNER_BLUE].name, sizeof bout[i].fighter[0].name, "Blue %d", i);
    }
    struct card card = {
        .id = "bench", .title = "Bench", .date = "2026-02-28", .bout = bout, .bouts = bouts};
    if (log_card_save(log, &card, &err)) {
        die("card", err.text);
    }
    for (int i = 0; i < bouts; i++) {
        struct bout found;
        struct desk_row desks[2] = {{.operator_ = "ana", .corners = 1},
                                    {.operator_ = "ben", .corners = 2, .root = 1}};
        char ref[32];
        snprintf(ref, sizeof ref, "bench/%d", i + 1);
        make_entries(entries, &seed);
        if (log_bout_find(log, ref, &found, &err) ||
            log_desk_new(log, found.id, &desks[0], 0, &err) ||
            log_desk_new(log, found.id, &desks[1], 0, &err) ||
            log_append(log, desks, entries, ENTRIES, &err)) {
            die("source", err.text);
        }
    }
    log_close(log);
    free(entries);
    free(bout);
}

static void remove_database(const char *path)
{
    static const char *const ends[] = {"", "-wal", "-shm", ".desks"};
    char name[256];
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
}

static void make_empty(const char *path)
{
    struct error err = {0};
    struct log *log = NULL;
    remove_database(path);
    if (log_open(&log, path, LOG_CREATE, NULL, &err)) {
        die(path, err.text);
    }
    log_close(log);
}

static double run_merge(const char *target, const char *source, size_t *added)
{
    struct error err = {0};
    struct log *log = NULL, *other = NULL;
    if (log_open(&log, target, LOG_WRITE, NULL, &err) ||
        log_open(&other, source, LOG_READ, NULL, &err)) {
        die("merge", err.text);
    }
    double begun = now_ms();
    struct log_merged merged = {0};
    if (log_merge(log, other, &merged, &err)) {
        die("merge", err.text);
    }
    double took = now_ms() - begun;
    *added = merged.added;
    log_close(other);
    log_close(log);
    return took;
}

static void sql(sqlite3 *db, const char *text)
{
    if (sqlite3_exec(db, text, NULL, NULL, NULL)) {
        die(text, sqlite3_errmsg(db));
    }
}

/* The target with all that the entries need but the entries. */
static sqlite3 *open_plain(const char *target, const char *source, bool triggers)
{
    sqlite3 *db = NULL;
    char attach[300];
    if (sqlite3_open(target, &db)) {
        die(target, sqlite3_errmsg(db));
    }
    snprintf(attach, sizeof attach, "ATTACH '%s' AS other", source);
    sql(db, "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON");
    sql(db, attach);
    sql(db, "INSERT INTO card SELECT * FROM other.card;"
            "INSERT INTO bout (id, card, number, weight, rules, rounds, terms, referee)"
            " SELECT id, card, number, weight, rules, rounds, terms, referee FROM other.bout;"
            "INSERT INTO corner SELECT * FROM other.corner;"
            "INSERT INTO desk SELECT * FROM other.desk");
    if (!triggers) {
        sql(db, "DROP TRIGGER entry_insert; DROP TRIGGER entry_update; DROP TRIGGER entry_delete;"
                "DROP TRIGGER entry_bout; DROP TRIGGER entry_signed");
    }
    return db;
}

struct rows {
    sqlite3_value **value;
    size_t count;
};

static struct rows read_rows(const char *source)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    struct rows rows = {NULL, 0};
    if (sqlite3_open_v2(source, &db, SQLITE_OPEN_READONLY, NULL) ||
        sqlite3_prepare_v2(db, "SELECT * FROM entry ORDER BY desk, seq", -1, &row, NULL) ||
        sqlite3_column_count(row) != COLUMNS) {
        die(source, sqlite3_errmsg(db));
    }
    for (size_t room = 0; sqlite3_step(row) == SQLITE_ROW; rows.count++) {
        if (rows.count == room) {
            room = room ? room * 2 : 1024;
            rows.value = realloc(rows.value, room * COLUMNS * sizeof *rows.value);
        }
        for (int i = 0; i < COLUMNS; i++) {
            sqlite3_value *value = rows.value ? sqlite3_value_dup(sqlite3_column_value(row, i)) : 0;
            if (!value) {
                die("rows", "out of memory");
            }
            rows.value[rows.count * COLUMNS + (size_t)i] = value;
        }
    }
    sqlite3_finalize(row);
    sqlite3_close(db);
    return rows;
}

static double run_floor(const char *target, const char *source, const struct rows *rows)
{
    sqlite3 *db = open_plain(target, source, false);
    sqlite3_stmt *save = NULL;
    char text[256] = "INSERT INTO entry VALUES (?";
    for (int i = 1; i < COLUMNS; i++) {
        strncat(text, ",?", sizeof text - strlen(text) - 1);
    }
    strncat(text, ")", sizeof text - strlen(text) - 1);
    if (sqlite3_prepare_v2(db, text, -1, &save, NULL)) {
        die("floor", sqlite3_errmsg(db));
    }
    double begun = now_ms();
    sql(db, "BEGIN IMMEDIATE");
    for (size_t row = 0; row < rows->count; row++) {
        for (int i = 0; i < COLUMNS; i++) {
            sqlite3_value *value = rows->value[row * COLUMNS + (size_t)i];
            switch (sqlite3_value_type(value)) {
            case SQLITE_INTEGER:
                sqlite3_bind_int64(save, i + 1, sqlite3_value_int64(value));
                break;
            case SQLITE_NULL:
                sqlite3_bind_null(save, i + 1);
                break;
            case SQLITE_BLOB:
                sqlite3_bind_blob(save, i + 1, sqlite3_value_blob(value),
                                  sqlite3_value_bytes(value), SQLITE_STATIC);
                break;
            default:
                sqlite3_bind_text(save, i + 1, (const char *)sqlite3_value_text(value),
                                  sqlite3_value_bytes(value), SQLITE_STATIC);
                break;
            }
        }
        if (sqlite3_step(save) != SQLITE_DONE) {
            die("floor", sqlite3_errmsg(db));
        }
        sqlite3_reset(save);
    }
    sql(db, "COMMIT");
    double took = now_ms() - begun;
    sqlite3_finalize(save);
    sqlite3_close(db);
    return took;
}

static double run_copy(const char *target, const char *source)
{
    sqlite3 *db = open_plain(target, source, true);
    double begun = now_ms();
    sql(db, "BEGIN IMMEDIATE; INSERT INTO entry SELECT * FROM other.entry; COMMIT");
    double took = now_ms() - begun;
    sqlite3_close(db);
    return took;
}

static int by_value(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

/* The rate beside the floor's of the same turn, since the machine's pace changes from turn to turn.
 */
static void report(const char *what, double *took, const double *floor, int times, size_t rows)
{
    double ratio[1000];
    for (int i = 0; i < times; i++) {
        ratio[i] = floor[i] / took[i] * 100;
    }
    qsort(took, (size_t)times, sizeof *took, by_value);
    qsort(ratio, (size_t)times, sizeof *ratio, by_value);
    printf("%-44s %7.1f ms, %7.0f rows/s, %3.0f %% of the floor\n", what, took[times / 2],
           (double)rows / took[times / 2] * 1e3, ratio[times / 2]);
}

int main(int argc, char **argv)
{
    int bouts = argc > 1 ? atoi(argv[1]) : 10;
    int times = argc > 2 ? atoi(argv[2]) : 15;
    char folder[] = "bench-merge.XXXXXX";
    char source[64], target[64];
    size_t added = 0;
    if (bouts < 1 || bouts > 200 || times < 1 || times > 1000) {
        fputs("usage: bench_merge [BOUTS [TIMES]]\n", stderr);
        return 2;
    }
    double *took[4];
    for (int i = 0; i < 4; i++) {
        took[i] = calloc((size_t)times, sizeof **took);
        if (!took[i]) {
            die("times", "out of memory");
        }
    }
    if (!mkdtemp(folder)) {
        die(folder, "cannot be made");
    }
    snprintf(source, sizeof source, "%s/source.db", folder);
    snprintf(target, sizeof target, "%s/target.db", folder);
    make_source(source, bouts);
    struct rows rows = read_rows(source);
    for (int i = 0; i < times; i++) {
        make_empty(target);
        took[0][i] = run_floor(target, source, &rows);
        make_empty(target);
        took[1][i] = run_merge(target, source, &added);
        if (added != rows.count) {
            die("merge", "not every row came over");
        }
        took[2][i] = run_merge(target, source, &added);
        if (added != 0) {
            die("merge again", "something was new");
        }
        make_empty(target);
        took[3][i] = run_copy(target, source);
    }
    printf("%zu entries, %d times, medians\n", rows.count, times);
    report("merge into an empty database (>= 60 %)", took[1], took[0], times, rows.count);
    report("merge again, nothing new", took[2], took[0], times, rows.count);
    report("SQLite alone: INSERT ... SELECT, triggers on", took[3], took[0], times, rows.count);
    report("SQLite alone: INSERT, no triggers (floor)", took[0], took[0], times, rows.count);
    for (size_t i = 0; i < rows.count * COLUMNS; i++) {
        sqlite3_value_free(rows.value[i]);
    }
    free(rows.value);
    for (int i = 0; i < 4; i++) {
        free(took[i]);
    }
    remove_database(target);
    remove_database(source);
    return rmdir(folder) == 0 ? 0 : 1;
}
