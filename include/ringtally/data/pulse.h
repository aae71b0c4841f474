/* pulse.h: who works on which bout, and which bout is on.
 *
 * The bout that is on: of the bouts on which somebody has worked, one that a process has a desk
 * open on, else any; of several the one with the newest entry, then the one opened last. Feed, drop
 * and whoever else shows "the bout that is on" ask here.
 */
#ifndef RINGTALLY_DATA_PULSE_H
#define RINGTALLY_DATA_PULSE_H

#include "ringtally/bout/sign.h"
#include "ringtally/log/log.h"

#define PULSE_BOUT  64
#define PULSE_CARDS 4 /* the newest; tomorrow's may be loaded before today's is over */

/* A bout on which somebody has worked. */
struct pulse {
    char bout[PULSE_BOUT]; /* "CARDID/NUMBER" */
    int64_t newest_ms;     /* UTC of its newest entry; 0: none */
    int desk_count;
    struct desk_row *desks;
    struct desk_sign *signs;
};

/* Those of the newest cards, the newest card first. *out is freed by pulse_free. */
int pulse_read(struct pulse **out, int *count, struct log *log, struct error *err);
void pulse_free(struct pulse *pulse, int count);

/* The bout that is on; NULL: there is none. */
const struct pulse *pulse_current(const struct pulse *pulse, int count);

/* Its name. ERROR_MISSING: no bout has begun yet. */
int pulse_now(char out[PULSE_BOUT], struct log *log, struct error *err);

#endif
