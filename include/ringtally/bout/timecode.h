/* timecode.h: time code as SMPTE ST 12-1 counts it, and the point that ties it to UTC.
 *
 * A label HH:MM:SS:FF names a frame of the day. At 29.97 and 59.94 frames a second the labels run
 * slower than the clock; drop-frame counting leaves out the first 2 (4) labels of every minute but
 * each tenth, so that label and clock stay within 0.15 s over a day. No frame is ever lost, only
 * numbers are. Frames are counted from label 00:00:00:00; rates are exact fractions.
 *
 * Counting rule: frame = nominal * (3600 h + 60 m + s) + f - dropped * (M - M div 10) with
 * M = 60 h + m. (ST 12-1 itself from memory; the labels that it is checked against: see the unit
 * test.)
 */
#ifndef RINGTALLY_BOUT_TIMECODE_H
#define RINGTALLY_BOUT_TIMECODE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"

struct timecode_rate {
    const char *name; /* as people write it: "25", "29.97df" */
    int32_t frames;   /* in `seconds` seconds, exactly: 30000 in 1001 */
    int32_t seconds;
    int32_t nominal; /* labels in a full second */
    int32_t dropped; /* labels left out in a minute; 0: non-drop */
};

#define TIMECODE_RATES 11
/* "23.976" "24" "25" "29.97ndf" "29.97df" "30" "50" "59.94ndf" "59.94df" "60", then a NULL name. */
extern const struct timecode_rate timecode_rates[TIMECODE_RATES];

#define TIMECODE_SIZE 12 /* a label with its NUL */
#define SYNC_SIZE     32 /* a sync point's text with its NUL */

/* NULL: no such rate, and the message lists the known ones. */
const struct timecode_rate *timecode_rate_find(const char *name, struct error *err);

/* Labels in a day: where counting starts again. */
int64_t timecode_day(const struct timecode_rate *rate);

/* The frame of a label: exactly HH:MM:SS:FF, ';' before the frames at drop-frame rates and only
 * there. A label that drop-frame counting leaves out is none. 0 or ERROR_USAGE. */
int timecode_parse(int64_t *frame, const struct timecode_rate *rate, const char *text,
                   struct error *err);
/* The label of a frame. Wraps at midnight; a negative frame belongs to the day before. */
const char *timecode_print(char out[TIMECODE_SIZE], const struct timecode_rate *rate,
                           int64_t frame);

/* Frames in a span and back, both to the nearest (halves up): frames -> ms -> frames gives the same
 * number, since every frame is longer than 2 ms. */
int64_t timecode_frames(const struct timecode_rate *rate, int64_t ms);
int64_t timecode_ms(const struct timecode_rate *rate, int64_t frames);

/* A sync point: the label read off the recording at a moment. It maps every other moment. */
struct sync_point {
    const struct timecode_rate *rate;
    int64_t utc_ms;
    int64_t frame; /* 0 <= frame < timecode_day */
};

/* The frame at a moment, not wrapped: beyond midnight it is more than a day's. */
int64_t sync_frame(const struct sync_point *sync, int64_t utc_ms);

/* The same sync point in another rate. ERROR_USAGE where the labels of the two rates do not keep
 * step (25 and 29.97df): then the label must be read off again. */
int sync_convert(struct sync_point *sync, const struct timecode_rate *rate, struct error *err);

/* How a sync point stands in the log: the text of a note (ENTRY_NOTE), "sync 01:02:03:04@25"; the
 * entry's at_ms is the moment. Reading sets rate and frame; false: this text is no sync point. */
const char *sync_print(char out[SYNC_SIZE], const struct sync_point *sync);
bool sync_parse(struct sync_point *out, const char *text);

#endif
