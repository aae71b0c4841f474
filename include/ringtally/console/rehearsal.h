/* rehearsal.h: a desk without a log, for practice: strikes are called, or a recording is played,
 * and what was typed is given back. */
#ifndef RINGTALLY_CONSOLE_REHEARSAL_H
#define RINGTALLY_CONSOLE_REHEARSAL_H

#include "ringtally/console/seat.h"
#include "ringtally/insight/practice.h"

struct rehearsal_setup {
    const struct bout *bout;
    const struct rules *rules;
    const struct keymap *keymap;
    const struct practice_call *calls; /* NULL: a recording is played */
    size_t call_count;
    int32_t ran_ms; /* when it ends by itself; 0: when the operator leaves */
    struct seat_player player;
    const struct script_key *keys; /* a script instead of a terminal, played at once; or NULL */
    size_t key_count;
};

/* *out (malloc'd, the caller frees): what the desk wrote, its index 0. *ran_ms = how long it went
 * on; *start_ms = when round 1 began, of calls; when the first frame was on screen, of a recording
 * (0: not known). */
int rehearsal_run(const struct rehearsal_setup *setup, struct entry **out, size_t *count,
                  int64_t *start_ms, int32_t *ran_ms, struct error *err);

#endif
