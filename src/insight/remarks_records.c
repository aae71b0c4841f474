/* remarks_records.c: what there is more of than in any former bout. */
#include "insight/remarks_find.h"

#define KNOCKDOWNS_LEAST 2

/* One comparison: a corner's figures in a round or, 0, in the bout against former ones. */
struct held {
    const struct records *records;
    int variant;
    enum corner corner;
    int round;
    bool is[RECORD_SORTS]; /* a record */
};

static int count_of(const struct search *search, enum corner corner, int round, int sort)
{
    const struct round_tally *tally = round ? &search->tally->round[round] : &search->tally->all;
    return record_count(&tally->corner[corner], sort);
}

/* More than in this bout's other rounds too, and than the other corner has where that counts. */
static bool is_most(const struct search *search, const struct held *held, int sort)
{
    const int first = held->round ? 1 : 0, last = held->round ? search->out->rounds : 0;
    int count = count_of(search, held->corner, held->round, sort);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int round = first; round <= last; round++) {
            bool own = corner == (int)held->corner;
            if ((own ? round != held->round : held->variant == RECORD_HERE) &&
                count_of(search, (enum corner)corner, round, sort) >= count) {
                return false;
            }
        }
    }
    return true;
}

static void hold(const struct search *search, struct held *held, int bouts)
{
    const int *most = held->records->most[held->round ? RECORD_ROUND : RECORD_BOUT];
    for (int sort = 0; sort < RECORD_SORTS && held->records->bouts >= (size_t)bouts; sort++) {
        int count = count_of(search, held->corner, held->round, sort);
        int least = sort == RECORD_KNOCKDOWNS ? KNOCKDOWNS_LEAST : search->rule->cases;
        held->is[sort] = count > most[sort] && count >= least && is_most(search, held, sort);
    }
}

/* Not a wider one, which says the same of more. */
static bool is_widest(const struct held *held, int sort)
{
    int group = record_group(sort), target = record_target(sort);
    if (sort >= RECORD_THROWN || sort == record_of(-1, -1)) {
        return held->is[sort];
    }
    return held->is[sort] && !held->is[record_of(-1, -1)] &&
           (group < 0 || target < 0 ||
            (!held->is[record_of(group, -1)] && !held->is[record_of(-1, target)]));
}

static void tell(struct search *search, const struct held *held, int sort)
{
    struct remark remark =
        search_standing(search, REMARK_RECORD, held->variant, held->corner, held->round);
    if (sort < RECORD_THROWN) {
        remark.pick.group = (int8_t)record_group(sort);
        remark.pick.target = (int8_t)record_target(sort);
    }
    remark.tier = TIER_RECORD;
    remark.sort = (uint8_t)sort;
    remark.records = held->records;
    remark.number[0] = count_of(search, held->corner, held->round, sort);
    remark.number[1] = held->records->most[held->round ? RECORD_ROUND : RECORD_BOUT][sort];
    remark.number[2] = (int64_t)held->records->bouts;
    search_add(search, &remark);
}

/* Records of all that is logged here; else the fighter's own. */
static void of_scope(struct search *search, enum corner corner, int round)
{
    const struct former *former = search->former;
    struct held here = {&former->here, RECORD_HERE, corner, round, {false}};
    struct held own = {&former->own[corner], RECORD_OWN, corner, round, {false}};
    hold(search, &here, search->rule->bouts_here);
    hold(search, &own, search->rule->bouts_own);
    for (int sort = 0; sort < RECORD_SORTS; sort++) {
        if (is_widest(&here, sort)) {
            tell(search, &here, sort);
        } else if (is_widest(&own, sort) && !here.is[sort]) {
            tell(search, &own, sort);
        }
    }
}

void search_records(struct search *search)
{
    for (int corner = 0; corner < CORNER_COUNT && search->former; corner++) {
        for (int round = 0; round <= search->out->rounds; round++) {
            of_scope(search, (enum corner)corner, round);
        }
    }
}
