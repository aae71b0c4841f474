/* align.h: which strike of one desk is which strike of another. Pure.
 *
 * Two desks saw the same bout. Whether a strike of A and a strike of B are one is weighed by what
 * they say and by how far their moments are apart, as records of two files are linked (Fellegi IP,
 * Sunter AB 1969, Journal of the American Statistical Association 64:1183-1210): each pair has
 * odds,
 *
 *   what two views of one strike would say and be apart, by chance    (rates of error, jitter)
 *   over what a strike of each, unlike, would by chance               (shares; how fast they come)
 *
 * and a strike is in one pair at most. Over all such pairings the odds are summed exactly, so that
 * every pair has a probability, and the expected number of pairs, of misses and of each confusion
 * is known also where no single pair is sure. The rates are not given: they are those that these
 * probabilities lead back to (expectation-maximisation: Dempster AP, Laird NM, Rubin DB 1977,
 * Journal of the Royal Statistical Society B 39:1-38; for linkage Jaro MA 1989, Journal of the
 * American Statistical Association 84:414-420). What is listed is the likeliest pairing. Pairs may
 * cross: a finger's jitter exchanges neighbours, and two fighters strike at once.
 *
 * A moment is read on the round clock that the desk followed: the running time of the round, and
 * behind it, while the clock stood still, the time since it stopped. What B is behind A there is
 * found for each round, with its drift; in a round whose strikes fit better by UTC (a shadow that
 * forgot to start its clock), by UTC.
 */
#ifndef RINGTALLY_INSIGHT_ALIGN_H
#define RINGTALLY_INSIGHT_ALIGN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/tally/fold.h"

/* One strike, as one desk has it. */
struct align_strike {
    struct entry_name name; /* of the subject */
    struct strike strike;
    uint8_t round;
    bool off_clock;
    int32_t elapsed_ms; /* running time of the round */
    int32_t idle_ms;    /* off the clock: since it stopped; below 0 before the first round */
    int64_t at_ms;      /* UTC */
};

/* Points are -1000 times the decimal logarithm of a share: what is expected before the desks were
 * looked at, worth ten pairs; from there on the desks themselves say. */
struct align_options {
    int32_t window_ms;       /* no pair is further apart; 1 .. ALIGN_WINDOW_MAX */
    int32_t lateness_max_ms; /* of a round, is looked for */
    int32_t alone;           /* strikes that A alone has, or B */
    int32_t corner;          /* pairs whose corners differ */
    int32_t side; /* of the pairs whose limbs differ, those of the same kind (left, right hand) */
    int32_t limb; /* pairs whose limbs differ */
    int32_t target;
    int32_t outcome; /* landed or not */
};

#define ALIGN_WINDOW_MAX 60000
/* Judgement, not taken from a source: 5, 2, 50, 5, 5 and 10 in 100. */
#define ALIGN_DEFAULTS ((struct align_options){1000, 60000, 1300, 1700, 300, 1300, 1300, 1000})

/* A strike of each, or of one only (-1: none). */
struct align_link {
    int32_t a, b;
    double likely; /* the probability that it is so */
};

/* A strike of A and one of B that may be one. */
struct align_tie {
    int32_t a, b;
    double likely;
};

enum align_base { ALIGN_CLOCK, ALIGN_UTC };

/* How a round of A was found in B. */
struct align_round {
    uint8_t round;
    enum align_base base;
    size_t strikes;     /* of A */
    double lateness_ms; /* B behind A, in the middle of the round */
    double drift;       /* milliseconds more a minute */
    double paired;      /* how many pairs are expected */
    double chance;      /* the same at lateness values that cannot be right */
    bool at_limit;      /* the lateness stands at the edge of where it was looked for */
};

struct align {
    struct align_link *links; /* in time order; owned */
    size_t count;
    size_t paired, only_a, only_b; /* links of each kind */
    struct align_tie *ties;        /* owned */
    size_t tie_count;
    double expected;     /* pairs, over all pairings: the sum of the ties */
    double wrong;        /* how many of the links in pairs are not right */
    double chance;       /* pairs that are expected of two bouts that have nothing in common */
    int32_t lateness_ms; /* B behind A: the mean over the rounds, by their pairs */
    double jitter_ms;    /* standard deviation of B behind A, lateness taken out */
    struct align_round round[ROUND_MAX];
    int rounds; /* those in which A has strikes */
};

/* The live strikes of the desks with that root, in time order: of the corners in `corners` (1 <<
 * corner). `own` is that desk's own view (fold_new with this root). *out is malloc'd, the caller
 * frees. 0 or ERROR_MEMORY. */
int align_read(struct align_strike **out, size_t *count, const struct fold *own, int root,
               uint8_t corners);

/* Puts strikes into the order that align_make needs. */
void align_sort(struct align_strike *strikes, size_t count);

/* B's moment less A's, in milliseconds: what B is behind on its clock. */
int64_t align_behind(const struct align_strike *a, const struct align_strike *b);

/* The share that so many points stand for. */
double align_expected(int32_t points);

/* Both in align_sort order. 0 or ERROR_MEMORY; *out is then empty. */
int align_make(struct align *out, const struct align_strike *a, size_t a_count,
               const struct align_strike *b, size_t b_count, const struct align_options *options);
void align_release(struct align *align);

#endif
