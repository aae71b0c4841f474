/* unseen.c: for how long the tagger's view of a corner was blocked. */
#include "ringtally/tally/fold.h"

/* The first entry after subjects[at] that ends the blocked view of its corner; NULL: none yet. */
static const struct entry *view_ends(const struct fold *fold, size_t at)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(fold, &subjects);
    uint8_t corner = subjects[at].now.strike.corner;
    for (size_t i = at + 1; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        bool ends =
            (now->kind == ENTRY_STRIKE && now->value != ENTRY_INSERTED) || now->kind == ENTRY_VIEW;
        if (ends && subjects[i].counts && now->strike.corner == corner) {
            return now;
        }
    }
    return NULL;
}

/* In a round, from so much of it on. */
static int64_t within(const struct fold *fold, const struct entry *from, const struct entry *to,
                      int round, int32_t since_ms, int64_t now_ms)
{
    const struct round_clock *clock = fold_clock(fold);
    int last = to ? to->round : clock_read(clock, now_ms).round;
    if (round < from->round || round > last) {
        return 0;
    }
    int64_t begins = round == from->round ? from->elapsed_ms : 0;
    begins = begins > since_ms ? begins : since_ms;
    int64_t ends = to && round == to->round ? to->elapsed_ms : clock_ran(clock, round, now_ms);
    return ends > begins ? ends - begins : 0;
}

bool fold_hidden(const struct fold *fold, enum corner corner)
{
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    fold_subjects(fold, &subjects);
    while (count-- > 0) {
        const struct subject *subject = &subjects[states[count]];
        if (subject->now.kind == ENTRY_VIEW && subject->counts &&
            subject->now.strike.corner == corner) {
            return subject->now.code == CODE_HIDDEN && !view_ends(fold, states[count]);
        }
    }
    return false;
}

/* Of rounds first to last, of the first from so much of it on. */
static int64_t unseen(const struct fold *fold, int first, int32_t since_ms, int last,
                      enum corner corner, int64_t now_ms)
{
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    int64_t sum = 0;
    fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[states[i]];
        if (subject->now.kind != ENTRY_VIEW || subject->now.code != CODE_HIDDEN ||
            !subject->counts || subject->now.strike.corner != corner) {
            continue;
        }
        const struct entry *end = view_ends(fold, states[i]);
        for (int r = first; r <= last; r++) {
            sum += within(fold, &subject->now, end, r, r == first ? since_ms : 0, now_ms);
        }
    }
    return sum;
}

int64_t fold_unseen(const struct fold *fold, int round, enum corner corner, int64_t now_ms)
{
    return unseen(fold, round ? round : 1, 0, round ? round : ROUND_MAX, corner, now_ms);
}

int64_t fold_unseen_since(const struct fold *fold, int round, int32_t elapsed_ms,
                          enum corner corner, int64_t now_ms)
{
    return unseen(fold, round ? round : 1, elapsed_ms, ROUND_MAX, corner, now_ms);
}
