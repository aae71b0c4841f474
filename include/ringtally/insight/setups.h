/* setups.h: does a strike land more often after another one. Pure.
 *
 * For an ordered pair "A, then B" of one corner, the corner's strikes B fall in two: those with an
 * A of the corner in the same round at most `window_ms` before (other strikes may lie between; of a
 * strike and itself the former one counts), and the others. Both have their share of landed; the
 * difference comes with Newcombe's interval and Fisher's exact test.
 *
 * Among hundreds of pairs some stand out by chance. Looked at are the pairs with enough cases on
 * both sides, which does not depend on what landed; over all of these, of both corners, the
 * false-discovery rate is held (Benjamini and Hochberg). How many were looked at is part of the
 * result and is to be shown with it.
 */
#ifndef RINGTALLY_INSIGHT_SETUPS_H
#define RINGTALLY_INSIGHT_SETUPS_H

#include "ringtally/stats/interval.h"
#include "ringtally/tally/stream.h"

struct setup_rule {
    int32_t window_ms;
    int cases;    /* strikes B needed on either side */
    double level; /* of the intervals */
    double rate;  /* false discoveries allowed among those that hold */
};
/* 2000 ms, 8 cases, 0.95, 0.05: this project's choice. Fewer cases could hardly hold, and each pair
 * that is looked at makes it harder for the others. */
#define SETUP_RULE_DEFAULT                                                                         \
    {                                                                                              \
        .window_ms = 2000, .cases = 8, .level = 0.95, .rate = 0.05                                 \
    }
extern const struct setup_rule setup_rule_default;

struct setup {
    uint8_t corner;
    uint8_t first, then; /* strike_code of A and B */
    struct count after, otherwise;
    struct estimate difference; /* share landed after A less share landed otherwise */
    double p;                   /* Fisher, two-sided */
    double adjusted;            /* p for the false-discovery rate */
    bool holds;                 /* adjusted <= rate, and the interval leaves 0 out */
};

struct setups {
    struct setup *pair; /* looked at: by adjusted p, then p, corner, A, B */
    size_t count;
    size_t seen; /* pairs that occurred at all */
};

/* 0 or ERROR_MEMORY, then with nothing to release. */
int setups_init(struct setups *out, const struct stream *stream, const struct setup_rule *rule,
                struct error *err);
void setups_release(struct setups *setups);

#endif
