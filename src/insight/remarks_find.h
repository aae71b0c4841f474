/* remarks_find.h: the search for what can be said. Private to the room. */
#ifndef RINGTALLY_TALLY_REMARKS_FIND_H
#define RINGTALLY_TALLY_REMARKS_FIND_H

#include "ringtally/insight/remarks.h"

enum tier { TIER_KNOCKDOWN, TIER_EVENT, TIER_ROUND, TIER_BOUT };

struct search {
    const struct remark_rule *rule;
    const struct fold *fold;
    const struct tally *tally;
    const struct stream *stream;
    int64_t now_ms;
    struct remarks *out;
    size_t room;
    bool failed; /* out of memory */
};

void search_add(struct search *search, const struct remark *remark);

/* Firsts, milestones, runs, knockdowns. */
void search_events(struct search *search);

#endif
