/* repeat.c: strokes told from the repeats of a held key. */
#include "desk/repeat.h"

#include <stdbool.h>
#include <string.h>

#define FIRST_WAIT_LOW_MS  140
#define FIRST_WAIT_HIGH_MS 1200
#define LONGER_MS          40 /* the first wait is longer than the gaps behind it by this at least */

static bool alike(int64_t a, int64_t b)
{
    return a - b <= REPEAT_ALIKE_MS && b - a <= REPEAT_ALIKE_MS;
}

/* Three even gaps behind a longer one. */
static bool is_even(const struct repeat *repeat)
{
    const int64_t *gap = repeat->gap;
    return gap[2] > 0 && gap[0] <= REPEAT_SLOW_MS && alike(gap[0], gap[1]) &&
           alike(gap[1], gap[2]) && alike(gap[0], gap[2]) && gap[3] >= gap[0] + LONGER_MS &&
           gap[3] <= FIRST_WAIT_HIGH_MS;
}

void repeat_begin(struct repeat *repeat, int32_t key, int64_t now_ms)
{
    *repeat = (struct repeat){.key = key, .last_ms = now_ms};
}

enum repeat_verdict repeat_feed(struct repeat *repeat, int32_t key, int64_t now_ms, int *back)
{
    *back = 0;
    if (repeat->key != key) {
        repeat_begin(repeat, key, now_ms);
        return REPEAT_TAKE;
    }
    int64_t gap = now_ms - repeat->last_ms;
    memmove(repeat->gap + 1, repeat->gap, (REPEAT_GAPS - 1) * sizeof *repeat->gap);
    repeat->gap[0] = gap;
    repeat->last_ms = now_ms;
    if (gap < REPEAT_FAST_MS) {
        /* The second fast one tells that the one before them was a first repeat. */
        int64_t wait = repeat->gap[2];
        if (repeat->dropped == 1 && repeat->taken > 0 && wait >= FIRST_WAIT_LOW_MS &&
            wait <= FIRST_WAIT_HIGH_MS) {
            *back = 1;
        }
        repeat->dropped++;
        return REPEAT_DROP;
    }
    if (repeat->dropped > 0 && gap <= REPEAT_SLOW_MS && alike(gap, repeat->gap[1])) {
        repeat->dropped++; /* it goes on */
        return REPEAT_DROP;
    }
    if (repeat->dropped == 0 && is_even(repeat)) {
        *back = repeat->taken < 3 ? repeat->taken : 3;
        repeat->dropped = 1;
        repeat->taken = 0;
        return REPEAT_DROP;
    }
    repeat->dropped = 0;
    repeat->taken++;
    return REPEAT_TAKE;
}
