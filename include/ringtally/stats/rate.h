/* rate.h: how sure a pace is. Pure: counts and exposures in, numbers out.
 *
 * Exposure is the time the clock really ran, in the unit the rate shall have (minutes: strikes a
 * minute). Counts are taken as Poisson; strikes come in combinations and are not: pieces.h knows of
 * that, and asks here with the count that so many independent ones are worth.
 */
#ifndef RINGTALLY_STATS_RATE_H
#define RINGTALLY_STATS_RATE_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/stats/interval.h"

/* count / exposure with its exact interval (Garwood F 1936, Biometrika 28:437-442: half the
 * chi-square quantiles with 2x and 2x + 2 degrees of freedom). Undefined: a count outside
 * 0 .. INTERVAL_COUNT_MAX, an exposure that is not finite and above 0, a level as in interval.h. */
struct estimate rate_interval(double count, double exposure, double level);

#endif
