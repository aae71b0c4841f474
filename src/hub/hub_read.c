/* hub_read.c: single bouts, and fighters across cards, for who asks a hub. */
#include "ringtally/hub/hub_read.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hub/pair.h"
#include "ringtally/base/grow.h"
#include "ringtally/base/text.h"

#define LISTED 8 /* names in the error about several */

/* So that an entry's desk is there too. And nothing is compiled for, or proved about, parts of a
 * table that are named anyway. */
#define AT_ONE_MOMENT                                                                              \
    "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY; SET LOCAL jit = off; "                       \
    "SET LOCAL constraint_exclusion = off"

int hub_bring(struct hub *hub, struct log *log, const char *ref, struct error *err)
{
    struct pair pair = {0};
    int code = bout_ref_parse(pair.card, &pair.number, ref, err);
    if (!code && !pair.card[0]) {
        const char *const values[] = {"1"};
        PGresult *row = link_run(hub, HUB_CARD_NEWEST, values, err);
        code = row ? 0 : link_failed(err);
        if (row && PQntuples(row) > 0) {
            link_text(pair.card, sizeof pair.card, row, 0, 0);
        }
        PQclear(row);
    }
    code = code ? code : pair_meet(&pair, hub, err);
    if (!code && !pair.id) {
        code = error_set(err, ERROR_MISSING, "hub %s: there is no bout %s", hub->name, ref);
    }
    code = code ? code : pair_bring(&pair, hub, log, err);
    pair_release(&pair);
    return code;
}

int hub_fighter_find(struct hub *hub, const char *text, char out[96], struct error *err)
{
    char clean[96], key[4 * 96], name[96];
    struct buf list = BUF_INIT;
    if (!text_clean(clean, sizeof clean, text) || !text_key(key, sizeof key, clean) || !key[0]) {
        return error_set(err, ERROR_USAGE, "a fighter's name is needed");
    }
    const char *const values[] = {key, clean};
    PGresult *rows = link_run(hub, HUB_FIGHTER_SAME, values, err);
    if (rows && PQntuples(rows) == 0) {
        PQclear(rows);
        rows = link_run(hub, HUB_FIGHTER_LIKE, values, err);
    }
    if (!rows) {
        return link_failed(err);
    }
    int found = PQntuples(rows);
    bool exact = false;
    for (int i = 0; i < found && !exact; i++) {
        link_text(name, sizeof name, rows, i, 0);
        exact = strcmp(name, clean) == 0;
        if (exact || i == 0) {
            memcpy(out, name, sizeof name);
        }
        if (i < LISTED) {
            buf_addf(&list, "%s%s", i > 0 ? ", " : "", name);
        }
    }
    PQclear(rows);
    int code = 0;
    if (!exact && found == 0) {
        code = error_set(err, ERROR_FAILED, "hub %s: no fighter is called %s", hub->name, clean);
    } else if (!exact && found > 1) {
        code = error_set(err, ERROR_FAILED, "%s may be %s%s: give more of the name", clean,
                         list.failed ? "several" : list.text, found > LISTED ? ", ..." : "");
    }
    buf_release(&list);
    return code;
}

void hub_fought_free(struct hub_fought *fought, size_t count)
{
    for (size_t i = 0; fought && i < count; i++) {
        free(fought[i].desks);
    }
    free(fought);
}

static int by_id(const void *a, const void *b)
{
    int64_t one = (*(const struct hub_fought *const *)a)->of.bout.id;
    int64_t other = (*(const struct hub_fought *const *)b)->of.bout.id;
    return one < other ? -1 : one > other;
}

static struct hub_fought *find(struct hub_fought *const *sorted, size_t count, int64_t id)
{
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (sorted[middle]->of.bout.id < id) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low < count && sorted[low]->of.bout.id == id ? sorted[low] : NULL;
}

static int read_desks(struct hub *hub, const char *ids, struct hub_fought *const *sorted,
                      size_t count, struct error *err)
{
    const char *const values[] = {ids};
    PGresult *rows = link_run(hub, HUB_FIGHTER_DESKS, values, err);
    int code = rows ? 0 : link_failed(err);
    int total = rows ? PQntuples(rows) : 0;
    for (int i = 0; i < total && !code;) {
        int64_t id = link_number(rows, i, 0);
        struct hub_fought *fought = find(sorted, count, id);
        int to = i + 1;
        while (to < total && link_number(rows, to, 0) == id) {
            to++;
        }
        if (fought) {
            fought->desks = hub_read_desks(rows, i, to, 1);
            fought->desk_count = fought->desks ? to - i : 0;
            code = fought->desks ? 0 : error_memory(err);
        }
        i = to;
    }
    PQclear(rows);
    return code;
}

/* Rows of entries on their way to their bouts: those of one that come in a row together. */
struct sorter {
    struct hub *hub;
    struct hub_fought *const *sorted;
    size_t count;
    struct hub_fought *all, *last;
    struct entry *entries;
    size_t entry_count, entry_room;
    hub_take *take;
    void *user;
};

static int give(struct sorter *sorter, struct error *err)
{
    size_t count = sorter->entry_count;
    sorter->entry_count = 0;
    return count ? sorter->take(sorter->user, (size_t)(sorter->last - sorter->all), sorter->entries,
                                count, err)
                 : 0;
}

static int take_entry(void *user, const char *const *row, struct error *err)
{
    struct sorter *sorter = user;
    int64_t id = field_number(row[0]);
    int code = 0;
    if (!sorter->last || sorter->last->of.bout.id != id) {
        code = give(sorter, err);
        sorter->last = find(sorter->sorted, sorter->count, id);
    }
    if (code || !sorter->last) {
        return code;
    }
    if (!grow_array(&sorter->entries, sizeof *sorter->entries, sorter->entry_count, 1,
                    &sorter->entry_room)) {
        return error_memory(err);
    }
    return hub_read_content(sorter->hub, row + 1, sorter->last->desks, sorter->last->desk_count,
                            &sorter->entries[sorter->entry_count++], err);
}

/* Into a query, so that the server looks only at the parts where these bouts are. */
static int read_entries(struct sorter *sorter, const char *ids, struct error *err)
{
    struct buf query = BUF_INIT;
    buf_addf(&query, "SELECT bout, " ENTRY_CONTENT " FROM entry WHERE bout = ANY ('%s'::bigint[])",
             ids);
    int code = query.failed
                   ? error_memory(err)
                   : link_copy(sorter->hub, query.text, 1 + ENTRY_FIELDS, take_entry, sorter, err);
    code = code ? code : give(sorter, err);
    free(sorter->entries);
    buf_release(&query);
    return code;
}

int hub_fought_read(struct hub *hub, struct hub_fought *fought, size_t count, hub_take *take,
                    void *user, struct error *err)
{
    struct buf ids = BUF_INIT;
    struct hub_fought **sorted = calloc(count + 1, sizeof *sorted);
    int code = sorted ? 0 : error_memory(err);
    for (size_t i = 0; i < count && sorted; i++) {
        sorted[i] = &fought[i];
        array_number(&ids, fought[i].of.bout.id);
    }
    array_end(&ids);
    code = code ? code : ids.failed ? error_memory(err) : 0;
    if (!code) {
        qsort(sorted, count, sizeof(struct hub_fought *), by_id);
    }
    code = code ? code : link_script(hub, AT_ONE_MOMENT, err);
    code = code ? code : read_desks(hub, ids.text, sorted, count, err);
    struct sorter sorter = {
        .hub = hub, .sorted = sorted, .count = count, .all = fought, .take = take, .user = user};
    code = code ? code : read_entries(&sorter, ids.text, err);
    code = link_end(hub, code, err);
    buf_release(&ids);
    free(sorted);
    return code;
}

/* All names of the person, as the text of an array. */
static int read_names(struct hub *hub, const char *name, struct buf *out, struct error *err)
{
    const char *const values[] = {name};
    PGresult *rows = link_run(hub, HUB_FIGHTER_NAMES, values, err);
    for (int i = 0; rows && i < PQntuples(rows); i++) {
        array_text(out, PQgetvalue(rows, i, 0));
    }
    array_end(out);
    int code = !rows ? link_failed(err) : out->failed ? error_memory(err) : 0;
    PQclear(rows);
    return code;
}

int hub_fighter_bouts(struct hub *hub, const char *name, struct hub_fought **out, size_t *count,
                      struct error *err)
{
    struct buf names = BUF_INIT;
    int code = read_names(hub, name, &names, err);
    const char *const values[] = {names.text};
    PGresult *rows = code ? NULL : link_run(hub, HUB_FIGHTER_BOUTS, values, err);
    buf_release(&names);
    if (!rows) {
        return code ? code : link_failed(err);
    }
    size_t total = (size_t)PQntuples(rows);
    struct hub_fought *fought = calloc(total + 1, sizeof *fought);
    for (size_t i = 0; fought && i < total; i++) {
        struct fighter_bout *of = &fought[i].of;
        of->bout.id = link_number(rows, (int)i, 0);
        link_text(of->bout.card, sizeof of->bout.card, rows, (int)i, 1);
        of->bout.number = (int)link_number(rows, (int)i, 2);
        bool blue = strcmp(PQgetvalue(rows, (int)i, 3), corner_names[CORNER_BLUE]) == 0;
        of->corner = blue ? CORNER_BLUE : CORNER_RED;
        link_text(of->title, sizeof of->title, rows, (int)i, 4);
        link_text(of->date, sizeof of->date, rows, (int)i, 5);
        link_text(of->bout.rules, sizeof of->bout.rules, rows, (int)i, 6);
        of->bout.rounds = (int)link_number(rows, (int)i, 7);
        link_text(of->bout.terms, sizeof of->bout.terms, rows, (int)i, 8);
        for (int side = 0; side < CORNER_COUNT; side++) {
            int corner = side == 0 ? of->corner : corner_other(of->corner);
            struct fighter *fighter = &of->bout.fighter[corner];
            link_text(fighter->name, sizeof fighter->name, rows, (int)i, 9 + 2 * side);
            link_text(fighter->short_name, sizeof fighter->short_name, rows, (int)i, 10 + 2 * side);
        }
    }
    PQclear(rows);
    if (!fought) {
        return error_memory(err);
    }
    *out = fought;
    *count = total;
    return 0;
}

int hub_same_list(struct hub *hub, struct buf *out, struct error *err)
{
    PGresult *rows = link_run(hub, HUB_SAME_LIST, NULL, err);
    if (!rows) {
        return link_failed(err);
    }
    for (int i = 0; i < PQntuples(rows); i++) {
        for (int side = 0; side < 8; side += 4) {
            char name[96], first[12], last[12];
            link_text(name, sizeof name, rows, i, side);
            link_text(first, sizeof first, rows, i, side + 2);
            link_text(last, sizeof last, rows, i, side + 3);
            buf_addf(out, "%s\"%s\" (%lld bouts, %s to %s)", side ? "  " : "", name,
                     (long long)link_number(rows, i, side + 1), first, last);
        }
        buf_adds(out, "\n");
    }
    PQclear(rows);
    return out->failed ? error_memory(err) : 0;
}

int hub_same_say(struct hub *hub, const char *name, const char *other, bool same, const char *by,
                 struct error *err)
{
    const char *const both[] = {name, other};
    int code = strcmp(name, other) ? 0 : error_set(err, ERROR_USAGE, "two names are needed");
    for (int i = 0; i < 2 && !code; i++) {
        char found[96];
        code = hub_fighter_find(hub, both[i], found, err);
        if (!code && strcmp(found, both[i]) != 0) {
            code = error_set(err, ERROR_FAILED, "hub %s: no fighter is called just so: %s",
                             hub->name, both[i]);
        }
    }
    const char *const values[] = {name, other, same ? "t" : "f", by};
    PGresult *done = code ? NULL : link_run(hub, HUB_SAME_SAVE, values, err);
    code = code ? code : done ? 0 : link_failed(err);
    PQclear(done);
    return code;
}
