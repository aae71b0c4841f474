/* log_schema.c: the steps that make a database, and whether one is just what they make. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/embedded.h"
#include "log/sql.h"

const char schema_made[] = "ce0e716963029c5dcc892a8934c68ab7a8eef74ef496a9c1a4495af1682344be";

/* Views are derived and made anew, and nothing here reads them. What SQLite makes itself is not
 * compared. */
static const char list[] =
    "SELECT type, name, tbl_name, sql FROM sqlite_schema WHERE type <> 'view' AND "
    "name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY type, name";
#define COLUMNS 4

/* The migration that leads to `version`: schema/NNN-*.sql; NULL: there is none. */
const struct embedded *schema_step(int version)
{
    char prefix[24] = "";
    int size = snprintf(prefix, sizeof prefix, "schema/%03d-", version);
    for (const struct embedded *file = embedded_files; file->name; file++) {
        if (strncmp(file->name, prefix, (size_t)size) == 0) {
            return file;
        }
    }
    return NULL;
}

int schema_newest(void)
{
    int version = 0;
    while (schema_step(version + 1)) {
        version++;
    }
    return version;
}

/* A database that the steps made in memory. */
static int make_sample(sqlite3 **out, int version)
{
    int result = sqlite3_open_v2(":memory:", out, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL);
    for (int step = 1; step <= version && !result; step++) {
        result = sqlite3_exec(*out, schema_step(step)->data, NULL, NULL, NULL);
    }
    return result;
}

static bool same_text(sqlite3_stmt *a, sqlite3_stmt *b, int column)
{
    int type = sqlite3_column_type(a, column), due = sqlite3_column_type(b, column);
    const char *one = (const char *)sqlite3_column_text(a, column);
    const char *other = (const char *)sqlite3_column_text(b, column);
    return type == due && (one && other ? strcmp(one, other) == 0 : one == other);
}

/* Walks both lists, which are in the same order, side by side. */
static int compare(struct log *log, sqlite3_stmt *here, sqlite3_stmt *wanted, struct error *err)
{
    for (;;) {
        int there = sqlite3_step(here);
        int due = sqlite3_step(wanted);
        if (there != SQLITE_ROW && there != SQLITE_DONE) {
            return sql_fail(log, err);
        }
        if (due != SQLITE_ROW && due != SQLITE_DONE) {
            return error_memory(err);
        }
        if (there == SQLITE_DONE && due == SQLITE_DONE) {
            return 0;
        }
        bool same = there == due;
        for (int column = 0; same && column < COLUMNS; column++) {
            same = same_text(here, wanted, column);
        }
        if (!same) {
            sqlite3_stmt *named = there == SQLITE_ROW ? here : wanted;
            char type[16] = "", name[64] = "";
            sql_text(type, sizeof type, named, 0);
            sql_text(name, sizeof name, named, 1);
            return error_set(err, ERROR_FAILED,
                             "%s: its %s %s is not as ringtally makes it: another program has "
                             "changed this database",
                             log->path, type, name);
        }
    }
}

int schema_digest(char out[DIGEST_TEXT], sqlite3 *db)
{
    struct digest digest;
    unsigned char bytes[DIGEST_BYTES];
    sqlite3_stmt *rows = NULL;
    int result = sqlite3_prepare_v2(db, list, -1, &rows, NULL);
    digest_begin(&digest, "schema");
    while (!result && (result = sqlite3_step(rows)) == SQLITE_ROW) {
        for (int column = 0; column < COLUMNS; column++) {
            int type = sqlite3_column_type(rows, column);
            const char *text = (const char *)sqlite3_column_text(rows, column);
            digest_number(&digest, type);
            digest_text(&digest, text, text ? (size_t)sqlite3_column_bytes(rows, column) : 0);
        }
        result = 0;
    }
    digest_end(&digest, bytes);
    hex_write(out, bytes, sizeof bytes);
    sqlite3_finalize(rows);
    return result == SQLITE_DONE ? 0 : -1;
}

/* A sample costs more than all else that opening does; so the newest schema is known by its digest,
 * and what has another (an older one, what another SQLite wrote otherwise, what somebody changed)
 * is held against one. */
int schema_check(struct log *log, int version, struct error *err)
{
    char digest[DIGEST_TEXT];
    if (version == schema_newest() && !schema_digest(digest, log->db) &&
        strcmp(digest, schema_made) == 0) {
        return 0;
    }
    sqlite3 *sample = NULL;
    sqlite3_stmt *here = NULL, *wanted = NULL;
    int code = 0;
    if (make_sample(&sample, version) || sqlite3_prepare_v2(sample, list, -1, &wanted, NULL)) {
        code = error_memory(err);
    } else if (sqlite3_prepare_v2(log->db, list, -1, &here, NULL)) {
        code = sql_fail(log, err);
    } else {
        code = compare(log, here, wanted, err);
    }
    sqlite3_finalize(here);
    sqlite3_finalize(wanted);
    sqlite3_close(sample);
    return code;
}
