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

/* A knockdown and its count lie closer than two of them can: a count to eight takes eight seconds
 * (common practice). */
#define DOWN_NEAR_MS 10000

struct count {
    int attempted; /* all that were thrown, landed ones too */
    int landed;
};

struct corner_tally {
    struct count all;
    int blocked;
    int knockdowns; /* that this corner scored: a strike's mark and the other's "knocked down"
                       within DOWN_NEAR_MS are one */
    int downs;      /* of this corner: knocked down or counted, once each: what limits go by */
    int unsure;     /* strikes that the tagger did not see well */
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
    int last_round; /* highest round with an official live subject or clock; 0: none */
};

/* Counts one strike in (sign 1) or out (-1). Knockdowns are events of their own: fold.h. */
void corner_tally_strike(struct corner_tally *tally, const struct strike *strike, int sign);

/* Adds one corner's numbers to another's. */
void corner_tally_add(struct corner_tally *sum, const struct corner_tally *more);

#endif
