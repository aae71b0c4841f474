/* log_watch.c: what arrived in a bout since a reader last looked, and whether anything did. */
#include "ringtally/log/log_watch.h"

#include <stdlib.h>
#include <string.h>

#include "log/sql.h"
#include "ringtally/base/grow.h"

struct reader {
    struct log *log;
    const struct desk_row *desks;
    int desk_count;
    int32_t desk; /* of the last entry read: the next one is its own as a rule */
    sqlite3_stmt *row;
    int at;   /* column */
    bool odd; /* a value was met that the table itself would not have taken */
};

/* Whether there is a value in the next column; it is to be of that type. (Tables are strict; who
 * changes a file past them is not read as if he had meant something else.) */
static bool there(struct reader *reader, int type)
{
    int found = sqlite3_column_type(reader->row, reader->at);
    reader->odd |= found != type && found != SQLITE_NULL;
    return found != SQLITE_NULL;
}

static int64_t read_optional(struct reader *reader)
{
    there(reader, SQLITE_INTEGER);
    return sqlite3_column_int64(reader->row, reader->at++);
}

static int64_t read_number(struct reader *reader)
{
    reader->odd |= !there(reader, SQLITE_INTEGER);
    return sqlite3_column_int64(reader->row, reader->at++);
}

/* All of it: a zero ends no text. */
static void read_text(struct reader *reader, char *out, size_t size)
{
    const char *text = (const char *)sqlite3_column_text(reader->row, reader->at);
    reader->odd |= !there(reader, SQLITE_TEXT) || !text ||
                   strlen(text) != (size_t)sqlite3_column_bytes(reader->row, reader->at);
    sql_text(out, size, reader->row, reader->at++);
}

/* The word's index in a table; -1 where it is none of them. */
static int read_word(struct reader *reader, const char *const *names, int count)
{
    char word[32] = "";
    read_text(reader, word, sizeof word);
    return name_index(names, count, word);
}

/* One that stands only in entries of some kinds; without it 0. */
static int read_some_word(struct reader *reader, const char *const *names, int count)
{
    if (!there(reader, SQLITE_TEXT)) {
        reader->at++;
        return 0;
    }
    return read_word(reader, names, count);
}

/* The index of the desk of that id; -1: none of the bout's. */
static int32_t find_desk(const struct reader *reader, int64_t id)
{
    if (reader->desks[reader->desk].id == id) {
        return reader->desk;
    }
    for (int32_t i = 0; i < reader->desk_count; i++) {
        if (reader->desks[i].id == id) {
            return i;
        }
    }
    return -1;
}

/* The name in the next two columns; `none` where they are NULL. Of a desk that is not the bout's it
 * is one that entry_fault refuses. */
static struct entry_name read_name(struct reader *reader, struct entry_name none)
{
    bool named = there(reader, SQLITE_INTEGER);
    int32_t desk = find_desk(reader, read_optional(reader));
    int64_t seq = read_optional(reader);
    return named ? (struct entry_name){desk < 0 ? INT32_MAX : desk, seq} : none;
}

static void read_prior(struct reader *reader, struct entry *entry)
{
    const void *prior = sqlite3_column_blob(reader->row, reader->at);
    bool whole = prior && sqlite3_column_bytes(reader->row, reader->at) == sizeof entry->prior;
    reader->odd |= !whole;
    if (whole) {
        memcpy(entry->prior, prior, sizeof entry->prior);
    }
}

/* In the order of SQL_ENTRY_NEWS. */
static int read_entry(struct reader *reader, struct entry *entry, int64_t *arrival,
                      struct error *err)
{
    reader->at = 0;
    reader->odd = false;
    *arrival = read_number(reader);
    *entry = (struct entry){.name = read_name(reader, ENTRY_NONE)};
    reader->desk = entry->name.desk < reader->desk_count ? entry->name.desk : 0;
    entry->utc_ms = read_number(reader);
    entry->at_ms = read_number(reader);
    struct entry_words words = {0};
    words.kind = read_word(reader, entry_kind_names, ENTRY_KIND_COUNT);
    words.act = read_word(reader, entry_act_names, ACT_COUNT);
    words.code = read_word(reader, entry_code_names, CODE_ALL);
    entry->subject = read_name(reader, entry->name);
    entry->undoes = read_name(reader, ENTRY_NONE);
    int64_t round = read_number(reader);
    int64_t elapsed_ms = read_number(reader);
    entry->round = round < 0 || round > UINT8_MAX ? 0 : (uint8_t)round;
    entry->elapsed_ms = elapsed_ms < 0 || elapsed_ms > INT32_MAX ? -1 : (int32_t)elapsed_ms;
    entry->off_clock = read_number(reader) != 0;
    entry->review = read_number(reader) != 0;
    entry->accepted = read_number(reader) != 0;
    entry->unsure = read_number(reader) != 0;
    words.corner = read_some_word(reader, corner_names, CORNER_COUNT);
    words.limb = read_some_word(reader, limb_names, LIMB_COUNT);
    words.target = read_some_word(reader, target_names, TARGET_COUNT);
    words.stance = read_some_word(reader, stance_names, STANCE_COUNT);
    words.position = read_word(reader, position_names, POSITION_COUNT);
    words.outcome = read_some_word(reader, outcome_names, OUTCOME_COUNT);
    words.technique = read_optional(reader) ? TECHNIQUE_SPINNING : 0;
    words.technique |= read_optional(reader) ? TECHNIQUE_JUMPING : 0;
    words.technique |= read_optional(reader) ? TECHNIQUE_KNOCKDOWN : 0;
    entry->value = read_number(reader);
    read_text(reader, entry->text, sizeof entry->text);
    if (there(reader, SQLITE_BLOB)) {
        read_prior(reader, entry);
    }
    const char *fault = entry_take_words(entry, &words, reader->desk_count);
    fault = reader->odd ? "a value of a kind that its table does not take" : fault;
    return fault ? error_set(err, ERROR_FAILED, "%s: entry %lld of desk %s: %s", reader->log->path,
                             (long long)entry->name.seq, reader->desks[reader->desk].uid, fault)
                 : 0;
}

/* A growing array of entries that the caller already owns. */
struct pile {
    struct entry *entries;
    size_t count, room;
};

static int pile_add(struct pile *pile, const struct entry *entry, struct error *err)
{
    if (!grow_array(&pile->entries, sizeof *entry, pile->count, 1, &pile->room)) {
        return error_memory(err);
    }
    pile->entries[pile->count++] = *entry;
    return 0;
}

static int read_entries(struct log *log, int64_t bout, struct log_news *news, struct error *err)
{
    struct reader reader = {.log = log, .desks = news->desks, .desk_count = news->desk_count};
    struct pile pile = {NULL, 0, 0};
    int code = 0;
    if (news->desk_count == 0) {
        return 0;
    }
    /* From the start the desks' own index leads to them, later the end of the table. */
    reader.row = sql_query(log, news->arrival ? SQL_ENTRY_NEWS : SQL_ENTRY_ALL, err, "lll", bout,
                           news->arrival, log->until ? log->until : INT64_MAX);
    if (!reader.row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, reader.row, err)) > 0) {
        struct entry entry;
        int64_t arrival = 0;
        code = read_entry(&reader, &entry, &arrival, err);
        code = code ? code : pile_add(&pile, &entry, err);
        if (code) {
            sqlite3_reset(reader.row);
            break;
        }
        news->arrival = arrival > news->arrival ? arrival : news->arrival;
    }
    news->entries = pile.entries;
    news->entry_count = pile.count;
    return code;
}

static int read_mark(int64_t *out, struct log *log, sqlite3_stmt *row, struct error *err)
{
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code > 0) {
        *out = sqlite3_column_int64(row, 0);
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

/* Of desks that wrote nothing yet, where the log is read up to an arrival, those at the end. */
static int leave_out_desks(struct log *log, int64_t bout, struct log_news *news, struct error *err)
{
    int64_t last = 0;
    if (!log->until) {
        return 0;
    }
    int code =
        read_mark(&last, log, sql_query(log, SQL_DESK_UNTIL, err, "ll", bout, log->until), err);
    while (!code && news->desk_count > 0 && news->desks[news->desk_count - 1].id > last) {
        news->desk_count--;
    }
    return code;
}

int log_news(struct log *log, int64_t bout, int64_t arrival, struct log_news *out,
             struct error *err)
{
    struct log_news news = {.arrival = arrival};
    bool own = sqlite3_get_autocommit(log->db); /* else all is inside the caller's transaction */
    int code = own ? sql_begin_read(log, err) : 0;
    if (code) {
        return code;
    }
    code = log_desks(log, bout, &news.desks, &news.desk_count, err);
    code = code ? code : leave_out_desks(log, bout, &news, err);
    code = code ? code : read_entries(log, bout, &news, err);
    code = own ? sql_end(log, code, err) : code;
    if (code) {
        log_news_release(&news);
    } else {
        *out = news;
    }
    return code;
}

void log_news_release(struct log_news *news)
{
    free(news->desks);
    free(news->entries);
    *news = (struct log_news){.arrival = news->arrival};
}

void log_read_until(struct log *log, int64_t arrival)
{
    log->until = arrival;
}

int log_last_arrival(struct log *log, int64_t *out, struct error *err)
{
    return read_mark(out, log, sql_query(log, SQL_ENTRY_LAST, err, ""), err);
}

int log_arrival_before(struct log *log, int64_t utc_ms, int64_t *out, struct error *err)
{
    return read_mark(out, log, sql_query(log, SQL_ENTRY_BEFORE, err, "l", utc_ms), err);
}

int log_watch_look(struct log_watch *watch, struct log *log, bool *changed, struct error *err)
{
    int code = log_check(log, err);
    code = code ? code : log_data_version(log, &watch->version, err);
    *changed = !code && (!watch->any || watch->version != watch->seen);
    return code;
}

void log_watch_seen(struct log_watch *watch)
{
    watch->seen = watch->version;
    watch->any = true;
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
    struct log_news news = {0};
    int code = log_news(log, bout->id, 0, &news, err);
    if (code) {
        return code;
    }
    struct fold *fold = fold_new(plan, bout, whose);
    if (!fold || fold_all(fold, news.desks, news.desk_count, news.entries, news.entry_count)) {
        fold_free(fold);
        code = error_memory(err);
    } else {
        *out = fold;
    }
    log_news_release(&news);
    return code;
}
