/* repeat.h: tells a held key's repeats from strikes. Pure.
 *
 * A finger does not hit the same key twice within 80 ms (fast tapping is 6 to 10 strokes a second:
 * common practice); most keyboards repeat every 30 to 50. A held key first waits, 150 ms or more,
 * and that first repeat looks like a stroke of its own: when fast repeats follow it at once, it was
 * none, since a fresh press would have waited again. Slow keyboards (the reset of kbdrate(8): 250
 * ms, then 10.9 a second) are known by their evenness: three gaps alike behind a longer one.
 * Where the terminal says what a press and a repeat is, nothing of this is asked.
 */
#ifndef RINGTALLY_DESK_REPEAT_H
#define RINGTALLY_DESK_REPEAT_H

#include <stdint.h>

#define REPEAT_FAST_MS  80  /* below: no finger */
#define REPEAT_SLOW_MS  150 /* above: no repeat */
#define REPEAT_ALIKE_MS 10  /* how much a keyboard's gaps differ at the most */
#define REPEAT_GAPS     4   /* remembered, the newest first */

struct repeat {
    int32_t key;
    int64_t last_ms;          /* when it last came, taken or dropped */
    int64_t gap[REPEAT_GAPS]; /* before the presses of this key in a row; 0: none */
    int taken;                /* of them taken for strokes behind the first press */
    int dropped;              /* in a row */
};

/* A press that is known to be one. */
void repeat_begin(struct repeat *repeat, int32_t key, int64_t now_ms);

enum repeat_verdict { REPEAT_TAKE, REPEAT_DROP };

/* *back = how many strokes before this one, taken already, were repeats too: take them back. */
enum repeat_verdict repeat_feed(struct repeat *repeat, int32_t key, int64_t now_ms, int *back);

#endif
