/* bells.c: round clocks by computation from a recording's bells. */
#include "tally/bells.h"

#define BELL_MS 5000 /* so near to the end nobody stops the clock but the bell */

/* What follows for a bell from those before it. */
static void follow(struct entry *bell, const struct round_clock *before)
{
    int32_t length = clock_round_length(&before->plan, before->round);
    if (bell->code == CODE_START && bell->elapsed_ms == 0) {
        bell->round = (uint8_t)(before->round == 0          ? bell->round
                                : before->round < ROUND_MAX ? before->round + 1
                                                            : ROUND_MAX);
        return;
    }
    struct clock_face face = clock_read(before, bell->at_ms);
    bell->round = (uint8_t)face.round;
    if (bell->code == CODE_STOP) {
        bell->elapsed_ms = face.elapsed_ms > length - BELL_MS ? length : face.elapsed_ms;
    } else {
        bell->elapsed_ms = face.elapsed_ms > 0 ? face.elapsed_ms : 1; /* it goes on */
    }
}

void bells_anew(struct bells *bells, const struct clock_plan *plan, const struct subject *subjects,
                const size_t *states, size_t count, const struct desk_row *desks)
{
    struct round_clock clock;
    bells->count = 0;
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[states[i]];
        const struct entry *now = &subject->now;
        if (now->kind != ENTRY_CLOCK || !subject->counts ||
            (now->code != CODE_START && now->code != CODE_STOP) ||
            desks[now->name.desk].root != bells->root) {
            continue;
        }
        size_t at = bells->count++;
        for (; at > 0 && bells->bell[at - 1].at_ms > now->at_ms; at--) {
            bells->bell[at] = bells->bell[at - 1];
        }
        bells->bell[at] = *now;
    }
    clock_init(&clock, plan);
    for (size_t i = 0; i < bells->count; i++) {
        follow(&bells->bell[i], &clock);
        clock_apply(&clock, &bells->bell[i]);
    }
}

struct round_clock bells_clock(const struct bells *bells, const struct clock_plan *plan,
                               int64_t at_ms)
{
    struct round_clock clock;
    clock_init(&clock, plan);
    for (size_t i = 0; i < bells->count && bells->bell[i].at_ms <= at_ms; i++) {
        clock_apply(&clock, &bells->bell[i]);
    }
    return clock;
}

void bells_place(const struct bells *bells, const struct clock_plan *plan, struct entry *now)
{
    if (now->kind == ENTRY_SCORE || now->kind == ENTRY_RESULT || now->kind == ENTRY_NOTE) {
        return; /* what officials say is of a round, not of a moment */
    }
    if (now->kind == ENTRY_CLOCK) {
        for (size_t i = 0; i < bells->count; i++) {
            if (entry_same(bells->bell[i].name, now->name)) {
                now->round = bells->bell[i].round;
                now->elapsed_ms = bells->bell[i].elapsed_ms;
            }
        }
        return;
    }
    struct round_clock clock = bells_clock(bells, plan, now->at_ms);
    struct clock_face face = clock_read(&clock, now->at_ms);
    now->round = (uint8_t)face.round;
    now->elapsed_ms = face.elapsed_ms;
    now->off_clock = face.state != CLOCK_RUNNING;
}
