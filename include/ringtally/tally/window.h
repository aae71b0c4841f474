/* window.h: the counts of a part of a bout, from some point on. Pure.
 *
 * "Since the bell, since the knockdown, in the last minute" all come down to one of two conditions
 * on what counts (fold.h): a place on the round clock, or a moment. In the view `strike` of the
 * database the same strikes are those with
 *   round > :round OR (round = :round AND elapsed_ms >= :elapsed_ms)   [> where `beyond`]
 *   at_ms >= :at_ms
 */
#ifndef RINGTALLY_TALLY_WINDOW_H
#define RINGTALLY_TALLY_WINDOW_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/tally/fold.h"

#define WINDOW_TEXT    64
#define WINDOW_LAST_MS 3600000 /* longest `last` */

/* What was asked for, as words have it. */
struct window_ask {
    enum window_from {
        WINDOW_NONE,      /* the whole */
        WINDOW_BELL,      /* the beginning of the round that is on, or was last */
        WINDOW_KNOCKDOWN, /* the newest one, itself not counted */
        WINDOW_CLOCK,     /* a round and a time of it */
        WINDOW_MOMENT,    /* UTC */
        WINDOW_ENTRY,     /* where an entry lies on the round clock, itself not counted */
        WINDOW_LAST       /* so much running clock back from now, over rests and stops */
    } from;
    int round;
    int64_t ms;             /* elapsed in the round; UTC; of running clock */
    char desk[33];          /* of the entry */
    int64_t seq;            /* and its number */
    char text[WINDOW_TEXT]; /* "since bell", "last 60 s" */
};

/* Where it begins. */
struct window {
    bool by_moment;
    uint8_t round;
    int32_t elapsed_ms; /* within that round */
    bool beyond;        /* what lies exactly there is not counted */
    int64_t at_ms;      /* by_moment: UTC */
};

/* Reads the words: `since` = "bell", "knockdown", "R2" or "R2 1:30" (a colon or a comma does for
 * the blank), "2026-12-05T20:15:30.250Z", or an entry as "DESK.SEQ"; `last` = seconds, 1 to 3600.
 * At most one of them may be given; both NULL: the whole. 0 or ERROR_USAGE. */
int window_parse(struct window_ask *out, const char *since, const char *last, struct error *err);

/* Finds its beginning as things stand at a moment. ERROR_MISSING: there is no knockdown, or no such
 * entry. Not for WINDOW_NONE. */
int window_find(struct window *out, const struct window_ask *ask, const struct fold *fold,
                int64_t now_ms, struct error *err);

/* Whether what stands at that place and moment is in it. */
bool window_has(const struct window *window, int round, int32_t elapsed_ms, int64_t at_ms);

/* Counts what is in it, by the rules of the fold. */
void window_count(struct round_tally *out, const struct window *window, const struct fold *fold);

/* Running clock within it, ms; -1: a moment does not say. */
int64_t window_ran(const struct window *window, const struct round_clock *clock, int64_t now_ms);

#endif
