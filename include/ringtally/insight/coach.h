/* coach.h: what one corner is told between rounds: three boxes and the numbers below them. Pure.
 *
 * Boxes hold facts (what lands most, what is taken most, knockdowns) and, where the numbers carry
 * them, findings: what lands best, and what changed in the newest round that is over. These follow
 * the rules of remarks.h, as a family of their own: formed at bells only, false discoveries held
 * over all that was looked at, and the error shared equally by the scheduled rounds after the
 * first. `we` is the corner that it is for.
 */
#ifndef RINGTALLY_INSIGHT_COACH_H
#define RINGTALLY_INSIGHT_COACH_H

#include "ringtally/base/error.h"
#include "ringtally/bout/sign.h"
#include "ringtally/insight/pads.h"
#include "ringtally/stats/interval.h"

#define COACH_LEVEL 0.95 /* of every interval */
#define COACH_ERROR                                                                                \
    0.05                /* of bouts in which nothing differs have any finding on a corner's sheet */
#define COACH_CASES  10 /* strikes on each side of what is compared, as in remarks */
#define COACH_ROUNDS 12 /* shown at most: more would not fit a page */
#define COACH_NAMED  3  /* landed, before a strike is named as the most landed */

enum side { SIDE_WE, SIDE_THEY, SIDE_COUNT };

/* One of the three: a heading, the sentence, and what it stands on. */
struct coach_line {
    const char *label;
    char words[256];
    char proof[320];
    bool finding;
};
enum coach_lines { LINE_LANDS, LINE_TAKES, LINE_CHANGED, LINE_COUNT };

struct coach_round {
    int round; /* 0: the bout */
    struct count count[SIDE_COUNT];
    struct estimate accuracy[SIDE_COUNT];
    struct estimate thrown[SIDE_COUNT]; /* a minute of covered time; undefined below
                                           RATE_LEAST_MS of it */
    bool tagged[SIDE_COUNT];            /* else nothing is known of it */
};

struct coach {
    enum corner corner[SIDE_COUNT];
    struct pad pad[SIDE_COUNT];   /* what we land, and what we take: theirs */
    int most, most_target;        /* one scale for both pads */
    int best_target, best_column; /* the cell that the first sentence names; -1: none */
    int worst_target, worst_column;
    struct coach_line line[LINE_COUNT];
    struct coach_round round[ROUND_MAX + 1];     /* the rounds; then the bout, round 0 */
    struct count from[SIDE_COUNT][STANCE_COUNT]; /* of the pads: from each stance */
    struct estimate from_share[SIDE_COUNT][STANCE_COUNT];
    int rounds;
    int first;     /* shown of them: of many the newest */
    int listed;    /* rounds, and the bout where these are all of its rounds */
    int bell;      /* the round whose bell the findings are of; 0: none yet */
    int looked_at; /* figures, at that bell */
};

/* After `round` (0: the bout so far; its newest round is the one that may have changed something).
 * `signs` as for coverage_init. 0 or ERROR_MEMORY. Nothing to release. */
int coach_init(struct coach *out, const struct fold *fold, const struct rules *rules,
               const struct desk_sign *signs, enum corner corner, int round, int64_t now_ms,
               struct error *err);

#endif
