/* pads.h: what a corner threw, as the pad shows it: a grid of targets by the thrower's own limbs
 * from left to right; the three sorts of knee are one column. Pure. */
#ifndef RINGTALLY_INSIGHT_PADS_H
#define RINGTALLY_INSIGHT_PADS_H

#include "ringtally/bout/rules.h"
#include "ringtally/tally/fold.h"

struct pad_cell {
    struct count count;
    int knockdowns;
    bool exists; /* the rules know such a strike, or it was thrown */
};

struct pad {
    struct pad_cell cell[TARGET_COUNT][PAD_COLUMNS];
    struct pad_cell target[TARGET_COUNT];
    struct count column[PAD_COLUMNS];
    struct count all;
    bool column_shown[PAD_COLUMNS];
    int columns; /* shown */
    int most;    /* landed, of a cell */
    int most_target;
};

/* What a corner threw in the rounds first .. last (first 0: the bout). */
void pad_read(struct pad *out, const struct fold *fold, const struct rules *rules,
              enum corner corner, int first, int last);
#define HEAT_LEAST 4 /* one strike that landed is no hot spot, though none landed more often */
/* 0: nothing landed; 1 to 4: up to a quarter, ..., all of `most`, or of HEAT_LEAST. */
int pad_heat(int landed, int most);
/* "left low kick", "right hand to the head", "knee to the body" */
void pad_words(char out[48], enum pad_column column, enum target target);

#endif
