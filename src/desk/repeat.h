/* repeat.h: tells a held key's repeats from strikes. Pure.
 *
 * A finger does not hit the same key twice within 80 ms (fast tapping is 6 to 10 strokes a second:
 * common practice); a keyboard repeats every 30 to 50. A held key first waits 200 ms or more before
 * it repeats, and that first repeat looks like a strike of its own; when fast repeats follow it at
 * once, it was none, since a fresh press would have waited again.
 */
#ifndef RINGTALLY_REPEAT_H
#define RINGTALLY_REPEAT_H

#include <stdint.h>

struct repeat {
    int32_t key;
    int64_t last_ms; /* when it last came, taken or dropped */
    int64_t gap_ms;  /* between the last taken press and the press of the same key right before it;
                        0: other key */
    int dropped;     /* in a row */
};

enum repeat_verdict {
    REPEAT_TAKE,
    REPEAT_DROP,
    REPEAT_HELD /* drop it, and take back the press before: it was a repeat too */
};

#define REPEAT_MS 80

enum repeat_verdict repeat_feed(struct repeat *repeat, int32_t key, int64_t now_ms);

#endif
