/* adjust.h: many looks at one bout. Pure. */
#ifndef RINGTALLY_STATS_ADJUST_H
#define RINGTALLY_STATS_ADJUST_H

#include <stddef.h>

#include "ringtally/base/error.h"

/* Adjusts n p-values so that keeping those at or below q holds the false-discovery rate at q:
 * out[i] = min over all j with p[j] >= p[i] of p[j] n / rank(j), at most 1 (Benjamini Y, Hochberg Y
 * 1995, J. R. Statist. Soc. B 57:289-300). Every comparison that was looked at belongs into the
 * list, not only those that will be shown. `out` may be `p`; its order is that of p.
 * `weight` NULL: all weigh alike. Else p[i] stands for p[i] / weight[i] times the mean weight, so
 * that what is asked first of all gets the most of the error (Genovese CR, Roeder K, Wasserman L
 * 2006, Biometrika 93:509-524); weights are fixed before the data are seen.
 * Fails, with `out` as it was, on a value outside [0, 1], a weight that is none, or without memory.
 */
int adjust_false_discovery(double *out, const double *p, const double *weight, size_t n,
                           struct error *err);

#endif
