/* leaf.c: counts as they stand at the ends of every JSON document. */
#include "sheet/json/leaf.h"

#include "ringtally/base/tree.h"

json_t *leaf_ratio(double numerator, double denominator)
{
    return denominator > 0 ? json_real(numerator / denominator) : json_null();
}

json_t *leaf_count(const struct count *count)
{
    return !count ? json_pack("{s:n, s:n}", "attempted", "landed")
                  : json_pack("{s:i, s:i}", "attempted", count->attempted, "landed", count->landed);
}

json_t *leaf_counts(const char *const *names, const struct count *counts, int count, bool *failed)
{
    json_t *object = json_object();
    for (int i = 0; i < count; i++) {
        tree_set(object, names[i], leaf_count(counts ? &counts[i] : NULL), failed);
    }
    return object;
}
