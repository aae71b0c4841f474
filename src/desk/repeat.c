/* repeat.c: strokes told from the repeats of a held key. */
#include "desk/repeat.h"

#include <stdbool.h>

#define FIRST_WAIT_LOW_MS  200
#define FIRST_WAIT_HIGH_MS 1200

enum repeat_verdict repeat_feed(struct repeat *repeat, int32_t key, int64_t now_ms)
{
    int64_t gap = repeat->key == key ? now_ms - repeat->last_ms : 0;
    if (repeat->key == key && gap < REPEAT_MS) {
        repeat->last_ms = now_ms;
        repeat->dropped++;
        bool first_repeat_taken =
            repeat->gap_ms >= FIRST_WAIT_LOW_MS && repeat->gap_ms <= FIRST_WAIT_HIGH_MS;
        return repeat->dropped == 2 && first_repeat_taken ? REPEAT_HELD : REPEAT_DROP;
    }
    *repeat = (struct repeat){.key = key, .last_ms = now_ms, .gap_ms = gap};
    return REPEAT_TAKE;
}
