/* remarks.c: what is worth saying about a bout. */
#include "ringtally/insight/remarks.h"

#include <stdlib.h>

#include "insight/remarks_find.h"
#include "ringtally/base/grow.h"

const struct remark_rule remark_rule_default = {
    .setups = SETUP_RULE_DEFAULT,
    .level = 0.95,
    .error = 0.05,
    .cases = 10,
    .run = 6,
    .bouts_here = 10,
    .bouts_own = 3,
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
    if (!grow_array(&out->item, sizeof *out->item, out->count, 1, &search->room)) {
        search->failed = true;
        return;
    }
    out->item[out->count++] = *remark;
}

static int order_of(const struct remark *c)
{
    int key = c->kind;
    key = key * 4 + c->variant;
    key = key * CORNER_COUNT + c->corner;
    key = key * (LIMB_COUNT + 1) + c->pick.limb + 1;
    key = key * (GROUP_COUNT + 1) + c->pick.group + 1;
    key = key * (TARGET_COUNT + 1) + c->pick.target + 1;
    key = key * (STANCE_COUNT + 1) + c->pick.stance + 1;
    return key * RECORD_SORTS + c->sort;
}

/* Milestones last; else the newest round first, and what is more of news within it. */
static int by_rank(const void *left, const void *right)
{
    const struct remark *a = left, *b = right;
    if ((a->tier == TIER_MILESTONE) != (b->tier == TIER_MILESTONE)) {
        return a->tier == TIER_MILESTONE ? 1 : -1;
    }
    if (a->in_round != b->in_round) {
        return a->in_round > b->in_round ? -1 : 1;
    }
    if (a->tier != b->tier) {
        return a->tier < b->tier ? -1 : 1;
    }
    if (a->at_ms != b->at_ms) {
        return a->at_ms > b->at_ms ? -1 : 1;
    }
    if (a->adjusted < b->adjusted || a->adjusted > b->adjusted) {
        return a->adjusted < b->adjusted ? -1 : 1;
    }
    if (a->round != b->round) {
        return a->round > b->round ? -1 : 1;
    }
    int here = order_of(a), there = order_of(b);
    if (here != there) {
        return here < there ? -1 : 1;
    }
    return (a->first * STRIKE_CODES + a->then) - (b->first * STRIKE_CODES + b->then);
}

int remarks_init(struct remarks *out, const struct fold *fold, const struct desk_sign *signs,
                 const struct former *former, const struct remark_rule *rule, int64_t now_ms,
                 struct error *err)
{
    struct stream stream = {NULL, 0};
    struct slices slices = {.room = NULL};
    const struct tally *tally = fold_tally(fold);
    struct search search = {
        .rule = rule,
        .fold = fold,
        .former = former,
        .tally = tally,
        .stream = &stream,
        .slices = &slices,
        .planned = fold_clock(fold)->plan.rounds,
        .out = out,
    };
    *out =
        (struct remarks){.rounds = tally->last_round, .level = rule->level, .error = rule->error};
    int code = stream_init(&stream, fold, err);
    code = code ? code : slices_init(&slices, fold, &stream, signs, now_ms, err);
    if (!code) {
        out->over = slices.over;
        search_facts(&search);
        search_records(&search);
        code = search_findings(&search, err);
    }
    if (!code && search.failed) {
        code = error_memory(err);
    }
    if (code) {
        remarks_release(out);
    } else if (out->count > 0) {
        qsort(out->item, out->count, sizeof *out->item, by_rank);
    }
    slices_release(&slices);
    stream_release(&stream);
    return code;
}

void remarks_release(struct remarks *remarks)
{
    free(remarks->item);
    *remarks = (struct remarks){.item = NULL};
}
