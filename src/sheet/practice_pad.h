/* practice_pad.h: which key was hit for which, on the pad. Private to the room. */
#ifndef RINGTALLY_SHEET_PRACTICE_PAD_H
#define RINGTALLY_SHEET_PRACTICE_PAD_H

#include "ringtally/sheet/practice_sheet.h"

/* A cell of the pad: how often it was called and right, and what was hit for it most. */
struct practice_pad_cell {
    int called, right, missed;
    const char *other; /* the key that was hit for it most; NULL: none */
    int other_count;
};
void practice_pad_read(struct practice_pad_cell *out, const struct practice_view *view, int corner,
                       int limb, int target);
void practice_pad_text(struct buf *out, const struct practice_view *view);

/* The pad's columns, from left to right: red's limbs, then blue's. */
#define PRACTICE_COLUMNS 5
extern const uint8_t practice_columns[CORNER_COUNT][PRACTICE_COLUMNS];

#endif
