/* lag.h: does one thing lead to another, in a stream of codes. Pure. */
#ifndef RINGTALLY_STATS_LAG_H
#define RINGTALLY_STATS_LAG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* In a stream: nothing leads across here (a new round, a pause). */
#define LAG_BREAK (-1)

/* Adds the transitions at `lag` (1: the next code) of `codes` to `table`, `categories` x
 * `categories` counts in row-major order, row = given code, column = target; the caller clears it.
 * Codes are 0 .. categories - 1 or LAG_BREAK. False, with `table` as it was, where a code is
 * another number, or lag or categories is 0. */
bool lag_transitions(int64_t *table, size_t categories, const int *codes, size_t length,
                     size_t lag);

struct lag_cell {
    bool defined;       /* false: nothing counted, or the four counts contradict each other */
    double expected;    /* given x target / total */
    double probability; /* of the target after the given code: joint / given; 0 if never given */
    bool has_z; /* false where given or target is nothing or all: no deviation to speak of */
    double z;   /* adjusted residual, about standard normal under independence */
    bool has_q;
    double q; /* Yule's Q of the given-or-not by target-or-not table, -1 to 1 */
};

/* One cell of a transition table: `joint` is its count, `given` its row total, `target` its column
 * total, `total` the sum of the table. z = (f_gt - f_g p_t) / sqrt(f_g p_t (1 - p_t)(1 - p_g))
 * (Allison PD, Liker JK 1982, Psychological Bulletin 91:393-403), which is the adjusted residual of
 * the table. Where codes cannot follow themselves, z is not exact. */
struct lag_cell lag_measure(int64_t joint, int64_t given, int64_t target, int64_t total);

#endif
