/* practised.h: what is kept of a practice: one session of one operator, and which key was hit for
 * which. Facts only; never part of a bout. */
#ifndef RINGTALLY_BOUT_PRACTISED_H
#define RINGTALLY_BOUT_PRACTISED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/strike.h"

enum practice_kind {
    PRACTICE_FINGERS, /* strikes called on the screen */
    PRACTICE_EYES,    /* a recording at speed, held against its reference */
    PRACTICE_KINDS
};
enum practice_level { LEVEL_SLOW, LEVEL_BOUT, LEVEL_BURST, LEVELS };
extern const char *const practice_kind_names[PRACTICE_KINDS]; /* "fingers" "eyes" */
extern const char *const practice_level_names[LEVELS];        /* "slow" "bout" "burst" */

/* Strikes are expected over all pairings (reference.h), so they are no whole numbers. */
struct practice_session {
    int64_t id, at_ms; /* UTC */
    char operator_[64];
    uint8_t kind, level; /* of eyes the level is LEVEL_BOUT */
    int64_t seed;        /* of the calls */
    int32_t ran_ms;
    int called;
    double had, first, corrected, added; /* first: right when typed; corrected: put right */
    double wrong[4];                     /* corner, limb, target, landed */
    double reaction_ms, reaction_p90_ms; /* below 0: not known */
};

/* How often the cell that was called was answered by another, or by none (hit false). */
struct practice_cell {
    uint8_t corner, limb, target;
    bool hit;
    uint8_t hit_corner, hit_limb, hit_target;
    int count;
};

#endif
