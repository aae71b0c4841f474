/* facts.c: entries as lines, and what must be there of them. */
#include "facts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/grow.h"
#include "ringtally/bout/rules.h"
#include "ringtally/data/data.h"
#include "ringtally/log/log_watch.h"

static void add_name(struct buf *out, const struct desk_row *desks, struct entry_name name)
{
    buf_addf(out, " %s:%lld", name.desk < 0 ? "-" : desks[name.desk].uid, (long long)name.seq);
}

void facts_add(struct facts *facts, const char *bout, const struct desk_row *desks,
               const struct entry *entry, size_t given, size_t saved, int group)
{
    struct buf line = BUF_INIT;
    const struct strike *strike = &entry->strike;
    buf_addf(&line, "%s %s %08lld", bout, desks[entry->name.desk].uid, (long long)entry->name.seq);
    add_name(&line, desks, entry->subject);
    add_name(&line, desks, entry->undoes);
    buf_addf(&line, " %lld %lld %d %d %d %d%d%d%d %d %d %d %d %d %d %d %d %d %lld %s",
             (long long)entry->utc_ms, (long long)entry->at_ms, entry->kind, entry->act,
             entry->code, entry->off_clock, entry->review, entry->accepted, entry->unsure,
             entry->round, entry->elapsed_ms, strike->corner, strike->limb, strike->target,
             strike->stance, strike->position, strike->outcome, strike->technique,
             (long long)entry->value, entry->text);
    if (line.failed ||
        !grow_array(&facts->list, sizeof *facts->list, facts->count, 1, &facts->room)) {
        abort();
    }
    struct fact *fact = &facts->list[facts->count++];
    *fact = (struct fact){.line = line.text, .given = given, .saved = saved, .group = group};
    snprintf(fact->desk, sizeof fact->desk, "%s", desks[entry->name.desk].uid);
    facts->ordered = false;
}

void facts_release(struct facts *facts)
{
    for (size_t i = 0; i < facts->count; i++) {
        free(facts->list[i].line);
    }
    free(facts->list);
    *facts = (struct facts){0};
}

static int read_bout(struct facts *facts, struct log *log, const struct bout *bout, size_t given,
                     size_t saved, int group, struct error *err)
{
    struct log_news news = {0};
    struct rules rules;
    struct fold *fold = NULL;
    char ref[64];
    snprintf(ref, sizeof ref, "%s/%d", bout->card, bout->number);
    int code = data_bout_rules(&rules, bout, err);
    code = code ? code : log_news(log, bout->id, 0, &news, err);
    for (size_t i = 0; !code && i < news.entry_count; i++) {
        facts_add(facts, ref, news.desks, &news.entries[i], given, saved, group);
    }
    if (!code) {
        struct clock_plan plan = clock_plan(&rules, bout->rounds);
        code = log_fold(log, bout, &plan, FOLD_OFFICIAL, &fold, err);
    }
    const struct entry *entries = NULL;
    if (!code && fold_entries(fold, &entries) != news.entry_count) {
        code = error_set(err, ERROR_FAILED, "%s: not all entries are in the fold", ref);
    }
    fold_free(fold);
    log_news_release(&news);
    return code;
}

int facts_read(struct facts *facts, struct log *log, size_t given, size_t saved, int group,
               struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    int code = log_card_ids(log, &ids, &count, err);
    for (size_t i = 0; !code && i < count; i++) {
        struct card card = {0};
        code = log_card_get(log, ids[i], &card, err);
        for (int k = 0; !code && k < card.bouts; k++) {
            code = read_bout(facts, log, &card.bout[k], given, saved, group, err);
        }
        card_release(&card);
    }
    free(ids);
    return code;
}

static int compare(const void *a, const void *b)
{
    return strcmp(((const struct fact *)a)->line, ((const struct fact *)b)->line);
}

static void put_in_order(struct facts *facts)
{
    if (!facts->ordered && facts->count) {
        qsort(facts->list, facts->count, sizeof *facts->list, compare);
        facts->ordered = true;
    }
}

static int say(struct error *err, const char *what, const struct fact *fact)
{
    return error_set(err, ERROR_FAILED, "%s: %.150s (given %zu, saved %zd)", what, fact->line,
                     fact->given, (ssize_t)fact->saved);
}

#define GROUPS 64

int facts_hold(struct facts *facts, const struct facts *found, size_t moment, struct error *err)
{
    struct facts known = {.list = found->list, .count = found->count};
    bool whole[GROUPS] = {false}, broken[GROUPS] = {false};
    const struct fact *gap = NULL;
    size_t met = 0;
    put_in_order(facts);
    put_in_order(&known);
    for (size_t i = 0; i < facts->count; i++) {
        const struct fact *fact = &facts->list[i];
        bool there = met < known.count && compare(&known.list[met], fact) == 0;
        met += there;
        (there ? whole : broken)[fact->group] = true;
        if (there && fact->given > moment) {
            return say(err, "it is there before it was given", fact);
        }
        if (!there && fact->saved <= moment) {
            return say(err, "lost, and it was called saved", fact);
        }
        if (there && gap && strcmp(gap->desk, fact->desk) == 0) {
            return say(err, "an earlier one of the desk is not there", fact);
        }
        gap = there ? gap : fact;
    }
    if (met < known.count) {
        return say(err, "nobody gave this", &known.list[met]);
    }
    for (int i = 1; i < GROUPS; i++) {
        if (whole[i] && broken[i]) {
            return error_set(err, ERROR_FAILED, "group %d is there in part", i);
        }
    }
    return 0;
}
