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

static void mark(uint8_t *out, const struct subject *subjects, size_t i, uint8_t reason)
{
    if (wants_look(&subjects[i])) {
        out[i] |= reason;
    }
}

/* The last strike of each of the four limbs, sides apart, of one corner. */
enum { LEFT_HAND, RIGHT_HAND, LEFT_LEG, RIGHT_LEG, FOUR };

static int limb_of_four(enum limb limb)
{
    switch (limb) {
    case LIMB_LEFT_HAND:
        return LEFT_HAND;
    case LIMB_RIGHT_HAND:
        return RIGHT_HAND;
    case LIMB_LEFT_LEG:
        return LEFT_LEG;
    case LIMB_RIGHT_LEG:
        return RIGHT_LEG;
    default:
        return FOUR;
    }
}

static void find_bursts(uint8_t *out, const struct subject *subjects, size_t count)
{
    size_t last[CORNER_COUNT][FOUR];
    bool seen[CORNER_COUNT][FOUR] = {{false}};
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        int limb = limb_of_four(now->strike.limb);
        if (!is_strike(&subjects[i]) || limb == FOUR) {
            continue;
        }
        size_t *of = last[now->strike.corner];
        bool *known = seen[now->strike.corner];
        of[limb] = i;
        known[limb] = true;
        bool burst = true;
        for (int other = 0; other < FOUR; other++) {
            burst = burst && known[other] &&
                    now->at_ms - subjects[of[other]].now.at_ms <= REVIEW_BURST_MS &&
                    subjects[of[other]].now.at_ms - now->at_ms <= REVIEW_BURST_MS;
        }
        for (int other = 0; burst && other < FOUR; other++) {
            mark(out, subjects, of[other], REVIEW_BURST);
        }
    }
}

static void find_knockdowns(uint8_t *out, const struct subject *subjects, size_t count)
{
    long before = -1;
    for (size_t i = 0; i < count; i++) {
        if (!is_strike(&subjects[i]) || !(subjects[i].now.strike.technique & TECHNIQUE_KNOCKDOWN)) {
            continue;
        }
        if (before >= 0) {
            int64_t gap = subjects[i].now.at_ms - subjects[before].now.at_ms;
            if (gap <= REVIEW_KNOCKDOWNS_MS && gap >= -REVIEW_KNOCKDOWNS_MS) {
                mark(out, subjects, i, REVIEW_KNOCKDOWNS);
                mark(out, subjects, (size_t)before, REVIEW_KNOCKDOWNS);
            }
        }
        before = (long)i;
    }
}

size_t review_reasons(uint8_t *out, size_t count, const struct fold *fold,
                      const struct rules *rules)
{
    const struct subject *subjects = NULL;
    size_t known = fold_subjects(fold, &subjects);
    size_t found = 0;
    if (count > known) {
        count = known;
    }
    memset(out, 0, count);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (now->review) {
            mark(out, subjects, i, REVIEW_FLAGGED);
        }
        if (is_strike(&subjects[i]) && now->off_clock) {
            mark(out, subjects, i, REVIEW_OFF_CLOCK);
        }
        if (is_strike(&subjects[i]) && !rules_allow(rules, now->strike.limb, now->strike.target)) {
            mark(out, subjects, i, REVIEW_UNKNOWN);
        }
    }
    find_bursts(out, subjects, count);
    find_knockdowns(out, subjects, count);
    for (size_t i = 0; i < count; i++) {
        found += out[i] != 0;
    }
    return found;
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
