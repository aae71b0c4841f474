/* html.h: pieces of the HTML sheets. Private to the room.
 *
 * A sheet is one file: no script, no font, picture or style from elsewhere. Its markup is
 * well-formed XML too, so that a strict parser can hold it to that. Lightness and the number in
 * each cell carry the meaning, colour only helps.
 */
#ifndef RINGTALLY_SHEET_HTML_H
#define RINGTALLY_SHEET_HTML_H

#include "ringtally/insight/coach.h"
#include "sheet/figures.h"

/* The text with what HTML takes for markup replaced. */
void html_text(struct buf *out, const char *text);
/* A coordinate: one decimal, with a point in every locale. */
void html_number(struct buf *out, double value);

/* Up to and with <body class="KIND">; the closing half. */
void html_begin(struct buf *out, const char *title, const char *kind);
void html_end(struct buf *out);
extern const char *const html_style_parts[]; /* the style sheet; ends with NULL */

struct pad_look {
    const char *label;  /* "what we land": read out in place of the picture */
    const char *hue;    /* "a" or "b": one of the two rows of tints */
    const char *corner; /* whose strikes */
    int most, most_target;
    int mark_target, mark_column; /* a cell with a frame; -1: none */
};
/* The grid of targets and limbs, with the total of each row and column. */
void html_pad(struct buf *out, const struct pad *pad, const struct pad_look *look);

enum chart { CHART_ACCURACY, CHART_PACE };
/* By round, ours above theirs: a point and its interval on a common scale. */
void html_chart(struct buf *out, const struct coach *coach, enum chart chart);

/* Who landed when: a strip a round, red above the axis and blue below. */
int html_timeline(struct buf *out, const struct figures *figures, struct error *err);

/* Cards, what they imply, what was announced; nothing where there is nothing to show. */
void html_officials(struct buf *out, const struct figures *figures);

/* What was not seen, before the numbers; nothing where all was. */
void html_coverage(struct buf *out, const struct figures *figures);

/* "Signed by ...", "provisional ...", as of when. */
void html_record(struct buf *out, const struct figures *figures);

#endif
