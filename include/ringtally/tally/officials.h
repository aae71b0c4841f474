/* officials.h: the officials' side of a bout, read out of its fold: cards, limits, result. Pure.
 *
 * Entries: a score is ENTRY_SCORE of `round` with value = seat << 16 | red half points << 8 | blue
 * half points; code CODE_NAMED: the judge of value >> 16 names strike.corner; CODE_AWARDED: the
 * officials gave `round` to strike.corner (value 0: to nobody after all); CODE_WEIGHED:
 * strike.corner weighed `value` grams. ENTRY_RESULT says how the bout ended or what was announced,
 * in the text form of result_write. The newest live entry about a thing holds. These count from any
 * desk: there is one set of officials.
 */
#ifndef RINGTALLY_TALLY_OFFICIALS_H
#define RINGTALLY_TALLY_OFFICIALS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/decision.h"
#include "ringtally/tally/fold.h"
#include "ringtally/bout/rules.h"
#include "ringtally/bout/scorecard.h"

struct officials {
    struct scorecard card;
    int boxed;           /* rounds begun: what can be scored */
    struct bout_end end; /* how it ended, as far as the log says */
    struct round_facts facts;
    struct decision implied;
    bool announced;
    struct official official; /* as announced */
    char referee[64];         /* who announced it so; may be "" */
    bool overridden;          /* accepted although the log contradicts it */
    bool as_implied;          /* entered at a desk as what the cards imply, not as heard */
    struct entry_name announcement;
};

/* Everything of the above at a moment. */
void officials_read(struct officials *out, const struct fold *fold, const struct rules *rules,
                    const struct bout *bout, int64_t now_ms);

/* What an official result, or how the bout is said to have ended, is checked against. */
struct log_facts officials_log(const struct fold *fold, const struct rules *rules,
                               const struct bout *bout, int64_t now_ms);

/* The score of a seat (from 0) and round in entries: its subject, or NULL. */
const struct subject *officials_score(const struct fold *fold, int seat, int round);

int64_t score_value(int seat, int red_half, int blue_half);

/* What limits look at, of one corner: in a round, and in the bout up to it. A knockdown of the
 * corner is one that the other scored with a strike, or an incident. */
struct limit_counts officials_limits(const struct fold *fold, enum corner corner, int round);
/* Kicks of the corner in the round that the rules count. */
int officials_kicks(const struct fold *fold, const struct rules *rules, enum corner corner,
                    int round);

/* The text of an ENTRY_RESULT: "KIND CORNER VOTE ROUND TIME FLAGS REFEREE", each "-" where not
 * said; flags are "override", "implied", "no_action", joined by commas. For CODE_ENDED the kind is
 * one of ending_ids and the vote "-". False where it does not fit or cannot be read. */
struct result_text {
    char kind[32];
    uint8_t corner; /* enum corner */
    bool voted;
    struct vote vote;
    int round;          /* 0: not said */
    int32_t elapsed_ms; /* -1: not said */
    bool overridden;
    bool implied;   /* entered as implied: nobody said that it was announced so */
    bool no_action; /* an official said that nothing happened in the unfinished round */
    char referee[64];
};
bool result_write(char *out, size_t size, const struct result_text *result);
bool result_read(struct result_text *out, const char *text);

#endif
