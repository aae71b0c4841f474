/* interval.c: intervals of proportions and their differences. */
#include "ringtally/stats/interval.h"

#include <math.h>

#include "stats/special.h"

static bool valid(double k, double n, double level)
{
    return n >= 1 && n <= INTERVAL_COUNT_MAX && k >= 0 && k <= n && level > 0.0 &&
           level <= INTERVAL_LEVEL_MAX;
}

bool interval_excludes(struct estimate e, double value)
{
    return e.defined && (value < e.low || value > e.high);
}

double interval_normal(double p)
{
    return special_normal_z(1.0 - p);
}

struct estimate interval_wilson(double k, double n, double level)
{
    if (!valid(k, n, level))
        return (struct estimate){.defined = false};
    const double p = k / n;
    const double z = special_normal_z(level);
    const double middle = 2.0 * k + z * z;
    const double reach = z * sqrt(z * z + 4.0 * k * (1.0 - p));
    const double width = 2.0 * (n + z * z);
    return (struct estimate){
        .defined = true,
        .value = p,
        .low = k <= 0.0 ? 0.0 : (middle - reach) / width,
        .high = k >= n ? 1.0 : (middle + reach) / width,
    };
}

/* The difference from the intervals of its two shares. */
static struct estimate hybrid(struct estimate a, struct estimate b)
{
    if (!a.defined || !b.defined)
        return (struct estimate){.defined = false};
    const double d = a.value - b.value;
    return (struct estimate){
        .defined = true,
        .value = d,
        .low = d - hypot(a.value - a.low, b.high - b.value),
        .high = d + hypot(a.high - a.value, b.value - b.low),
    };
}

struct estimate interval_newcombe(int64_t k1, int64_t n1, int64_t k2, int64_t n2, double level)
{
    return hybrid(interval_wilson((double)k1, (double)n1, level),
                  interval_wilson((double)k2, (double)n2, level));
}
