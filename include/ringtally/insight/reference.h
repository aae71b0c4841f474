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

/* A figure as it would have gone on air, and as it would have been. */
struct reference_figure {
    uint8_t corner;
    int live[2], reference[2]; /* attempted, landed */
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
    bool has_lag;
    double lag_median_ms, lag_p90_ms; /* the live key behind the frame, each on its own round clock:
                                         how late the bell's own key was is not in it */
    double lag_drift_ms;              /* more of it in each minute of the bout */
    struct reference_figure figure[CORNER_COUNT];
};

/* `fold`: the bout's official view, with all its desks. `reference` = root of the desk that tagged
 * from the recording; `live` = root of a desk, taken alone, or REFERENCE_OFFICIAL: the official
 * count, whoever tagged it. `corners` (1 << corner): those that both tag. 0 or ERROR_MEMORY;
 * release it in any case. */
int reference_make(struct reference *out, const struct fold *fold, const struct bout *bout,
                   const struct rules *rules, int reference, int live, uint8_t corners);
void reference_release(struct reference *reference);

/* The desk of the bout that tagged from a recording: the root of the one with the most strikes; -1:
 * there is none. */
int reference_find(const struct fold *fold);
/* The corners that the official count has from desks, 1 << corner. */
uint8_t reference_official_corners(const struct fold *fold);

/* "red", "left hand", "round 2", "minute 4", "3 or 4 a second", "clinch". */
void reference_words(char *out, unsigned size, const struct reference_row *row);
/* One line for a sheet: "live count checked against the recording: ...". */
void reference_line(char *out, unsigned size, const struct reference *reference);

#endif
