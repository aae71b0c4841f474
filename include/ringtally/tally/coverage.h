/* coverage.h: over which time somebody was there to tag. Pure.
 *
 * A corner that nobody tagged and time with nobody at the desk are unknown, never zero. A corner is
 * covered at a moment of the round clock when a desk was official for it and somebody was at that
 * desk. Where a gap is, strikes may be missing: a rate is taken over covered time only, and nothing
 * is compared with what was not seen.
 *
 * When somebody was at a desk: a session (one desk row) begins when it was opened. One that
 * another session of its chain goes on from ended with its last entry, or with its last sign of
 * life where that is known and later. The last session of a chain goes on
 *   - while it gives signs of life, until now;
 *   - until its farewell, where it was closed;
 *   - until its last entry or sign, whichever is later, where it hangs or was killed;
 *   - until now where nothing is known (a log from another machine), or where its farewell is older
 *     than its own last entry (a key script, played faster than time).
 *
 * A recording's desk can go back to what it missed, whenever it does: it covers all of the
 * recording up to the last moment that it has tagged, and nothing behind that.
 *
 * Strikes that were put in afterwards do not cover a gap: who puts them in saw some, and nobody
 * knows how many more there were.
 */
#ifndef RINGTALLY_TALLY_COVERAGE_H
#define RINGTALLY_TALLY_COVERAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/bout/sign.h"
#include "ringtally/tally/fold.h"
#include "ringtally/tally/window.h"

/* Signs of life come once a second: what is shorter is not known to be a gap, and is none. */
#define COVERAGE_LEAST_MS SIGN_EVERY_MS

enum coverage_why {
    COVERAGE_NOBODY, /* no desk was official for the corner */
    COVERAGE_AWAY,   /* one was, and nobody was at it */
    COVERAGE_WHYS
};
extern const char
    *const coverage_why_words[COVERAGE_WHYS]; /* "nobody official" "nobody at the desk" */

/* Round clock time of one round in which corners were not covered. */
struct coverage_gap {
    uint8_t round;
    uint8_t corners; /* 1 << corner; both where the gap is the same */
    uint8_t why;     /* enum coverage_why */
    int32_t desk;    /* COVERAGE_AWAY: root of the desk that was official; else -1 */
    int32_t from_ms, to_ms;
};

/* Of one corner in one round, or in the bout. */
struct coverage_part {
    int64_t ran_ms;     /* the round clock ran */
    int64_t covered_ms; /* of it, with somebody there: never more */
    bool tagged; /* anything is known: some time was covered, or a strike is there. False: every
                    count of it is unknown. While nothing has happened yet nothing was missed */
};

struct coverage {
    struct coverage_part part[ROUND_MAX + 1][CORNER_COUNT]; /* [0]: the whole bout */
    struct coverage_gap *gap; /* by round and beginning, red's before blue's; owned */
    size_t gaps;
};

/* Works it out at a moment. `signs`: of the desks by their index in fold_desks, NULL where not
 * known. 0 or ERROR_MEMORY, then with nothing to release. */
int coverage_init(struct coverage *out, const struct fold *fold, const struct desk_sign *signs,
                  int64_t now_ms, struct error *err);
void coverage_release(struct coverage *coverage);

/* Of a round, or of the bout (0). */
const struct coverage_part *coverage_of(const struct coverage *coverage, int round,
                                        enum corner corner);
/* Of a window, in which `counts` was counted; ran_ms and covered_ms are -1 where the window begins
 * with a moment, which does not say. */
struct coverage_part coverage_in(const struct coverage *coverage, const struct window *window,
                                 const struct round_tally *counts, enum corner corner);
/* A gap or a part of it lies in the window. */
bool coverage_gap_in(const struct coverage_gap *gap, const struct window *window);
/* All time in which the clock ran was covered, and the corner is tagged. */
bool coverage_whole(const struct coverage *coverage, int round, enum corner corner);
/* How much of this time of the round clock lies in no gap of the corner. */
int32_t coverage_between(const struct coverage *coverage, int round, enum corner corner,
                         int32_t from_ms, int32_t to_ms);

/* "nobody at the desk R1 0:18-0:49", "red: nobody official R1 0:00-3:00". */
void coverage_words(char *out, size_t size, const struct coverage_gap *gap);

#endif
