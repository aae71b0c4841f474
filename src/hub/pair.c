/* pair.c: entries of one bout, from the local log to the hub and back. */
#include "hub/pair.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/log/chain.h"
#include "ringtally/log/log_watch.h"

#define BATCH 1000 /* entries of one transaction */

void pair_release(struct pair *pair)
{
    for (size_t i = 0; i < pair->desk_count; i++) {
        runs_release(&pair->desks[i].there);
    }
    free(pair->desks);
    pair->desks = NULL;
    pair->desk_count = pair->desk_room = 0;
}

struct pair *pairs_find(const struct pairs *pairs, const char *card, int number)
{
    for (size_t i = 0; i < pairs->count; i++) {
        struct pair *pair = &pairs->pair[i];
        if (pair->number == number && strcmp(pair->card, card) == 0) {
            return pair;
        }
    }
    return NULL;
}

int pairs_add(struct pairs *pairs, const char *card, int number, struct pair **out,
              struct error *err)
{
    *out = pairs_find(pairs, card, number);
    if (*out) {
        return 0;
    }
    if (!grow_array(&pairs->pair, sizeof *pairs->pair, pairs->count, 1, &pairs->room)) {
        return error_memory(err);
    }
    *out = &pairs->pair[pairs->count++];
    **out = (struct pair){.number = number};
    snprintf((*out)->card, sizeof(*out)->card, "%s", card);
    return 0;
}

void pairs_forget(struct pairs *pairs)
{
    for (size_t i = 0; i < pairs->count; i++) {
        pair_release(&pairs->pair[i]);
    }
    pairs->count = 0;
}

static struct pair_desk *by_uid(const struct pair *pair, const char *uid)
{
    for (size_t i = 0; i < pair->desk_count; i++) {
        if (strcmp(pair->desks[i].uid, uid) == 0) {
            return &pair->desks[i];
        }
    }
    return NULL;
}

static struct pair_desk *by_id(const struct pair *pair, int64_t id)
{
    for (size_t i = 0; i < pair->desk_count; i++) {
        if (pair->desks[i].id == id) {
            return &pair->desks[i];
        }
    }
    return NULL;
}

/* The bout's desks at the hub: *out as a table, and each known to the pair. */
static int read_desks(struct pair *pair, struct hub *hub, struct desk_row **out, int *count,
                      struct error *err)
{
    int code = hub_desks(hub, pair->id, out, count, err);
    for (int i = 0; i < *count && !code; i++) {
        if (by_uid(pair, (*out)[i].uid)) {
            continue;
        }
        if (!grow_array(&pair->desks, sizeof *pair->desks, pair->desk_count, 1, &pair->desk_room)) {
            code = error_memory(err);
            break;
        }
        struct pair_desk *desk = &pair->desks[pair->desk_count++];
        *desk = (struct pair_desk){.id = (*out)[i].id};
        memcpy(desk->uid, (*out)[i].uid, sizeof desk->uid);
    }
    return code;
}

int pair_meet(struct pair *pair, struct hub *hub, struct error *err)
{
    struct hub_place place;
    struct desk_row *desks = NULL;
    int count = 0;
    pair_release(pair);
    pair->id = pair->seen = 0;
    pair->sealed = false;
    pair->due = pair->new_here = true;
    int code = hub_bout_get(hub, pair->card, pair->number, &place, NULL, err);
    if (code || !place.id) {
        return code;
    }
    pair->id = place.id;
    pair->arrival = place.arrivals; /* read before the runs, which have all that is below */
    code = read_desks(pair, hub, &desks, &count, err);
    free(desks);
    if (code) {
        return code;
    }
    char id[24];
    const char *const values[] = {id};
    snprintf(id, sizeof id, "%lld", (long long)pair->id);
    PGresult *rows = link_run(hub, HUB_RUNS, values, err);
    code = rows ? 0 : link_failed(err);
    for (int i = 0; rows && i < PQntuples(rows) && !code; i++) {
        struct pair_desk *desk = by_id(pair, link_number(rows, i, 0));
        if (desk && !runs_add(&desk->there, link_number(rows, i, 1), link_number(rows, i, 2))) {
            code = error_memory(err);
        }
    }
    PQclear(rows);
    return code;
}

static bool is_there(const struct pair *pair, const struct desk_row *desks,
                     const struct entry *entry)
{
    const struct pair_desk *desk = by_uid(pair, desks[entry->name.desk].uid);
    return desk && runs_has(&desk->there, entry->name.seq);
}

/* Names that the local log has, by the pair's desks. */
static int runs_here(const struct pair *pair, const struct log_news *news, struct runs **out,
                     struct error *err)
{
    struct runs *here = calloc(pair->desk_count + 1, sizeof *here);
    int code = here ? 0 : error_memory(err);
    for (size_t i = 0; i < news->entry_count && !code; i++) {
        struct entry_name name = news->entries[i].name;
        const struct pair_desk *desk = by_uid(pair, news->desks[name.desk].uid);
        if (desk && !runs_add(&here[desk - pair->desks], name.seq, name.seq)) {
            code = error_memory(err);
        }
    }
    *out = here;
    return code;
}

static void free_runs(struct runs *runs, size_t count)
{
    for (size_t i = 0; runs && i < count; i++) {
        runs_release(&runs[i]);
    }
    free(runs);
}

/* What of `run` is not in `here`, as ranges. */
static bool add_ranges(struct hub_range **ranges, size_t *count, size_t *room, int64_t desk,
                       struct run run, const struct runs *here)
{
    int64_t low = run.low;
    for (size_t i = 0; i <= here->count && low <= run.high; i++) {
        int64_t next = i < here->count ? here->run[i].low : INT64_MAX;
        int64_t high = next <= run.high ? next - 1 : run.high;
        if (high >= low) {
            if (!grow_array(ranges, sizeof **ranges, *count, 1, room)) {
                return false;
            }
            (*ranges)[(*count)++] = (struct hub_range){desk, low, high};
        }
        if (i < here->count && here->run[i].high >= low) {
            low = here->run[i].high + 1;
        }
    }
    return true;
}

/* All ranges that the hub has and the local log has not; with `heads` also each desk's newest. */
static int lacking_here(const struct pair *pair, const struct log_news *news, bool heads,
                        struct hub_range **ranges, size_t *count, struct error *err)
{
    struct runs *here = NULL;
    size_t room = 0;
    int code = runs_here(pair, news, &here, err);
    for (size_t i = 0; i < pair->desk_count && !code; i++) {
        const struct pair_desk *desk = &pair->desks[i];
        const struct runs *there = &desk->there;
        bool fits = true;
        for (size_t j = 0; j < there->count && fits; j++) {
            fits = add_ranges(ranges, count, &room, desk->id, there->run[j], &here[i]);
        }
        if (heads && there->count && fits) {
            int64_t newest = there->run[there->count - 1].high;
            struct runs none = {.count = 0};
            fits = !runs_has(&here[i], newest) ||
                   add_ranges(ranges, count, &room, desk->id, (struct run){newest, newest}, &none);
        }
        code = fits ? 0 : error_memory(err);
    }
    free_runs(here, pair->desk_count);
    return code;
}

static int read_here(const struct pair *pair, struct log *log, int64_t arrival,
                     struct log_news *news, struct error *err)
{
    return pair->here ? log_news(log, pair->here, arrival, news, err) : 0;
}

static struct hub_gap lacking_there(const struct pair *pair, const struct log_news *news)
{
    struct hub_gap gap = {0};
    for (size_t i = 0; i < news->entry_count; i++) {
        if (!is_there(pair, news->desks, &news->entries[i])) {
            int64_t at_ms = news->entries[i].utc_ms;
            gap.here++;
            gap.here_ms = gap.here_ms && gap.here_ms < at_ms ? gap.here_ms : at_ms;
        }
    }
    return gap;
}

int pair_waiting(const struct pair *pair, struct log *log, struct hub_gap *out, struct error *err)
{
    struct log_news news = {0};
    int code = read_here(pair, log, pair->seen, &news, err);
    *out = lacking_there(pair, &news);
    log_news_release(&news);
    return code;
}

int pair_gap(const struct pair *pair, struct log *log, struct hub_gap *out, struct error *err)
{
    struct log_news news = {0};
    struct hub_range *ranges = NULL;
    size_t count = 0;
    int code = read_here(pair, log, 0, &news, err);
    *out = lacking_there(pair, &news);
    code = code ? code : lacking_here(pair, &news, false, &ranges, &count, err);
    for (size_t i = 0; i < count && !code; i++) {
        out->there += ranges[i].high - ranges[i].low + 1;
    }
    free(ranges);
    log_news_release(&news);
    return code;
}

static bool any_sign(const struct entry *entries, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (entries[i].kind == ENTRY_SIGN) {
            return true;
        }
    }
    return false;
}

/* A desk's entries in the order of their numbers, as a union wants them. */
static int by_name(const void *a, const void *b)
{
    const struct entry *one = a, *other = b;
    if (one->name.desk != other->name.desk) {
        return one->name.desk < other->name.desk ? -1 : 1;
    }
    return one->name.seq < other->name.seq ? -1 : one->name.seq > other->name.seq;
}

/* Into the local log; what is here already is compared. */
static int take_in(struct pair *pair, struct hub *hub, struct log *log,
                   const struct desk_row *desks, int desk_count, const struct hub_entries *found,
                   struct error *err)
{
    struct card card;
    struct bout bout;
    struct hub_place place;
    char from[300], ref[64];
    size_t added = 0, seal_count = 0;
    struct log_seal *seals = NULL;
    struct desk_row *own = malloc(((size_t)desk_count + 1) * sizeof *own);
    int code = own ? hub_card_get(hub, pair->card, &card, err) : error_memory(err);
    code = code ? code : hub_bout_get(hub, pair->card, pair->number, &place, &bout, err);
    if (!code && (!pair->sealed || any_sign(found->entries, found->count))) {
        code = hub_seals(hub, pair->id, &seals, &seal_count, err);
    }
    if (!code) {
        if (found->count) {
            qsort(found->entries, found->count, sizeof *found->entries, by_name);
        }
        if (desk_count) {
            memcpy(own, desks, (size_t)desk_count * sizeof *own);
        }
        snprintf(from, sizeof from, "hub %s", hub->name);
        struct union_part part = {.from = from,
                                  .card = &card,
                                  .bout = &bout,
                                  .desks = own,
                                  .desk_count = desk_count,
                                  .entries = found->entries,
                                  .entry_count = found->count,
                                  .seals = seals,
                                  .seal_count = seal_count};
        code = log_unite(log, &part, &added, err);
    }
    free(own);
    log_seals_free(seals, seal_count);
    if (!code && !pair->here) {
        snprintf(ref, sizeof ref, "%s/%d", pair->card, pair->number);
        code = log_bout_find(log, ref, &bout, err);
        pair->here = code ? 0 : bout.id;
    }
    for (size_t i = 0; i < found->count && !code; i++) {
        struct entry_name name = found->entries[i].name;
        struct pair_desk *desk = by_uid(pair, desks[name.desk].uid);
        if (desk && !runs_add(&desk->there, name.seq, name.seq)) {
            code = error_memory(err);
        }
    }
    return code;
}

int pair_head(struct pair *pair, struct hub *hub, struct log *log, struct error *err)
{
    struct hub_entries none = {0};
    return take_in(pair, hub, log, NULL, 0, &none, err);
}

/* The entry of that name in the local log; NULL: it is not here. */
static const struct entry *find_here(const struct log_news *news, const char *uid, int64_t seq)
{
    for (size_t i = 0; i < news->entry_count; i++) {
        const struct entry *entry = &news->entries[i];
        if (entry->name.seq == seq && strcmp(news->desks[entry->name.desk].uid, uid) == 0) {
            return entry;
        }
    }
    return NULL;
}

/* Where both sides have an entry it carries the digest of all its desk wrote before: so one
 * comparison covers them all. */
static int compare_chains(const struct pair *pair, const struct hub *hub,
                          const struct log_news *news, const struct desk_row *desks,
                          const struct hub_entries *found, struct error *err)
{
    for (size_t i = 0; i < found->count; i++) {
        const struct entry *there = &found->entries[i];
        const char *uid = desks[there->name.desk].uid;
        const struct entry *here = find_here(news, uid, there->name.seq);
        if (here && chain_known(here->prior) && chain_known(there->prior) &&
            memcmp(here->prior, there->prior, sizeof here->prior) != 0) {
            return error_set(err, ERROR_FAILED,
                             "hub %s: bout %s/%d: what desk %s wrote before its entry %lld is not "
                             "the same here and there: the digests differ",
                             hub->name, pair->card, pair->number, uid, (long long)there->name.seq);
        }
    }
    return 0;
}

/* `news`: what is here; NULL: not to be compared. */
static int fetch_named(struct pair *pair, struct hub *hub, struct log *log,
                       const struct hub_range *ranges, size_t count, const struct log_news *news,
                       struct error *err)
{
    struct desk_row *desks = NULL;
    struct hub_entries found = {0};
    int desk_count = 0;
    int code = read_desks(pair, hub, &desks, &desk_count, err);
    code = code ? code
                : hub_entries_named(hub, pair->id, ranges, count, desks, desk_count, &found, err);
    code = code || !news ? code : compare_chains(pair, hub, news, desks, &found, err);
    code = code ? code : take_in(pair, hub, log, desks, desk_count, &found, err);
    free(desks);
    free(found.entries);
    return code;
}

int pair_fetch(struct pair *pair, struct hub *hub, struct log *log, struct error *err)
{
    struct desk_row *desks = NULL;
    struct hub_place place;
    size_t got = BATCH;
    int desk_count = 0;
    int code = hub_bout_get(hub, pair->card, pair->number, &place, NULL, err);
    if (code || !place.id || place.arrivals == pair->arrival) {
        pair->due = code != 0;
        return code;
    }
    pair->id = place.id;
    code = read_desks(pair, hub, &desks, &desk_count, err);
    while (!code && got == BATCH) {
        struct hub_entries found = {0};
        code =
            hub_entries_since(hub, pair->id, pair->arrival, BATCH, desks, desk_count, &found, err);
        code = code ? code : take_in(pair, hub, log, desks, desk_count, &found, err);
        got = code ? 0 : found.count;
        pair->arrival = got ? found.arrival : pair->arrival;
        free(found.entries);
    }
    if (!code) {
        pair->arrival = place.arrivals > pair->arrival ? place.arrivals : pair->arrival;
        pair->due = false;
    }
    free(desks);
    return code;
}

/* The hub's ids of the local desks, whose bout and rows are brought there where they are not. */
static int find_ids(struct pair *pair, struct hub *hub, struct log *log,
                    const struct log_news *news, int64_t *ids, struct error *err)
{
    struct card card;
    struct bout bout;
    struct desk_row *desks = NULL;
    int count = 0, missing = 0, code = 0;
    for (int i = 0; i < news->desk_count; i++) {
        missing += by_uid(pair, news->desks[i].uid) == NULL;
    }
    if (missing) {
        code = log_bout_of(log, pair->here, &card, &bout, err);
        code = code
                   ? code
                   : hub_bout_put(hub, &card, &bout, news->desks, news->desk_count, &pair->id, err);
        code = code ? code : read_desks(pair, hub, &desks, &count, err);
        free(desks);
    }
    for (int i = 0; i < news->desk_count && !code; i++) {
        const struct pair_desk *desk = by_uid(pair, news->desks[i].uid);
        if (!desk) {
            return error_set(err, ERROR_FAILED, "hub %s: desk %s belongs to another bout there",
                             hub->name, news->desks[i].uid);
        }
        ids[i] = desk->id;
    }
    return code;
}

/* Entries that somebody else had brought: they must be these. */
static int compare_sent(struct pair *pair, struct hub *hub, struct log *log, const int64_t *ids,
                        const struct entry *entries, size_t count, struct error *err)
{
    struct hub_range *ranges = calloc(count, sizeof *ranges);
    if (!ranges) {
        return error_memory(err);
    }
    for (size_t i = 0; i < count; i++) {
        int64_t seq = entries[i].name.seq;
        ranges[i] = (struct hub_range){ids[entries[i].name.desk], seq, seq};
    }
    int code = fetch_named(pair, hub, log, ranges, count, NULL, err);
    free(ranges);
    return code;
}

static int send_batch(struct pair *pair, struct hub *hub, struct log *log, const int64_t *ids,
                      const struct log_news *news, const struct entry *entries, size_t count,
                      struct error *err)
{
    int64_t base = 0;
    size_t added = 0;
    int code = hub_entries_put(hub, pair->id, ids, entries, count, &base, &added, err);
    if (!code && added < count) {
        code = compare_sent(pair, hub, log, ids, entries, count, err);
    }
    for (size_t i = 0; i < count && !code; i++) {
        struct pair_desk *desk = by_uid(pair, news->desks[entries[i].name.desk].uid);
        if (!runs_add(&desk->there, entries[i].name.seq, entries[i].name.seq)) {
            code = error_memory(err);
        }
    }
    if (!code && base == pair->arrival) { /* nobody else's came in between */
        pair->arrival = base + (int64_t)count;
    }
    return code;
}

static bool has_seal(const struct log_seal *seals, size_t count, const struct log_seal *seal)
{
    for (size_t i = 0; i < count; i++) {
        if (memcmp(seals[i].digest, seal->digest, sizeof seal->digest) == 0) {
            return true;
        }
    }
    return false;
}

/* A seal goes before the entry that speaks of it. */
static int send_seals(struct pair *pair, struct hub *hub, struct log *log, struct error *err)
{
    struct log_seal *here = NULL, *there = NULL;
    size_t here_count = 0, there_count = 0;
    int code = log_seals(log, pair->here, &here, &here_count, err);
    code = code || !here_count ? code : hub_seals(hub, pair->id, &there, &there_count, err);
    for (size_t i = 0; i < here_count && !code; i++) {
        if (!has_seal(there, there_count, &here[i])) {
            code = hub_seal_put(hub, pair->id, &here[i], err);
        }
    }
    log_seals_free(here, here_count);
    log_seals_free(there, there_count);
    return code;
}

/* Sends what of `news` the hub has not. */
static int send_news(struct pair *pair, struct hub *hub, struct log *log, struct log_news *news,
                     struct error *err)
{
    size_t count = 0;
    int64_t *ids = calloc((size_t)news->desk_count + 1, sizeof *ids);
    int code = ids ? find_ids(pair, hub, log, news, ids, err) : error_memory(err);
    for (size_t i = 0; i < news->entry_count && !code; i++) {
        if (!is_there(pair, news->desks, &news->entries[i])) {
            news->entries[count++] = news->entries[i];
        }
    }
    if (!code && (!pair->sealed || any_sign(news->entries, count))) {
        code = send_seals(pair, hub, log, err);
    }
    pair->sealed = pair->sealed || !code;
    for (size_t at = 0; at < count && !code; at += BATCH) {
        size_t size = count - at < BATCH ? count - at : BATCH;
        code = send_batch(pair, hub, log, ids, news, news->entries + at, size, err);
    }
    free(ids);
    return code;
}

int pair_send(struct pair *pair, struct hub *hub, struct log *log, struct error *err)
{
    struct log_news news = {0};
    int code = read_here(pair, log, pair->seen, &news, err);
    int64_t arrival = news.arrival;
    if (!code && news.desk_count) {
        code = send_news(pair, hub, log, &news, err);
    }
    if (!code) {
        pair->seen = arrival > pair->seen ? arrival : pair->seen;
        pair->new_here = false;
    }
    log_news_release(&news);
    return code;
}

int pair_bring(struct pair *pair, struct hub *hub, struct log *log, struct error *err)
{
    struct log_news news = {0};
    struct hub_range *ranges = NULL;
    size_t count = 0;
    int code = read_here(pair, log, 0, &news, err);
    code = code ? code : lacking_here(pair, &news, true, &ranges, &count, err);
    if (!code && pair->id) {
        code = fetch_named(pair, hub, log, ranges, count, &news, err);
    }
    log_news_release(&news);
    free(ranges);
    pair->due = code ? pair->due : false;
    return code;
}

int pair_unite(struct pair *pair, struct hub *hub, struct log *log, struct error *err)
{
    int code = pair_bring(pair, hub, log, err);
    return code ? code : pair_send(pair, hub, log, err);
}
