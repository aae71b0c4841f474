/* seal.c: seals, made and kept. */
#include "log/seal_sql.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "log/chain_sql.h"

#define FIRST_LINE "ringtally seal 1\n"

/* "WORD VALUE" lines of what is said of the bout beside its entries. */
static int add_fields(struct buf *out, struct log *log, int64_t bout, struct error *err)
{
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_BOUT, err, "l", bout);
    while (row && (code = sql_next(log, row, err)) > 0) {
        char value[512];
        sql_text(value, sizeof value, row, 2); /* one line, whatever stands there */
        buf_addf(out, "%s %s\n", (const char *)sqlite3_column_text(row, 1), value);
    }
    return row ? code : ERROR_FAILED;
}

static int add_desk(struct buf *out, struct log *log, sqlite3_stmt *row, struct error *err)
{
    char hex[DIGEST_TEXT];
    struct chain_row last = {0};
    int64_t desk = sqlite3_column_int64(row, 0);
    int64_t count = sqlite3_column_int64(row, 3), seq = sqlite3_column_int64(row, 4);
    sqlite3_stmt *rows = count ? chain_rows(log, desk, seq, err) : NULL;
    int code = rows    ? chain_next(log, rows, &last, err)
               : count ? ERROR_FAILED
                       : chain_desk_row(log, desk, last.digest, err);
    if (rows) {
        sqlite3_reset(rows);
    }
    hex_write(hex, last.digest, sizeof last.digest);
    buf_addf(out, "desk %s %" PRId64 " %" PRId64 " %s\n", (const char *)sqlite3_column_text(row, 1),
             count, seq, hex);
    return code < 0 ? code : 0;
}

static int add_desks(struct buf *out, struct log *log, int64_t bout, struct error *err)
{
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_DESKS, err, "l", bout);
    while (row && (code = sql_next(log, row, err)) > 0) {
        code = add_desk(out, log, row, err);
        if (code) {
            sqlite3_reset(row);
            return code;
        }
    }
    return row ? code : ERROR_FAILED;
}

static int add_head(struct buf *out, struct log *log, int64_t bout, const char *made,
                    int64_t now_ms, const struct keypair *keys, struct error *err)
{
    char key[KEY_TEXT] = "none", name[80] = "";
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_NAME, err, "l", bout);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code ? code : error_set(err, ERROR_FAILED, "%s: a bout is gone", log->path);
    }
    snprintf(name, sizeof name, "%s", (const char *)sqlite3_column_text(row, 0));
    sqlite3_reset(row);
    if (keys) {
        hex_write(key, keys->public_, sizeof keys->public_);
    }
    buf_addf(out, FIRST_LINE "bout %s\nmade %s\nutc_ms %" PRId64 "\nkey %s\n", name, made, now_ms,
             key);
    return 0;
}

static int save(struct log *log, int64_t bout, const struct log_seal *seal, struct error *err)
{
    return sql_run(log, SQL_SEAL_SAVE, err, "lsbb", bout, seal->statement, seal->digest,
                   (int)sizeof seal->digest, seal->has_signature ? seal->signature : NULL,
                   (int)sizeof seal->signature);
}

static int finish(struct log *log, int64_t bout, struct buf *statement, const struct keypair *keys,
                  struct error *err)
{
    struct log_seal seal = {.statement = statement->text, .has_signature = keys != NULL};
    if (statement->failed) {
        return error_memory(err);
    }
    blake2b(seal.digest, sizeof seal.digest, statement->text, statement->size);
    if (keys) {
        keypair_sign(seal.signature, keys, statement->text, statement->size);
    }
    return save(log, bout, &seal, err);
}

int seal_signed(struct log *log, const struct log_sign *sign, const char *uid,
                const struct entry *entry, struct error *err)
{
    struct buf statement = BUF_INIT;
    int code = add_head(&statement, log, sign->bout, "sign", entry->at_ms, sign->keys, err);
    code = code ? code : add_fields(&statement, log, sign->bout, err);
    code = code ? code : add_desks(&statement, log, sign->bout, err);
    buf_addf(&statement, "by %s %" PRId64 "\n", uid, entry->name.seq);
    code = code ? code : finish(log, sign->bout, &statement, sign->keys, err);
    buf_release(&statement);
    return code;
}

int seal_made_later(struct log *log, int64_t bout, const char *made, int64_t now_ms,
                    struct error *err)
{
    struct buf statement = BUF_INIT;
    int code = add_head(&statement, log, bout, made, now_ms, NULL, err);
    code = code ? code : add_desks(&statement, log, bout, err);
    code = code ? code : finish(log, bout, &statement, NULL, err);
    buf_release(&statement);
    return code;
}

int seal_put(struct log *log, int64_t bout, const struct log_seal *seal, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_THERE, err, "s", seal->statement);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code > 0) {
        sqlite3_reset(row);
        return 0;
    }
    return code ? code : save(log, bout, seal, err);
}

static int read_seal(struct log_seal *out, sqlite3_stmt *row, struct error *err)
{
    size_t size = (size_t)sqlite3_column_bytes(row, 0);
    const char *text = (const char *)sqlite3_column_text(row, 0);
    const void *digest = sqlite3_column_blob(row, 1);
    const void *signature = sqlite3_column_blob(row, 2);
    *out = (struct log_seal){.statement = malloc(size + 1)};
    if (!out->statement) {
        return error_memory(err);
    }
    memcpy(out->statement, text ? text : "", text ? size : 0);
    out->statement[text ? size : 0] = '\0';
    if (digest && sqlite3_column_bytes(row, 1) == sizeof out->digest) {
        memcpy(out->digest, digest, sizeof out->digest);
    }
    out->has_signature = signature != NULL;
    if (signature && sqlite3_column_bytes(row, 2) == sizeof out->signature) {
        memcpy(out->signature, signature, sizeof out->signature);
    }
    return 0;
}

void log_seals_free(struct log_seal *seals, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        free(seals[i].statement);
    }
    free(seals);
}

int log_seals(struct log *log, int64_t bout, struct log_seal **out, size_t *count,
              struct error *err)
{
    struct log_seal *seals = NULL;
    size_t used = 0;
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_GET, err, "l", bout);
    while (row && (code = sql_next(log, row, err)) > 0) {
        struct log_seal *more = realloc(seals, (used + 1) * sizeof *more);
        code = more ? 0 : error_memory(err);
        seals = more ? more : seals;
        code = code ? code : read_seal(&seals[used], row, err);
        if (code) {
            sqlite3_reset(row);
            break;
        }
        used++;
    }
    if (!row || code) {
        log_seals_free(seals, used);
        return row ? code : ERROR_FAILED;
    }
    *out = seals;
    *count = used;
    return 0;
}

struct seal_line seal_find(const char *statement, const char *word)
{
    size_t size = strlen(word);
    for (const char *line = statement; *line;) {
        size_t length = strcspn(line, "\n");
        if (length > size && strncmp(line, word, size) == 0 && line[size] == ' ') {
            return (struct seal_line){line + size + 1, (int)(length - size - 1)};
        }
        line += length + (line[length] == '\n');
    }
    return (struct seal_line){"", 0};
}

const char *log_seal_fault(const struct log_seal *seal)
{
    unsigned char digest[DIGEST_BYTES], public_[KEY_BYTES];
    char key[KEY_TEXT] = "";
    size_t size = strlen(seal->statement);
    blake2b(digest, sizeof digest, seal->statement, size);
    if (memcmp(digest, seal->digest, sizeof digest) != 0) {
        return "a seal's words were changed";
    }
    if (strncmp(seal->statement, FIRST_LINE, sizeof FIRST_LINE - 1) != 0) {
        return "a seal has a form that this ringtally does not know";
    }
    struct seal_line line = seal_find(seal->statement, "key");
    bool keyed = line.size == KEY_TEXT - 1;
    snprintf(key, sizeof key, "%.*s", line.size < KEY_TEXT ? line.size : 0, line.text);
    if (keyed != seal->has_signature) {
        return keyed ? "a seal's signature is gone" : "a seal has a signature without a key";
    }
    return !keyed || (hex_read(public_, sizeof public_, key) &&
                      keypair_holds(seal->signature, public_, seal->statement, size))
               ? NULL
               : "a seal's signature does not hold";
}

void seal_add(struct buf *faults, const char *format, ...)
{
    char text[400] = "";
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (!faults->size || !strstr(faults->text, text)) { /* two seals may find the same */
        buf_addf(faults, "%s%s", faults->size ? "; " : "", text);
    }
}
