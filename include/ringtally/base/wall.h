/* wall.h: the wall clock as a program follows it that stamps by it for hours.
 *
 * Somebody sets the wall clock, or a time server does. What is slewed slowly is followed in
 * silence; a step is told to whoever counts by the stamps, who must then shift what they know.
 */
#ifndef RINGTALLY_BASE_WALL_H
#define RINGTALLY_BASE_WALL_H

#include <stdint.h>

#define WALL_STEP_MS 500 /* above what any time server slews between two looks a second apart */

struct wall {
    int64_t ahead_ms; /* of the wall before mono_ms, at the last look */
    int64_t last_ms;  /* stamp given last */
};

void wall_init(struct wall *out);

/* The stamp for this moment. It never falls but by a step. *step_ms = by how much the wall was set
 * since the last look; 0: it was not. Look at least every second. */
int64_t wall_now(struct wall *wall, int64_t *step_ms);
/* The same, from both clocks as they were read together. */
int64_t wall_stamp(struct wall *wall, int64_t wall_ms, int64_t mono, int64_t *step_ms);

#endif
