/* remarks.c: what is worth saying about a bout. */
#include "ringtally/insight/remarks.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "insight/remarks_find.h"

const struct remark_rule remark_rule_default = {
    .setups = SETUP_RULE_DEFAULT,
    .level = 0.95,
    .cases = 10,
    .run = 6,
};

bool pick_takes(const struct pick *pick, const struct strike *strike)
{
    return (pick->limb < 0 || pick->limb == strike->limb) &&
           (pick->group < 0 || pick->group == (int)limb_group(strike->limb)) &&
           (pick->target < 0 || pick->target == strike->target) &&
           (pick->stance < 0 || pick->stance == strike->stance) &&
           (strike->technique & pick->technique) == pick->technique;
}

void search_add(struct search *search, const struct remark *remark)
{
    struct remarks *out = search->out;
    if (search->failed) {
        return;
    }
    if (out->count == search->room) {
        size_t more = search->room ? search->room * 2 : 32;
        struct remark *bigger = realloc(out->item, more * sizeof *bigger);
        if (!bigger) {
            search->failed = true;
            return;
        }
        out->item = bigger;
        search->room = more;
    }
    out->item[out->count++] = *remark;
}

/* The value at which an estimate says nothing. */
static double nothing(enum remark_evidence evidence)
{
    return evidence == EVIDENCE_SHARE ? 0.5 : evidence == EVIDENCE_RATIO ? 1.0 : 0.0;
}

static double strength(const struct remark *remark)
{
    struct estimate e = remark->estimate;
    double zero = nothing(remark->evidence);
    if (remark->evidence == EVIDENCE_RATIO) {
        if (!remark->bounded || e.value <= 0.0 || e.low <= 0.0) {
            return 2.0; /* one side is nothing: there is no width to measure with */
        }
        e.value = log(e.value);
        e.low = log(e.low);
        e.high = log(e.high);
        zero = 0.0;
    }
    double width = e.value > zero ? e.value - e.low : e.high - e.value;
    return width > 0.0 ? fabs(e.value - zero) / width : 2.0;
}

static struct remark statistic(enum remark_kind kind, int variant, enum corner corner, int round)
{
    return (struct remark){
        .kind = (uint8_t)kind,
        .variant = (uint8_t)variant,
        .corner = (uint8_t)corner,
        .round = (uint8_t)round,
        .pick = PICK_ALL,
        .bounded = true,
        .tier = round > 0 ? TIER_ROUND : TIER_BOUT,
    };
}

/* Counts a comparison as looked at, and tells it where its interval leaves nothing out. */
static bool tell(struct search *search, struct remark *remark, enum remark_evidence evidence,
                 struct estimate estimate)
{
    remark->evidence = (uint8_t)evidence;
    remark->estimate = estimate;
    search->out->looked_at++;
    if (!interval_excludes(estimate, nothing(evidence))) {
        return false;
    }
    remark->in_round = (uint8_t)(remark->round ? remark->round : search->out->rounds);
    remark->strength = strength(remark);
    search_add(search, remark);
    return true;
}

static const struct round_tally *scope_of(const struct search *search, int round)
{
    return round > 0 ? &search->tally->round[round] : &search->tally->all;
}

static struct count target_count(const struct corner_tally *tally, int target)
{
    return target < 0 ? tally->all : tally->target[target];
}

static void find_landed_more(struct search *search, int round)
{
    const struct round_tally *scope = scope_of(search, round);
    for (int target = -1; target < TARGET_COUNT; target++) {
        int landed[CORNER_COUNT];
        for (int c = 0; c < CORNER_COUNT; c++) {
            landed[c] = target_count(&scope->corner[c], target).landed;
        }
        int corner = landed[CORNER_BLUE] > landed[CORNER_RED] ? CORNER_BLUE : CORNER_RED;
        int more = landed[corner], less = landed[corner_other(corner)];
        if (more + less < search->rule->cases) {
            continue;
        }
        struct remark remark = statistic(REMARK_LANDED_MORE, VARIANT_ONLY, corner, round);
        remark.pick.target = (int8_t)target;
        remark.number[0] = more;
        remark.number[1] = less;
        tell(search, &remark, EVIDENCE_SHARE,
             interval_wilson(more, more + less, search->rule->level));
    }
}

static void find_fewer_thrown(struct search *search, int round)
{
    const struct round_tally *scope = scope_of(search, round);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct count own = scope->corner[corner].all;
        struct count other = scope->corner[corner_other(corner)].all;
        if (own.attempted < search->rule->cases || own.attempted >= other.attempted ||
            own.landed <= other.landed) {
            continue;
        }
        struct remark remark = statistic(REMARK_FEWER_THROWN, VARIANT_ONLY, corner, round);
        remark.number[0] = own.landed;
        remark.number[1] = own.attempted;
        remark.number[2] = other.landed;
        remark.number[3] = other.attempted;
        tell(search, &remark, EVIDENCE_DIFFERENCE,
             interval_newcombe(own.landed, own.attempted, other.landed, other.attempted,
                               search->rule->level));
    }
}

/* part / whole now against former part / whole, in the four first numbers. */
static void compare(struct search *search, struct remark *remark, struct count now,
                    struct count former)
{
    if (now.attempted < search->rule->cases || former.attempted < search->rule->cases) {
        return;
    }
    remark->number[0] = now.landed;
    remark->number[1] = now.attempted;
    remark->number[2] = former.landed;
    remark->number[3] = former.attempted;
    tell(search, remark, EVIDENCE_DIFFERENCE,
         interval_newcombe(now.landed, now.attempted, former.landed, former.attempted,
                           search->rule->level));
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

static struct count part_of(const struct corner_tally *tally, const struct pick *pick)
{
    return (struct count){
        .attempted = tally->all.landed,
        .landed = pick->group >= 0 ? tally->group[pick->group].landed
                                   : tally->target[pick->target].landed,
    };
}

static void find_most(struct search *search, enum corner corner, int round, const struct pick *pick)
{
    struct count part = part_of(&scope_of(search, round)->corner[corner], pick);
    if (part.attempted < search->rule->cases) {
        return;
    }
    struct remark remark = statistic(REMARK_SHARE, SHARE_MOST, corner, round);
    remark.pick = *pick;
    remark.number[0] = part.landed;
    remark.number[1] = part.attempted;
    if (part.landed * 2 > part.attempted) {
        tell(search, &remark, EVIDENCE_SHARE,
             interval_wilson(part.landed, part.attempted, search->rule->level));
    } else {
        search->out->looked_at++;
    }
}

static void find_share(struct search *search, int round, struct pick pick)
{
    if (!has_choice(search, &pick)) {
        return;
    }
    const struct round_tally *scope = scope_of(search, round);
    find_most(search, CORNER_RED, round, &pick);
    find_most(search, CORNER_BLUE, round, &pick);
    if (round == 0 || search->out->rounds < 2) {
        struct count red = part_of(&scope->corner[CORNER_RED], &pick);
        struct count blue = part_of(&scope->corner[CORNER_BLUE], &pick);
        bool blue_more =
            (int64_t)blue.landed * red.attempted > (int64_t)red.landed * blue.attempted;
        struct remark remark =
            statistic(REMARK_SHARE, SHARE_MORE, blue_more ? CORNER_BLUE : CORNER_RED, round);
        remark.pick = pick;
        compare(search, &remark, blue_more ? blue : red, blue_more ? red : blue);
    }
}

static void find_shares(struct search *search, int round)
{
    for (int group = 0; group < GROUP_COUNT; group++) {
        struct pick pick = PICK_ALL;
        pick.group = (int8_t)group;
        find_share(search, round, pick);
    }
    for (int target = 0; target < TARGET_COUNT; target++) {
        struct pick pick = PICK_ALL;
        pick.target = (int8_t)target;
        find_share(search, round, pick);
    }
}

static struct count target_share(const struct corner_tally *tally, int target)
{
    return (struct count){.attempted = tally->all.attempted,
                          .landed = tally->target[target].attempted};
}

static void find_swings(struct search *search, int round)
{
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct corner_tally *now = &search->tally->round[round].corner[corner];
        const struct corner_tally *former = &search->tally->round[round - 1].corner[corner];
        struct remark remark = statistic(REMARK_SWING, SWING_ACCURACY, corner, round);
        compare(search, &remark, now->all, former->all);
        for (int target = 0; target < TARGET_COUNT; target++) {
            remark = statistic(REMARK_SWING, SWING_OUTPUT, corner, round);
            remark.pick.target = (int8_t)target;
            compare(search, &remark, target_share(now, target), target_share(former, target));
        }
    }
}

static bool compare_pace(struct search *search, struct remark *remark, int now, int64_t now_ran,
                         int than, int64_t than_ran)
{
    struct rate_ratio ratio = rate_compare(now, (double)now_ran / 60000.0, than,
                                           (double)than_ran / 60000.0, search->rule->level);
    if (now + than < search->rule->cases || !ratio.defined) {
        return false;
    }
    remark->number[0] = now;
    remark->number[1] = than;
    remark->ran_ms[0] = now_ran;
    remark->ran_ms[1] = than_ran;
    remark->bounded = ratio.bounded;
    struct estimate estimate = {true, ratio.ratio, ratio.low, ratio.high};
    if (!ratio.bounded) { /* only the lower limit speaks */
        estimate.value = estimate.high = fmax(ratio.low, 1.0);
    }
    return tell(search, remark, EVIDENCE_RATIO, estimate);
}

static void find_paces(struct search *search, int round)
{
    const struct round_clock *clock = fold_clock(search->fold);
    int64_t now_ran = clock_ran(clock, round, search->now_ms);
    int64_t last_ran = clock_ran(clock, round - 1, search->now_ms);
    int64_t all_ran = 0;
    for (int r = 1; r < round; r++) {
        all_ran += clock_ran(clock, r, search->now_ms);
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct round_tally *rounds = search->tally->round;
        int now = rounds[round].corner[corner].all.attempted;
        int all = 0;
        for (int r = 1; r < round; r++) {
            all += rounds[r].corner[corner].all.attempted;
        }
        struct remark remark = statistic(REMARK_PACE, PACE_ROUND, corner, round);
        if (!compare_pace(search, &remark, now, now_ran,
                          rounds[round - 1].corner[corner].all.attempted, last_ran) &&
            round > 2) {
            remark.variant = PACE_ROUNDS;
            compare_pace(search, &remark, now, now_ran, all, all_ran);
        }
    }
}

static void find_pace_of_corners(struct search *search)
{
    const struct corner_tally *corners = search->tally->all.corner;
    int64_t ran = clock_ran(fold_clock(search->fold), 0, search->now_ms);
    int corner = corners[CORNER_BLUE].all.attempted > corners[CORNER_RED].all.attempted
                     ? CORNER_BLUE
                     : CORNER_RED;
    struct remark remark = statistic(REMARK_PACE, PACE_CORNERS, corner, 0);
    compare_pace(search, &remark, corners[corner].all.attempted, ran,
                 corners[corner_other(corner)].all.attempted, ran);
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

static bool find_origin(struct search *search, const struct origins *origins, enum corner corner,
                        struct pick pick)
{
    struct pick every = PICK_ALL;
    every.stance = pick.stance;
    struct count part = origin_count(origins, corner, pick);
    struct count all = origin_count(origins, corner, every);
    struct count rest = {all.attempted - part.attempted, all.landed - part.landed};
    size_t before = search->out->count;
    struct estimate most = interval_wilson(part.landed, part.attempted, search->rule->level);
    if (most.low > 0.5 &&
        (int64_t)part.landed * rest.attempted > (int64_t)rest.landed * part.attempted) {
        struct remark remark = statistic(REMARK_STANCE, STANCE_ORIGIN, corner, 0);
        remark.pick = pick;
        compare(search, &remark, part, rest);
    } else if (part.attempted >= search->rule->cases && rest.attempted >= search->rule->cases) {
        search->out->looked_at++;
    }
    return search->out->count > before;
}

/* What a group throws to a target as a whole comes before its single limbs. */
static void find_origins(struct search *search, const struct origins *origins, enum corner corner,
                         int stance)
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

static void find_stances(struct search *search)
{
    struct origins origins;
    memset(&origins, 0, sizeof origins);
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct strike *strike = &search->stream->blow[i].strike;
        origins.thrown[strike->corner][strike->stance][strike_code(strike)]++;
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct corner_tally *tally = &search->tally->all.corner[corner];
        bool told = false;
        for (int stance = 0; stance < STANCE_COUNT; stance++) {
            struct count from = tally->stance[stance];
            struct count rest = {tally->all.attempted - from.attempted,
                                 tally->all.landed - from.landed};
            if (from.attempted < search->rule->cases || rest.attempted < search->rule->cases) {
                continue;
            }
            find_origins(search, &origins, corner, stance);
            /* The stance used less against the others: the other way round it says the same. */
            if (from.attempted < rest.attempted || (from.attempted == rest.attempted && !told)) {
                struct remark remark = statistic(REMARK_STANCE, STANCE_ACCURACY, corner, 0);
                remark.pick.stance = (int8_t)stance;
                compare(search, &remark, from, rest);
                told = true;
            }
        }
    }
}

static void find_setups(struct search *search, const struct setups *setups)
{
    for (size_t i = 0; i < setups->count; i++) {
        const struct setup *pair = &setups->pair[i];
        if (!pair->holds) {
            continue;
        }
        struct remark remark = statistic(REMARK_SETUP, VARIANT_ONLY, pair->corner, 0);
        remark.first = pair->first;
        remark.then = pair->then;
        remark.window_ms = search->rule->setups.window_ms;
        remark.number[0] = pair->after.landed;
        remark.number[1] = pair->after.attempted;
        remark.number[2] = pair->otherwise.landed;
        remark.number[3] = pair->otherwise.attempted;
        remark.evidence = EVIDENCE_DIFFERENCE;
        remark.estimate = pair->difference;
        remark.p = pair->p;
        remark.adjusted = pair->adjusted;
        remark.in_round = (uint8_t)search->out->rounds;
        remark.strength = strength(&remark);
        search_add(search, &remark);
    }
}

static int order_of(const struct remark *c)
{
    int key = c->kind;
    key = key * 4 + c->variant;
    key = key * CORNER_COUNT + c->corner;
    key = key * (LIMB_COUNT + 1) + c->pick.limb + 1;
    key = key * (GROUP_COUNT + 1) + c->pick.group + 1;
    key = key * (TARGET_COUNT + 1) + c->pick.target + 1;
    return key * (STANCE_COUNT + 1) + c->pick.stance + 1;
}

static int by_rank(const void *left, const void *right)
{
    const struct remark *a = left, *b = right;
    if (a->in_round != b->in_round) {
        return a->in_round > b->in_round ? -1 : 1;
    }
    if (a->tier != b->tier) {
        return a->tier < b->tier ? -1 : 1;
    }
    if (a->at_ms != b->at_ms) {
        return a->at_ms > b->at_ms ? -1 : 1;
    }
    if (a->strength > b->strength || a->strength < b->strength) {
        return a->strength > b->strength ? -1 : 1;
    }
    int here = order_of(a), there = order_of(b);
    if (here != there) {
        return here < there ? -1 : 1;
    }
    return (a->first * STRIKE_CODES + a->then) - (b->first * STRIKE_CODES + b->then);
}

static void find_all(struct search *search)
{
    int rounds = search->out->rounds;
    for (int round = 0; round <= rounds; round++) {
        if (round == 0 && rounds < 2) {
            continue; /* the bout is its round */
        }
        find_landed_more(search, round);
        find_fewer_thrown(search, round);
        find_shares(search, round);
        if (round > 1) {
            find_swings(search, round);
            find_paces(search, round);
        }
    }
    find_pace_of_corners(search);
    find_stances(search);
    search_events(search);
}

int remarks_init(struct remarks *out, const struct fold *fold, const struct remark_rule *rule,
                 int64_t now_ms, struct error *err)
{
    struct stream stream = {NULL, 0};
    struct setups setups = {NULL, 0, 0};
    const struct tally *tally = fold_tally(fold);
    struct search search = {
        .rule = rule,
        .fold = fold,
        .tally = tally,
        .stream = &stream,
        .now_ms = now_ms,
        .out = out,
    };
    *out = (struct remarks){
        .rounds = tally->last_round,
        .level = rule->level,
        .rate = rule->setups.rate,
    };
    int code = stream_init(&stream, fold, err);
    code = code ? code : setups_init(&setups, &stream, &rule->setups, err);
    if (code) {
        goto cleanup;
    }
    out->pairs = setups.count;
    find_all(&search);
    find_setups(&search, &setups);
    if (search.failed) {
        code = error_memory(err);
        remarks_release(out);
        goto cleanup;
    }
    if (out->count > 0) {
        qsort(out->item, out->count, sizeof *out->item, by_rank);
    }
cleanup:
    setups_release(&setups);
    stream_release(&stream);
    return code;
}

void remarks_release(struct remarks *remarks)
{
    free(remarks->item);
    *remarks = (struct remarks){.item = NULL};
}
