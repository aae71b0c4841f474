/* rate.c: rates, their intervals and comparison. */
#include "ringtally/stats/rate.h"

#include <math.h>

#include "stats/special.h"

static bool valid(int64_t count, double exposure, double level)
{
    return count >= 0 && count <= INTERVAL_COUNT_MAX && isfinite(exposure) && exposure > 0.0 &&
           level > 0.0 && level <= INTERVAL_LEVEL_MAX;
}

struct estimate rate_interval(int64_t count, double exposure, double level)
{
    if (!valid(count, exposure, level))
        return (struct estimate){.defined = false};
    const double tail = (1.0 - level) / 2.0;
    const double x = (double)count;
    return (struct estimate){
        .defined = true,
        .value = x / exposure,
        .low = count == 0 ? 0.0 : special_gamma_quantile(tail, x) / exposure,
        .high = special_gamma_quantile(1.0 - tail, x + 1.0) / exposure,
    };
}

struct rate_ratio rate_compare(int64_t count1, double exposure1, int64_t count2, double exposure2,
                               double level)
{
    struct rate_ratio r = {.defined = false};

    if (!valid(count1, exposure1, level) || !valid(count2, exposure2, level) ||
        count1 + count2 == 0 || count1 + count2 > INTERVAL_COUNT_MAX)
        return r;
    const double scale = exposure2 / exposure1;
    const double x1 = (double)count1, x2 = (double)count2;
    const struct estimate share = interval_exact(count1, count1 + count2, level);

    r.defined = true;
    r.low = share.low / (1.0 - share.low) * scale;
    if (count2 > 0) {
        r.bounded = true;
        r.ratio = x1 / x2 * scale;
        r.high = share.high / (1.0 - share.high) * scale;
    }
    const double expected = exposure1 / (exposure1 + exposure2);
    const double up = count1 == 0 ? 1.0 : special_beta(expected, x1, x2 + 1.0);
    const double down = count2 == 0 ? 1.0 : special_beta(1.0 - expected, x2, x1 + 1.0);
    r.p = fmin(1.0, 2.0 * fmin(up, down));
    return r;
}

bool rate_differs(struct rate_ratio r)
{
    return r.defined && (r.low > 1.0 || (r.bounded && r.high < 1.0));
}
