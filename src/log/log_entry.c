/* log_entry.c: entries in and out. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log/sql.h"

/* Binds one parameter after the other; the first failure sticks. */
struct binder {
    sqlite3_stmt *statement;
    int at, result;
};

static void bind_number(struct binder *binder, int64_t number)
{
    int result = sqlite3_bind_int64(binder->statement, ++binder->at, number);
    binder->result = binder->result ? binder->result : result;
}

static void bind_text(struct binder *binder, const char *text)
{
    int result = sqlite3_bind_text(binder->statement, ++binder->at, text, -1, SQLITE_STATIC);
    binder->result = binder->result ? binder->result : result;
}

static void bind_null(struct binder *binder)
{
    int result = sqlite3_bind_null(binder->statement, ++binder->at);
    binder->result = binder->result ? binder->result : result;
}

static void bind_name(struct binder *binder, const struct desk_row *desks, struct entry_name name,
                      bool there)
{
    if (there) {
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

/* In the order of ENTRY_COLUMNS in sql.c, behind desk and seq. */
static int bind_entry(sqlite3_stmt *statement, const struct desk_row *desks,
                      const struct entry *entry)
{
    struct binder binder = {statement, 0, SQLITE_OK};
    struct binder *b = &binder;
    const struct strike *strike = &entry->strike;
    unsigned uses = entry_uses(entry->kind);
    bool is_strike = uses & USES_STRIKE;
    bind_number(b, desks[entry->name.desk].id);
    bind_number(b, entry->name.seq);
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
    return binder.result;
}

static sqlite3_stmt *entry_query(struct log *log, enum sql id, const struct desk_row *desks,
                                 const struct entry *entry, struct error *err)
{
    sqlite3_stmt *statement = sql_query(log, id, err, "");
    if (statement && bind_entry(statement, desks, entry)) {
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
                     log->path, (long long)entry->name.seq, desks[entry->name.desk].uid, here, from,
                     there);
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

int log_entry_put(struct log *log, const struct desk_row *desks, const struct entry *entry,
                  const char *from, bool *added, struct error *err)
{
    const char *fault = entry_fault(entry, INT_MAX);
    *added = false;
    if (fault) {
        return error_set(err, ERROR_FAILED, "entry %lld of desk %s: %s", (long long)entry->name.seq,
                         desks[entry->name.desk].uid, fault);
    }
    sqlite3_stmt *save = entry_query(log, SQL_ENTRY_SAVE, desks, entry, err);
    if (!save) {
        return ERROR_FAILED;
    }
    struct error why = {0};
    int code = sql_next(log, save, &why);
    if (!code) {
        *added = true;
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

int log_append(struct log *log, const struct desk_row *desks, const struct entry *entries,
               size_t count, struct error *err)
{
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    bool added = false;
    for (size_t i = 0; i < count && !code; i++) {
        code = log_entry_put(log, desks, &entries[i], "what is to be saved", &added, err);
    }
    return sql_end(log, code, err);
}

struct reader {
    struct log *log;
    const struct desk_row *desks;
    int desk_count;
    int32_t desk; /* whose entries are read */
    sqlite3_stmt *row;
    int at; /* column */
};

/* The name's index in a table; -1 where it is none of them. NULL and absent words are 0. */
static int read_word(struct reader *reader, const char *const *names, int count)
{
    char word[32] = "";
    int column = reader->at++;
    if (sqlite3_column_type(reader->row, column) == SQLITE_NULL) {
        return 0;
    }
    sql_text(word, sizeof word, reader->row, column);
    return name_index(names, count, word);
}

static int64_t read_number(struct reader *reader)
{
    return sqlite3_column_int64(reader->row, reader->at++);
}

/* False where the desk is not among those known to the caller. */
static bool read_name(struct reader *reader, struct entry_name *name, struct entry_name none)
{
    bool there = sqlite3_column_type(reader->row, reader->at) != SQLITE_NULL;
    int64_t id = read_number(reader);
    int64_t seq = read_number(reader);
    *name = none;
    if (!there) {
        return true;
    }
    name->seq = seq;
    name->desk = reader->desk;
    if (reader->desks[name->desk].id == id) {
        return true;
    }
    for (name->desk = 0; name->desk < reader->desk_count; name->desk++) {
        if (reader->desks[name->desk].id == id) {
            return true;
        }
    }
    return false;
}

/* 1: *entry is filled; 0: it names a desk that the caller does not know yet; <0: an error. */
static int read_entry(struct reader *reader, struct entry *entry, struct error *err)
{
    reader->at = 0;
    *entry = (struct entry){.name = {reader->desk, read_number(reader)}};
    entry->utc_ms = read_number(reader);
    entry->at_ms = read_number(reader);
    int kind = read_word(reader, entry_kind_names, ENTRY_KIND_COUNT);
    int act = read_word(reader, entry_act_names, ACT_COUNT);
    int code = read_word(reader, entry_code_names, CODE_ALL);
    bool known = read_name(reader, &entry->subject, entry->name);
    known = read_name(reader, &entry->undoes, ENTRY_NONE) && known;
    entry->round = (uint8_t)read_number(reader);
    entry->elapsed_ms = (int32_t)read_number(reader);
    entry->off_clock = read_number(reader) != 0;
    entry->review = read_number(reader) != 0;
    entry->accepted = read_number(reader) != 0;
    int corner = read_word(reader, corner_names, CORNER_COUNT);
    int limb = read_word(reader, limb_names, LIMB_COUNT);
    int target = read_word(reader, target_names, TARGET_COUNT);
    int stance = read_word(reader, stance_names, STANCE_COUNT);
    int position = read_word(reader, position_names, POSITION_COUNT);
    int outcome = read_word(reader, outcome_names, OUTCOME_COUNT);
    int technique = read_number(reader) ? TECHNIQUE_SPINNING : 0;
    technique |= read_number(reader) ? TECHNIQUE_JUMPING : 0;
    technique |= read_number(reader) ? TECHNIQUE_KNOCKDOWN : 0;
    entry->value = read_number(reader);
    sql_text(entry->text, sizeof entry->text, reader->row, reader->at);
    if (!known) {
        return 0;
    }
    const char *fault = "it holds a word that this ringtally does not know";
    if (kind >= 0 && act >= 0 && code >= 0 && corner >= 0 && limb >= 0 && target >= 0 &&
        stance >= 0 && position >= 0 && outcome >= 0) {
        entry->kind = (uint8_t)kind;
        entry->act = (uint8_t)act;
        entry->code = (uint8_t)code;
        entry->strike =
            (struct strike){(uint8_t)corner,   (uint8_t)limb,    (uint8_t)target,   (uint8_t)stance,
                            (uint8_t)position, (uint8_t)outcome, (uint8_t)technique};
        fault = entry_fault(entry, reader->desk_count);
    }
    return fault ? error_set(err, ERROR_FAILED, "%s: entry %lld of desk %s: %s", reader->log->path,
                             (long long)entry->name.seq, reader->desks[reader->desk].uid, fault)
                 : 1;
}

/* A growing array of entries that the caller already owns. */
struct pile {
    struct entry *entries;
    size_t count, room;
};

static int pile_add(struct pile *pile, const struct entry *entry, struct error *err)
{
    if (pile->count == pile->room) {
        size_t room = pile->count ? pile->count * 2 : 64;
        struct entry *more = realloc(pile->entries, room * sizeof *more);
        if (!more) {
            return error_memory(err);
        }
        pile->entries = more;
        pile->room = room;
    }
    pile->entries[pile->count++] = *entry;
    return 0;
}

static int read_desk(struct reader *reader, int64_t *mark, struct pile *pile, struct error *err)
{
    struct entry entry;
    int code = 0;
    reader->row =
        sql_query(reader->log, SQL_ENTRY_GET, err, "ll", reader->desks[reader->desk].id, *mark);
    if (!reader->row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(reader->log, reader->row, err)) > 0) {
        code = read_entry(reader, &entry, err);
        if (code > 0) {
            code = pile_add(pile, &entry, err);
            *mark = entry.name.seq;
        } else if (code == 0) {
            break; /* left for the call that knows the desk */
        }
        if (code) {
            break;
        }
    }
    sqlite3_reset(reader->row);
    return code;
}

int log_entries(struct log *log, const struct desk_row *desks, int desk_count, int64_t *marks,
                struct entry **out, size_t *count, struct error *err)
{
    struct pile pile = {*out, *count, *count};
    struct reader reader = {.log = log, .desks = desks, .desk_count = desk_count};
    int code = 0;
    for (int i = 0; i < desk_count && !code; i++) {
        reader.desk = i;
        code = read_desk(&reader, &marks[i], &pile, err);
    }
    *out = pile.entries;
    *count = pile.count;
    return code;
}

static int fold_all(struct fold *fold, const struct desk_row *desks, int desk_count,
                    const struct entry *entries, size_t count)
{
    int code = 0;
    for (int i = 0; i < desk_count && !code; i++) {
        code = fold_desk(fold, &desks[i]);
    }
    return code ? code : fold_add_all(fold, entries, count);
}

int log_fold(struct log *log, const struct bout *bout, const struct clock_plan *plan, int whose,
             struct fold **out, struct error *err)
{
    struct desk_row *desks = NULL;
    struct entry *entries = NULL;
    int64_t *marks = NULL;
    struct fold *fold = NULL;
    int desk_count = 0;
    size_t count = 0;
    int code = sql_begin_read(log, err);
    if (code) {
        return code;
    }
    code = log_desks(log, bout->id, &desks, &desk_count, err);
    if (!code) {
        marks = calloc((size_t)desk_count + 1, sizeof *marks);
        code = marks ? log_entries(log, desks, desk_count, marks, &entries, &count, err)
                     : error_memory(err);
    }
    code = sql_end(log, code, err);
    if (code) {
        goto cleanup;
    }
    fold = fold_new(plan, bout, whose);
    if (!fold || fold_all(fold, desks, desk_count, entries, count)) {
        code = error_memory(err);
        goto cleanup;
    }
    *out = fold;
    fold = NULL;

cleanup:
    fold_free(fold);
    free(marks);
    free(entries);
    free(desks);
    return code;
}
