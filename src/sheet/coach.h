/* coach.h: what the coach's sheet says, worked out once for its printers. Private to the room.
 *
 * The pad is a grid of targets by the thrower's own limbs from left to right; the three sorts of
 * knee are one column. `we` is the corner that the sheet is for.
 */
#ifndef RINGTALLY_SHEET_COACH_H
#define RINGTALLY_SHEET_COACH_H

#include "ringtally/insight/remarks.h"
#include "sheet/figures.h"

#define COACH_LEVEL  0.95 /* of every interval on the sheet */
#define COACH_CASES  10   /* strikes on each side of what is compared, as in remarks */
#define COACH_ROUNDS 12   /* shown at most: more would not fit a page */
#define COACH_NAMED  3    /* landed, before a strike is named as the most landed */

enum pad_column {
    PAD_LEFT_LEG,
    PAD_LEFT_HAND,
    PAD_LEFT_ELBOW,
    PAD_RIGHT_ELBOW,
    PAD_RIGHT_HAND,
    PAD_RIGHT_LEG,
    PAD_KNEE,
    PAD_COLUMNS
};
extern const char *const pad_column_words[PAD_COLUMNS]; /* "left leg" ... */

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

enum pad_column pad_column(int limb);
/* What a corner threw in a round (0: the bout). */
void pad_read(struct pad *out, const struct sheet_view *view, enum corner corner, int round);
/* 0: nothing landed; 1 to 4: up to a quarter, ..., all of `most`. */
int pad_heat(int landed, int most);
/* "left low kick", "right hand to the head", "knee to the body" */
void pad_words(char out[48], enum pad_column column, enum target target);

enum side { SIDE_WE, SIDE_THEY, SIDE_COUNT };

/* One of the three: a heading, the sentence, and what it stands on. */
struct coach_line {
    const char *label;
    char words[224];
    char proof[224];
};
enum coach_lines { LINE_LANDS, LINE_TAKES, LINE_CHANGED, LINE_COUNT };

struct coach_round {
    int round; /* 0: the bout */
    struct count count[SIDE_COUNT];
    struct estimate accuracy[SIDE_COUNT];
    struct estimate thrown[SIDE_COUNT]; /* a minute of covered time */
    bool tagged[SIDE_COUNT];            /* else nothing is known of it */
};

struct coach {
    const struct figures *figures;
    enum corner corner[SIDE_COUNT];
    struct pad pad[SIDE_COUNT];   /* what we land, and what we take: theirs */
    int most, most_target;        /* one scale for both pads */
    int best_target, best_column; /* the cell that the first sentence names; -1: none */
    int worst_target, worst_column;
    struct coach_line line[LINE_COUNT];
    struct coach_round round[ROUND_MAX + 1]; /* the rounds; then the bout, round 0 */
    int rounds;
    int first;  /* shown of them: of many the newest */
    int listed; /* rounds, and the bout where these are all of its rounds */
};

/* 0 or ERROR_MEMORY. Nothing to release. */
int coach_init(struct coach *out, const struct figures *figures, enum corner corner,
               struct error *err);
/* The three sentences; needs all else filled in. */
int coach_say(struct coach *coach, struct error *err);

/* Somebody was down, counted or hurt in this bout: the words on health are set off. */
bool coach_hurt(const struct coach *coach);
/* How much of the scope asked for was seen of that side. */
const struct coverage_part *coach_part(const struct coach *coach, enum side side);
/* As count_cell; unknown where nobody tagged that side in the round. */
void coach_count(char out[CELL_SIZE], const struct coach_round *round, enum side side);

/* value in so many digits, with a point in every locale */
void coach_fixed(char out[CELL_SIZE], double value, int digits);
/* "40% 25-58", or "-" */
void coach_share(char out[CELL_SIZE], struct estimate share);
/* "10.2 7.3-13.9", or "-" */
void coach_rate(char out[CELL_SIZE], struct estimate rate);

void coach_text(struct buf *out, const struct coach *coach);
void coach_html(struct buf *out, const struct coach *coach);

#define COACH_NOTE                                                                                 \
    "Strikes come in combinations and are not independent: the true intervals are somewhat wider."

#endif
