/* marks_webvtt.c: by the clauses of the W3C's "WebVTT file structure": times never decrease, each
 * end is after its start, identifiers are unique, no "-->" outside the timings, no blank line
 * within a cue. */
#include <string.h>

#include "sheet/marks/marks_lines.h"

static void stamp(struct buf *out, int64_t ms)
{
    buf_addf(out, "%02lld:%02d:%02d.%03d", (long long)(ms / 3600000), (int)(ms / 60000 % 60),
             (int)(ms / 1000 % 60), (int)(ms % 1000));
}

/* Frames since the recording began. Labels start again at midnight, so a moment behind it has a
 * smaller label: all but the last hour of the day before the first frame is taken as after it. */
static int64_t since_first(const struct marks_view *view, int64_t frame)
{
    int64_t day = timecode_day(view->sync.rate);
    int64_t hour = day / 24;
    if (view->first_frame < 0) {
        return frame;
    }
    int64_t since = (frame - view->first_frame) % day;
    since += since < 0 ? day : 0;
    return since >= day - hour ? since - day : since;
}

void marks_webvtt(struct buf *out, const struct marks_view *view)
{
    const struct timecode_rate *rate = view->sync.rate;
    char name[80], label[TIMECODE_SIZE];
    size_t before = 0;
    marks_bout_name(name, view);
    buf_adds(out, "WEBVTT\n\nNOTE\n");
    buf_addf(out, "Marks of bout %s. Time code at %s frames a second; 00:00:00.000 is %s.\n", name,
             rate->name,
             timecode_print(label, rate, view->first_frame < 0 ? 0 : view->first_frame));
    for (size_t i = 0; i < view->count; i++) {
        struct mark_line line;
        char words[512];
        mark_line_init(&line, view, i);
        int64_t in = since_first(view, line.in_frame);
        int64_t end = in + (line.out_frame - line.in_frame);
        if (end <= 0) {
            before++;
            continue;
        }
        buf_addf(out, "\nmark-%d\n", line.number);
        stamp(out, in < 0 ? 0 : timecode_ms(rate, in));
        buf_adds(out, " --> ");
        stamp(out, timecode_ms(rate, end));
        buf_adds(out, "\n");
        mark_line_words(words, sizeof words, &line);
        buf_add_xml(out, words);
        buf_adds(out, "\n");
    }
    if (before) {
        buf_addf(out, "\nNOTE before the recording: %zu\n", before);
    }
}
