/* setups.h: does a strike land more often after another one. Pure.
 *
 * For an ordered pair "A, then B" of one corner, the corner's strikes B fall in two: those with an
 * A of the corner in the same round at most `window_ms` before (other strikes may lie between; of a
 * strike and itself the former one counts), and the others. Both have their share of landed; the
 * test of whether B lands more often after A is Fisher's exact one of one side.
 *
 * Among hundreds of pairs some stand out by chance. Looked at are the pairs with enough cases on
 * both sides that could hold at all: given how many landed, and how many came after A, the table
 * that speaks most for the pair must be rare enough. Neither depends on what landed after A. How
 * rare a p is among all of them: the sum, over the pairs, of the largest p up to it that each could
 * have (`among`; Tarone RE 1990, Biometrics 46:515-522; Westfall PH, Wolfinger RD 1997, The
 * American Statistician 51:3-8): counts are few and p comes in steps, so that is far less than
 * their number times p. Whoever tells a set-up holds the error over all of them.
 */
#ifndef RINGTALLY_INSIGHT_SETUPS_H
#define RINGTALLY_INSIGHT_SETUPS_H

#include "ringtally/stats/interval.h"
#include "ringtally/tally/stream.h"

struct setup_rule {
    int32_t window_ms;
    int cases; /* strikes B needed on either side */
};
/* 2000 ms, 8 cases: this project's choice. */
#define SETUP_RULE_DEFAULT                                                                         \
    {                                                                                              \
        .window_ms = 2000, .cases = 8                                                              \
    }

struct setup {
    uint8_t corner;
    uint8_t first, then; /* strike_code of A and B */
    struct count after, otherwise;
    double p;     /* Fisher's, of one side */
    double among; /* that any pair looked at would have one so small: at most this */
    double least; /* that p could have been */
};

struct setups {
    struct setup *pair; /* looked at: by p, then corner, A, B */
    size_t count;
    size_t enough; /* pairs with cases enough, those that could not hold too */
};

/* Of the strikes up to and with the round `last`. `error` = the share of the error that all set-ups
 * together may spend. 0 or ERROR_MEMORY, then with nothing to release. */
int setups_init(struct setups *out, const struct stream *stream, int last,
                const struct setup_rule *rule, double error, struct error *err);
void setups_release(struct setups *setups);

/* The p that holds at `error` among all of them: any smaller one does too. 0: none. */
double setups_limit(const struct setups *setups, double error);

/* How likely a pair as this one would be found at a one-sided `z`, if B landed after A in `more`
 * points (0 to 1) more than otherwise: normal approximation (Fleiss JL 1981, Statistical Methods
 * for Rates and Proportions, 2nd ed., ch. 3). */
double setup_power(const struct setup *pair, double more, double z);

#endif
