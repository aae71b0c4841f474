/* states.h: what entries leave behind as state: the round clock, stances, the position. Private to
 * the room. */
#ifndef RINGTALLY_TALLY_STATES_H
#define RINGTALLY_TALLY_STATES_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/tally/fold.h"

struct states {
    struct clock_plan plan;
    uint8_t first_stance[CORNER_COUNT];
    size_t *index; /* of the subjects that are state, in order */
    size_t count, room;
    /* As those leave it. */
    struct round_clock clock;
    uint8_t stance[CORNER_COUNT];
    uint8_t position;
};

/* Whether an entry is a subject that is state. The result that ended the bout is: it stops the
 * clock. */
bool state_is(const struct entry *entry);

/* As before the first entry; the list is kept. */
void states_reset(struct states *states);
/* The newest of all takes effect. */
void states_apply(struct states *states, const struct subject *subject);
/* All of them anew: one in the middle has changed. */
/* What officials said of the end, once more, over a clock that was made otherwise. */
void states_end(struct states *states, const struct subject *subjects);
void states_anew(struct states *states, const struct subject *subjects);
/* Lists one more; room was made before. */
void states_put(struct states *states, size_t index);
/* A subject was placed before those from `place` on. */
void states_shift(struct states *states, size_t place);

#endif
