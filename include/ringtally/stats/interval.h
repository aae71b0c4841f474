/* interval.h: how sure a share is. Pure: counts in, numbers out.
 *
 * A share is k of n, 0 <= k <= n, n >= 1; shares and limits lie in [0, 1], differences in [-1, 1].
 * Undefined, with every figure 0 and `defined` false: n = 0, k below 0 or above n, n above
 * INTERVAL_COUNT_MAX, a level that is not inside (0, INTERVAL_LEVEL_MAX]. No NaN ever comes out.
 *
 * The formulas take the n trials as independent. Strikes come in combinations and are not:
 * pieces.h knows of that.
 */
#ifndef RINGTALLY_STATS_INTERVAL_H
#define RINGTALLY_STATS_INTERVAL_H

#include <stdbool.h>
#include <stdint.h>

#define INTERVAL_COUNT_MAX 1000000000
#define INTERVAL_LEVEL_MAX 0.999999

/* A figure and the limits between which the true one lies, at the level asked for (0.95). */
struct estimate {
    bool defined;
    double value;
    double low, high;
};

/* True when `e` is defined and `value` lies outside its interval: the rule by which a change
 * (a difference against 0, a ratio against 1) may be called one. */
bool interval_excludes(struct estimate e, double value);

/* z with P(|Z| > z) = p for a standard normal Z; 0 < p < 1. */
double interval_normal(double p);

/* The score interval of k of n, which may be effective numbers (pieces.h) and need not be whole
 * (Wilson EB 1927, JASA 22:209-212; method 3 of Newcombe RG 1998, Statistics in Medicine
 * 17:857-872). */
struct estimate interval_wilson(double k, double n, double level);

/* The difference k1/n1 - k2/n2 of two independent shares with the hybrid score interval (method 10
 * of Newcombe RG 1998, Statistics in Medicine 17:873-890). */
struct estimate interval_newcombe(int64_t k1, int64_t n1, int64_t k2, int64_t n2, double level);

#endif
