/* position.c: positions in a bout's log that outlive the feed: how many entries, and the highest
 * sequence number of each desk, which nothing but the log decides. And entries as text behind them.
 */
#include "feed/watch.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/sheet/log_sheet.h"
#include "ringtally/tally/officials.h"
#include "ringtally/base/when.h"

#define UID_DIGITS 12 /* of a desk's uid; enough to tell a bout's desks apart */

/* Behind a gate a position is good for what was released then: after the next release, or a gate
 * that holds other kinds, what was told before it is void. */
static uint32_t release_tag(const struct watch *watch)
{
    return (uint32_t)(watch->gate.released ^ watch->gate.released >> 32);
}

/* Entries of the first `arrived` that are at or below the marks. */
static size_t covered(const struct watch *watch, size_t arrived, const int64_t *marks)
{
    size_t count = 0;
    for (size_t i = 0; i < arrived; i++) {
        count += watch->arrived[i].seq <= marks[watch->arrived[i].desk];
    }
    return count;
}

void watch_position(struct buf *out, const struct watch *watch, size_t count, const int64_t *marks)
{
    buf_addf(out, "%zu", marks == watch->marks ? count : covered(watch, count, marks));
    for (int i = 0; i < watch->desk_count; i++) {
        if (marks[i] > 0) {
            buf_addf(out, ".%.*s-%lld", UID_DIGITS, watch->desks[i].uid, (long long)marks[i]);
        }
    }
    if (watch->air->holds) {
        buf_addf(out, "~%08x", (unsigned)release_tag(watch));
    }
}

static int find_desk(const struct watch *watch, const char *digits)
{
    for (int i = 0; i < watch->desk_count; i++) {
        if (strncmp(watch->desks[i].uid, digits, UID_DIGITS) == 0) {
            return i;
        }
    }
    return -1;
}

/* A whole number of at most 15 digits; NULL: none. */
static const char *read_number(const char *text, int64_t *out)
{
    *out = 0;
    for (int digits = 0; isdigit((unsigned char)*text); digits++, text++) {
        if (digits == 15) {
            return NULL;
        }
        *out = *out * 10 + (*text - '0');
    }
    return text;
}

static bool parse(const struct watch *watch, const char *text, int64_t *marks, int64_t *count)
{
    if (!isdigit((unsigned char)*text) || !(text = read_number(text, count))) {
        return false;
    }
    if (!*text && *count == 0) { /* nothing at all was told */
        return true;
    }
    if (!*text) { /* a bare number: so many, in the order of the log */
        const struct entry *entries = NULL;
        size_t known = fold_entries(watch->fold, &entries);
        for (size_t i = 0; i < known && (int64_t)i < *count; i++) {
            int64_t *mark = &marks[entries[i].name.desk];
            *mark = entries[i].name.seq > *mark ? entries[i].name.seq : *mark;
        }
        return true;
    }
    while (*text == '.') {
        int64_t seq = 0;
        int desk = strlen(text) > UID_DIGITS + 1 ? find_desk(watch, text + 1) : -1;
        if (desk < 0 || text[UID_DIGITS + 1] != '-' ||
            !isdigit((unsigned char)text[UID_DIGITS + 2])) {
            return false;
        }
        text = read_number(text + UID_DIGITS + 2, &seq);
        if (!text || seq > watch->marks[desk]) {
            return false;
        }
        marks[desk] = seq;
    }
    if (watch->air->holds) {
        char tag[16];
        snprintf(tag, sizeof tag, "~%08x", (unsigned)release_tag(watch));
        return strcmp(text, tag) == 0;
    }
    return !*text;
}

bool watch_seek(const struct watch *watch, const char *position, int64_t *marks)
{
    int64_t count = 0;
    memset(marks, 0, (size_t)watch->desk_count * sizeof *marks);
    if (parse(watch, position, marks, &count) &&
        (int64_t)covered(watch, watch->arrived_count, marks) == count) {
        return true;
    }
    memset(marks, 0, (size_t)watch->desk_count * sizeof *marks);
    return false;
}

/* The place of an entry in the fold's order. */
static size_t index_of(const struct watch *watch, struct entry_name name)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(watch->fold, &entries);
    for (size_t i = count; i-- > 0;) { /* what is asked for is new, as a rule */
        if (entry_same(entries[i].name, name)) {
            return i;
        }
    }
    return count;
}

/* The judges' scores are not told until a result is announced, unless the scoring is open. */
static bool is_closed(const struct watch *watch, const struct entry *entry)
{
    struct officials officials;
    if (entry->kind != ENTRY_SCORE || watch->rules.scoring.open) {
        return false;
    }
    officials_read(&officials, watch->fold, &watch->rules, &watch->bout, air_wall(watch->air));
    return !officials.announced;
}

static void add_entry(struct buf *out, const struct watch *watch, size_t index)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(watch->fold, &entries);
    struct buf text = BUF_INIT;
    struct log_sheet_view view = {
        .bout = &watch->bout,
        .fold = watch->fold,
        .all = true,
        .closed = index < count && is_closed(watch, &entries[index]),
    };
    if (index < count && log_sheet_entry(&text, &view, index, NULL) == 0) {
        buf_add(out, text.text, text.size);
    } else {
        out->failed = true;
    }
    buf_release(&text);
}

struct doc *watch_event(const struct watch *watch, size_t index, const int64_t *marks)
{
    struct buf text = BUF_INIT;
    buf_adds(&text, "id: ");
    watch_position(&text, watch, index + 1, marks);
    buf_adds(&text, "\nevent: entry\ndata: ");
    add_entry(&text, watch, index_of(watch, watch->arrived[index]));
    buf_adds(&text, "\n\n");
    return doc_of(&text);
}

int watch_log(const struct watch *watch, const char *position, struct doc **out, struct error *err)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(watch->fold, &entries);
    char moment[WHEN_SIZE];
    bool first = true;
    struct buf text = BUF_INIT;
    int64_t *marks = calloc((size_t)watch->desk_count + 1, sizeof *marks);
    if (!marks) {
        return error_memory(err);
    }
    bool all = !position || !watch_seek(watch, position, marks);
    int64_t newest = fold_newest_ms(watch->fold);
    buf_addf(&text, "{\"bout\":\"%s/%d\",\"next\":\"", watch->card_id, watch->number);
    watch_position(&text, watch, watch->arrived_count, watch->marks);
    buf_addf(&text, "\",\"complete\":%s,\"newest_entry_at\":%s%s%s,\"entries\":[\n",
             all ? "true" : "false", newest ? "\"" : "",
             newest ? when_rfc3339(moment, newest) : "null", newest ? "\"" : "");
    for (size_t i = 0; i < count; i++) {
        if (entries[i].name.seq > marks[entries[i].name.desk]) {
            buf_adds(&text, first ? "" : ",\n");
            add_entry(&text, watch, i);
            first = false;
        }
    }
    buf_adds(&text, "]}\n");
    free(marks);
    *out = doc_of(&text);
    return *out ? 0 : error_memory(err);
}
