/* log_entry.c: entries written, each compared with what is there. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "log/chain_sql.h"
#include "log/seal_sql.h"

/* Binds one parameter after the other; the first failure sticks. Or feeds the same to a digest. */
struct binder {
    sqlite3_stmt *statement;
    int at, result;
    struct digest *digest; /* NULL: bind */
};

static void bind_number(struct binder *binder, int64_t number)
{
    if (binder->digest) {
        digest_number(binder->digest, number);
        return;
    }
    int result = sqlite3_bind_int64(binder->statement, ++binder->at, number);
    binder->result = binder->result ? binder->result : result;
}

static void bind_text(struct binder *binder, const char *text)
{
    if (binder->digest) {
        digest_text(binder->digest, text, strlen(text));
        return;
    }
    int result = sqlite3_bind_text(binder->statement, ++binder->at, text, -1, SQLITE_STATIC);
    binder->result = binder->result ? binder->result : result;
}

static void bind_null(struct binder *binder)
{
    if (binder->digest) {
        digest_none(binder->digest);
        return;
    }
    int result = sqlite3_bind_null(binder->statement, ++binder->at);
    binder->result = binder->result ? binder->result : result;
}

static void bind_name(struct binder *binder, const struct desk_row *desks, struct entry_name name,
                      bool there)
{
    if (there && binder->digest) {
        bind_text(binder, desks[name.desk].uid);
        bind_number(binder, name.seq);
    } else if (there) {
        bind_number(binder, desks[name.desk].id);
        bind_number(binder, name.seq);
    } else {
        bind_null(binder);
        bind_null(binder);
    }
}

static void bind_word(struct binder *binder, const char *word, bool used)
{
    if (used) {
        bind_text(binder, word);
    } else {
        bind_null(binder);
    }
}

static void bind_flag(struct binder *binder, bool flag, bool used)
{
    if (used) {
        bind_number(binder, flag);
    } else {
        bind_null(binder);
    }
}

/* In the order of ENTRY_COLUMNS in sql.c. */
static void bind_content(struct binder *b, const struct desk_row *desks, const struct entry *entry)
{
    const struct strike *strike = &entry->strike;
    unsigned uses = entry_uses(entry->kind);
    bool is_strike = uses & USES_STRIKE;
    bind_number(b, entry->utc_ms);
    bind_number(b, entry->at_ms);
    bind_text(b, entry_kind_names[entry->kind]);
    bind_text(b, entry_act_names[entry->act]);
    bind_text(b, entry_code_names[entry->code]);
    bind_name(b, desks, entry->subject, entry->act != ACT_ADD);
    bind_name(b, desks, entry->undoes, entry->undoes.desk >= 0);
    bind_number(b, entry->round);
    bind_number(b, entry->elapsed_ms);
    bind_number(b, entry->off_clock);
    bind_number(b, entry->review);
    bind_number(b, entry->accepted);
    bind_number(b, entry->unsure);
    bind_word(b, corner_names[strike->corner], uses & USES_CORNER);
    bind_word(b, limb_names[strike->limb], is_strike);
    bind_word(b, target_names[strike->target], is_strike);
    bind_word(b, stance_names[strike->stance], uses & USES_STANCE);
    bind_word(b, position_names[strike->position], true);
    bind_word(b, outcome_names[strike->outcome], is_strike);
    bind_flag(b, strike->technique & TECHNIQUE_SPINNING, is_strike);
    bind_flag(b, strike->technique & TECHNIQUE_JUMPING, is_strike);
    bind_flag(b, strike->technique & TECHNIQUE_KNOCKDOWN, is_strike);
    bind_number(b, entry->value);
    bind_text(b, entry->text);
}

void log_entry_feed(struct digest *digest, const struct desk_row *desks, const struct entry *entry)
{
    struct binder binder = {.digest = digest};
    bind_content(&binder, desks, entry);
}

/* Desk and seq, what the entry says, and with `prior` that. */
static int bind_entry(sqlite3_stmt *statement, const struct desk_row *desks,
                      const struct entry *entry, bool prior)
{
    struct binder binder = {.statement = statement};
    bind_number(&binder, desks[entry->name.desk].id);
    bind_number(&binder, entry->name.seq);
    bind_content(&binder, desks, entry);
    if (prior && !binder.result) {
        binder.result = sqlite3_bind_blob(statement, ++binder.at,
                                          chain_known(entry->prior) ? entry->prior : NULL,
                                          sizeof entry->prior, SQLITE_TRANSIENT);
    }
    return binder.result;
}

static sqlite3_stmt *entry_query(struct log *log, enum sql id, const struct desk_row *desks,
                                 const struct entry *entry, struct error *err)
{
    sqlite3_stmt *statement = sql_query(log, id, err, "");
    if (statement && bind_entry(statement, desks, entry, id == SQL_ENTRY_SAVE)) {
        sql_fail(log, err);
        return NULL;
    }
    return statement;
}

static void add_value(char *out, size_t size, size_t *used, sqlite3_stmt *row, int column,
                      const char *name)
{
    const unsigned char *value = sqlite3_column_text(row, column);
    int wrote = snprintf(out + *used, size - *used, "%s%s %s", *used ? ", " : "", name,
                         value ? (const char *)value : "none");
    *used += wrote > 0 && (size_t)wrote < size - *used ? (size_t)wrote : 0;
}

/* Names what the entry in the database and the one at hand say differently. */
static int refuse_pair(struct log *log, const struct desk_row *desks, const struct entry *entry,
                       const char *from, struct error *err)
{
    char here[160] = "", there[160] = "";
    size_t here_used = 0, there_used = 0;
    sqlite3_stmt *pair = entry_query(log, SQL_ENTRY_PAIR, desks, entry, err);
    int code = pair ? sql_next(log, pair, err) : ERROR_FAILED;
    if (code <= 0) {
        return code < 0 ? code : error_set(err, ERROR_FAILED, "%s: an entry is gone", log->path);
    }
    int half = sqlite3_column_count(pair) / 2;
    for (int i = 0; i < half; i++) {
        const char *a = (const char *)sqlite3_column_text(pair, i);
        const char *b = (const char *)sqlite3_column_text(pair, half + i);
        if ((a && b) ? strcmp(a, b) != 0 : a != b) {
            const char *name = sqlite3_column_name(pair, i);
            add_value(here, sizeof here, &here_used, pair, i, name);
            add_value(there, sizeof there, &there_used, pair, half + i, name);
        }
    }
    sqlite3_reset(pair);
    return error_set(err, ERROR_FAILED,
                     "%s: entry %lld of desk %s is there already and says something else: here %s; "
                     "in %s %s",
                     log->path, (long long)entry->name.seq, desks[entry->name.desk].uid, here,
                     from ? from : "what is to be saved", there);
}

/* An entry of that name is there: the very same one is fine, since a commit that was reported as
 * failed may have been durable all the same, and the writer tries again. */
static int compare_known(struct log *log, const struct desk_row *desks, const struct entry *entry,
                         const char *from, struct error *err)
{
    sqlite3_stmt *same = entry_query(log, SQL_ENTRY_SAME, desks, entry, err);
    int code = same ? sql_next(log, same, err) : ERROR_FAILED;
    if (code > 0) {
        sqlite3_reset(same);
        return 0;
    }
    return code ? code : refuse_pair(log, desks, entry, from, err);
}

static int is_known(struct log *log, const struct desk_row *desks, const struct entry *entry,
                    struct error *err)
{
    sqlite3_stmt *row =
        sql_query(log, SQL_ENTRY_FIND, err, "ll", desks[entry->name.desk].id, entry->name.seq);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code > 0) {
        sqlite3_reset(row);
    }
    return code;
}

int log_entry_check(struct log *log, const struct desk_row *desks, const struct entry *entry,
                    const char *from, struct error *err)
{
    int known = is_known(log, desks, entry, err);
    return known <= 0 ? known : compare_known(log, desks, entry, from, err);
}

int log_entry_put(struct log *log, const struct desk_row *desks, const struct entry *entry,
                  const char *from, bool *added, struct error *err)
{
    const char *fault = entry_fault(entry, INT_MAX);
    *added = false;
    if (fault) {
        return error_set(err, ERROR_FAILED, "entry %lld of desk %s: %s", (long long)entry->name.seq,
                         desks[entry->name.desk].uid, fault);
    }
    struct entry linked = *entry;
    if (!from) { /* made here: what it was copied from stands at another place */
        memset(linked.prior, 0, sizeof linked.prior);
    }
    int code = chain_link(log, desks, &linked, err);
    sqlite3_stmt *save = code ? NULL : entry_query(log, SQL_ENTRY_SAVE, desks, &linked, err);
    if (!save) {
        return ERROR_FAILED;
    }
    struct error why = {0};
    code = sql_next(log, save, &why);
    if (!code && sqlite3_changes(log->db) != 1) {
        return error_set(err, ERROR_FAILED, "%s: the database did not take an entry", log->path);
    }
    if (!code) {
        *added = true;
        chain_note(log, desks, &linked);
        return 0;
    }
    if ((sqlite3_errcode(log->db) & 0xff) == SQLITE_CONSTRAINT) {
        int known = is_known(log, desks, entry, err);
        if (known) {
            return known < 0 ? known : compare_known(log, desks, entry, from, err);
        }
    }
    return error_set(err, code, "%s", why.text);
}

static int append(struct log *log, const struct desk_row *desks, const struct entry *entries,
                  size_t count, const struct log_sign *sign, struct error *err)
{
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    bool added = false;
    for (size_t i = 0; i < count && !code; i++) {
        code = log_entry_put(log, desks, &entries[i], NULL, &added, err);
    }
    if (!code && sign) {
        code = seal_signed(log, sign, desks[entries[0].name.desk].uid, &entries[0], err);
    }
    return sql_end(log, code, err);
}

int log_append(struct log *log, const struct desk_row *desks, const struct entry *entries,
               size_t count, struct error *err)
{
    return append(log, desks, entries, count, NULL, err);
}

static int count_lacking(struct log *log, struct desk_row *desks, int desk_count,
                         const struct entry *entries, size_t count, size_t *lacking,
                         struct error *err)
{
    int64_t bout = 0;
    int code = 0;
    for (int i = 0; i < desk_count && !code; i++) {
        code = log_desk_find(log, desks[i].uid, &desks[i].id, &bout, err);
    }
    for (size_t i = 0; i < count && !code; i++) {
        sqlite3_stmt *same = entry_query(log, SQL_ENTRY_SAME, desks, &entries[i], err);
        int there = same ? sql_next(log, same, err) : ERROR_FAILED;
        if (there > 0) {
            sqlite3_reset(same);
        }
        *lacking += there == 0;
        code = there < 0 ? there : 0;
    }
    return code;
}

int log_lacks(struct log *log, const struct desk_row *desks, int desk_count,
              const struct entry *entries, size_t count, size_t *lacking, struct error *err)
{
    struct desk_row *here = malloc(((size_t)desk_count + 1) * sizeof *here);
    int code = here ? sql_begin_read(log, err) : error_memory(err);
    *lacking = 0;
    if (!code) {
        memcpy(here, desks, (size_t)desk_count * sizeof *here);
        code =
            sql_end(log, count_lacking(log, here, desk_count, entries, count, lacking, err), err);
    }
    free(here);
    return code;
}

/* SQLite passes over a WAL from the first frame on that is damaged, without a word: what is signed
 * would be unsigned by one byte. In the database itself each byte is looked at. (Where somebody
 * reads just now it stays, and the next writer takes it over.) */
static void leave_wal(struct log *log)
{
    sqlite3_wal_checkpoint_v2(log->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
}

int log_append_surely(struct log *log, const struct desk_row *desks, int desk_count,
                      const struct entry *entries, size_t count, const struct log_sign *sign,
                      struct error *err)
{
    struct log *again = NULL;
    struct error why = {0};
    size_t lacking = 1;
    int code = append(log, desks, entries, count, sign, &why);
    if (!code && sign) {
        leave_wal(log);
    }
    if (code == 0 || code == ERROR_BUSY) {
        return code ? error_set(err, code, "%s", why.text) : 0;
    }
    /* The disk may have failed behind the commit: moving the entries into the database writes and
     * syncs them once more. */
    bool there = log_open(&again, log->path, LOG_WRITE, NULL, NULL) == 0 &&
                 log_lacks(again, desks, desk_count, entries, count, &lacking, NULL) == 0 &&
                 lacking == 0;
    bool durable = there && sqlite3_wal_checkpoint_v2(again->db, NULL, SQLITE_CHECKPOINT_FULL, NULL,
                                                      NULL) == SQLITE_OK;
    /* Or before it: then what was written of them stands in the WAL, where the next program that
     * opens it alone might find it whole. Written once more, it is there, or written over. */
    durable = durable || (!there && again && append(again, desks, entries, count, sign, NULL) == 0);
    log_close(again);
    if (durable) {
        return 0;
    }
    return error_set(err, code, "%s%s", why.text,
                     there ? ": it is entered, but may not outlast a power cut" : "");
}
