/* practice_store.c: sessions of practice in SQLite. */
#include "ringtally/log/practice_store.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sqlite3.h>

#include "ringtally/base/embedded.h"
#include "ringtally/base/grow.h"

#define BUSY_MS 5000

int practice_store_path(char *out, size_t size, const char *db, struct error *err)
{
    const char *slash = strrchr(db, '/');
    int folder = slash ? (int)(slash - db) + 1 : 0;
    int length = snprintf(out, size, "%.*spractice.db", folder, db);
    return length >= (int)size
               ? error_set(err, ERROR_FAILED, "%s: too long a path for a practice beside it", db)
               : 0;
}

static int fail(sqlite3 *db, const char *path, struct error *err)
{
    return error_set(err, ERROR_FAILED, "%s: %s", path, sqlite3_errmsg(db));
}

/* The file may come from anybody: nothing in it is run, and it holds tables alone. */
static int harden(sqlite3 *db, const char *path, struct error *err)
{
    sqlite3_stmt *odd = NULL;
    int on = 0, trusted = 1;
    sqlite3_limit(db, SQLITE_LIMIT_LENGTH, 1 << 20);
    if (sqlite3_busy_timeout(db, BUSY_MS) ||
        sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, &on) ||
        sqlite3_db_config(db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, &trusted) || !on || trusted ||
        sqlite3_exec(db, "PRAGMA cell_size_check = ON", NULL, NULL, NULL) ||
        sqlite3_prepare_v2(db,
                           "SELECT 1 FROM sqlite_schema WHERE type IN ('view', 'trigger') OR "
                           "sql LIKE 'CREATE VIRTUAL%'",
                           -1, &odd, NULL)) {
        return fail(db, path, err);
    }
    int result = sqlite3_step(odd);
    int code =
        result == SQLITE_DONE ? 0
        : result == SQLITE_ROW
            ? error_set(err, ERROR_FAILED, "%s: another program has changed this database", path)
            : fail(db, path, err);
    sqlite3_finalize(odd);
    return code;
}

static int store_open(sqlite3 **out, const char *path, bool write, struct error *err)
{
    const struct embedded *schema = embedded_find("schema/practice.sql");
    *out = NULL;
    if (write) { /* its owner's alone, where it is new */
        int file = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
        if (file >= 0) {
            close(file);
        }
    }
    int flags = write ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READONLY;
    int code = sqlite3_open_v2(path, out, flags, NULL) ? fail(*out, path, err) : 0;
    code = code ? code : harden(*out, path, err);
    if (!code && write && sqlite3_exec(*out, schema->data, NULL, NULL, NULL)) {
        code = fail(*out, path, err);
    }
    if (code) {
        sqlite3_close(*out);
        *out = NULL;
    }
    return code;
}

static int save_session(sqlite3 *db, struct practice_session *session)
{
    static const char text[] =
        "INSERT INTO session (at_ms, operator, kind, level, seed, ran_ms, called, had, first, "
        "corrected, added, wrong_corner, wrong_limb, wrong_target, wrong_landed, reaction_ms, "
        "reaction_p90_ms) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)";
    sqlite3_stmt *row = NULL;
    if (sqlite3_prepare_v2(db, text, -1, &row, NULL)) {
        return -1;
    }
    const double figures[] = {
        session->had,         session->first,          session->corrected, session->added,
        session->wrong[0],    session->wrong[1],       session->wrong[2],  session->wrong[3],
        session->reaction_ms, session->reaction_p90_ms};
    bool bound =
        !sqlite3_bind_int64(row, 1, session->at_ms) &&
        !sqlite3_bind_text(row, 2, session->operator_, -1, SQLITE_TRANSIENT) &&
        !sqlite3_bind_text(row, 3, practice_kind_names[session->kind], -1, SQLITE_STATIC) &&
        !sqlite3_bind_text(row, 4, practice_level_names[session->level], -1, SQLITE_STATIC) &&
        !sqlite3_bind_int64(row, 5, session->seed) && !sqlite3_bind_int(row, 6, session->ran_ms) &&
        !sqlite3_bind_int(row, 7, session->called);
    for (int i = 0; bound && i < 10; i++) {
        bool unknown = i >= 8 && figures[i] < 0;
        bound =
            unknown ? !sqlite3_bind_null(row, 8 + i) : !sqlite3_bind_double(row, 8 + i, figures[i]);
    }
    int result = bound ? sqlite3_step(row) : SQLITE_ERROR;
    sqlite3_finalize(row);
    session->id = sqlite3_last_insert_rowid(db);
    return result == SQLITE_DONE ? 0 : -1;
}

static int save_cells(sqlite3 *db, int64_t session, const struct practice_cell *cells, size_t count)
{
    sqlite3_stmt *row = NULL;
    int result = sqlite3_prepare_v2(db, "INSERT INTO cell VALUES (?,?,?,?,?,?,?,?)", -1, &row, NULL)
                     ? SQLITE_ERROR
                     : SQLITE_DONE;
    for (size_t i = 0; result == SQLITE_DONE && i < count; i++) {
        const struct practice_cell *cell = &cells[i];
        const char *const words[] = {corner_names[cell->corner],
                                     limb_names[cell->limb],
                                     target_names[cell->target],
                                     cell->hit ? corner_names[cell->hit_corner] : NULL,
                                     cell->hit ? limb_names[cell->hit_limb] : NULL,
                                     cell->hit ? target_names[cell->hit_target] : NULL};
        bool bound = !sqlite3_bind_int64(row, 1, session);
        for (int k = 0; bound && k < 6; k++) { /* NULL binds NULL */
            bound = !sqlite3_bind_text(row, 2 + k, words[k], -1, SQLITE_STATIC);
        }
        bound = bound && !sqlite3_bind_int(row, 8, cell->count);
        result = bound ? sqlite3_step(row) : SQLITE_ERROR;
        sqlite3_reset(row);
    }
    sqlite3_finalize(row);
    return result == SQLITE_DONE ? 0 : -1;
}

int practice_store_add(const char *path, struct practice_session *session,
                       const struct practice_cell *cells, size_t cell_count, struct error *err)
{
    sqlite3 *db = NULL;
    int code = store_open(&db, path, true, err);
    if (code) {
        return code;
    }
    if (sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL) || save_session(db, session) ||
        save_cells(db, session->id, cells, cell_count) ||
        sqlite3_exec(db, "COMMIT", NULL, NULL, NULL)) {
        code = fail(db, path, err);
        sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
    }
    sqlite3_close(db);
    return code;
}

static const char *text_at(sqlite3_stmt *row, int column)
{
    const char *text = (const char *)sqlite3_column_text(row, column);
    return text ? text : "";
}

/* False: the row is none of this program's. */
static bool read_session(struct practice_session *out, sqlite3_stmt *row)
{
    int kind = name_index(practice_kind_names, PRACTICE_KINDS, text_at(row, 3));
    int level = name_index(practice_level_names, LEVELS, text_at(row, 4));
    *out = (struct practice_session){.id = sqlite3_column_int64(row, 0),
                                     .at_ms = sqlite3_column_int64(row, 1),
                                     .kind = (uint8_t)kind,
                                     .level = (uint8_t)level,
                                     .seed = sqlite3_column_int64(row, 5),
                                     .ran_ms = sqlite3_column_int(row, 6),
                                     .called = sqlite3_column_int(row, 7),
                                     .had = sqlite3_column_double(row, 8),
                                     .first = sqlite3_column_double(row, 9),
                                     .corrected = sqlite3_column_double(row, 10),
                                     .added = sqlite3_column_double(row, 11)};
    snprintf(out->operator_, sizeof out->operator_, "%s", text_at(row, 2));
    for (int i = 0; i < 4; i++) {
        out->wrong[i] = sqlite3_column_double(row, 12 + i);
    }
    bool known = sqlite3_column_type(row, 16) != SQLITE_NULL;
    out->reaction_ms = known ? sqlite3_column_double(row, 16) : -1;
    out->reaction_p90_ms = known ? sqlite3_column_double(row, 17) : -1;
    return kind >= 0 && level >= 0;
}

static bool read_cell(struct practice_cell *out, sqlite3_stmt *row)
{
    bool hit = sqlite3_column_type(row, 3) != SQLITE_NULL;
    const int found[] = {name_index(corner_names, CORNER_COUNT, text_at(row, 0)),
                         name_index(limb_names, LIMB_COUNT, text_at(row, 1)),
                         name_index(target_names, TARGET_COUNT, text_at(row, 2)),
                         hit ? name_index(corner_names, CORNER_COUNT, text_at(row, 3)) : 0,
                         hit ? name_index(limb_names, LIMB_COUNT, text_at(row, 4)) : 0,
                         hit ? name_index(target_names, TARGET_COUNT, text_at(row, 5)) : 0};
    for (int i = 0; i < 6; i++) {
        if (found[i] < 0) {
            return false;
        }
    }
    *out = (struct practice_cell){.corner = (uint8_t)found[0],
                                  .limb = (uint8_t)found[1],
                                  .target = (uint8_t)found[2],
                                  .hit = hit,
                                  .hit_corner = (uint8_t)found[3],
                                  .hit_limb = (uint8_t)found[4],
                                  .hit_target = (uint8_t)found[5],
                                  .count = sqlite3_column_int(row, 6)};
    return true;
}

int practice_store_read(const char *path, const char *operator_, int recent,
                        struct practice_session **sessions, size_t *count,
                        struct practice_cell **cells, size_t *cell_count, struct error *err)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    size_t room = 0, cell_room = 0;
    int result = SQLITE_DONE;
    *sessions = NULL;
    *cells = NULL;
    *count = *cell_count = 0;
    if (access(path, F_OK) != 0) {
        return 0;
    }
    int code = store_open(&db, path, false, err);
    if (code) {
        return code;
    }
    if (sqlite3_prepare_v2(db,
                           "SELECT * FROM session WHERE operator = ? ORDER BY at_ms DESC, id "
                           "DESC",
                           -1, &row, NULL) ||
        sqlite3_bind_text(row, 1, operator_, -1, SQLITE_STATIC)) {
        code = fail(db, path, err);
    }
    while (!code && (result = sqlite3_step(row)) == SQLITE_ROW) {
        if (!grow_array(sessions, sizeof **sessions, *count, 1, &room)) {
            code = error_memory(err);
        } else if (read_session(&(*sessions)[*count], row)) {
            ++*count;
        }
    }
    sqlite3_finalize(row);
    row = NULL;
    if (!code && result == SQLITE_DONE &&
        (sqlite3_prepare_v2(db,
                            "SELECT corner, limb, target, hit_corner, hit_limb, hit_target, "
                            "sum(count) FROM cell WHERE session IN (SELECT id FROM session WHERE "
                            "operator = ?1 ORDER BY at_ms DESC, id DESC LIMIT ?2) GROUP BY 1, 2, "
                            "3, 4, 5, 6 ORDER BY 1, 2, 3, 7 DESC",
                            -1, &row, NULL) ||
         sqlite3_bind_text(row, 1, operator_, -1, SQLITE_STATIC) ||
         sqlite3_bind_int(row, 2, recent))) {
        code = fail(db, path, err);
    }
    while (!code && row && (result = sqlite3_step(row)) == SQLITE_ROW) {
        if (!grow_array(cells, sizeof **cells, *cell_count, 1, &cell_room)) {
            code = error_memory(err);
        } else if (read_cell(&(*cells)[*cell_count], row)) {
            ++*cell_count;
        }
    }
    if (!code && result != SQLITE_DONE) {
        code = fail(db, path, err);
    }
    sqlite3_finalize(row);
    sqlite3_close(db);
    return code;
}
