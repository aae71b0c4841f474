/* marks_lines.h: a mark in words and labels, worked out once for every printer. Private to the
 * room. */
#ifndef RINGTALLY_SHEET_MARKS_LINES_H
#define RINGTALLY_SHEET_MARKS_LINES_H

#include "ringtally/sheet/marks_sheet.h"
#include "ringtally/base/when.h"

struct mark_line {
    int number; /* from 1 */
    const struct mark *mark;
    int64_t in_frame, at_frame, out_frame; /* not wrapped; in <= at, in < out */
    char in[TIMECODE_SIZE], at[TIMECODE_SIZE], out[TIMECODE_SIZE];
    char kinds[96];              /* "knockdown spinning" */
    char clock[WHEN_SIZE];       /* the round clock, elapsed: "1:07" */
    char who[96];                /* the corner's fighter, by short name; "" for both */
    char what[TEXT_BYTES + 128]; /* "left leg head, landed", "foul: low blow" */
};

void mark_line_init(struct mark_line *out, const struct marks_view *view, size_t index);
/* "R2 1:07 RED Vekerdoettir: left leg head, landed". */
void mark_line_words(char *out, size_t size, const struct mark_line *line);
/* "CARDID/NUMBER", clean. */
void marks_bout_name(char out[80], const struct marks_view *view);

void marks_webvtt(struct buf *out, const struct marks_view *view);
void marks_csv(struct buf *out, const struct marks_view *view);
int marks_edl(struct buf *out, const struct marks_view *view, struct error *err);
void marks_json(struct buf *out, const struct marks_view *view);

#endif
