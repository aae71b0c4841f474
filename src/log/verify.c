/* verify.c: a database and its chains, held against what they say of themselves. */
#include "ringtally/log/verify.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log/chain_sql.h"
#include "log/seal_sql.h"
#include "log/verify_sql.h"

#define FAULTS_MAX 20 /* of one kind, told of one bout */

int verify_file(struct log *log, struct buf *faults, struct error *err)
{
    char text[200];
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_CHECK_FILE, err, "");
    while (row && (code = sql_next(log, row, err)) > 0) {
        sql_text(text, sizeof text, row, 0);
        if (strcmp(text, "ok") != 0) {
            seal_add(faults, "%s", text);
        }
    }
    row = row && !code ? sql_query(log, SQL_CHECK_REFERENCES, err, "") : NULL;
    code = row ? 0 : ERROR_FAILED;
    while (row && (code = sql_next(log, row, err)) > 0) {
        sql_text(text, sizeof text, row, 0);
        seal_add(faults, "a row of %s names one that is not there", text);
    }
    return code;
}

/* A desk whose chain is followed. */
struct followed {
    int64_t id;
    char uid[33], name[72];
    int64_t count; /* rows met */
    int64_t seq;   /* of the last one; 0: none yet */
    uint8_t digest[32];
    int faults;
};

static void add_fault(struct followed *desk, struct buf *faults, const char *what, int64_t from,
                      int64_t to)
{
    char numbers[48];
    if (++desk->faults > FAULTS_MAX) {
        if (desk->faults == FAULTS_MAX + 1) {
            seal_add(faults, "and more of %s", desk->name);
        }
        return;
    }
    snprintf(numbers, sizeof numbers, to > from ? "%" PRId64 "-%" PRId64 : "%" PRId64, from, to);
    seal_add(faults, "entr%s %s of %s (desk %.8s) %s", to > from ? "ies" : "y", numbers, desk->name,
             desk->uid, what);
}

/* One row behind the last. */
static void follow(struct followed *desk, const struct chain_row *row, struct verified *out,
                   struct buf *faults)
{
    if (row->seq != desk->seq + 1) {
        add_fault(desk, faults, row->seq > desk->seq + 2 ? "are not here" : "is not here",
                  desk->seq + 1, row->seq - 1);
    } else if (row->chained && memcmp(row->prior, desk->digest, sizeof row->prior) != 0) {
        if (desk->seq) {
            add_fault(desk, faults, "is not what the next one says it was", desk->seq, desk->seq);
        } else {
            seal_add(faults, "the row of %s (desk %.8s) is not what its first entry says it was",
                     desk->name, desk->uid);
        }
    }
    out->unchained += !row->chained;
    desk->seq = row->seq;
    desk->count++;
    memcpy(desk->digest, row->digest, sizeof desk->digest);
}

static int follow_desk(struct log *log, struct followed *desk, struct verified *out,
                       struct buf *faults, struct error *err)
{
    struct chain_row row = {0};
    int code = chain_desk_row(log, desk->id, desk->digest, err);
    sqlite3_stmt *rows = code ? NULL : chain_rows(log, desk->id, INT64_MIN, err);
    code = rows ? 0 : ERROR_FAILED;
    while (rows && (code = chain_next(log, rows, &row, err)) > 0) {
        follow(desk, &row, out, faults);
    }
    out->entries += desk->count;
    out->desks++;
    return code;
}

static int follow_desks(struct log *log, int64_t bout, struct verified *out, struct buf *faults,
                        struct error *err)
{
    int code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_DESKS, err, "l", bout);
    while (row && (code = sql_next(log, row, err)) > 0) {
        struct followed desk = {.id = sqlite3_column_int64(row, 0)};
        sql_text(desk.uid, sizeof desk.uid, row, 1);
        sql_text(desk.name, sizeof desk.name, row, 2);
        code = follow_desk(log, &desk, out, faults, err);
        if (code) {
            sqlite3_reset(row);
            return code;
        }
    }
    return row ? code : ERROR_FAILED;
}

static int check_names(struct log *log, int64_t bout, struct buf *faults, struct error *err)
{
    int code = 0, found = 0;
    sqlite3_stmt *row = sql_query(log, SQL_CHECK_NAMES, err, "l", bout);
    while (row && (code = sql_next(log, row, err)) > 0) {
        char name[72], other[72];
        sql_text(name, sizeof name, row, 0);
        sql_text(other, sizeof other, row, 2);
        if (++found <= FAULTS_MAX) {
            seal_add(faults,
                     "entry %" PRId64 " of %s is about entry %" PRId64 " of %s, which is not here",
                     (int64_t)sqlite3_column_int64(row, 1), name,
                     (int64_t)sqlite3_column_int64(row, 3), other[0] ? other : "no desk");
        }
    }
    return row ? code : ERROR_FAILED;
}

/* The signature that stands; seq 0: none does. */
struct signature {
    char uid[33];
    int64_t seq;
};

static int find_signature(struct log *log, int64_t bout, struct signature *out, struct error *err)
{
    char word[16];
    *out = (struct signature){0};
    sqlite3_stmt *row = sql_query(log, SQL_SEAL_SIGN, err, "l", bout);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code;
    }
    sql_text(word, sizeof word, row, 0);
    if (strcmp(word, "sign") == 0) {
        sql_text(out->uid, sizeof out->uid, row, 1);
        out->seq = sqlite3_column_int64(row, 2);
    }
    sqlite3_reset(row);
    return 0;
}

static void note_seal(struct seal_state *out, const struct log_seal *seal)
{
    struct seal_line key = seal_find(seal->statement, "key");
    out->kind = key.size == KEY_TEXT - 1 ? SEAL_KEYED : SEAL_UNKEYED;
    if (out->kind == SEAL_KEYED) {
        memcpy(out->key, key.text, KEY_TEXT - 1);
    }
}

/* Every seal holds for ever as to entries: they are never changed. As to what else is said of the
 * bout only that of the signature that stands does: a record may be reopened to be put right.
 * Whoever signs seals, but for whom signed before there were seals. */
static int check_seals(struct log *log, int64_t bout, const struct signature *signature,
                       struct verified *out, struct buf *faults, struct error *err)
{
    struct log_seal *seals = NULL;
    size_t count = 0;
    bool covered = false; /* the signature itself is older than the first digests */
    int code = log_seals(log, bout, &seals, &count, err);
    for (size_t i = 0; i < count && !code; i++) {
        struct seal_line made = seal_find(seals[i].statement, "made");
        const char *fault = log_seal_fault(&seals[i]);
        bool stands = signature->seq && seal_is_by(&seals[i], signature->uid, signature->seq);
        bool later = made.size != 4 || strncmp(made.text, "sign", 4) != 0;
        out->made_later |= later;
        if (stands) {
            note_seal(&out->seal, &seals[i]);
        }
        if (fault) {
            seal_add(faults, "%s", fault);
            continue;
        }
        covered |=
            later && signature->seq && seal_covers(&seals[i], signature->uid, signature->seq);
        code = seal_compare_desks(log, bout, &seals[i], faults, err);
        code = code || !stands ? code : seal_compare_fields(log, bout, &seals[i], faults, err);
    }
    if (!code && signature->seq && out->seal.kind == SEAL_NONE && !covered) {
        seal_add(faults, "the seal of its signature is gone");
    }
    log_seals_free(seals, count);
    return code;
}

/* All but references and views. */
static int check_record(struct log *log, int64_t bout, const struct signature *signature,
                        struct verified *out, struct buf *faults, struct error *err)
{
    int code = follow_desks(log, bout, out, faults, err);
    code = code ? code : check_seals(log, bout, signature, out, faults, err);
    out->seal.broken = faults->size > 0;
    return code || !faults->failed ? code : error_memory(err);
}

int verify_seal(struct log *log, int64_t bout, struct seal_state *out, struct error *err)
{
    struct verified found = {0};
    struct signature signature;
    struct buf faults = BUF_INIT;
    int code = sql_begin_read(log, err);
    if (code) {
        return code;
    }
    code = find_signature(log, bout, &signature, err);
    if (!code && signature.seq) {
        code = check_record(log, bout, &signature, &found, &faults, err);
    }
    code = sql_end(log, code, err);
    buf_release(&faults);
    *out = found.seal;
    return code;
}

int verify_bout(struct log *log, const struct bout *bout, const struct fold *fold,
                struct verified *out, struct buf *faults, struct error *err)
{
    const struct entry *signed_by = fold_signed(fold);
    struct signature signature;
    *out = (struct verified){0};
    int code = sql_begin_read(log, err);
    if (code) {
        return code;
    }
    code = find_signature(log, bout->id, &signature, err);
    code = code ? code : check_record(log, bout->id, &signature, out, faults, err);
    code = code ? code : check_names(log, bout->id, faults, err);
    code = code ? code : verify_views(log, bout, fold, &out->views_differ, faults, err);
    out->since = signed_by ? out->entries - signed_by->value - 1 : 0;
    return sql_end(log, code, err);
}
