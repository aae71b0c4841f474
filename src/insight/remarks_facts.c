/* remarks_facts.c: what happened, and how things stand: no claim beyond the counts. */
#include "insight/remarks_find.h"

#include <string.h>

#define MILESTONE_LANDED_STEP 50
#define MILESTONE_THROWN_STEP 100
#define LEAD_LEAST            20   /* landed by both, before a lead that changes hands is news */
#define AT_BELL_MS            1500 /* a moment so near to a bell is told as being at it */

static struct remark fact(enum remark_kind kind, int variant, enum tier tier, enum corner corner,
                          int round)
{
    return (struct remark){
        .kind = (uint8_t)kind,
        .variant = (uint8_t)variant,
        .corner = (uint8_t)corner,
        .round = (uint8_t)round,
        .pick = PICK_ALL,
        .tier = (uint8_t)tier,
        .in_round = (uint8_t)round,
    };
}

/* A fact of the moment of a strike. */
static struct remark event(const struct search *search, enum remark_kind kind, int variant,
                           enum tier tier, const struct blow *blow)
{
    struct remark remark = fact(kind, variant, tier, blow->strike.corner, blow->round);
    int64_t ran = search->slices->ran_ms[blow->round];
    remark.at_ms = blow->at_ms;
    remark.at_start = blow->elapsed_ms < AT_BELL_MS;
    remark.at_bell =
        blow->round <= search->out->over && !remark.at_start && blow->elapsed_ms > ran - AT_BELL_MS;
    return remark;
}

struct remark search_standing(const struct search *search, enum remark_kind kind, int variant,
                              enum corner corner, int round)
{
    struct remark remark = fact(kind, variant, TIER_STANDING, corner, round);
    remark.open = round ? round > search->out->over : !search->slices->ended;
    remark.in_round = (uint8_t)(round ? round : search->out->rounds);
    return remark;
}

/* How many a corner had scored by then, also where nobody saw with which strike. */
static int knockdowns_by(const struct search *search, enum corner corner, const struct blow *blow)
{
    int count = 0;
    size_t at = 0;
    for (const struct entry *down; (down = fold_knockdown(search->fold, &at)) != NULL;) {
        count += knockdown_by(down) == corner &&
                 (down->round < blow->round ||
                  (down->round == blow->round && down->at_ms <= blow->at_ms));
    }
    return count;
}

static void find_knockdowns(struct search *search)
{
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct blow *blow = &search->stream->blow[i];
        if (!(blow->strike.technique & TECHNIQUE_KNOCKDOWN)) {
            continue;
        }
        struct remark remark = event(search, REMARK_KNOCKDOWN, VARIANT_ONLY, TIER_KNOCKDOWN, blow);
        remark.pick.limb = (int8_t)blow->strike.limb;
        remark.pick.target = (int8_t)blow->strike.target;
        remark.number[0] = blow->round;
        remark.number[1] = blow->elapsed_ms;
        remark.number[2] = knockdowns_by(search, CORNER_RED, blow);
        remark.number[3] = knockdowns_by(search, CORNER_BLUE, blow);
        search_add(search, &remark);
    }
}

/* Only the highest of each: the lower ones were news once. */
static void find_milestones(struct search *search)
{
    struct count count[CORNER_COUNT] = {{0, 0}, {0, 0}};
    struct remark newest[CORNER_COUNT][2];
    memset(newest, 0, sizeof newest);
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct blow *blow = &search->stream->blow[i];
        struct count *own = &count[blow->strike.corner];
        int reached[2] = {0, 0};
        own->attempted++;
        if (own->attempted % MILESTONE_THROWN_STEP == 0) {
            reached[MILESTONE_THROWN] = own->attempted;
        }
        if (blow_landed(blow) && ++own->landed % MILESTONE_LANDED_STEP == 0) {
            reached[MILESTONE_LANDED] = own->landed;
        }
        for (int variant = 0; variant < 2; variant++) {
            if (reached[variant]) {
                struct remark remark =
                    event(search, REMARK_MILESTONE, variant, TIER_MILESTONE, blow);
                remark.number[0] = reached[variant];
                remark.number[1] = blow->round;
                remark.number[2] = blow->elapsed_ms;
                newest[blow->strike.corner][variant] = remark;
            }
        }
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int variant = 0; variant < 2; variant++) {
            if (newest[corner][variant].number[0]) {
                search_add(search, &newest[corner][variant]);
            }
        }
    }
}

/* Both corners were tagged in the round, or in all of the bout. */
static bool both_known(const struct search *search, int round)
{
    const struct slices *slices = search->slices;
    if (round) {
        return slices->whole[CORNER_RED][round] && slices->whole[CORNER_BLUE][round];
    }
    return slices_seen_since(slices, CORNER_NONE, slices->last) == 1;
}

/* The newest change of who has landed more. */
static void find_lead_taken(struct search *search)
{
    int landed[CORNER_COUNT] = {0, 0};
    int leader = CORNER_NONE;
    const struct blow *newest = NULL;
    int at[CORNER_COUNT] = {0, 0};
    for (size_t i = 0; i < search->stream->count && both_known(search, 0); i++) {
        const struct blow *blow = &search->stream->blow[i];
        int corner = blow->strike.corner;
        if (!blow_landed(blow)) {
            continue;
        }
        landed[corner]++;
        if (landed[corner] > landed[corner_other(corner)] && leader != corner) {
            if (leader != CORNER_NONE && landed[0] + landed[1] >= LEAD_LEAST) {
                newest = blow;
                memcpy(at, landed, sizeof at);
            }
            leader = corner;
        }
    }
    if (newest) {
        struct remark remark = event(search, REMARK_LEAD, LEAD_TAKEN, TIER_TURN, newest);
        remark.number[0] = newest->round;
        remark.number[1] = newest->elapsed_ms;
        remark.number[2] = at[newest->strike.corner];
        remark.number[3] = at[corner_other(newest->strike.corner)];
        search_add(search, &remark);
    }
}

static const struct round_tally *scope_of(const struct search *search, int round)
{
    return round > 0 ? &search->tally->round[round] : &search->tally->all;
}

/* Who has landed more, and whether with fewer thrown. */
static void find_leads(struct search *search, int round)
{
    const struct round_tally *scope = scope_of(search, round);
    for (int corner = 0; corner < CORNER_COUNT && both_known(search, round); corner++) {
        struct count own = scope->corner[corner].all;
        struct count other = scope->corner[corner_other(corner)].all;
        if (own.landed <= other.landed || own.landed + other.landed < search->rule->cases) {
            continue;
        }
        struct remark remark =
            search_standing(search, REMARK_LEAD, LEAD_STANDING, (enum corner)corner, round);
        remark.number[0] = own.landed;
        remark.number[1] = other.landed;
        if (own.attempted < other.attempted && own.attempted >= search->rule->cases) {
            remark.kind = REMARK_FEWER_THROWN;
            remark.variant = VARIANT_ONLY;
            remark.number[1] = own.attempted;
            remark.number[2] = other.landed;
            remark.number[3] = other.attempted;
        }
        search_add(search, &remark);
    }
}

/* Where the rules know one group or one target only, a share of it says nothing. */
static bool has_choice(const struct search *search, const struct pick *pick)
{
    int thrown = 0, of_it = 0;
    for (int c = 0; c < CORNER_COUNT; c++) {
        const struct corner_tally *all = &search->tally->all.corner[c];
        thrown += all->all.attempted;
        of_it += pick->group >= 0 ? all->group[pick->group].attempted
                                  : all->target[pick->target].attempted;
    }
    return of_it < thrown;
}

/* Seven in ten or more of what lands; false where it is not so. */
static bool find_share(struct search *search, enum corner corner, int round,
                       const struct pick *pick)
{
    const struct corner_tally *tally = &scope_of(search, round)->corner[corner];
    int part =
        pick->group >= 0 ? tally->group[pick->group].landed : tally->target[pick->target].landed;
    int whole = tally->all.landed;
    if (whole < search->rule->cases || 10 * part < 7 * whole) {
        return false;
    }
    struct remark remark = search_standing(search, REMARK_SHARE, VARIANT_ONLY, corner, round);
    remark.pick = *pick;
    remark.number[0] = part;
    remark.number[1] = whole;
    search_add(search, &remark);
    return true;
}

static void find_shares(struct search *search)
{
    int rounds = search->out->rounds;
    for (int i = 0; i < GROUP_COUNT + TARGET_COUNT && rounds > 0; i++) {
        struct pick pick = PICK_ALL;
        if (i < GROUP_COUNT) {
            pick.group = (int8_t)i;
        } else {
            pick.target = (int8_t)(i - GROUP_COUNT);
        }
        for (int corner = 0; corner < CORNER_COUNT && has_choice(search, &pick); corner++) {
            if (rounds == 1 || !find_share(search, (enum corner)corner, 0, &pick)) {
                find_share(search, (enum corner)corner, rounds, &pick);
            }
        }
    }
}

static void find_first(struct search *search, struct pick pick)
{
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct blow *blow = &search->stream->blow[i];
        if (!blow_landed(blow) || !pick_takes(&pick, &blow->strike)) {
            continue;
        }
        struct remark remark = event(search, REMARK_FIRST, VARIANT_ONLY, TIER_FIRST, blow);
        remark.pick = pick;
        remark.number[0] = blow->round;
        remark.number[1] = blow->elapsed_ms;
        remark.number[2] = 1;
        search_add(search, &remark);
        return;
    }
}

static void find_firsts(struct search *search)
{
    struct pick pick = PICK_ALL;
    pick.group = GROUP_KNEES;
    find_first(search, pick);
    pick.group = GROUP_ELBOWS;
    find_first(search, pick);
    pick.group = GROUP_LEGS;
    pick.target = TARGET_HEAD;
    find_first(search, pick);
    pick = PICK_ALL;
    pick.technique = TECHNIQUE_SPINNING;
    find_first(search, pick);
    pick.technique = TECHNIQUE_JUMPING;
    find_first(search, pick);
}

struct run {
    int length, since; /* landed in a row; thrown of the sort since */
    const struct blow *first, *last;
};

/* The longest run of what `pick` takes; the newest of several. */
static struct run longest_run(const struct stream *stream, enum corner corner,
                              const struct pick *pick)
{
    struct run best = {0, 0, NULL, NULL};
    const struct blow *first = NULL;
    int length = 0;
    for (size_t i = 0; i < stream->count; i++) {
        const struct blow *blow = &stream->blow[i];
        if (blow->strike.corner != corner || !pick_takes(pick, &blow->strike)) {
            continue;
        }
        best.since++;
        length = blow_landed(blow) ? length + 1 : 0;
        first = length == 1 ? blow : first;
        if (length > 0 && length >= best.length) {
            best.length = length;
            best.since = 0;
            best.first = first;
            best.last = blow;
        }
    }
    return best;
}

static void find_run(struct search *search, enum corner corner, int group, int target)
{
    struct pick pick = PICK_ALL;
    pick.group = (int8_t)group;
    pick.target = (int8_t)target;
    const struct corner_tally *tally = &search->tally->all.corner[corner];
    int landed = 0;
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        landed += (int)limb_group(limb) == group ? tally->limb_target[limb][target].landed : 0;
    }
    if (landed < search->rule->run) {
        return;
    }
    struct run best = longest_run(search->stream, corner, &pick);
    /* The same run of one limb says more. */
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        struct pick single = {(int8_t)limb, -1, (int8_t)target, -1, 0};
        if ((int)limb_group(limb) == group &&
            tally->limb_target[limb][target].landed >= search->rule->run) {
            struct run run = longest_run(search->stream, corner, &single);
            if (run.length > best.length || (run.length == best.length && pick.limb < 0)) {
                best = run;
                pick = single;
            }
        }
    }
    if (best.length < search->rule->run) {
        return;
    }
    struct remark remark = event(search, REMARK_RUN, VARIANT_ONLY, TIER_STREAK, best.last);
    remark.round = best.first->round == best.last->round ? best.last->round : 0;
    remark.pick = pick;
    remark.number[0] = best.length;
    remark.number[1] = best.since;
    remark.number[2] = best.first->round;
    remark.number[3] = best.last->round;
    search_add(search, &remark);
}

/* Thrown, by corner, stance and code. */
struct origins {
    int thrown[CORNER_COUNT][STANCE_COUNT][STRIKE_CODES];
};

/* Thrown by the corner: those that `pick` takes, whatever the stance, and how many of these came
 * from the stance of `pick`. */
static struct count origin_count(const struct origins *origins, enum corner corner,
                                 struct pick pick)
{
    struct count count = {0, 0};
    int from = pick.stance;
    pick.stance = -1;
    for (int code = 0; code < STRIKE_CODES; code++) {
        const struct strike strike = {.limb = (uint8_t)(code / TARGET_COUNT),
                                      .target = (uint8_t)(code % TARGET_COUNT)};
        for (int stance = 0; stance < STANCE_COUNT && pick_takes(&pick, &strike); stance++) {
            int thrown = origins->thrown[corner][stance][code];
            count.attempted += thrown;
            count.landed += stance == from ? thrown : 0;
        }
    }
    return count;
}

/* Nine in ten of a sort from one stance, from which no more than half of all else comes. */
static bool find_origin(struct search *search, const struct origins *origins, enum corner corner,
                        struct pick pick)
{
    struct pick every = PICK_ALL;
    every.stance = pick.stance;
    struct count part = origin_count(origins, corner, pick);
    struct count all = origin_count(origins, corner, every);
    struct count rest = {all.attempted - part.attempted, all.landed - part.landed};
    if (part.attempted < search->rule->cases || rest.attempted < search->rule->cases ||
        10 * part.landed < 9 * part.attempted || 2 * rest.landed > rest.attempted) {
        return false;
    }
    struct remark remark = search_standing(search, REMARK_ORIGIN, VARIANT_ONLY, corner, 0);
    remark.pick = pick;
    remark.number[0] = part.landed;
    remark.number[1] = part.attempted;
    remark.number[2] = rest.landed;
    remark.number[3] = rest.attempted;
    search_add(search, &remark);
    return true;
}

/* What a group throws to a target as a whole comes before its single limbs. */
static void find_origins_of(struct search *search, const struct origins *origins,
                            enum corner corner, int stance)
{
    for (int group = 0; group < GROUP_COUNT; group++) {
        for (int target = 0; target < TARGET_COUNT; target++) {
            struct pick pick = PICK_ALL;
            pick.group = (int8_t)group;
            pick.target = (int8_t)target;
            pick.stance = (int8_t)stance;
            if (find_origin(search, origins, corner, pick)) {
                continue;
            }
            pick.group = -1;
            for (int limb = 0; limb < LIMB_COUNT; limb++) {
                pick.limb = (int8_t)limb;
                if ((int)limb_group(limb) == group) {
                    find_origin(search, origins, corner, pick);
                }
            }
        }
    }
}

static void find_origins(struct search *search)
{
    struct origins origins;
    memset(&origins, 0, sizeof origins);
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct strike *strike = &search->stream->blow[i].strike;
        origins.thrown[strike->corner][strike->stance][strike_code(strike)]++;
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct count *from = search->tally->all.corner[corner].stance;
        for (int stance = 0; stance < STANCE_COUNT; stance++) {
            if (from[stance].attempted < search->rule->cases) {
                continue;
            }
            find_origins_of(search, &origins, (enum corner)corner, stance);
        }
    }
}

void search_facts(struct search *search)
{
    int rounds = search->out->rounds;
    find_knockdowns(search);
    find_lead_taken(search);
    find_milestones(search);
    find_firsts(search);
    for (int round = rounds > 1 ? 0 : 1; round <= rounds; round++) {
        find_leads(search, round);
    }
    find_shares(search);
    find_origins(search);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int group = 0; group < GROUP_COUNT; group++) {
            for (int target = 0; target < TARGET_COUNT; target++) {
                find_run(search, (enum corner)corner, group, target);
            }
        }
    }
}
