/* scorecard.h: the judges' cards of a bout as a value: checks, totals, votes, CSV.
 *
 * Scores are held in half points, so that 9.5 is exact. A score that no judge can give is refused;
 * one that the rules do not know is warned of and kept. Judges and rounds count from 0 in arrays
 * and from 1 in arguments and texts.
 */
#ifndef RINGTALLY_BOUT_SCORECARD_H
#define RINGTALLY_BOUT_SCORECARD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/buf.h"
#include "ringtally/bout/card.h"
#include "ringtally/bout/entry.h"
#include "ringtally/base/error.h"
#include "ringtally/bout/rules.h"

#define SCORE_BYTES 8 /* "99.5" and its NUL, with room */

struct scorecard {
    int judges;                                       /* 0..JUDGE_MAX */
    bool given[JUDGE_MAX][ROUND_MAX];                 /* this score is there */
    uint8_t half[JUDGE_MAX][ROUND_MAX][CORNER_COUNT]; /* half points, as the judge wrote them */
    /* Half points that the referee took in the round. Under DEDUCTED_BY_JUDGES the judges' scores
     * have them already; under DEDUCTED_BY_OFFICIALS totals take them off every card. */
    uint8_t deducted[ROUND_MAX][CORNER_COUNT];
    uint8_t named[JUDGE_MAX]; /* bit 1 << corner that a tied judge names; 0: none */
};

/* What one card says over a span of rounds. */
struct card_total {
    int half[CORNER_COUNT];   /* half points, deductions taken off */
    int rounds[CORNER_COUNT]; /* rounds that the judge has for each corner */
    int missing;              /* first round of the span without a score; 0: none missing */
    bool named;               /* even on points; the vote is the corner that the judge named */
    uint8_t vote;             /* enum corner; CORNER_NONE: even */
};

struct vote {
    int red, blue, even, missing; /* cards; missing: not complete over the span */
};

/* "9", "9.5" or "9,5" into half points. Refuses what is no multiple of half a point from 0 up to
 * what the system can give: 10, or 99 where rounds are won on points of another kind. */
int score_parse(int *half, const struct rules *rules, const char *text, struct error *err);
/* "9.5" */
const char *score_words(char out[SCORE_BYTES], int half);

/* Warnings about one round's score in words, "; " between them, into out[size]: how many.
 * `deducted` = half points taken in that round. */
int score_check(char *out, size_t size, const struct rules *rules, int red_half, int blue_half,
                const uint8_t deducted[CORNER_COUNT]);

/* Puts one score in. Refuses a judge that the bout does not have, a round after `boxed` (how many
 * were begun), and impossible scores; the card is then as before. Warnings go into warning[size]
 * ("" if none). */
int scorecard_set(struct scorecard *card, const struct rules *rules, int boxed, int judge,
                  int round, int red_half, int blue_half, char *warning, size_t size,
                  struct error *err);

/* Rounds `from` to `to` of one card. Where `names` is set, the corner that the judge named breaks
 * an even card. */
struct card_total scorecard_total(const struct scorecard *card, const struct rules *rules,
                                  int judge, int from, int to, bool names);

/* Who leads on how many cards after a round: what open scoring reads out. */
struct vote scorecard_lead(const struct scorecard *card, const struct rules *rules, int round);

/* "0-3-2": red, blue, even. */
const char *vote_words(char out[16], const struct vote *vote);

/* The cards as CSV (RFC 4180), one row a judge and round that is there:
 * judge,round,red,blue,names. `names` is red, blue or empty. */
void scorecard_dump(struct buf *out, const struct scorecard *card, const struct bout *bout);

/* Reads such rows into *card, over what is there; other columns are refused, their order is free.
 * A judge is named as on the bout, or by number. On error *card is as before and the message names
 * file and line. Warnings are added to `warnings`, one line each. */
int scorecard_load(struct scorecard *card, struct buf *warnings, const struct rules *rules,
                   const struct bout *bout, int boxed, const char *text, size_t size,
                   const char *file, struct error *err);

#endif
