/* chain_sql.c: the chains of a database's desks. */
#include "log/chain_sql.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/when.h"
#include "log/seal_sql.h"

/* Feeds a column as it stands, whatever its type. */
static void feed_column(struct digest *digest, sqlite3_stmt *row, int column)
{
    const char *text = NULL;
    double real = 0;
    int64_t bits = 0;
    switch (sqlite3_column_type(row, column)) {
    case SQLITE_INTEGER:
        digest_number(digest, sqlite3_column_int64(row, column));
        break;
    case SQLITE_TEXT:
        text = (const char *)sqlite3_column_text(row, column);
        digest_text(digest, text ? text : "", (size_t)sqlite3_column_bytes(row, column));
        break;
    case SQLITE_BLOB:
        digest_bytes(digest, sqlite3_column_blob(row, column),
                     (size_t)sqlite3_column_bytes(row, column));
        break;
    case SQLITE_FLOAT: /* none of ours is; it only must not pass for something else */
        real = sqlite3_column_double(row, column);
        memcpy(&bits, &real, sizeof bits);
        digest_bytes(digest, &bits, sizeof bits);
        break;
    default:
        digest_none(digest);
        break;
    }
}

static void feed_columns(struct digest *digest, sqlite3_stmt *row, int from, int end)
{
    for (int column = from; column < end; column++) {
        feed_column(digest, row, column);
    }
}

/* The digest of a row of SQL_CHAIN_ROWS; `prior` instead of the one that stands there, or NULL. */
static void digest_row(uint8_t out[32], sqlite3_stmt *row, const uint8_t *prior)
{
    struct digest digest;
    digest_begin(&digest, CHAIN_ENTRY);
    feed_columns(&digest, row, 1, 3);
    if (prior) {
        digest_bytes(&digest, prior, DIGEST_BYTES);
    } else {
        feed_column(&digest, row, 3);
    }
    feed_columns(&digest, row, 4, sqlite3_column_count(row));
    digest_end(&digest, out);
}

sqlite3_stmt *chain_rows(struct log *log, int64_t desk, int64_t seq, struct error *err)
{
    return sql_query(log, SQL_CHAIN_ROWS, err, "ll", desk, seq);
}

int chain_next(struct log *log, sqlite3_stmt *rows, struct chain_row *out, struct error *err)
{
    int code = sql_next(log, rows, err);
    if (code <= 0) {
        return code;
    }
    *out = (struct chain_row){.arrival = sqlite3_column_int64(rows, 0),
                              .seq = sqlite3_column_int64(rows, 2)};
    const void *prior = sqlite3_column_blob(rows, 3);
    out->chained = prior && sqlite3_column_bytes(rows, 3) == DIGEST_BYTES;
    if (out->chained) {
        memcpy(out->prior, prior, sizeof out->prior);
    }
    digest_row(out->digest, rows, NULL);
    return 1;
}

int chain_desk_row(struct log *log, int64_t desk, uint8_t out[32], struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_CHAIN_DESK, err, "l", desk);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code ? code : error_set(err, ERROR_FAILED, "%s: a desk is gone", log->path);
    }
    struct digest digest;
    digest_begin(&digest, CHAIN_DESK);
    feed_columns(&digest, row, 0, sqlite3_column_count(row));
    digest_end(&digest, out);
    sqlite3_reset(row);
    return 0;
}

/* The head before entry `seq` into log->head; its desk stays 0 where that entry is not here. */
static int find_head(struct log *log, int64_t desk, int64_t seq, struct error *err)
{
    struct chain_row row = {0};
    log->head.desk = 0;
    if (seq == 1) {
        int code = chain_desk_row(log, desk, log->head.digest, err);
        log->head.seq = 0;
        log->head.desk = code ? 0 : desk;
        return code;
    }
    sqlite3_stmt *rows = chain_rows(log, desk, seq - 1, err);
    int code = rows ? chain_next(log, rows, &row, err) : ERROR_FAILED;
    if (code > 0) {
        sqlite3_reset(rows);
    }
    if (code > 0 && row.seq == seq - 1) {
        log->head = (struct chain_head){.desk = desk, .seq = row.seq};
        memcpy(log->head.digest, row.digest, sizeof row.digest);
    }
    return code < 0 ? code : 0;
}

int chain_link(struct log *log, const struct desk_row *desks, struct entry *entry,
               struct error *err)
{
    int64_t desk = desks[entry->name.desk].id;
    int code = 0;
    if (chain_known(entry->prior)) {
        return 0;
    }
    if (log->head.desk != desk || log->head.seq != entry->name.seq - 1) {
        code = find_head(log, desk, entry->name.seq, err);
    }
    if (!code && log->head.desk) {
        memcpy(entry->prior, log->head.digest, sizeof entry->prior);
    }
    return code;
}

void chain_note(struct log *log, const struct desk_row *desks, const struct entry *entry)
{
    log->head = (struct chain_head){.desk = desks[entry->name.desk].id, .seq = entry->name.seq};
    chain_entry(log->head.digest, desks, entry);
}

/* One desk's rows, each with the digest of the one before it. (The walk is begun anew behind each,
 * since it changes what it walks over.) */
static int adopt_desk(struct log *log, int64_t desk, struct error *err)
{
    uint8_t head[DIGEST_BYTES];
    int64_t seq = 0; /* that `head` is of */
    int code = chain_desk_row(log, desk, head, err);
    while (!code) {
        struct chain_row row = {0};
        uint8_t digest[DIGEST_BYTES];
        sqlite3_stmt *rows = chain_rows(log, desk, seq + 1, err);
        code = rows ? chain_next(log, rows, &row, err) : ERROR_FAILED;
        if (code <= 0) {
            return code;
        }
        bool next = row.seq == seq + 1;
        digest_row(digest, rows, next ? head : NULL);
        sqlite3_reset(rows);
        code =
            next ? sql_run(log, SQL_CHAIN_SET, err, "lb", row.arrival, head, (int)sizeof head) : 0;
        memcpy(head, digest, sizeof head);
        seq = row.seq;
    }
    return code;
}

/* The first number of a list of rows whose number is above `after`; 0: none. */
static int next_number(struct log *log, enum sql list, int64_t after, int64_t *out,
                       struct error *err)
{
    sqlite3_stmt *row = sql_query(log, list, err, "l", after);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    *out = 0;
    if (code > 0) {
        *out = sqlite3_column_int64(row, 0);
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

static int adopt_all(struct log *log, struct error *err)
{
    int64_t desk = 0, bout = 0, now_ms = when_now();
    int code = next_number(log, SQL_CHAIN_DESKS, 0, &desk, err);
    while (!code && desk) {
        code = adopt_desk(log, desk, err);
        code = code ? code : next_number(log, SQL_CHAIN_DESKS, desk, &desk, err);
    }
    code = code ? code : next_number(log, SQL_CHAIN_BOUTS, 0, &bout, err);
    while (!code && bout) {
        code = seal_made_later(log, bout, "migration", now_ms, err);
        code = code ? code : next_number(log, SQL_CHAIN_BOUTS, bout, &bout, err);
    }
    return code;
}

int chain_adopt(struct log *log, struct error *err)
{
    /* Entries are never changed, says a trigger; here they get what they had no room for. */
    int off = 1;
    if (sqlite3_db_config(log->db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, &off) || off) {
        return sql_fail(log, err);
    }
    int code = adopt_all(log, err);
    if (sqlite3_db_config(log->db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 1, &off) && !code) {
        code = sql_fail(log, err);
    }
    return code;
}
