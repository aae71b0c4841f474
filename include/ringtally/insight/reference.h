/* reference.h: the live count held against the best count there is: the same bout tagged again from
 * its recording, slowly and with replays. Pure.
 *
 * Strikes are paired as for any two desks (align.h), and what is counted here is expected over all
 * pairings, so that a wrong pair does not pass for an error of the fingers. The live count is taken
 * as it stood before differences were settled: what a settlement brought in nobody saw live.
 * Intervals are Wilson's (interval.h), of strikes taken as independent.
 */
#ifndef RINGTALLY_INSIGHT_REFERENCE_H
#define RINGTALLY_INSIGHT_REFERENCE_H

#include "ringtally/insight/agree.h"
#include "ringtally/stats/interval.h"

#define REFERENCE_OFFICIAL (-1)
#define REFERENCE_BURST_MS                                                                         \
    500 /* strikes of both corners so near, before and behind, are one rate */
#define REFERENCE_RETYPE_MS                                                                        \
    2000 /* a strike taken back so long before another was that one, wrong */

/* By what the reference's strikes are told apart. */
enum reference_by {
    BY_ALL,
    BY_CORNER,
    BY_LIMB,
    BY_TARGET,
    BY_ROUND,
    BY_MINUTE,   /* of the bout's running time, from 1 */
    BY_BURST,    /* strikes within a second: 1, 2, 3 to 4, 5 and more (values 1, 2, 3, 5) */
    BY_POSITION, /* open or clinch */
    BY_KINDS
};
extern const char *const reference_by_names[BY_KINDS]; /* "all" "corner" "limb" ... */

struct reference_row {
    uint8_t by; /* enum reference_by */
    int16_t value;
    int of;       /* strikes of the reference */
    double had;   /* of them the live count had */
    double right; /* had, with corner, limb, target and landed as the reference says */
    double first; /* the same, and nothing of it was put right afterwards */
    double wrong[AGREE_FIELDS]; /* had, and this field was another */
    double added;               /* strikes of the live count that the reference has not */
    struct estimate recall;     /* had of `of` */
};

/* The figures of a corner as they went on air, and as they would have been. */
enum reference_count { REFERENCE_ATTEMPTED, REFERENCE_LANDED, REFERENCE_BLOCKED, REFERENCE_COUNTS };
extern const char *const reference_count_names[REFERENCE_COUNTS]; /* "attempted" ... */
struct reference_figure {
    uint8_t corner;
    int live[REFERENCE_COUNTS], reference[REFERENCE_COUNTS];
};

/* How far live keys are behind the frames, in milliseconds, each on its own round clock. That clock
 * was started live by a key as well, and on the recording by the frame of the bell: so this is how
 * late a strike's key was less how late the bell's was. No clock is common to both (a file's time
 * stamp tells seconds, a recorder's picture comes late by an unknown time), so the bell's part
 * cannot be told; it is one number a round, and how far the rounds differ shows how far it moves.
 */
struct reference_lag {
    int of; /* pairs; 0: none */
    double median_ms, p90_ms;
};

struct reference {
    struct agree agree; /* A: the reference, B: the live count; owned */
    bool tells; /* the two can be told apart well enough (agree_tells); else no rate holds */
    struct reference_row *row; /* by kind, then value; those in which either has a strike; owned */
    size_t rows;
    /* The judgement, on strikes that both have: landed by the reference, and live. */
    double landed[2][2];                 /* [reference][live] */
    struct estimate sensitivity;         /* of those that landed, live says so */
    struct estimate ppv;                 /* of those that live says landed, they did */
    struct estimate wrong[AGREE_FIELDS]; /* of those that both have */
    struct reference_lag lag, lag_round[ROUND_MAX + 1];
    double lag_drift_ms; /* more of it in each minute within a round, where the bell's part is one
                            number and does not show */
    struct reference_figure figure[CORNER_COUNT];
};

/* `fold`: the bout's official view, with all its desks. `reference` = root of the desk that tagged
 * from the recording; `live` = root of a desk, taken alone, or REFERENCE_OFFICIAL: the official
 * count, whoever tagged it. `corners` (1 << corner): those that both tag. 0 or ERROR_MEMORY;
 * release it in any case. */
int reference_make(struct reference *out, const struct fold *fold, const struct bout *bout,
                   const struct rules *rules, int reference, int live, uint8_t corners);
void reference_release(struct reference *reference);

/* The corners that the official count has from desks that tagged live, and are not `reference`, 1
 * << corner. */
uint8_t reference_official_corners(const struct fold *fold, int reference);
/* The desk that tagged from a recording what others counted live: the root of the one with the most
 * strikes; *corners = those that both tag. -1: there is none. */
int reference_find(const struct fold *fold, uint8_t *corners);

/* --- in words, the same for every printer: reference_words.c --- */

/* "red", "left hand", "round 2", "minute 4", "3 or 4 a second", "clinch". */
void reference_words(char *out, unsigned size, const struct reference_row *row);
/* One line for a sheet: "live count checked against the recording: ...". */
void reference_line(char *out, unsigned size, const struct reference *reference);
/* "92% (89-94)"; "-" where nothing can be said. */
const char *reference_share(char out[32], const struct estimate *share);
/* "40%"; "-" of nothing attempted. */
const char *reference_accuracy(char out[16], const int count[REFERENCE_COUNTS]);
/* What the live figure is off by, of what it would have been: "-3.4%"; "-" of nothing. */
const char *reference_bias(char out[16], const struct reference_figure *figure,
                           enum reference_count which);
/* Whether either of them has anything of that corner. */
bool reference_tagged(const struct reference_figure *figure);
/* "corner 0% (0-1), limb 4% (3-6), ...", of the strikes that both have. */
void reference_wrong_words(char *out, unsigned size, const struct reference *reference);
/* "sensitivity 98% (96-99), PPV 97% (95-98), kappa 0.95, AC1 0.96"; `ppv`: the second's name. */
void reference_landed_words(char *out, unsigned size, const struct reference *reference,
                            const char *ppv);
/* "median 300 ms, 90 % within 420, +3 a minute; by round 280, 310, 300"; "" without a lag. */
void reference_lag_words(char *out, unsigned size, const struct reference *reference);
extern const char reference_lag_note[]; /* what that is measured from, in a sentence or two */
/* The rows of a kind, which stand together; *count = how many. */
const struct reference_row *reference_rows(const struct reference *reference, enum reference_by by,
                                           size_t *count);

#endif
