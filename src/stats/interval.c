/* interval.c: intervals of proportions and their differences. */
#include "ringtally/stats/interval.h"

#include <math.h>

#include "stats/special.h"

static bool valid(int64_t k, int64_t n, double level)
{
    return n >= 1 && n <= INTERVAL_COUNT_MAX && k >= 0 && k <= n && level > 0.0 &&
           level <= INTERVAL_LEVEL_MAX;
}

bool interval_excludes(struct estimate e, double value)
{
    return e.defined && (value < e.low || value > e.high);
}

struct estimate interval_wilson(int64_t k, int64_t n, double level)
{
    if (!valid(k, n, level))
        return (struct estimate){.defined = false};
    const double p = (double)k / (double)n;
    const double z = special_normal_z(level);
    const double middle = 2.0 * (double)k + z * z;
    const double reach = z * sqrt(z * z + 4.0 * (double)k * (1.0 - p));
    const double width = 2.0 * ((double)n + z * z);
    return (struct estimate){
        .defined = true,
        .value = p,
        .low = k == 0 ? 0.0 : (middle - reach) / width,
        .high = k == n ? 1.0 : (middle + reach) / width,
    };
}

struct estimate interval_wilson_cc(int64_t k, int64_t n, double level)
{
    if (!valid(k, n, level))
        return (struct estimate){.defined = false};
    const double p = (double)k / (double)n;
    const double hit = (double)k, missed = (double)(n - k);
    const double z = special_normal_z(level);
    const double middle = 2.0 * hit + z * z;
    const double width = 2.0 * ((double)n + z * z);
    const double grain = 1.0 / (double)n;
    struct estimate e = {.defined = true, .value = p, .low = 0.0, .high = 1.0};

    /* Both roots are of positive numbers: 4p(missed + 1) >= 4 for k >= 1, and grain <= 1. */
    if (k > 0) {
        const double root = sqrt(z * z - 2.0 - grain + 4.0 * p * (missed + 1.0));
        e.low = fmax(0.0, (middle - 1.0 - z * root) / width);
    }
    if (k < n) {
        const double root = sqrt(z * z + 2.0 - grain + 4.0 * p * (missed - 1.0));
        e.high = fmin(1.0, (middle + 1.0 + z * root) / width);
    }
    return e;
}

struct estimate interval_exact(int64_t k, int64_t n, double level)
{
    if (!valid(k, n, level))
        return (struct estimate){.defined = false};
    const double tail = (1.0 - level) / 2.0;
    const double hit = (double)k, missed = (double)(n - k);
    return (struct estimate){
        .defined = true,
        .value = (double)k / (double)n,
        .low = k == 0 ? 0.0 : special_beta_quantile(tail, hit, missed + 1.0),
        .high = k == n ? 1.0 : 1.0 - special_beta_quantile(tail, missed, hit + 1.0),
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
    return hybrid(interval_wilson(k1, n1, level), interval_wilson(k2, n2, level));
}

struct estimate interval_newcombe_cc(int64_t k1, int64_t n1, int64_t k2, int64_t n2, double level)
{
    return hybrid(interval_wilson_cc(k1, n1, level), interval_wilson_cc(k2, n2, level));
}
