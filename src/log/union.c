/* union.c: two logs made one. Entries are never changed, so a union is a merge. */
#include <stdlib.h>
#include <string.h>

#include "ringtally/log/log_watch.h"
#include "log/sql.h"

/* The bout in the database, made where missing. */
static int put_bout(struct log *log, const struct union_part *part, int64_t *id, struct error *err)
{
    struct bout known;
    struct card card = *part->card;
    struct bout bout = *part->bout;
    bool there = false;
    int code = log_card_there(log, card.id, &there, err);
    if (!code && !there) {
        if (!card.title[0]) { /* a rescue file may know no more than the id */
            memcpy(card.title, card.id, sizeof card.id);
        }
        card.bout = &bout;
        card.bouts = 1;
        code = log_card_put(log, &card, NULL, err);
    }
    code = code ? code : log_bout_get(log, card.id, bout.number, &known, err);
    if (code) {
        return code;
    }
    if (!known.id) {
        return log_bout_put(log, &bout, NULL, id, err);
    }
    *id = known.id;
    return strcmp(known.rules, bout.rules) == 0
               ? 0
               : error_set(err, ERROR_FAILED,
                           "%s: bout %s/%d was logged under %s, but is under %s here", part->from,
                           known.card, known.number, bout.rules, known.rules);
}

/* Finds the desk's row by its uid, or makes it. */
static int put_desk(struct log *log, struct union_part *part, int index, int64_t bout,
                    struct error *err)
{
    struct desk_row *desk = &part->desks[index];
    int64_t of_bout = 0;
    desk->id = 0;
    int code = log_desk_find(log, desk->uid, &desk->id, &of_bout, err);
    if (!code && desk->id && of_bout != bout) {
        code = error_set(err, ERROR_FAILED, "%s: desk %s belongs to another bout here", part->from,
                         desk->uid);
    }
    if (code || desk->id) {
        return code;
    }
    return log_desk_put(log, bout, desk, desk->root == index ? 0 : part->desks[desk->root].id, err);
}

int union_put(struct log *log, struct union_part *part, size_t *added, struct error *err)
{
    int64_t bout = 0;
    size_t fresh = 0;
    int code = sql_run(log, SQL_UNITE, err, "");
    code = code ? code : put_bout(log, part, &bout, err);
    for (int i = 0; i < part->desk_count && !code; i++) {
        code = put_desk(log, part, i, bout, err);
    }
    for (size_t i = 0; i < part->entry_count && !code; i++) {
        bool new = false;
        code = log_entry_put(log, part->desks, &part->entries[i], part->from, &new, err);
        fresh += new;
    }
    code = code ? code : sql_run(log, SQL_UNITED, err, "");
    *added = code ? 0 : fresh;
    return code;
}

/* One bout of the other database into this one. */
static int merge_bout(struct log *log, struct log *other, const struct card *card,
                      const struct bout *bout, size_t *added, struct error *err)
{
    struct log_news news = {0};
    int code = log_news(other, bout->id, 0, &news, err);
    if (!code) {
        struct union_part part = {
            log_path(other), card, bout, news.desks, news.desk_count, news.entries,
            news.entry_count};
        code = union_put(log, &part, added, err);
    }
    log_news_release(&news);
    return code;
}

static int merge_card(struct log *log, struct log *other, const char *id, size_t *added,
                      struct error *err)
{
    struct card card = {0};
    int code = log_card_get(other, id, &card, err);
    for (int i = 0; i < card.bouts && !code; i++) {
        size_t fresh = 0;
        struct card head = card;
        head.bout = NULL;
        head.bouts = 0;
        code = merge_bout(log, other, &head, &card.bout[i], &fresh, err);
        *added += fresh;
    }
    card_release(&card);
    return code;
}

int log_merge(struct log *log, struct log *other, size_t *added, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    *added = 0;
    int code = log_card_ids(other, &ids, &count, err);
    if (!code) {
        code = sql_begin(log, err);
    }
    if (!code) {
        /* From the oldest on, so that the newest card stays the newest. */
        for (size_t i = count; i-- > 0 && !code;) {
            code = merge_card(log, other, ids[i], added, err);
        }
        code = sql_end(log, code, err);
    }
    if (code) {
        *added = 0;
    }
    free(ids);
    return code;
}
