/* contingency.h: what a table of two by two counts says. Pure.
 *
 *          yes  no
 *   one     a    b
 *   other   c    d
 *
 * Undefined: a count below 0, a total of 0 or above INTERVAL_COUNT_MAX.
 */
#ifndef RINGTALLY_STATS_CONTINGENCY_H
#define RINGTALLY_STATS_CONTINGENCY_H

#include <stdbool.h>
#include <stdint.h>

struct fisher {
    bool defined;
    double greater; /* P(a as large or larger) with these margins */
    double least;   /* the smallest `greater` that any table with these margins can have */
};

/* Fisher's exact test (Fisher RA 1935, The Design of Experiments, ch. II), of one side: "one" has
 * more yes. A table whose `least` is above the level can never say so (Tarone RE 1990, Biometrics
 * 46:515-522). Tails below some 1e-300 come out as 0. */
struct fisher contingency_fisher(int64_t a, int64_t b, int64_t c, int64_t d);

/* The largest `greater` up to p that a table with these margins can have, whose `least` the test of
 * it gave; 0: none is so small. By chance alone it is reached with just that probability. */
double contingency_reach(int64_t a, int64_t b, int64_t c, int64_t d, double least, double p);

/* Yule's Q = (ad - bc) / (ad + bc), -1 to 1 (Yule GU 1900, Phil. Trans. A 194:257-319; asked for
 * in performance analysis by James, Taylor & Stanley 2007, IJPAS 7(1):1-11, who want .95). False
 * where undefined, also where ad + bc = 0; *out is then 0. */
bool contingency_yule_q(double *out, int64_t a, int64_t b, int64_t c, int64_t d);

#endif
