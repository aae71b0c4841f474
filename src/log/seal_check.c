/* seal_check.c: a seal held against what the bout holds now. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/text.h"
#include "log/chain_sql.h"
#include "log/seal_sql.h"

/* A line of a statement, as much of it as is to be shown. */
static void line_text(char out[80], const char *text, int size)
{
    snprintf(out, 80, "%.*s", size < 79 ? size : 79, text);
    text_defuse(out);
}

/* The fields as they stand against those that were sealed. */
int seal_compare_fields(struct log *log, int64_t bout, const struct log_seal *seal,
                        struct buf *faults, struct error *err)
{
    const char *statement = seal->statement;
    int code = 0, fields = 0;
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_BOUT, err, "l", bout);
    while (row && (code = sql_next(log, row, err)) > 0) {
        const char *word = (const char *)sqlite3_column_text(row, 1);
        const char *value = (const char *)sqlite3_column_text(row, 2);
        int size = sqlite3_column_bytes(row, 2);
        struct seal_line line = seal_find(statement, word ? word : "");
        fields++;
        if (line.size != size || (size && memcmp(line.text, value, (size_t)size) != 0)) {
            char then[80], now[80], what[80];
            line_text(then, line.text, line.size);
            line_text(now, value ? value : "", size);
            line_text(what, word ? word : "", word ? (int)strlen(word) : 0);
            seal_add(faults, "%s is \"%s\" and was sealed as \"%s\"", what, now, then);
        }
    }
    /* What was sealed and is not there at all: a judge, a corner. */
    for (const char *line = statement; row && *line;) {
        size_t length = strcspn(line, "\n");
        bool head = strncmp(line, "ringtally ", 10) == 0 || strncmp(line, "bout ", 5) == 0 ||
                    strncmp(line, "made ", 5) == 0 || strncmp(line, "utc_ms ", 7) == 0 ||
                    strncmp(line, "key ", 4) == 0 || strncmp(line, "desk ", 5) == 0 ||
                    strncmp(line, "by ", 3) == 0;
        fields -= !head;
        line += length + (line[length] == '\n');
    }
    if (row && !code && fields < 0) {
        seal_add(faults, "a judge or a corner that was sealed is gone");
    }
    return row ? code : ERROR_FAILED;
}

struct desk_line {
    char uid[33], hex[DIGEST_TEXT];
    int64_t count, seq;
};

static int compare_desk(struct log *log, int64_t bout, const struct desk_line *line,
                        struct buf *faults, struct error *err)
{
    struct chain_row last = {0};
    char hex[DIGEST_TEXT];
    int64_t desk = 0, of_bout = 0, here = 0;
    int code = log_desk_find(log, line->uid, &desk, &of_bout, err);
    if (!code && (!desk || of_bout != bout)) {
        seal_add(faults, "desk %.8s, which was sealed, is not here", line->uid);
        return 0;
    }
    sqlite3_stmt *row = code ? NULL : sql_query(log, SQL_SEAL_UPTO, err, "ll", desk, line->seq);
    code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code < 0) {
        return code;
    }
    here = sqlite3_column_int64(row, 0);
    sqlite3_reset(row);
    if (here < line->count) {
        seal_add(faults, "%" PRId64 " of %" PRId64 " sealed entries of desk %.8s are not here",
                 line->count - here, line->count, line->uid);
        return 0;
    }
    sqlite3_stmt *rows = line->count ? chain_rows(log, desk, line->seq, err) : NULL;
    code = rows          ? chain_next(log, rows, &last, err)
           : line->count ? ERROR_FAILED
                         : chain_desk_row(log, desk, last.digest, err);
    if (rows) {
        sqlite3_reset(rows);
    }
    hex_write(hex, last.digest, sizeof last.digest);
    if (code >= 0 && strcmp(hex, line->hex) != 0) {
        if (line->count) {
            seal_add(faults, "entry %" PRId64 " of desk %.8s is not as it was sealed", line->seq,
                     line->uid);
        } else {
            seal_add(faults, "the row of desk %.8s is not as it was sealed", line->uid);
        }
    }
    return code < 0 ? code : 0;
}

/* The next "desk ..." line from *at on. */
static bool next_desk(const char **at, struct desk_line *out)
{
    while (**at) {
        const char *line = *at;
        size_t length = strcspn(line, "\n");
        *at += length + (line[length] == '\n');
        *out = (struct desk_line){0};
        if (strncmp(line, "desk ", 5) == 0) {
            return sscanf(line, "desk %32[0-9a-f] %" SCNd64 " %" SCNd64 " %64[0-9a-f]", out->uid,
                          &out->count, &out->seq, out->hex) == 4;
        }
    }
    return false;
}

int seal_compare_desks(struct log *log, int64_t bout, const struct log_seal *seal,
                       struct buf *faults, struct error *err)
{
    const char *at = seal->statement;
    struct desk_line desk;
    int code = 0;
    while (!code && next_desk(&at, &desk)) {
        code = compare_desk(log, bout, &desk, faults, err);
    }
    return code;
}

bool seal_is_by(const struct log_seal *seal, const char *uid, int64_t seq)
{
    char by[64] = "";
    snprintf(by, sizeof by, "%s %" PRId64, uid, seq);
    struct seal_line line = seal_find(seal->statement, "by");
    return line.size == (int)strlen(by) && strncmp(line.text, by, (size_t)line.size) == 0;
}

bool seal_covers(const struct log_seal *seal, const char *uid, int64_t seq)
{
    const char *at = seal->statement;
    struct desk_line desk;
    while (next_desk(&at, &desk)) {
        if (strcmp(desk.uid, uid) == 0) {
            return desk.seq >= seq;
        }
    }
    return false;
}
