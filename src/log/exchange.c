/* exchange.c: what came into the database, bout by bout, for who carries it on. */
#include "ringtally/log/exchange.h"

#include <stdlib.h>

#include "log/sql.h"
#include "ringtally/base/grow.h"

int log_unite(struct log *log, struct union_part *part, size_t *added, struct error *err)
{
    int code = sql_begin(log, err);
    code = code ? code : sql_end(log, union_put(log, part, added, err), err);
    *added = code ? 0 : *added;
    return code;
}

static int read_newest(struct log *log, struct log_marks *out, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_NEWEST, err, "");
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code > 0) {
        *out = (struct log_marks){sqlite3_column_int64(row, 0), sqlite3_column_int64(row, 1)};
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

static int list_bouts(struct log *log, const char *card, const struct log_marks *marks,
                      int64_t **bouts, size_t *count, struct error *err)
{
    size_t room = 0;
    int code = 0;
    sqlite3_stmt *row =
        sql_query(log, SQL_BOUTS_SINCE, err, "lls", marks->arrival, marks->desk, card);
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        if (!grow_array(bouts, sizeof **bouts, *count, 1, &room)) {
            sqlite3_reset(row);
            return error_memory(err);
        }
        (*bouts)[(*count)++] = sqlite3_column_int64(row, 0);
    }
    return code;
}

int log_bouts_since(struct log *log, const char *card, struct log_marks *marks, int64_t **bouts,
                    size_t *count, struct error *err)
{
    struct log_marks newest = *marks;
    *bouts = NULL;
    *count = 0;
    int code = sql_begin_read(log, err);
    if (code) {
        return code;
    }
    code = read_newest(log, &newest, err);
    code = code ? code : list_bouts(log, card, marks, bouts, count, err);
    code = sql_end(log, code, err);
    if (code) {
        free(*bouts);
        *bouts = NULL;
        *count = 0;
    } else {
        *marks = newest;
    }
    return code;
}

static int read_bout(struct log *log, int64_t id, struct card *card, struct bout *bout,
                     struct error *err)
{
    char of[sizeof card->id] = "";
    sqlite3_stmt *row = sql_query(log, SQL_BOUT_NAME, err, "l", id);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code ? code : error_set(err, ERROR_MISSING, "%s: a bout is gone", log->path);
    }
    int number = sqlite3_column_int(row, 1);
    sql_text(of, sizeof of, row, 0);
    sqlite3_reset(row);
    *card = (struct card){.bouts = 0};
    code = log_card_head(log, of, card, err);
    return code ? code : log_bout_get(log, of, number, bout, err);
}

int log_bout_of(struct log *log, int64_t id, struct card *card, struct bout *bout,
                struct error *err)
{
    int code = sql_begin_read(log, err);
    return code ? code : sql_end(log, read_bout(log, id, card, bout, err), err);
}
