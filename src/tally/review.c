/* review.c: what needs a look, and why. */
#include "ringtally/tally/review.h"

#include <stdio.h>
#include <string.h>

static bool wants_look(const struct subject *subject)
{
    return subject->counts && !subject->now.accepted;
}

static bool is_strike(const struct subject *subject)
{
    return subject->counts && subject->now.kind == ENTRY_STRIKE;
}

/* Reasons are set for the subjects from..to; those around them, begin..end, are their context. */
struct part {
    uint8_t *out;
    const struct subject *subjects;
    size_t from, to, begin, end;
};

static void mark(const struct part *part, size_t i, uint8_t reason)
{
    if (i >= part->from && i < part->to && wants_look(&part->subjects[i])) {
        part->out[i] |= reason;
    }
}

/* One of the four limbs, sides apart, that hands can hit in one moment by mistake. */
static bool is_of_four(int limb)
{
    return limb_group((enum limb)limb) == GROUP_HANDS || limb_group((enum limb)limb) == GROUP_LEGS;
}

static void find_bursts(const struct part *part)
{
    const struct subject *subjects = part->subjects;
    size_t last[CORNER_COUNT][LIMB_COUNT] = {{0}};
    bool seen[CORNER_COUNT][LIMB_COUNT] = {{false}};
    for (size_t i = part->begin; i < part->end; i++) {
        const struct entry *now = &subjects[i].now;
        int limb = now->strike.limb;
        if (!is_strike(&subjects[i]) || !is_of_four(limb)) {
            continue;
        }
        size_t *of = last[now->strike.corner];
        bool *known = seen[now->strike.corner];
        of[limb] = i;
        known[limb] = true;
        bool burst = true;
        for (int other = 0; other < LIMB_COUNT; other++) {
            burst = burst && (!is_of_four(other) ||
                              (known[other] &&
                               now->at_ms - subjects[of[other]].now.at_ms <= REVIEW_BURST_MS &&
                               subjects[of[other]].now.at_ms - now->at_ms <= REVIEW_BURST_MS));
        }
        for (int other = 0; burst && other < LIMB_COUNT; other++) {
            if (is_of_four(other)) {
                mark(part, of[other], REVIEW_BURST);
            }
        }
    }
}

static void find_knockdowns(const struct part *part)
{
    const struct subject *subjects = part->subjects;
    long before = -1;
    for (size_t i = part->begin; i < part->end; i++) {
        if (!is_strike(&subjects[i]) || !(subjects[i].now.strike.technique & TECHNIQUE_KNOCKDOWN)) {
            continue;
        }
        if (before >= 0) {
            int64_t gap = subjects[i].now.at_ms - subjects[before].now.at_ms;
            if (gap <= REVIEW_KNOCKDOWNS_MS && gap >= -REVIEW_KNOCKDOWNS_MS) {
                mark(part, i, REVIEW_KNOCKDOWNS);
                mark(part, (size_t)before, REVIEW_KNOCKDOWNS);
            }
        }
        before = (long)i;
    }
}

static void find_all(const struct part *part, const struct rules *rules)
{
    memset(part->out + part->from, 0, part->to - part->from);
    for (size_t i = part->from; i < part->to; i++) {
        const struct subject *subject = &part->subjects[i];
        const struct entry *now = &subject->now;
        if (now->review) {
            mark(part, i, REVIEW_FLAGGED);
        }
        if (is_strike(subject) && now->off_clock) {
            mark(part, i, REVIEW_OFF_CLOCK);
        }
        if (is_strike(subject) && !rules_allow(rules, now->strike.limb, now->strike.target)) {
            mark(part, i, REVIEW_UNKNOWN);
        }
    }
    find_bursts(part);
    find_knockdowns(part);
}

size_t review_reasons(uint8_t *out, size_t count, const struct fold *fold,
                      const struct rules *rules)
{
    struct part part = {.out = out};
    size_t known = fold_subjects(fold, &part.subjects);
    size_t found = 0;
    part.to = part.end = count < known ? count : known;
    find_all(&part, rules);
    for (size_t i = 0; i < part.to; i++) {
        found += out[i] != 0;
    }
    return found;
}

/* The first subject, from `at` downwards, that stands within the window before it. */
static size_t window_begin(const struct subject *subjects, size_t at)
{
    size_t begin = at;
    while (begin > 0 &&
           subjects[at].now.utc_ms - subjects[begin - 1].now.utc_ms <= REVIEW_KNOCKDOWNS_MS) {
        begin--;
    }
    return begin;
}

static size_t window_end(const struct subject *subjects, size_t count, size_t at)
{
    size_t end = at + 1;
    while (end < count &&
           subjects[end].now.utc_ms - subjects[at].now.utc_ms <= REVIEW_KNOCKDOWNS_MS) {
        end++;
    }
    return end;
}

long review_update(uint8_t *reasons, size_t at, const struct fold *fold, const struct rules *rules)
{
    struct part part = {.out = reasons};
    size_t count = fold_subjects(fold, &part.subjects);
    long change = 0;
    part.from = window_begin(part.subjects, at);
    part.to = window_end(part.subjects, count, at);
    part.begin = window_begin(part.subjects, part.from);
    part.end = window_end(part.subjects, count, part.to - 1);
    for (size_t i = part.from; i < part.to; i++) {
        change -= reasons[i] != 0;
    }
    find_all(&part, rules);
    for (size_t i = part.from; i < part.to; i++) {
        change += reasons[i] != 0;
    }
    return change;
}

void review_words(char *out, size_t size, uint8_t reasons)
{
    static const char *const words[] = {"flagged", "off the clock", "not in the rules",
                                        "all four limbs at once", "two knockdowns at once"};
    size_t used = 0;
    out[0] = '\0';
    for (int i = 0; i < 5; i++) {
        if ((reasons >> i & 1) && used < size) {
            int wrote = snprintf(out + used, size - used, "%s%s", used ? ", " : "", words[i]);
            used += wrote > 0 ? (size_t)wrote : 0;
        }
    }
}
