/* clock.h: the round clock, folded from clock entries. Pure: the moment now is an argument.
 *
 * The clock runs by the wall: a round that was started ends by itself when its length has passed,
 * whether or not a program ran meanwhile. It goes on past its end, so that a correction can bring a
 * round back or move the rest. All spans in milliseconds, all moments UTC milliseconds.
 */
#ifndef RINGTALLY_BOUT_CLOCK_H
#define RINGTALLY_BOUT_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/bout/entry.h"
#include "ringtally/bout/rules.h"

enum clock_state {
    CLOCK_READY,
    CLOCK_RUNNING,
    CLOCK_STOPPED,
    CLOCK_REST,
    CLOCK_OVER,
    CLOCK_STATES
};
extern const char
    *const clock_state_names[CLOCK_STATES]; /* "ready" "running" "stopped" "rest" "over" */

struct clock_plan { /* what of rules and bout the clock needs */
    int rounds;     /* scheduled */
    int extension_rounds;
    int32_t round_ms, extension_ms, rest_ms;
};

struct round_clock {
    struct clock_plan plan;
    int round;        /* 0 before the first */
    bool running;     /* told to run, at `since_ms` */
    bool ended;       /* the bout is, at ended_ms: a result said so */
    int64_t since_ms; /* moment of the last start, stop or nudge */
    int64_t ended_ms;
    int32_t elapsed_ms;            /* of `round` at since_ms */
    int32_t ran_ms[ROUND_MAX + 1]; /* of the rounds before `round` */
    uint8_t stops[ROUND_MAX + 1];  /* times stopped by hand before the end */
};

/* What the clock shows at a moment. */
struct clock_face {
    enum clock_state state;
    int round; /* that strikes belong to now: 1 before the first, the round just ended in a rest */
    int32_t elapsed_ms;   /* of that round */
    int32_t remaining_ms; /* of the round, or of the rest; 0 when over */
    int64_t ended_ms;     /* when the round, or the bout, ended (rest, over); else 0 */
    bool extension;       /* an extension round */
};

struct clock_plan clock_plan(const struct rules *rules, int rounds_of_bout);
void clock_init(struct round_clock *clock, const struct clock_plan *plan);
/* Applies an ENTRY_CLOCK; others are passed over. */
void clock_apply(struct round_clock *clock, const struct entry *entry);
/* The bout ended at that moment: the clock stands for good, or until it is opened again. */
void clock_end(struct round_clock *clock, int64_t at_ms);
void clock_reopen(struct round_clock *clock);
/* Milliseconds since the round began as the clock counts them, also beyond its length: then what
 * exceeds it is rest. */
int64_t clock_passed(const struct round_clock *clock, int64_t now_ms);
struct clock_face clock_read(const struct round_clock *clock, int64_t now_ms);
int32_t clock_round_length(const struct clock_plan *plan, int round);
/* Running time of a round (0: of all) up to a moment. */
int64_t clock_ran(const struct round_clock *clock, int round, int64_t now_ms);
/* The moment at which the face next changes by itself, second by second; INT64_MAX where it does
 * not. */
int64_t clock_next_change(const struct round_clock *clock, int64_t now_ms);

#endif
