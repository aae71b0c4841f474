/* review.h: which entries of a bout want a second look before the next bell. Pure. */
#ifndef RINGTALLY_TALLY_REVIEW_H
#define RINGTALLY_TALLY_REVIEW_H

#include <stddef.h>
#include <stdint.h>

#include "ringtally/tally/fold.h"
#include "ringtally/bout/rules.h"

enum review_reason {
    REVIEW_FLAGGED = 1,    /* by the tagger */
    REVIEW_OFF_CLOCK = 2,  /* a strike while the round clock stood still */
    REVIEW_UNKNOWN = 4,    /* the rules know no such strike */
    REVIEW_BURST = 8,      /* both hands and both legs of one corner within REVIEW_BURST_MS */
    REVIEW_KNOCKDOWNS = 16 /* two knockdowns within REVIEW_KNOCKDOWNS_MS */
};

#define REVIEW_BURST_MS      250
#define REVIEW_KNOCKDOWNS_MS 1000

/* Sets out[i] to the reasons for which subject i of the fold wants a look, 0 for none. Voided
 * entries, those that do not count and those that somebody accepted want none. `count` = how many
 * subjects there are; returns how many want a look. */
size_t review_reasons(uint8_t *out, size_t count, const struct fold *fold,
                      const struct rules *rules);

/* After subject `at` was added at the end (its reasons set to 0 before) or changed: its reasons and
 * those near it anew, at the cost of how many are near. Returns by how much the number of subjects
 * that want a look has changed. */
long review_update(uint8_t *reasons, size_t at, const struct fold *fold, const struct rules *rules);

/* "flagged, off the clock": the reasons in words. */
void review_words(char *out, size_t size, uint8_t reasons);

#endif
