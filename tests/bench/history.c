/* history.c: what one fighter's history costs among many bouts.
 *
 * usage: bench_history [BOUTS [STRIKES_A_BOUT]]
 *
 * Makes a database in a temporary folder straight by SQL: a tenth of the bouts, then all of them,
 * twenty bouts a fighter in either. At each size it reads one fighter's bouts, folds and adds them
 * up, and steps once through the same entries with plain SQL for a floor. The second size shows
 * whether the cost grows with the database. Reports; judges nothing.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <sqlite3.h>

#include "ringtally/base/embedded.h"
#include "ringtally/sheet/history_sheet.h"
#include "ringtally/log/log_history.h"

#define RUNS 15

static void must(int failed, const char *what)
{
    if (failed) {
        fprintf(stderr, "bench_history: %s\n", what);
        exit(1);
    }
}

/* The message is asked for after the call, which the order of arguments would not promise. */
static void must_sql(sqlite3 *db, int result, int expected)
{
    must(result != expected, sqlite3_errmsg(db));
}

static void run(sqlite3 *db, const char *sql, int from, int to, int strikes, int fighters)
{
    sqlite3_stmt *statement = NULL;
    must_sql(db, sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    const int values[] = {from, to, strikes, fighters};
    for (int i = 0; i < 4 && i < sqlite3_bind_parameter_count(statement); i++) {
        sqlite3_bind_int(statement, i + 1, values[i]);
    }
    must_sql(db, sqlite3_step(statement), SQLITE_DONE);
    sqlite3_finalize(statement);
}

/* Bouts from .. to - 1; each fighter has ten in red and ten in blue. */
static void make(const char *path, int from, int to, int strikes)
{
    static const char *const steps[] = {
        "WITH RECURSIVE n (i) AS (SELECT ?1 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < ?2) "
        "INSERT INTO card SELECT DISTINCT 'c' || (i / 10), 'Evening ' || (i / 10), '2026-01-01', "
        "'', "
        "i / 10 + 1 FROM n WHERE i % 10 = 0",
        "WITH RECURSIVE n (i) AS (SELECT ?1 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < ?2) "
        "INSERT INTO bout (id, card, number, weight, rules, rounds, referee, terms) "
        "SELECT i + 1, 'c' || (i / 10), i % 10 + 1, '', 'kickboxing', NULL, '', '' FROM n",
        "WITH RECURSIVE n (i) AS (SELECT ?1 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < ?2) "
        "INSERT INTO corner (bout, corner, name, short_name, stance, origin, record) "
        "SELECT i + 1, c.column1, 'Fighter ' || printf('%05d', CASE c.column1 WHEN 'red' THEN "
        "i % ?4 ELSE (i + 1 + i / ?4) % ?4 END), 'F', 'orthodox', '', '' "
        "FROM n, (VALUES ('red'), ('blue')) AS c WHERE ?3 > 0",
        "WITH RECURSIVE n (i) AS (SELECT ?1 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < ?2) "
        "INSERT INTO desk (id, uid, bout, operator, name, corners, shadow, opened_ms) "
        "SELECT i + 1, printf('%032x', i + 1), i + 1, 'T', 'T', 'both', 0, 0 FROM n",
        /* three offices, then strikes, with a start of the clock where a round begins */
        "WITH RECURSIVE n (i) AS (SELECT ?1 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < ?2), "
        "s (k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM s WHERE k < ?3 + 6), "
        "e AS (SELECT i, k, 1 + (k - 4) / (?3 / 3 + 1) AS r, (k - 4) % (?3 / 3 + 1) AS at, "
        "(i * 7919 + k * 104729) % 1009 AS d FROM n, s WHERE ?4 > 0) "
        "INSERT INTO entry (desk, seq, utc_ms, at_ms, kind, act, code, round, elapsed_ms, "
        "off_clock, review, accepted, corner, limb, target, stance, position, outcome, spinning, "
        "jumping, knockdown, value, text) "
        "SELECT i + 1, k, 1790000000000 + (r - 1) * 240000 + at * 900, "
        "1790000000000 + (r - 1) * 240000 + at * 900, "
        "CASE WHEN k < 4 THEN 'official' WHEN at = 0 THEN 'clock' ELSE 'strike' END, 'add', "
        "CASE k WHEN 1 THEN 'red' WHEN 2 THEN 'blue' WHEN 3 THEN 'clock' ELSE "
        "CASE WHEN at = 0 THEN 'start' ELSE '' END END, max(r, 1), max(at, 0) * 900, 0, 0, 0, "
        "CASE WHEN k > 3 AND at > 0 THEN iif(d % 2, 'red', 'blue') END, "
        "CASE WHEN k > 3 AND at > 0 THEN iif(d % 3, 'left_hand', 'right_leg') END, "
        "CASE WHEN k > 3 AND at > 0 THEN iif(d % 5, 'head', 'body') END, "
        "CASE WHEN k > 3 AND at > 0 THEN 'orthodox' END, 'open', "
        "CASE WHEN k > 3 AND at > 0 THEN iif(d % 7 < 3, 'landed', 'attempted') END, "
        "CASE WHEN k > 3 AND at > 0 THEN 0 END, CASE WHEN k > 3 AND at > 0 THEN 0 END, "
        "CASE WHEN k > 3 AND at > 0 THEN 0 END, 0, '' FROM e",
    };
    sqlite3 *db = NULL;
    must(sqlite3_open(path, &db), "no database");
    must_sql(db,
             sqlite3_exec(db, "PRAGMA synchronous = OFF; PRAGMA cache_size = -200000; BEGIN", NULL,
                          NULL, NULL),
             SQLITE_OK);
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        run(db, steps[i], from, to, strikes, to / 10);
    }
    must_sql(db, sqlite3_exec(db, "COMMIT; PRAGMA wal_checkpoint(TRUNCATE)", NULL, NULL, NULL),
             SQLITE_OK);
    sqlite3_close(db);
}

static double now_ms(void)
{
    struct timespec at;
    clock_gettime(CLOCK_MONOTONIC, &at);
    return (double)at.tv_sec * 1e3 + (double)at.tv_nsec / 1e6;
}

static int by_value(const void *left, const void *right)
{
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

/* Opens, finds, reads, folds, adds up, closes: what the command does but for printing. */
static double history(const char *path, const char *text, const struct rules *rules,
                      struct history *out)
{
    double start = now_ms();
    struct error err = {0};
    struct log *log = NULL;
    struct fighter_bout *bouts = NULL;
    size_t count = 0;
    struct clock_plan plan = clock_plan(rules, 0);
    memset(out, 0, sizeof *out);
    must(log_open(&log, path, LOG_READ, NULL, &err), err.text);
    must(log_fighter_find(log, text, out->name, &err), err.text);
    must(log_fighter_bouts(log, out->name, &bouts, &count, &err), err.text);
    for (size_t i = 0; i < count; i++) {
        struct fold *fold = NULL;
        must(log_fold(log, &bouts[i].bout, &plan, FOLD_OFFICIAL, &fold, &err), err.text);
        struct sheet_view view = {
            .bout = &bouts[i].bout, .rules = rules, .fold = fold, .now_ms = fold_newest_ms(fold)};
        must(history_add(out, &view, (enum corner)bouts[i].corner, bouts[i].title, bouts[i].date,
                         &err),
             err.text);
        fold_free(fold);
    }
    free(bouts);
    log_close(log);
    return now_ms() - start;
}

/* Steps through the entries of the same bouts, and takes each column. */
static double floor_of(const char *path, const char *name)
{
    double start = now_ms();
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    must(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), "no database");
    must_sql(db,
             sqlite3_prepare_v2(db,
                                "SELECT entry.* FROM corner JOIN desk ON desk.bout = corner.bout "
                                "JOIN entry ON entry.desk = desk.id WHERE corner.name = ?1",
                                -1, &row, NULL),
             SQLITE_OK);
    sqlite3_bind_text(row, 1, name, -1, SQLITE_STATIC);
    while (sqlite3_step(row) == SQLITE_ROW) {
        for (int i = 0; i < sqlite3_column_count(row); i++) {
            (void)sqlite3_column_text(row, i);
        }
    }
    sqlite3_finalize(row);
    sqlite3_close(db);
    return now_ms() - start;
}

static double measure(const char *path, int bouts, int strikes, const struct rules *rules)
{
    double exact[RUNS], part[RUNS], floors[RUNS];
    struct history found = {.count = 0};
    for (int i = 0; i < RUNS; i++) {
        history_release(&found);
        part[i] = history(path, "FIGHTER 00002", rules, &found);
        history_release(&found);
        exact[i] = history(path, "Fighter 00002", rules, &found);
        floors[i] = floor_of(path, "Fighter 00002");
    }
    qsort(exact, RUNS, sizeof *exact, by_value);
    qsort(part, RUNS, sizeof *part, by_value);
    qsort(floors, RUNS, sizeof *floors, by_value);
    int thrown = found.all.own.all.attempted + found.all.taken.all.attempted;
    printf("%7d  %9lld  %5zu  %7d  %8.2f  %8.2f  %8.2f  %8.2f  %5.1f\n", bouts,
           (long long)bouts * strikes, found.count, thrown, exact[RUNS / 2], exact[RUNS - 1],
           part[RUNS / 2], floors[RUNS / 2], exact[RUNS / 2] / floors[RUNS / 2]);
    must(found.count != 20 || found.logged != 20, "a fighter has 20 bouts");
    must(thrown < 20 * strikes - 60, "strikes are missing");
    history_release(&found);
    return exact[RUNS / 2];
}

int main(int argc, char **argv)
{
    int bouts = argc > 1 ? atoi(argv[1]) : 10000;
    int strikes = argc > 2 ? atoi(argv[2]) : 400;
    const struct embedded *file = embedded_find("rules/kickboxing.ini");
    struct rules rules;
    struct error err = {0};
    must(bouts < 2000 || bouts % 100 || strikes < 9, "at least 2000 bouts (hundreds), 9 strikes");
    must(!file || rules_parse(&rules, file->data, file->size, file->name, &err), err.text);
    printf("  bouts    strikes    his   thrown  median ms    max ms  by part   floor ms  ratio\n");
    double median[2] = {0, 0};
    for (int size = 0; size < 2; size++) {
        char folder[] = "/tmp/ringtally-bench.XXXXXX";
        char path[80], side[96];
        struct log *log = NULL;
        int count = size ? bouts : bouts / 10;
        must(!mkdtemp(folder), "no folder");
        snprintf(path, sizeof path, "%s/b.db", folder);
        must(log_open(&log, path, LOG_CREATE, NULL, &err), err.text);
        log_close(log);
        make(path, 0, count, strikes);
        median[size] = measure(path, count, strikes, &rules);
        static const char *const ends[] = {"", "-wal", "-shm", ".desks", ".signs"};
        for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
            snprintf(side, sizeof side, "%s%s", path, ends[i]);
            unlink(side);
        }
        rmdir(folder);
    }
    printf("ten times the database, the same bouts: %.2f times the cost\n", median[1] / median[0]);
    return 0;
}
