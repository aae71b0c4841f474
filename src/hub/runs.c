/* runs.c: a set of numbers as runs. */
#include "hub/runs.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"

/* The first run that ends at `number` or behind it. */
static size_t find(const struct runs *runs, int64_t number)
{
    size_t low = 0, high = runs->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (runs->run[middle].high < number) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

bool runs_has(const struct runs *runs, int64_t number)
{
    size_t at = find(runs, number);
    return at < runs->count && runs->run[at].low <= number;
}

bool runs_add(struct runs *runs, int64_t low, int64_t high)
{
    if (!grow_array(&runs->run, sizeof *runs->run, runs->count, 1, &runs->room)) {
        return false;
    }
    size_t from = find(runs, low - 1); /* the first that it meets or touches */
    size_t to = from;
    for (; to < runs->count && runs->run[to].low <= high + 1; to++) {
        low = runs->run[to].low < low ? runs->run[to].low : low;
        high = runs->run[to].high > high ? runs->run[to].high : high;
    }
    memmove(&runs->run[from + 1], &runs->run[to], (runs->count - to) * sizeof *runs->run);
    runs->run[from] = (struct run){low, high};
    runs->count = runs->count - (to - from) + 1;
    return true;
}

void runs_release(struct runs *runs)
{
    free(runs->run);
    *runs = (struct runs){.count = 0};
}
