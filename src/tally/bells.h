/* bells.h: the round clock of a desk on a recording, as its bells stand in media time. Private to
 * the room.
 *
 * Bells are clock entries, marked in any order and moved afterwards. What counts is where they
 * stand: a start from nothing begins the round after the one before it (the first says itself which
 * one), a stop and the start behind it belong to the round that they stand in. */
#ifndef RINGTALLY_TALLY_BELLS_H
#define RINGTALLY_TALLY_BELLS_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/tally/fold.h"

struct bells {
    bool on;            /* a desk that this view counts tags from a recording: */
    int root;           /* that desk */
    struct entry *bell; /* by at_ms, with round and elapsed_ms as they follow */
    size_t count, room;
};

/* Finds that desk's anew among the subjects that are state; room was made before, for all of them.
 */
void bells_anew(struct bells *bells, const struct clock_plan *plan, const struct subject *subjects,
                const size_t *states, size_t count, const struct desk_row *desks);
/* The clock as it stands at that moment. */
struct round_clock bells_clock(const struct bells *bells, const struct clock_plan *plan,
                               int64_t at_ms);
/* Gives the entry the round and the round clock of its moment. */
void bells_place(const struct bells *bells, const struct clock_plan *plan, struct entry *now);

#endif
