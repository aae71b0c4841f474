/* coach_page.h: how the numbers of a coach's sheet are written. Private to the room. */
#ifndef RINGTALLY_SHEET_COACH_PAGE_H
#define RINGTALLY_SHEET_COACH_PAGE_H

#include "ringtally/insight/coach.h"
#include "sheet/figures.h"

/* value in so many digits, with a point in every locale */
void coach_fixed(char out[CELL_SIZE], double value, int digits);
/* "40% 25-58", or "-" */
void coach_share(char out[CELL_SIZE], const struct count *count, struct estimate share);
/* "10.2 7.3-13.9", or "-" */
void coach_rate(char out[CELL_SIZE], struct estimate rate);
/* Somebody was down, counted or hurt in this bout: the words on health are set off. */
bool coach_hurt(const struct figures *figures);
/* How much of the scope asked for was seen of that side. */
const struct coverage_part *coach_part(const struct figures *figures, const struct coach *coach,
                                       enum side side);
/* As count_cell; unknown where nobody tagged that side in the round. */
void coach_count(char out[CELL_SIZE], const struct coach_round *round, enum side side);
/* What stands before, within and behind a line of stances: "BEGIN stance STRIKES counts SHARE
 * share; stance ... END". */
struct stances_form {
    const char *begin, *strikes, *share, *end;
};
/* What that side threw from each stance that it struck from, in a line; nothing where from none. */
void coach_stances(struct buf *out, const struct coach *coach, enum side side,
                   const struct stances_form *form);
/* What was looked at, and how much chance may make of it. */
void coach_note(struct buf *out, const struct coach *coach);

void coach_text(struct buf *out, const struct figures *figures, const struct coach *coach);
void coach_html(struct buf *out, const struct figures *figures, const struct coach *coach);

#endif
