/* coach_sheet.h: one page for one corner, read in ten seconds between rounds: three sentences, what
 * we land and what we take as a heat map, pace and accuracy by round. */
#ifndef RINGTALLY_SHEET_COACH_SHEET_H
#define RINGTALLY_SHEET_COACH_SHEET_H

#include "ringtally/sheet/sheet.h"

enum coach_format { COACH_TEXT, COACH_HTML, COACH_FORMATS };
extern const char *const coach_format_names[COACH_FORMATS]; /* "text" "html" */

/* The sheet of a corner after the round of the view, or over the bout (round 0: its newest round is
 * the one that may have changed something). Text fits 80 columns and a page; HTML is one file
 * without scripts and references to others, and prints on one A4 or Letter page. 0 or ERROR_MEMORY.
 */
int coach_sheet_write(struct buf *out, const struct sheet_view *view, enum corner corner,
                      enum coach_format format, struct error *err);

#endif
