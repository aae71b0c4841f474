/* align.h: which strike of one desk is which strike of another. Pure.
 *
 * Two desks that saw the same bout are paired strike by strike, in time order, so that the whole
 * costs least. Time is each desk's own round clock: a shadow may work hours later from a
 * recording, so UTC says nothing. A strike's moment is its round, the running time of that round,
 * and behind it, while the clock stood still, the time since it stopped.
 *
 * The alignment is global, by dynamic programming (Needleman SB, Wunsch CD 1970, Journal of
 * Molecular Biology 48:443-453): it never crosses, each strike is in one pair at most, and of all
 * such pairings it is one of least cost. Costs are whole points:
 *
 *   a pair      1000 x distance / window, rounded down, and what the fields that differ cost
 *   a strike that stays alone      `alone`
 *
 * Two strikes of different rounds, or further apart than the window, are never paired. What one
 * desk runs behind the other all the time is taken out first: of the lateness values from
 * -lateness_max_ms to +lateness_max_ms, a quarter of a window apart, the one with the cheapest
 * alignment is taken and then replaced, twice, by the median lateness of the pairs.
 *
 * Equal costs are settled by rules that do not know which desk is the first, so exchanging the
 * desks gives the same pairs: a pair is preferred to leaving both alone; else the later strike
 * stays alone, of two at once the one of the higher content.
 */
#ifndef RINGTALLY_INSIGHT_ALIGN_H
#define RINGTALLY_INSIGHT_ALIGN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/tally/fold.h"

/* One strike, as one desk has it. */
struct align_strike {
    struct entry_name name; /* of the subject */
    struct strike strike;
    uint8_t round;
    bool off_clock;
    int32_t elapsed_ms; /* running time of the round */
    int32_t idle_ms;    /* off the clock: since it stopped; below 0 before the first round */
};

/* Points: 1000 are as much as a whole window of time. */
struct align_options {
    int32_t window_ms;       /* 1 .. ALIGN_WINDOW_MAX */
    int32_t lateness_max_ms; /* 0: none is looked for and none taken out */
    int32_t alone;           /* a pair that costs more than twice this is not made */
    int32_t corner;          /* the corners differ */
    int32_t side;            /* the limbs differ, of the same kind (left hand, right hand) */
    int32_t limb;            /* the limbs differ in kind */
    int32_t target;
    int32_t outcome; /* landed or not */
};

#define ALIGN_WINDOW_MAX 60000
/* The shares of a window are judgement, not taken from a source: a strike of another corner at the
 * same moment is still the same strike, one that differs in corner, kind of limb and target is
 * not, unless nothing else was near. */
#define ALIGN_DEFAULTS ((struct align_options){1000, 2000, 1000, 800, 300, 600, 500, 200})

/* A strike of each, or of one only (-1: none). */
struct align_link {
    int32_t a, b;
};

struct align {
    int32_t lateness_ms; /* that was taken out: B behind A, on their round clocks */
    int64_t cost;
    size_t paired, only_a, only_b;
    struct align_link *links; /* in time order; owned */
    size_t count;
};

/* The live strikes of the desks with that root, in time order: of the corners in `corners` (1 <<
 * corner). `own` is that desk's own view (fold_new with this root). *out is malloc'd, the caller
 * frees. 0 or ERROR_MEMORY. */
int align_read(struct align_strike **out, size_t *count, const struct fold *own, int root,
               uint8_t corners);

/* Puts strikes into the order that align_make needs. */
void align_sort(struct align_strike *strikes, size_t count);

/* Points for the pair, B `lateness_ms` behind A; -1: never. */
int32_t align_pair_cost(const struct align_strike *a, const struct align_strike *b,
                        int32_t lateness_ms, const struct align_options *options);

/* B's moment less A's, in milliseconds: what B is behind on its clock. */
int64_t align_behind(const struct align_strike *a, const struct align_strike *b);

/* Both in align_sort order. 0 or ERROR_MEMORY; *out is then empty. Takes time and memory in
 * proportion to the strikes times those within reach of one. */
int align_make(struct align *out, const struct align_strike *a, size_t a_count,
               const struct align_strike *b, size_t b_count, const struct align_options *options);
void align_release(struct align *align);

#endif
