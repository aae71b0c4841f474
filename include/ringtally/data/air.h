/* air.h: how a bout goes on air: what is held back of it, and how much later than it happens it is
 * told. Feed and drop ask here, and nowhere else.
 *
 * What is late is read from the log up to an arrival: all that had arrived so many milliseconds
 * ago, and nothing else, corrections too. When that was is known from looking; what was there at
 * the first look is told where it was written before that, and all of it once the delay has passed
 * since. A card's own words (names, weights) are never late: a name put right is right.
 */
#ifndef RINGTALLY_DATA_AIR_H
#define RINGTALLY_DATA_AIR_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/sign.h"
#include "ringtally/log/log.h"
#include "ringtally/tally/gate.h"

#define AIR_DELAY_MOST_MS 600000

/* What was so at some moments, for a reader who is told later. */
struct late_item {
    int64_t at_ms; /* monotonic */
    int64_t number;
    void *data; /* malloc'd, or NULL */
    int count;
};
struct late_line {
    struct late_item *item;
    size_t count, room;
    void (*drop)(void *data, int count); /* NULL: free */
};
/* Adds what is so now; `data` is the line's from here on, in any case. */
int late_put(struct late_line *line, int64_t now_ms, int64_t number, void *data, int count,
             struct error *err);
/* The newest of what was so at that moment, or the oldest of all where nothing was known then;
 * older ones are dropped. NULL: nothing was put in. */
const struct late_item *late_take(struct late_line *line, int64_t at_ms);
void late_release(struct late_line *line);

struct air {
    unsigned holds;           /* kinds of the gate (gate.h); 0: nothing is held */
    int64_t delay_ms;         /* 0: all is told at once */
    struct late_line arrived; /* numbers: the highest arrival */
    int64_t until;            /* what may be read now; 0: all */
    bool looked;
    struct late_line signs; /* of the bout that a reading has open */
    int64_t signs_of;       /* that bout's id */
};

/* The wall's time as it is told: late by the delay. `air` may be NULL here and below. */
int64_t air_wall(const struct air *air);
/* A look at the log, which was written to since the last one or not. *changed: there is something
 * to read; the connection reads up to there. */
int air_look(struct air *air, struct log *log, bool written, bool *changed, struct error *err);
/* Puts signs[count] into the line and overwrites them with what is told. */
int air_signs(const struct air *air, struct late_line *line, struct desk_sign *signs, int count,
              struct error *err);
/* Forgets what was seen of a database: for a new connection to begin anew, and at the end. */
void air_forget(struct air *air);

#endif
