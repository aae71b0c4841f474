/* leaf.h: counts as they stand at the ends of every JSON document. Private to the room. */
#ifndef SHEET_JSON_LEAF_H
#define SHEET_JSON_LEAF_H

#include <jansson.h>

#include "ringtally/tally/tally.h"

/* Digits enough that a quotient of two counts reads back, and that 0.4 is written as 0.4. */
#define LEAF_DIGITS JSON_REAL_PRECISION(15)

/* null where there is nothing to divide by */
json_t *leaf_ratio(double numerator, double denominator);
/* {"attempted", "landed"}; `count` NULL: nobody tagged it, so that nothing is known. */
json_t *leaf_count(const struct count *count);
/* One by each name; `counts` NULL as above. A failure sticks in *failed. */
json_t *leaf_counts(const char *const *names, const struct count *counts, int count, bool *failed);

#endif
