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
static int compare_fields(struct log *log, int64_t bout, const char *statement, struct buf *faults,
                          struct error *err)
{
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

int seal_compare(struct log *log, int64_t bout, const struct log_seal *seal, struct buf *faults,
                 struct error *err)
{
    const char *fault = log_seal_fault(seal);
    const char *at = seal->statement;
    struct seal_line made = seal_find(seal->statement, "made");
    struct desk_line desk;
    int code = 0;
    if (fault) {
        seal_add(faults, "%s", fault);
        return 0;
    }
    if (made.size == 4 && strncmp(made.text, "sign", 4) == 0) {
        code = compare_fields(log, bout, seal->statement, faults, err);
    }
    while (!code && next_desk(&at, &desk)) {
        code = compare_desk(log, bout, &desk, faults, err);
    }
    return code;
}

/* The newest of the seals that the entry made. */
static const struct log_seal *seal_of(const struct log_seal *seals, size_t count, const char *uid,
                                      int64_t seq)
{
    char by[64] = "";
    snprintf(by, sizeof by, "%s %" PRId64, uid, seq);
    for (size_t i = count; i-- > 0;) {
        struct seal_line line = seal_find(seals[i].statement, "by");
        if (line.size == (int)strlen(by) && strncmp(line.text, by, (size_t)line.size) == 0) {
            return &seals[i];
        }
    }
    return NULL;
}

int log_seal_check(struct log *log, const struct bout *bout, const struct desk_row *desks,
                   const struct entry *signature, struct seal_state *out, struct buf *faults,
                   struct error *err)
{
    struct log_seal *seals = NULL;
    struct buf found = BUF_INIT;
    size_t count = 0;
    *out = (struct seal_state){0};
    int code = log_seals(log, bout->id, &seals, &count, err);
    const struct log_seal *seal =
        code ? NULL : seal_of(seals, count, desks[signature->name.desk].uid, signature->name.seq);
    if (seal) {
        struct seal_line key = seal_find(seal->statement, "key");
        out->kind = key.size == KEY_TEXT - 1 ? SEAL_KEYED : SEAL_UNKEYED;
        if (out->kind == SEAL_KEYED) {
            memcpy(out->key, key.text, KEY_TEXT - 1);
        }
        code = seal_compare(log, bout->id, seal, &found, err);
        out->broken = found.size > 0;
        code = code || !found.failed ? code : error_memory(err);
    }
    if (found.size && faults) {
        buf_addf(faults, "%s%s", faults->size ? "; " : "", found.text);
    }
    buf_release(&found);
    log_seals_free(seals, count);
    return code;
}
