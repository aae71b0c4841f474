/* downs.h: knockdowns and counts as events, however they were entered. Private to the room. */
#ifndef RINGTALLY_TALLY_DOWNS_H
#define RINGTALLY_TALLY_DOWNS_H

#include "ringtally/tally/fold.h"
#include "ringtally/tally/tally.h"

/* Whether a subject can be one: a strike with the mark, "knocked down", a standing count. */
bool down_speaks(const struct entry *entry);
/* Whether the one at list[at] counts, among the subjects whose indexes stand in `list`. A strike's
 * mark is a knockdown. "Knocked down" is one too, unless a marked strike of the other corner, or an
 * earlier "knocked down", stands near it (DOWN_NEAR_MS, same round). A standing count is a down of
 * its own unless one of those, or an earlier count, is near. */
bool down_stands(const struct subject *subjects, const size_t *list, size_t count, size_t at);
/* Adds one that stands. */
void down_add(struct round_tally *tally, const struct entry *down);
/* Counts `knockdowns` and `downs` of all corners and rounds anew. */
void downs_count(struct tally *tally, const struct subject *subjects, const size_t *list,
                 size_t count);

#endif
