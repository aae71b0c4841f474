/* rate.h: how sure a pace is. Pure: counts and exposures in, numbers out.
 *
 * Exposure is the time the clock really ran, in the unit the rate shall have (minutes: strikes a
 * minute). Counts are taken as Poisson. Strikes are not independent (combinations), so that the
 * interval is too narrow rather than too wide: whoever prints it says so.
 */
#ifndef RINGTALLY_STATS_RATE_H
#define RINGTALLY_STATS_RATE_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/stats/interval.h"

/* count / exposure with its exact interval (Garwood F 1936, Biometrika 28:437-442: half the
 * chi-square quantiles with 2x and 2x + 2 degrees of freedom). Undefined: a count outside
 * 0 .. INTERVAL_COUNT_MAX, an exposure that is not finite and above 0, a level as in interval.h. */
struct estimate rate_interval(int64_t count, double exposure, double level);

/* Rate 1 over rate 2. */
struct rate_ratio {
    bool defined; /* false: both counts are 0, or an input is out of its range as above */
    bool bounded; /* false where count 2 is 0: ratio and upper limit are infinite, and 0 here */
    double ratio;
    double low, high;
    double p; /* two-sided, of "the rates are equal" */
};

/* Given both counts together, count 1 is binomial with share r e1 / (r e1 + e2) under a ratio of r:
 * the exact interval is the Clopper-Pearson interval of count 1 among both, as odds, times e2 / e1.
 * p is twice the smaller tail of that binomial at r = 1, at most 1. (Another convention adds up
 * all outcomes that are no likelier; twice the smaller tail is below 1 - level exactly when the
 * interval leaves 1 out, so that the two never contradict each other on one sheet.) */
struct rate_ratio rate_compare(int64_t count1, double exposure1, int64_t count2, double exposure2,
                               double level);

/* True when the interval is defined and leaves 1 out. */
bool rate_differs(struct rate_ratio r);

#endif
