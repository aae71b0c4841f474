/* records.h: the most that former bouts have of each sort of strike, in a bout and in a round, for
 * whoever says that there was never more. Pure.
 */
#ifndef RINGTALLY_TALLY_RECORDS_H
#define RINGTALLY_TALLY_RECORDS_H

#include "ringtally/tally/fold.h"

/* What is counted: what landed of a group (or any) to a target (or any), all that was thrown, and
 * knockdowns scored. */
enum record_sort {
    RECORD_LANDED = 0, /* + record_of(group, target) */
    RECORD_THROWN = (GROUP_COUNT + 1) * (TARGET_COUNT + 1),
    RECORD_KNOCKDOWNS,
    RECORD_SORTS
};
/* -1: any. */
static inline int record_of(int group, int target)
{
    return (group + 1) * (TARGET_COUNT + 1) + target + 1;
}
static inline int record_group(int sort)
{
    return sort / (TARGET_COUNT + 1) - 1;
}
static inline int record_target(int sort)
{
    return sort % (TARGET_COUNT + 1) - 1;
}
int record_count(const struct corner_tally *tally, int sort);

enum record_scope { RECORD_BOUT, RECORD_ROUND, RECORD_SCOPES };

/* Of one corner of each bout, or of both. */
struct records {
    int64_t *bout; /* their ids in the database; owned */
    size_t bouts, room;
    bool cut; /* there are older ones, which were not looked at */
    int most[RECORD_SCOPES][RECORD_SORTS];
};

/* Of what is logged here, and of each fighter of a bout. */
struct former {
    struct records here, own[CORNER_COUNT];
};

/* Adds a bout, of the corners in `corners` (1 << corner). 0 or ERROR_MEMORY. */
int records_add(struct records *records, int64_t bout, const struct fold *fold, uint8_t corners);
void former_release(struct former *former);

#endif
