/* hub_entry.c: entries to and from the hub, many in one statement. */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hub/hub_log.h"
#include "ringtally/log/chain.h"

#define COLUMNS 29
#define NUMBER  24

/* One array a column. */
struct columns {
    struct buf array[COLUMNS];
    int at;
};

static void put_number(struct columns *columns, int64_t number)
{
    array_number(&columns->array[columns->at++], number);
}

static void put_text(struct columns *columns, const char *text)
{
    array_text(&columns->array[columns->at++], text);
}

static void put_flag(struct columns *columns, bool flag, bool used)
{
    put_text(columns, used ? flag ? "t" : "f" : NULL);
}

static void put_name(struct columns *columns, const int64_t *ids, struct entry_name name,
                     bool there)
{
    if (there) {
        put_number(columns, ids[name.desk]);
        put_number(columns, name.seq);
    } else {
        put_text(columns, NULL);
        put_text(columns, NULL);
    }
}

/* In the order of ENTRY_COLUMNS. */
static void put_entry(struct columns *c, const int64_t *ids, const struct entry *entry)
{
    const struct strike *strike = &entry->strike;
    unsigned uses = entry_uses(entry->kind);
    bool is_strike = uses & USES_STRIKE;
    c->at = 0;
    put_name(c, ids, entry->name, true);
    put_number(c, entry->utc_ms);
    put_number(c, entry->at_ms);
    put_text(c, entry_kind_names[entry->kind]);
    put_text(c, entry_act_names[entry->act]);
    put_text(c, entry_code_names[entry->code]);
    put_name(c, ids, entry->subject, entry->act != ACT_ADD);
    put_name(c, ids, entry->undoes, entry->undoes.desk >= 0);
    put_number(c, entry->round);
    put_number(c, entry->elapsed_ms);
    put_flag(c, entry->off_clock, true);
    put_flag(c, entry->review, true);
    put_flag(c, entry->accepted, true);
    put_flag(c, entry->unsure, true);
    put_text(c, uses & USES_CORNER ? corner_names[strike->corner] : NULL);
    put_text(c, is_strike ? limb_names[strike->limb] : NULL);
    put_text(c, is_strike ? target_names[strike->target] : NULL);
    put_text(c, uses & USES_STANCE ? stance_names[strike->stance] : NULL);
    put_text(c, position_names[strike->position]);
    put_text(c, is_strike ? outcome_names[strike->outcome] : NULL);
    put_flag(c, strike->technique & TECHNIQUE_SPINNING, is_strike);
    put_flag(c, strike->technique & TECHNIQUE_JUMPING, is_strike);
    put_flag(c, strike->technique & TECHNIQUE_KNOCKDOWN, is_strike);
    put_number(c, entry->value);
    put_text(c, entry->text);
    if (chain_known(entry->prior)) {
        struct buf digest = BUF_INIT;
        add_bytes(&digest, entry->prior, sizeof entry->prior);
        c->array[c->at].failed = c->array[c->at].failed || digest.failed;
        put_text(c, digest.text);
        buf_release(&digest);
    } else {
        put_text(c, NULL);
    }
}

int hub_entries_put(struct hub *hub, int64_t bout, const int64_t *ids, const struct entry *entries,
                    size_t count, int64_t *base, size_t *added, struct error *err)
{
    struct columns columns = {.at = 0};
    const char *values[COLUMNS + 2];
    char of[NUMBER], number[NUMBER];
    bool failed = false;
    snprintf(of, sizeof of, "%lld", (long long)bout);
    snprintf(number, sizeof number, "%zu", count);
    values[0] = of;
    values[1] = number;
    for (size_t i = 0; i < count; i++) {
        put_entry(&columns, ids, &entries[i]);
    }
    for (int i = 0; i < COLUMNS; i++) {
        array_end(&columns.array[i]);
        failed = failed || columns.array[i].failed;
        values[i + 2] = columns.array[i].text;
    }
    PGresult *done = failed ? NULL : link_run(hub, HUB_ENTRY_SAVE, values, err);
    int code = done ? 0 : failed ? error_memory(err) : link_failed(err);
    if (done && PQgetisnull(done, 0, 0)) {
        code = error_set(err, ERROR_FAILED, "hub %s: a bout is gone, or hidden from role %s",
                         hub->name, PQuser(hub->conn));
    } else if (done) {
        *base = link_number(done, 0, 0);
        *added = (size_t)link_number(done, 0, 1);
    }
    PQclear(done);
    for (int i = 0; i < COLUMNS; i++) {
        buf_release(&columns.array[i]);
    }
    return code;
}

struct reader {
    const char *const *row; /* the next column */
    const struct desk_row *desks;
    int desk_count;
    int32_t desk; /* of the entry: what it names is its own as a rule */
};

static int64_t read_number(struct reader *reader)
{
    return field_number(*reader->row++);
}

/* The name's index in a table; -1 where it is none of them. NULL and absent words are 0. */
static int read_word(struct reader *reader, const char *const *names, int count)
{
    const char *word = *reader->row++;
    return word ? name_index(names, count, word) : 0;
}

static int32_t find_desk(const struct reader *reader, int64_t id)
{
    if (reader->desk < reader->desk_count && reader->desks[reader->desk].id == id) {
        return reader->desk;
    }
    for (int32_t i = 0; i < reader->desk_count; i++) {
        if (reader->desks[i].id == id) {
            return i;
        }
    }
    return INT32_MAX; /* one that entry_fault refuses */
}

static struct entry_name read_name(struct reader *reader, struct entry_name none)
{
    bool there = *reader->row != NULL;
    int64_t id = read_number(reader);
    int64_t seq = read_number(reader);
    return there ? (struct entry_name){find_desk(reader, id), seq} : none;
}

int hub_read_content(const struct hub *hub, const char *const *row, const struct desk_row *desks,
                     int desk_count, struct entry *entry, struct error *err)
{
    struct reader it = {.row = row, .desks = desks, .desk_count = desk_count};
    struct reader *reader = &it;
    *entry = (struct entry){.name = read_name(reader, ENTRY_NONE)};
    reader->desk = entry->name.desk < desk_count ? entry->name.desk : 0;
    entry->utc_ms = read_number(reader);
    entry->at_ms = read_number(reader);
    struct entry_words words = {0};
    words.kind = read_word(reader, entry_kind_names, ENTRY_KIND_COUNT);
    words.act = read_word(reader, entry_act_names, ACT_COUNT);
    words.code = read_word(reader, entry_code_names, CODE_ALL);
    entry->subject = read_name(reader, entry->name);
    entry->undoes = read_name(reader, ENTRY_NONE);
    entry->round = (uint8_t)read_number(reader); /* the schema bounds both */
    entry->elapsed_ms = (int32_t)read_number(reader);
    words.corner = read_word(reader, corner_names, CORNER_COUNT);
    words.limb = read_word(reader, limb_names, LIMB_COUNT);
    words.target = read_word(reader, target_names, TARGET_COUNT);
    words.stance = read_word(reader, stance_names, STANCE_COUNT);
    words.position = read_word(reader, position_names, POSITION_COUNT);
    words.outcome = read_word(reader, outcome_names, OUTCOME_COUNT);
    entry->value = read_number(reader);
    const char *text = *reader->row++;
    bool fits = !text || !*text || field_text(entry->text, sizeof entry->text, text);
    int64_t flags = read_number(reader); /* as ENTRY_CONTENT adds them up */
    entry->off_clock = flags & 1;
    entry->review = flags & 2;
    entry->accepted = flags & 4;
    entry->unsure = flags & 8;
    words.technique = (flags & 16 ? TECHNIQUE_SPINNING : 0) | (flags & 32 ? TECHNIQUE_JUMPING : 0) |
                      (flags & 64 ? TECHNIQUE_KNOCKDOWN : 0);
    const char *fault =
        fits ? entry_take_words(entry, &words, desk_count) : "its text is longer than an entry's";
    return fault ? error_set(err, ERROR_FAILED, "hub %s: entry %lld of desk %s: %s", hub->name,
                             (long long)entry->name.seq, desk_count ? desks[reader->desk].uid : "?",
                             fault)
                 : 0;
}

/* Takes the rows over: arrival, then ENTRY_CONTENT, then the digest. */
static int read_entries(const struct hub *hub, PGresult *rows, const struct desk_row *desks,
                        int desk_count, struct hub_entries *out, struct error *err)
{
    const char *row[ENTRY_FIELDS];
    *out = (struct hub_entries){0};
    if (!rows) {
        return link_failed(err);
    }
    size_t count = (size_t)PQntuples(rows);
    out->entries = malloc((count + 1) * sizeof *out->entries);
    int code = out->entries ? 0 : error_memory(err);
    for (size_t i = 0; i < count && !code; i++) {
        for (int k = 0; k < ENTRY_FIELDS; k++) {
            row[k] = PQgetisnull(rows, (int)i, k + 1) ? NULL : PQgetvalue(rows, (int)i, k + 1);
        }
        out->arrival = link_number(rows, (int)i, 0);
        code = hub_read_content(hub, row, desks, desk_count, &out->entries[i], err);
        link_bytes(out->entries[i].prior, sizeof out->entries[i].prior, rows, (int)i,
                   ENTRY_FIELDS + 1);
    }
    out->count = code ? 0 : count;
    if (code) {
        free(out->entries);
        *out = (struct hub_entries){0};
    }
    PQclear(rows);
    return code;
}

int hub_entries_since(struct hub *hub, int64_t bout, int64_t arrival, int limit,
                      const struct desk_row *desks, int desk_count, struct hub_entries *out,
                      struct error *err)
{
    char of[NUMBER], behind[NUMBER], most[NUMBER];
    const char *const values[] = {of, behind, most};
    snprintf(of, sizeof of, "%lld", (long long)bout);
    snprintf(behind, sizeof behind, "%lld", (long long)arrival);
    snprintf(most, sizeof most, "%d", limit);
    return read_entries(hub, link_run(hub, HUB_ENTRY_SINCE, values, err), desks, desk_count, out,
                        err);
}

int hub_entries_named(struct hub *hub, int64_t bout, const struct hub_range *ranges, size_t ranges_,
                      const struct desk_row *desks, int desk_count, struct hub_entries *out,
                      struct error *err)
{
    char of[NUMBER];
    struct buf desk = BUF_INIT, low = BUF_INIT, high = BUF_INIT;
    snprintf(of, sizeof of, "%lld", (long long)bout);
    for (size_t i = 0; i < ranges_; i++) {
        array_number(&desk, ranges[i].desk);
        array_number(&low, ranges[i].low);
        array_number(&high, ranges[i].high);
    }
    array_end(&desk);
    array_end(&low);
    array_end(&high);
    const char *const values[] = {of, desk.text, low.text, high.text};
    bool failed = desk.failed || low.failed || high.failed;
    int code = failed ? error_memory(err)
                      : read_entries(hub, link_run(hub, HUB_ENTRY_NAMED, values, err), desks,
                                     desk_count, out, err);
    buf_release(&desk);
    buf_release(&low);
    buf_release(&high);
    return code;
}
