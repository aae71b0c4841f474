/* callouts_find.h: the search for what can be said. Private to the room. */
#ifndef RINGTALLY_TALLY_CALLOUTS_FIND_H
#define RINGTALLY_TALLY_CALLOUTS_FIND_H

#include "ringtally/callouts.h"

enum tier { TIER_KNOCKDOWN, TIER_EVENT, TIER_ROUND, TIER_BOUT };

struct search {
    const struct callout_rule *rule;
    const struct fold *fold;
    const struct tally *tally;
    const struct stream *stream;
    int64_t now_ms;
    struct callouts *out;
    size_t room;
    bool failed; /* out of memory */
};

void search_add(struct search *search, const struct callout *callout);

/* Firsts, milestones, runs, knockdowns. */
void search_events(struct search *search);

#endif
