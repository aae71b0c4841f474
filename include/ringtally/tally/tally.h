/* tally.h: the numbers of a bout.
 *
 * Made by the fold (fold.h) and by nobody else: panel, counts, sheets and feed read them.
 */
#ifndef RINGTALLY_TALLY_TALLY_H
#define RINGTALLY_TALLY_TALLY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/entry.h"

struct count {
    int attempted; /* all that were thrown, landed ones too */
    int landed;
};

struct corner_tally {
    struct count all;
    int blocked;
    int knockdowns; /* that this corner scored with a strike */
    int spinning, jumping;
    struct count limb[LIMB_COUNT];
    struct count target[TARGET_COUNT];
    struct count limb_target[LIMB_COUNT][TARGET_COUNT];
    struct count stance[STANCE_COUNT];
    struct count position[POSITION_COUNT];
    struct count group[GROUP_COUNT];
    int incidents[CODE_ALL]; /* by code; deductions are counted in points in `deducted` */
    int deducted;
};

struct round_tally {
    struct corner_tally corner[CORNER_COUNT];
    int off_clock; /* strikes logged while the clock stood still */
    int review;    /* live subjects still flagged for review */
    int corrections;
};

struct tally {
    struct round_tally all;
    struct round_tally round[ROUND_MAX + 1]; /* [0] unused */
    int last_round;                          /* highest round with a subject or a clock; 0: none */
};

/* landed / attempted; false where nothing was thrown. */
bool count_accuracy(const struct count *count, double *out);

/* Adds one corner's numbers to another's. */
void corner_tally_add(struct corner_tally *sum, const struct corner_tally *more);

#endif
