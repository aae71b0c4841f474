/* marks_edl.c: an edit decision list in the plain text that goes by CMX 3600 (*common practice*,
 * from memory; the published standard is SMPTE ST 258, of which the scope was seen): a title, how
 * frames are counted, and for each event a number, the reel, the tracks, the kind of edit, and four
 * time codes: source in and out, record in and out; lines that begin with an asterisk are comments.
 * ASCII only; out points are the first frame not shown. */
#include <stdio.h>

#include "sheet/marks/marks_lines.h"
#include "ringtally/base/text.h"

/* The form is ASCII: accents fall off, what has no letter there becomes '?'. */
static void ascii(char *text)
{
    const char *at = text;
    char *to = text;
    int32_t point = 0;
    int count = 0;
    while (text_grapheme(&at, &point, 1, &count) >= 0) {
        point = text_base_letter(point);
        *to++ = point >= 0x20 && point < 0x7f ? (char)point : '?';
    }
    *to = '\0';
}

int marks_edl(struct buf *out, const struct marks_view *view, struct error *err)
{
    const struct timecode_rate *rate = view->sync.rate;
    char name[80];
    int64_t record = timecode_day(rate) / 24; /* programs begin at one o'clock: common practice */
    if (view->count > MARKS_EDL_MAX) {
        return error_set(err, ERROR_FAILED,
                         "%zu marks: an edit decision list numbers %d events; ask for fewer kinds",
                         view->count, MARKS_EDL_MAX);
    }
    marks_bout_name(name, view);
    ascii(name);
    buf_addf(out, "TITLE: %s\r\nFCM: %s\r\n", name,
             rate->dropped ? "DROP FRAME" : "NON-DROP FRAME");
    for (size_t i = 0; i < view->count; i++) {
        struct mark_line line;
        static const char *const colors[CORNER_COUNT + 1] = {"RED", "BLUE", "GREEN"};
        char words[512], from[TIMECODE_SIZE], to[TIMECODE_SIZE], at[TIMECODE_SIZE];
        mark_line_init(&line, view, i);
        int64_t length = line.out_frame - line.in_frame;
        mark_line_words(words, sizeof words, &line);
        ascii(words);
        buf_addf(out, "\r\n%03d  AX       V     C        %s %s %s %s\r\n", line.number, line.in,
                 line.out, timecode_print(from, rate, record),
                 timecode_print(to, rate, record + length));
        /* The name of the clip, and a locator at its moment, as editing systems read them out of
         * comments (*common practice*, from memory). */
        buf_addf(out, "* FROM CLIP NAME: %s\r\n* LOC: %s %-7s %s\r\n* %s AT %s\r\n", words,
                 timecode_print(at, rate, record + line.at_frame - line.in_frame),
                 colors[line.mark->corner], words, line.kinds, line.at);
        record += length;
    }
    return 0;
}
