/* history_sheet.h: one fighter's bouts, each and in all, written for people and for machines.
 * Numbers come from the tallies of the bouts; nothing is counted here. */
#ifndef RINGTALLY_SHEET_HISTORY_SHEET_H
#define RINGTALLY_SHEET_HISTORY_SHEET_H

#include "ringtally/sheet/sheet.h"
#include "ringtally/stats/pieces.h"

struct history_bout {
    char bout[64]; /* "CARDID/NUMBER" */
    char title[96], date[11];
    char against[96];
    uint8_t corner;
    int rounds; /* that were begun; 0: nothing was logged */
    int64_t ran_ms;
    int64_t own_ms, taken_ms;       /* of it covered: somebody tagged the fighter; the other */
    bool own_tagged, taken_tagged;  /* else nothing is known: left out of the sum */
    bool closed;                    /* the record is signed */
    struct corner_tally own, taken; /* thrown by the fighter; by the other */
};

/* What has a share that lands: all strikes, then each group, target and stance. */
#define HISTORY_SPLITS (1 + GROUP_COUNT + TARGET_COUNT + STANCE_COUNT)

struct history {
    char name[96];
    struct history_bout *bout; /* in the order in which they were added; owned */
    size_t count, room;
    size_t logged;                       /* with anything logged */
    size_t own_untagged, taken_untagged; /* of these without a tagger for the fighter; the other */
    /* Slices of all bouts: how sure a share is, thrown by the fighter, and by the other. */
    struct piece_sums own[HISTORY_SPLITS], taken[HISTORY_SPLITS];
    struct history_bout all;             /* the sum of what was tagged: numbers only */
};

/* Adds the bout of the view; `title` and `date` of its card. 0 or ERROR_MEMORY. */
int history_add(struct history *history, const struct sheet_view *view, enum corner corner,
                const char *title, const char *date, struct error *err);
void history_release(struct history *history);

/* A table of 80 columns; one JSON document (schema/history.schema.json). 0 or ERROR_MEMORY. */
int history_table(struct buf *out, const struct history *history, struct error *err);
int history_json(struct buf *out, const struct history *history, struct error *err);

/* Two fighters side by side, for the card's table: their bouts in all. 0 or ERROR_MEMORY. */
int history_pair(struct buf *out, const struct history *red, const struct history *blue,
                 struct error *err);

#endif
