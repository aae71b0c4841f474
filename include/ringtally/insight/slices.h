/* slices.h: a bout cut into pieces of time, which is what findings and their intervals count. Pure.
 *
 * Every round is cut into equal slices of about SLICE_MS of running clock: longer than a
 * combination, so that one slice says next to nothing about the next (stats/pieces.h).
 */
#ifndef RINGTALLY_INSIGHT_SLICES_H
#define RINGTALLY_INSIGHT_SLICES_H

#include "ringtally/stats/pieces.h"
#include "ringtally/tally/coverage.h"
#include "ringtally/tally/stream.h"

#define SLICE_MS 10000 /* this project's choice: combinations last some two seconds */

struct slice {
    struct count all;
    struct count target[TARGET_COUNT], group[GROUP_COUNT];
    struct count stance[STANCE_COUNT];
};

struct slices {
    struct slice *slice[CORNER_COUNT]; /* of all rounds, one after the other */
    struct piece *room;                /* to work in */
    size_t from[ROUND_MAX + 2];        /* of round r: from[r] to before from[r + 1] */
    int64_t ran_ms[ROUND_MAX + 1];     /* running clock */
    struct coverage coverage;
    /* Somebody was there to tag all of the round. What was not seen is not known: it is compared
     * with nothing. */
    bool whole[CORNER_COUNT][ROUND_MAX + 1];
    int last;   /* highest round with a strike or a clock */
    int over;   /* rounds that are over: 1 .. over */
    bool ended; /* the bout is: no round will follow */
};

/* What is read of a slice: part and whole. */
enum measure {
    MEASURE_THROWN,   /* thrown a minute */
    MEASURE_LANDED,   /* landed a minute */
    MEASURE_ACCURACY, /* landed of thrown */
    MEASURE_TARGET,   /* thrown to the target `which` of thrown */
    MEASURE_AT,       /* landed of thrown, to the target `which` */
    MEASURE_GROUP,    /* landed of thrown, with the group `which` */
    MEASURE_STANCE,   /* landed of thrown, from the stance `which` */
    MEASURE_OTHERWISE /* landed of thrown, from all other stances */
};

/* `signs` as for coverage_init. 0 or ERROR_MEMORY, then with nothing to release. */
int slices_init(struct slices *out, const struct fold *fold, const struct stream *stream,
                const struct desk_sign *signs, int64_t now_ms, struct error *err);
void slices_release(struct slices *slices);

struct span {
    enum corner corner;
    int first, last; /* rounds */
    enum measure measure;
    int which;
};

/* Adds the slices of a span. */
void slices_sum(struct piece_sums *out, const struct slices *slices, struct span span);

/* The share or the rate of a span with its interval, and one span against another. */
struct estimate slices_estimate(const struct slices *slices, struct span span, double level);
struct contrast slices_compare(const struct slices *slices, struct span one, struct span other);

/* Running clock of these rounds. */
int64_t slices_ran(const struct slices *slices, int first, int last);

/* The first round from which on up to `last` the corner was seen without a gap; last + 1: not
 * even then. CORNER_NONE: both corners. */
int slices_seen_since(const struct slices *slices, enum corner corner, int last);

#endif
