/* remarks_findings.c: what differs, held against chance. */
#include "insight/remarks_find.h"

#include <math.h>
#include <stdlib.h>

#include "ringtally/base/grow.h"
#include "ringtally/stats/adjust.h"

/* A round is compared with so many before at most: the t of a few slices against very many leans to
 * where counts lean (measured: tests/outside/claims.c). */
#define FORMER_ROUNDS 3
/* What questions weigh that are asked together; a change of pace or of accuracy weighs 1. */
#define TARGETS_WEIGHT 0.5 /* of a corner */
#define CORNERS_WEIGHT 2.0 /* thrown, landed, accuracy: any two tell the third */
#define SETUPS_WEIGHT  2.0
#define PACE_LEAST_MS  60000 /* of running clock on both sides, before paces are compared */

int family_reserve(struct family *family, size_t more, struct error *err)
{
    return grow_array(&family->question, sizeof *family->question, family->count, more,
                      &family->room)
               ? 0
               : error_memory(err);
}

void family_release(struct family *family)
{
    free(family->question);
    *family = (struct family){.question = NULL};
}

void family_ask(struct family *family, const struct question *question)
{
    if (family->count < family->room) {
        family->question[family->count++] = *question;
        family->weight += question->weight;
    }
}

int family_adjust(struct family *family, struct error *err)
{
    size_t count = family->count;
    double *p = calloc(2 * count + 1, sizeof *p);
    if (!p) {
        return error_memory(err);
    }
    for (size_t i = 0; i < count; i++) {
        p[i] = family->question[i].p;
        p[count + i] = family->question[i].weight;
    }
    int code = adjust_false_discovery(p, p, p + count, count, err);
    for (size_t i = 0; i < count && !code; i++) {
        family->question[i].adjusted = p[i];
    }
    free(p);
    return code;
}

static struct remark finding(enum remark_kind kind, int variant, enum corner corner, int round)
{
    return (struct remark){
        .kind = (uint8_t)kind,
        .variant = (uint8_t)variant,
        .corner = (uint8_t)corner,
        .round = (uint8_t)round,
        .pick = PICK_ALL,
        .evidence = EVIDENCE_DIFFERENCE,
        .tier = TIER_TURN,
    };
}

/* Where the slices do not carry a comparison there is no question. */
static void ask(struct family *family, const struct remark *remark, const struct slices *slices,
                struct span one, struct span other, double weight)
{
    struct question question = {.remark = *remark, .weight = weight};
    question.contrast = slices_compare(slices, one, other);
    if (question.contrast.defined) {
        question.p = question.contrast.p;
        family_ask(family, &question);
    }
}

static struct corner_tally sum_of(const struct tally *tally, enum corner corner, int first,
                                  int last)
{
    struct corner_tally sum = {.blocked = 0};
    for (int round = first; round <= last; round++) {
        corner_tally_add(&sum, &tally->round[round].corner[corner]);
    }
    return sum;
}

static void set_numbers(struct remark *remark, struct count one, struct count other)
{
    remark->number[0] = one.landed;
    remark->number[1] = one.attempted;
    remark->number[2] = other.landed;
    remark->number[3] = other.attempted;
}

static void changes_of(struct family *family, const struct slices *slices,
                       const struct tally *tally, const struct remark_rule *rule,
                       enum corner corner, int round)
{
    int from = slices_seen_since(slices, corner, round);
    from = from < round - FORMER_ROUNDS ? round - FORMER_ROUNDS : from;
    if (from >= round) {
        return;
    }
    struct corner_tally now = sum_of(tally, corner, round, round);
    struct corner_tally former = sum_of(tally, corner, from, round - 1);
    struct span one = {corner, round, round, MEASURE_THROWN, 0};
    struct span other = {corner, from, round - 1, MEASURE_THROWN, 0};
    struct remark remark = finding(REMARK_PACE, PACE_ROUNDS, corner, round);
    remark.from = (uint8_t)from;
    remark.through = (uint8_t)round;
    remark.ran_ms[0] = slices_ran(slices, round, round);
    remark.ran_ms[1] = slices_ran(slices, from, round - 1);
    if (now.all.attempted + former.all.attempted >= rule->cases &&
        remark.ran_ms[0] >= PACE_LEAST_MS && remark.ran_ms[1] >= PACE_LEAST_MS) {
        remark.evidence = EVIDENCE_PER_MINUTE;
        remark.number[0] = now.all.attempted;
        remark.number[1] = former.all.attempted;
        ask(family, &remark, slices, one, other, 1.0);
    }
    if (now.all.attempted < rule->cases || former.all.attempted < rule->cases) {
        return;
    }
    remark.kind = REMARK_SWING;
    remark.variant = SWING_ACCURACY;
    remark.evidence = EVIDENCE_DIFFERENCE;
    one.measure = other.measure = MEASURE_ACCURACY;
    set_numbers(&remark, now.all, former.all);
    ask(family, &remark, slices, one, other, 1.0);
    one.measure = other.measure = MEASURE_TARGET;
    remark.variant = SWING_OUTPUT;
    for (int target = 0; target < TARGET_COUNT; target++) {
        struct count here = {now.all.attempted, now.target[target].attempted};
        struct count there = {former.all.attempted, former.target[target].attempted};
        one.which = other.which = target;
        remark.pick.target = (int8_t)target;
        set_numbers(&remark, here, there);
        ask(family, &remark, slices, one, other, TARGETS_WEIGHT / TARGET_COUNT);
    }
}

void family_changes(struct family *family, const struct slices *slices, const struct tally *tally,
                    const struct remark_rule *rule, int round)
{
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        changes_of(family, slices, tally, rule, (enum corner)corner, round);
    }
}

#define CORNER_QUESTIONS 3

/* The corner that has more of it comes first. */
static void ask_corners(struct family *family, const struct search *search, struct remark *remark,
                        enum measure measure)
{
    struct span red = {CORNER_RED, remark->from, remark->through, measure, 0};
    struct span blue = {CORNER_BLUE, remark->from, remark->through, measure, 0};
    bool turned = remark->corner == CORNER_BLUE;
    ask(family, remark, search->slices, turned ? blue : red, turned ? red : blue,
        CORNERS_WEIGHT / CORNER_QUESTIONS);
}

static void corners_of(struct family *family, const struct search *search, int bell)
{
    int from = slices_seen_since(search->slices, CORNER_NONE, bell);
    int cases = search->rule->cases;
    int64_t ran = from <= bell ? slices_ran(search->slices, from, bell) : 0;
    if (ran < PACE_LEAST_MS) {
        return;
    }
    struct count red = sum_of(search->tally, CORNER_RED, from, bell).all;
    struct count blue = sum_of(search->tally, CORNER_BLUE, from, bell).all;
    struct remark remark = finding(REMARK_PACE, PACE_CORNERS, CORNER_RED, 0);
    remark.evidence = EVIDENCE_PER_MINUTE;
    remark.from = (uint8_t)from;
    remark.through = (uint8_t)bell;
    remark.ran_ms[0] = remark.ran_ms[1] = ran;
    if (red.attempted + blue.attempted >= cases) {
        bool more = blue.attempted > red.attempted;
        remark.corner = more ? CORNER_BLUE : CORNER_RED;
        remark.number[0] = more ? blue.attempted : red.attempted;
        remark.number[1] = more ? red.attempted : blue.attempted;
        ask_corners(family, search, &remark, MEASURE_THROWN);
    }
    if (red.landed + blue.landed >= cases) {
        bool more = blue.landed > red.landed;
        remark.kind = REMARK_LANDED_MORE;
        remark.variant = VARIANT_ONLY;
        remark.corner = more ? CORNER_BLUE : CORNER_RED;
        remark.number[0] = more ? blue.landed : red.landed;
        remark.number[1] = more ? red.landed : blue.landed;
        ask_corners(family, search, &remark, MEASURE_LANDED);
    }
    if (red.attempted >= cases && blue.attempted >= cases) {
        bool more = (int64_t)blue.landed * red.attempted > (int64_t)red.landed * blue.attempted;
        remark.kind = REMARK_ACCURACY;
        remark.variant = VARIANT_ONLY;
        remark.evidence = EVIDENCE_DIFFERENCE;
        remark.corner = more ? CORNER_BLUE : CORNER_RED;
        set_numbers(&remark, more ? blue : red, more ? red : blue);
        ask_corners(family, search, &remark, MEASURE_ACCURACY);
    }
}

/* The stance used less against the others: the other way round it says the same. */
static void stance_of(struct family *family, const struct search *search, enum corner corner,
                      int bell)
{
    int from = slices_seen_since(search->slices, corner, bell);
    if (from > bell) {
        return;
    }
    struct corner_tally tally = sum_of(search->tally, corner, from, bell);
    int used = -1;
    for (int stance = 0; stance < STANCE_COUNT; stance++) {
        int thrown = tally.stance[stance].attempted;
        if (thrown >= search->rule->cases && (used < 0 || thrown < tally.stance[used].attempted)) {
            used = stance;
        }
    }
    if (used < 0 || tally.all.attempted - tally.stance[used].attempted < search->rule->cases) {
        return;
    }
    struct count here = tally.stance[used];
    struct count there = {tally.all.attempted - here.attempted, tally.all.landed - here.landed};
    struct remark remark = finding(REMARK_STANCE, VARIANT_ONLY, corner, 0);
    remark.from = (uint8_t)from;
    remark.through = (uint8_t)bell;
    remark.pick.stance = (int8_t)used;
    set_numbers(&remark, here, there);
    ask(family, &remark, search->slices, (struct span){corner, from, bell, MEASURE_STANCE, used},
        (struct span){corner, from, bell, MEASURE_OTHERWISE, used}, 1.0);
}

static bool same_question(const struct remark *a, const struct remark *b)
{
    return a->kind == b->kind && a->variant == b->variant && a->corner == b->corner &&
           a->round == b->round && a->pick.target == b->pick.target &&
           a->pick.stance == b->pick.stance && a->first == b->first && a->then == b->then;
}

/* What holds again at a later bell is told with the newer numbers only. */
static void tell(struct search *search, const struct question *question, int bell)
{
    struct remarks *out = search->out;
    struct remark remark = question->remark;
    remark.in_round = (uint8_t)bell;
    for (size_t i = 0; i < out->count; i++) {
        if (same_question(&out->item[i], &remark)) {
            out->item[i] = remark;
            return;
        }
    }
    search_add(search, &remark);
}

static struct question setup_question(const struct search *search, const struct setup *pair,
                                      int bell)
{
    struct question question = {.p = pair->among, .weight = SETUPS_WEIGHT};
    struct remark *remark = &question.remark;
    *remark = finding(REMARK_SETUP, VARIANT_ONLY, pair->corner, 0);
    remark->from = 1;
    remark->through = (uint8_t)bell;
    remark->first = pair->first;
    remark->then = pair->then;
    remark->window_ms = search->rule->setups.window_ms;
    set_numbers(remark, pair->after, pair->otherwise);
    return question;
}

/* The strongest pair asked for all; the others are as rare among them as `among` says. */
static void tell_setups(struct search *search, const struct setups *setups, double adjusted,
                        double error, int bell)
{
    for (size_t i = 0; i < setups->count; i++) {
        struct question question = setup_question(search, &setups->pair[i], bell);
        double more = setups->pair[0].among > 0.0 ? question.p / setups->pair[0].among : 1.0;
        question.adjusted = fmin(1.0, adjusted * more);
        if (question_holds(&question, error, search->rule->level)) {
            question.remark.p = setups->pair[i].p;
            tell(search, &question, bell);
        }
    }
}

/* The chance to find 30 points in a pair that has cases enough, whichever it is. */
static double setup_chance(const struct setups *setups, double error)
{
    double sum = 0.0;
    double p = setups_limit(setups, error);
    double z = p > 0.0 ? interval_normal(2.0 * p) : INFINITY;
    for (size_t i = 0; i < setups->count; i++) {
        sum += setup_power(&setups->pair[i], 0.3, z);
    }
    return setups->enough ? sum / (double)setups->enough : 0.0;
}

bool question_holds(struct question *question, double error, double level)
{
    struct remark *remark = &question->remark;
    const int64_t *n = remark->number;
    if (question->adjusted > error) {
        return false;
    }
    remark->estimate = question->contrast.defined
                           ? pieces_interval(&question->contrast, level)
                           : interval_newcombe(n[0], n[1], n[2], n[3], level);
    if (remark->evidence == EVIDENCE_DIFFERENCE) {
        remark->estimate.low = fmax(-1.0, remark->estimate.low);
        remark->estimate.high = fmin(1.0, remark->estimate.high);
    }
    remark->p = question->p;
    remark->adjusted = question->adjusted;
    return interval_excludes(remark->estimate, 0.0);
}

/* Linear growth of the parts: of K rounds the k-th gets (2k - 1) / K^2. */
static double spend(double error, int bell, int planned)
{
    return error * (2.0 * bell - 1.0) / ((double)planned * planned);
}

static int judge(struct search *search, int bell, struct error *err)
{
    struct family family = {.question = NULL};
    struct setups setups = {NULL, 0, 0};
    struct remarks *out = search->out;
    double spent = spend(search->rule->error, bell, search->planned);
    size_t others = FAMILY_CHANGES + CORNER_QUESTIONS + CORNER_COUNT + 1;
    int code = family_reserve(&family, others, err);
    if (code) {
        return code;
    }
    family_changes(&family, search->slices, search->tally, search->rule, bell);
    corners_of(&family, search, bell);
    stance_of(&family, search, CORNER_RED, bell);
    stance_of(&family, search, CORNER_BLUE, bell);
    double share = spent * SETUPS_WEIGHT / (family.weight + SETUPS_WEIGHT);
    out->looked_at = (int)family.count;
    out->bell = bell;
    code = setups_init(&setups, search->stream, bell, &search->rule->setups, share, err);
    if (!code) {
        if (setups.count) {
            struct question question = setup_question(search, &setups.pair[0], bell);
            family_ask(&family, &question);
        }
        out->pairs = setups.count;
        out->spent = spent;
        out->setup_chance = setup_chance(&setups, share);
        code = family_adjust(&family, err);
    }
    for (size_t i = 0; i < family.count && !code; i++) {
        if (family.question[i].remark.kind == REMARK_SETUP) {
            tell_setups(search, &setups, family.question[i].adjusted, spent, bell);
        } else if (question_holds(&family.question[i], spent, search->rule->level)) {
            tell(search, &family.question[i], bell);
        }
    }
    setups_release(&setups);
    family_release(&family);
    return code;
}

int search_findings(struct search *search, struct error *err)
{
    int code = 0;
    int last = search->out->over < search->planned ? search->out->over : search->planned;
    for (int bell = 1; bell <= last && !code; bell++) {
        code = judge(search, bell, err);
    }
    return code;
}
