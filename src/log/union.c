/* union.c: two logs made one. Entries are never changed, so a union is a merge. */
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "ringtally/log/chain.h"
#include "ringtally/log/log_watch.h"
#include "log/seal_sql.h"

#define GIVE_WAY_MS 100

static int same_rules(const struct union_part *part, const struct bout *known, struct error *err)
{
    return strcmp(known->rules, part->bout->rules) == 0
               ? 0
               : error_set(err, ERROR_FAILED,
                           "%s: bout %s/%d was logged under %s, but is under %s here", part->from,
                           known->card, known->number, part->bout->rules, known->rules);
}

/* A bout that comes in must be one that can be counted here. */
static int check_rules(const struct log *log, const struct union_part *part, struct error *err)
{
    struct error why = {0};
    int code = log->rules_known ? log->rules_known(part->bout, &why) : 0;
    return code ? error_set(err, code, "%s: bout %s/%d: %s", part->from, part->card->id,
                            part->bout->number, why.text)
                : 0;
}

void log_ask_rules(struct log *log, int (*known)(const struct bout *bout, struct error *err))
{
    log->rules_known = known;
}

/* The bout in the database, made where missing. */
static int put_bout(struct log *log, const struct union_part *part, int64_t *id, struct error *err)
{
    struct bout known;
    struct card card = *part->card;
    struct bout bout = *part->bout;
    bool there = false;
    int code = log_bout_get(log, card.id, bout.number, &known, err);
    code = code || known.id ? code : check_rules(log, part, err);
    code = code ? code : log_card_there(log, card.id, &there, err);
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
    return same_rules(part, &known, err);
}

/* The desk's row by its uid; id 0: there is none yet. */
static int find_desk(struct log *log, struct union_part *part, int index, int64_t bout,
                     struct error *err)
{
    struct desk_row *desk = &part->desks[index];
    int64_t of_bout = 0;
    desk->id = 0;
    int code = log_desk_find(log, desk->uid, &desk->id, &of_bout, err);
    return code || !desk->id || of_bout == bout
               ? code
               : error_set(err, ERROR_FAILED, "%s: desk %s belongs to another bout here",
                           part->from, desk->uid);
}

static int put_desk(struct log *log, struct union_part *part, int index, int64_t bout,
                    struct error *err)
{
    struct desk_row *desk = &part->desks[index];
    int code = find_desk(log, part, index, bout, err);
    if (code || desk->id) {
        return code;
    }
    return log_desk_put(log, bout, desk, desk->root == index ? 0 : part->desks[desk->root].id, err);
}

/* Refuses what was changed after it was written. */
static int check_links(const struct union_part *part, struct error *err)
{
    struct entry_name broken = ENTRY_NONE;
    int code = chain_broken(&broken, part->bout, part->desks, part->desk_count, part->entries,
                            part->entry_count, err);
    if (!code && broken.desk >= 0) {
        const struct desk_row *desk = &part->desks[broken.desk];
        code = broken.seq
                   ? error_set(err, ERROR_FAILED,
                               "%s: entry %lld of desk %s was changed after it was written: the "
                               "next one carries another digest of it",
                               part->from, (long long)broken.seq, desk->uid)
                   : error_set(err, ERROR_FAILED,
                               "%s: what is said of desk %s was changed after it was written: its "
                               "first entry carries another digest of it",
                               part->from, desk->uid);
    }
    for (size_t i = 0; i < part->seal_count && !code; i++) {
        const char *fault = log_seal_fault(&part->seals[i]);
        code = fault ? error_set(err, ERROR_FAILED, "%s: %s", part->from, fault) : 0;
    }
    return code;
}

int union_put(struct log *log, struct union_part *part, size_t *added, struct error *err)
{
    int64_t bout = 0;
    size_t fresh = 0;
    int code = check_links(part, err);
    code = code ? code : sql_run(log, SQL_UNITE, err, "");
    code = code ? code : put_bout(log, part, &bout, err);
    for (int i = 0; i < part->desk_count && !code; i++) {
        code = put_desk(log, part, i, bout, err);
    }
    for (size_t i = 0; i < part->entry_count && !code; i++) {
        bool new = false;
        code = log_entry_put(log, part->desks, &part->entries[i], part->from, &new, err);
        fresh += new;
    }
    for (size_t i = 0; i < part->seal_count && !code; i++) {
        code = seal_put(log, bout, &part->seals[i], err);
    }
    if (!code && part->unchained && fresh) {
        code = seal_made_later(log, bout, "import", when_now(), err);
    }
    code = code ? code : sql_run(log, SQL_UNITED, err, "");
    *added = code ? 0 : fresh;
    return code;
}

/* Whether union_put would refuse the part: rules, desks or entries that contradict what is here. */
static int union_check(struct log *log, struct union_part *part, struct error *err)
{
    struct bout known;
    int code = check_links(part, err);
    code = code ? code : log_bout_get(log, part->card->id, part->bout->number, &known, err);
    code = code ? code : known.id ? same_rules(part, &known, err) : check_rules(log, part, err);
    for (int i = 0; i < part->desk_count && !code; i++) {
        code = find_desk(log, part, i, known.id, err);
    }
    for (size_t i = 0; i < part->entry_count && !code; i++) {
        if (part->desks[part->entries[i].name.desk].id) {
            code = log_entry_check(log, part->desks, &part->entries[i], part->from, err);
        }
    }
    return code;
}

enum pass { PASS_CHECK, PASS_PUT };

/* Where desks write meanwhile they get as much time as a bout took: who waits for the lock asks for
 * it only now and then. */
static void give_way(struct log *log, int64_t begun_ms)
{
    int64_t took_ms = mono_ms() - begun_ms + 1;
    struct timespec pause = {.tv_nsec =
                                 (long)(took_ms < GIVE_WAY_MS ? took_ms : GIVE_WAY_MS) * 1000000};
    if (log_is_in_use(log)) {
        nanosleep(&pause, NULL);
    }
}

/* One bout of the other database: into this one, in a transaction of its own. */
static int merge_bout(struct log *log, struct log *other, const struct card *card,
                      const struct bout *bout, enum pass pass, struct log_merged *out,
                      struct error *err)
{
    struct log_news news = {0};
    struct log_seal *seals = NULL;
    size_t fresh = 0, seal_count = 0;
    int code = log_news(other, bout->id, 0, &news, err);
    code = code ? code : log_seals(other, bout->id, &seals, &seal_count, err);
    struct union_part part = {
        .from = log_path(other),
        .card = card,
        .bout = bout,
        .desks = news.desks,
        .desk_count = news.desk_count,
        .entries = news.entries,
        .entry_count = news.entry_count,
        .seals = seals,
        .seal_count = seal_count,
    };
    if (!code && pass == PASS_CHECK) {
        code = sql_begin_read(log, err);
        code = code ? code : sql_end(log, union_check(log, &part, err), err);
    } else if (!code) {
        int64_t begun_ms = mono_ms();
        code = sql_begin(log, err);
        code = code ? code : sql_end(log, union_put(log, &part, &fresh, err), err);
        give_way(log, begun_ms);
    }
    for (size_t i = 0; i < news.entry_count && fresh; i++) {
        out->newest_ms =
            news.entries[i].utc_ms > out->newest_ms ? news.entries[i].utc_ms : out->newest_ms;
    }
    out->added += fresh;
    log_news_release(&news);
    log_seals_free(seals, seal_count);
    return code;
}

/* A card's head alone, where none of its bouts brings it. */
static int merge_head(struct log *log, const struct card *head, struct error *err)
{
    bool there = false;
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    code = log_card_there(log, head->id, &there, err);
    code = code || there ? code : log_card_put(log, head, NULL, err);
    return sql_end(log, code, err);
}

static int merge_card(struct log *log, struct log *other, const char *id, enum pass pass,
                      struct log_merged *out, struct error *err)
{
    struct card card = {0};
    int code = log_card_get(other, id, &card, err);
    struct card head = card;
    head.bout = NULL;
    head.bouts = 0;
    if (!code && pass == PASS_PUT) {
        code = merge_head(log, &head, err);
    }
    for (int i = 0; i < card.bouts && !code; i++) {
        code = merge_bout(log, other, &head, &card.bout[i], pass, out, err);
    }
    card_release(&card);
    return code;
}

int log_merge(struct log *log, struct log *other, struct log_merged *out, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    *out = (struct log_merged){0};
    int code = log_card_ids(other, &ids, &count, err);
    for (enum pass pass = PASS_CHECK; pass <= PASS_PUT && !code; pass++) {
        /* From the oldest on, so that the newest card stays the newest. */
        for (size_t i = count; i-- > 0 && !code;) {
            code = merge_card(log, other, ids[i], pass, out, err);
        }
    }
    free(ids);
    return code;
}
