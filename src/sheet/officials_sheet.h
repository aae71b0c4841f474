/* officials_sheet.h: the officials' part of a sheet, in pieces that every printer puts together.
 * Private to the room. */
#ifndef RINGTALLY_OFFICIALS_SHEET_H
#define RINGTALLY_OFFICIALS_SHEET_H

#include "sheet/figures.h"

/* There is anything to show: a score, an ending, an announcement. */
bool officials_shown(const struct figures *figures);
/* The cards may be shown: open scoring, asked for, or a result was announced. */
bool officials_cards_open(const struct figures *figures);
/* Highest round that has a score; 0: none. */
int officials_last_round(const struct figures *figures);

/* Seats from 0, rounds from 1. */
void officials_judge(char *out, size_t size, const struct figures *figures, int seat);
void officials_score_text(char out[24], const struct figures *figures, int seat, int round);
void officials_total_text(char out[24], const struct figures *figures, int seat);
void officials_lead_text(char *out, size_t size, const struct figures *figures);
void officials_implied_text(char *out, size_t size, const struct figures *figures);
void officials_announced_text(char *out, size_t size, const struct figures *figures);
/* What the announced result says otherwise than the cards imply; false where nothing. */
bool officials_difference(char *out, size_t size, const struct figures *figures);

/* json.c: the "officials" member of the sheet as a document of its own; null while there is
 * nothing. */
void officials_json(struct buf *out, const struct figures *figures);
void officials_text(struct buf *out, const struct figures *figures);
void officials_markdown(struct buf *out, const struct figures *figures,
                        void (*plain)(struct buf *, const char *));

#endif
