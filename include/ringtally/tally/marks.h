/* marks.h: the moments of a bout that a replay desk wants, out of the fold. Pure.
 *
 * A mark is one live, official strike, incident or flagged entry, or an exchange. One entry makes
 * one mark, however many reasons there are for it: a spinning kick that knocks down is a single
 * mark of two kinds.
 *
 * An exchange: strikes of both corners in one round, in the order of their moments, each within
 * `gap_ms` of the one before. It is as long as it can be, and ends with the last strike before a
 * longer gap. One in which nothing landed is none. Exchanges are ranked by strikes landed (both
 * corners together), then by strikes attempted, then the earlier first; the best `top` are marks.
 *
 * A flurry: such a run of one corner alone, in which it attempted MARK_FLURRY_ATTEMPTED strikes and
 * landed MARK_FLURRY_LANDED of them. Ranked among flurries in the same way.
 *
 * Landed strikes and bells (the beginning of each round) are marks only where they are asked for.
 */
#ifndef RINGTALLY_TALLY_MARKS_H
#define RINGTALLY_TALLY_MARKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/tally/fold.h"
#include "ringtally/bout/timecode.h"

enum mark_kind {
    MARK_KNOCKDOWN = 1, /* a strike that scored one */
    MARK_SPINNING = 2,
    MARK_JUMPING = 4,
    MARK_INCIDENT = 8, /* of any code, "knocked down" included */
    MARK_FLAG = 16,    /* an entry flagged for review */
    MARK_EXCHANGE = 32,
    MARK_FLURRY = 64,
    MARK_LANDED = 128, /* every strike that landed */
    MARK_BELL = 256,   /* a round begins */
    MARK_USUAL = MARK_LANDED - 1
};
#define MARK_KINDS            9
#define MARK_FLURRY_ATTEMPTED 5
#define MARK_FLURRY_LANDED    3
extern const char *const mark_kind_names[MARK_KINDS]; /* "knockdown" ..., bit 1 << index */

struct marks_plan {
    unsigned kinds;      /* enum mark_kind: which to give */
    int32_t lead_in_ms;  /* shown before the moment; keys come after what they tag */
    int32_t lead_out_ms; /* and after it */
    int32_t gap_ms;      /* longest gap within an exchange */
    int top;             /* how many exchanges, and how many flurries */
};
extern const struct marks_plan marks_plan_default; /* the usual; 5 s, 3 s; 1.5 s; 5 */

struct mark {
    unsigned kinds;        /* enum mark_kind, at least one asked for */
    int64_t at_ms, end_ms; /* UTC: first and last strike of an exchange, else the same moment */
    int64_t in_ms, out_ms; /* UTC, with lead-in and lead-out */
    uint8_t round;         /* and the round clock at `at_ms` */
    int32_t elapsed_ms;
    enum corner corner;               /* CORNER_NONE: an exchange, a note, a bell */
    struct entry_name entry;          /* what was marked; of an exchange its first strike */
    int rank;                         /* of an exchange or a flurry, from 1; else 0 */
    int ranked;                       /* of how many of its kind that is */
    struct count count[CORNER_COUNT]; /* of an exchange or a flurry; else zero */
};

/* All marks by their beginning. *out is the caller's to free; NULL where there is none. 0 or
 * ERROR_MEMORY. */
int marks_find(struct mark **out, size_t *count, const struct fold *fold,
               const struct marks_plan *plan, struct error *err);

/* The newest sync point in the log, of whichever desk. false: there is none. */
bool marks_sync(struct sync_point *out, const struct fold *fold);

/* UTC of the bout's first bell: when the official clock first started a round. false: it has not.
 */
bool marks_first_bell(int64_t *utc_ms, const struct fold *fold);

#endif
