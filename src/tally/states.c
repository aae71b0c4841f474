/* states.c: what entries leave behind as state: the round clock, stances, the position. */
#include "tally/states.h"

#include <string.h>

#include "ringtally/tally/officials.h"

bool state_is(const struct entry *entry)
{
    switch (entry->kind) {
    case ENTRY_STANCE:
    case ENTRY_POSITION:
    case ENTRY_CLOCK:
    case ENTRY_VIEW:
        return true;
    case ENTRY_RESULT:
        return entry->code == CODE_ENDED;
    default:
        return false;
    }
}

void states_reset(struct states *states)
{
    clock_init(&states->clock, &states->plan);
    memcpy(states->stance, states->first_stance, sizeof states->stance);
    states->position = POSITION_OPEN;
}

/* A result can also say that the bout has not ended after all. */
static void result_apply(struct round_clock *clock, const struct entry *now)
{
    struct result_text text;
    if (result_read(&text, now->text) && strcmp(text.kind, ending_ids[END_NOT_YET]) == 0) {
        clock_reopen(clock);
    } else {
        clock_end(clock, now->at_ms);
    }
}

void states_apply(struct states *states, const struct subject *subject)
{
    const struct entry *now = &subject->now;
    if (now->kind == ENTRY_RESULT &&
        subject->live) { /* from any desk: there is one set of officials */
        result_apply(&states->clock, now);
    }
    if (!subject->counts) {
        return;
    }
    switch (now->kind) {
    case ENTRY_CLOCK:
        clock_apply(&states->clock, now);
        break;
    case ENTRY_STANCE:
        states->stance[now->strike.corner] = now->strike.stance;
        break;
    case ENTRY_POSITION:
        states->position = now->strike.position;
        break;
    default:
        break;
    }
}

void states_anew(struct states *states, const struct subject *subjects)
{
    states_reset(states);
    for (size_t i = 0; i < states->count; i++) {
        states_apply(states, &subjects[states->index[i]]);
    }
}

void states_end(struct states *states, const struct subject *subjects)
{
    for (size_t i = 0; i < states->count; i++) {
        const struct subject *subject = &subjects[states->index[i]];
        if (subject->now.kind == ENTRY_RESULT && subject->live) {
            result_apply(&states->clock, &subject->now);
        }
    }
}

void states_put(struct states *states, size_t index)
{
    size_t at = states->count++;
    for (; at > 0 && states->index[at - 1] > index; at--) {
        states->index[at] = states->index[at - 1];
    }
    states->index[at] = index;
}

void states_shift(struct states *states, size_t place)
{
    for (size_t i = states->count; i-- > 0 && states->index[i] >= place;) {
        states->index[i]++;
    }
}
