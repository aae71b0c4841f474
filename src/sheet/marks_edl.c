/* marks_edl.c: an edit decision list in the plain text that goes by CMX 3600 (*common practice*,
 * from memory): a title, how frames are counted, and for each event a number, the reel, the tracks,
 * the kind of edit, and four time codes: source in and out, record in and out; lines that begin
 * with an asterisk are comments. ASCII only; out points are the first frame not shown. */
#include <stdio.h>

#include "marks_lines.h"

/* Comments are ASCII: a character of another script becomes one '?'. */
static void ascii(char *text)
{
    char *to = text;
    for (const char *at = text; *at; at++) {
        unsigned char byte = (unsigned char)*at;
        if (byte < 0x80) {
            *to++ = *at;
        } else if (byte >= 0xc0) {
            *to++ = '?';
        }
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
        char words[512], from[TIMECODE_SIZE], to[TIMECODE_SIZE];
        mark_line_init(&line, view, i);
        int64_t length = line.out_frame - line.in_frame;
        mark_line_words(words, sizeof words, &line);
        ascii(words);
        buf_addf(out, "\r\n%03d  AX       V     C        %s %s %s %s\r\n", line.number, line.in,
                 line.out, timecode_print(from, rate, record),
                 timecode_print(to, rate, record + length));
        buf_addf(out, "* %s\r\n* %s AT %s\r\n", words, line.kinds, line.at);
        record += length;
    }
    return 0;
}
