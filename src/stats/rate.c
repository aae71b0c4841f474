/* rate.c: rates and their intervals. */
#include "ringtally/stats/rate.h"

#include <math.h>

#include "stats/special.h"

static bool valid(double count, double exposure, double level)
{
    return count >= 0 && count <= INTERVAL_COUNT_MAX && isfinite(exposure) && exposure > 0.0 &&
           level > 0.0 && level <= INTERVAL_LEVEL_MAX;
}

struct estimate rate_interval(double count, double exposure, double level)
{
    if (!valid(count, exposure, level))
        return (struct estimate){.defined = false};
    const double tail = (1.0 - level) / 2.0;
    return (struct estimate){
        .defined = true,
        .value = count / exposure,
        .low = count <= 0.0 ? 0.0 : special_gamma_quantile(tail, count) / exposure,
        .high = special_gamma_quantile(1.0 - tail, count + 1.0) / exposure,
    };
}
