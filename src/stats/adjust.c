/* adjust.c: false discovery over a family of tests. */
#include "ringtally/stats/adjust.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

struct ranked {
    double p;
    size_t at;
};

static int by_p(const void *left, const void *right)
{
    const struct ranked *a = left, *b = right;
    return (a->p > b->p) - (a->p < b->p);
}

int adjust_false_discovery(double *out, const double *p, const double *weight, size_t n,
                           struct error *err)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        if (!(p[i] >= 0.0 && p[i] <= 1.0))
            return error_set(err, ERROR_FAILED, "p-value %zu of %zu is not between 0 and 1", i + 1,
                             n);
    for (size_t i = 0; i < n; i++) {
        const double own = weight ? weight[i] : 1.0;
        if (!(own > 0.0 && isfinite(own)))
            return error_set(err, ERROR_FAILED, "weight %zu of %zu is not above 0", i + 1, n);
        sum += own;
    }
    if (n == 0)
        return 0;
    struct ranked *order = n <= SIZE_MAX / sizeof *order ? malloc(n * sizeof *order) : NULL;
    if (order == NULL)
        return error_memory(err);
    for (size_t i = 0; i < n; i++)
        order[i] = (struct ranked){.p = p[i] / (weight ? weight[i] : 1.0), .at = i};
    qsort(order, n, sizeof *order, by_p);

    double least = 1.0;
    for (size_t rank = n; rank >= 1; rank--) {
        const double scaled = order[rank - 1].p * (sum / (double)rank);
        if (scaled < least)
            least = scaled;
        out[order[rank - 1].at] = least;
    }
    free(order);
    return 0;
}
