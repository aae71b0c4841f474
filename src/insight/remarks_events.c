/* remarks_events.c: what happened at a moment: firsts, milestones, runs, knockdowns. */
#include "insight/remarks_find.h"

#define MILESTONE_LANDED_STEP 50
#define MILESTONE_THROWN_STEP 100

static struct remark event(enum remark_kind kind, int variant, const struct blow *blow)
{
    return (struct remark){
        .kind = (uint8_t)kind,
        .variant = (uint8_t)variant,
        .corner = blow->strike.corner,
        .round = blow->round,
        .pick = PICK_ALL,
        .evidence = EVIDENCE_NONE,
        .bounded = true,
        .in_round = blow->round,
        .tier = TIER_EVENT,
        .at_ms = blow->at_ms,
    };
}

static void find_knockdowns(struct search *search)
{
    int count[CORNER_COUNT] = {0, 0};
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct blow *blow = &search->stream->blow[i];
        if (!(blow->strike.technique & TECHNIQUE_KNOCKDOWN)) {
            continue;
        }
        count[blow->strike.corner]++;
        struct remark remark = event(REMARK_KNOCKDOWN, VARIANT_ONLY, blow);
        remark.tier = TIER_KNOCKDOWN;
        remark.pick.limb = (int8_t)blow->strike.limb;
        remark.pick.target = (int8_t)blow->strike.target;
        remark.number[0] = blow->round;
        remark.number[1] = blow->elapsed_ms;
        remark.number[2] = count[CORNER_RED];
        remark.number[3] = count[CORNER_BLUE];
        search_add(search, &remark);
    }
}

static void add_milestone(struct search *search, int variant, int nth, const struct blow *blow)
{
    struct remark remark = event(REMARK_MILESTONE, variant, blow);
    remark.number[0] = nth;
    remark.number[1] = blow->round;
    remark.number[2] = blow->elapsed_ms;
    search_add(search, &remark);
}

static void find_milestones(struct search *search)
{
    struct count count[CORNER_COUNT] = {{0, 0}, {0, 0}};
    for (size_t i = 0; i < search->stream->count; i++) {
        const struct blow *blow = &search->stream->blow[i];
        struct count *own = &count[blow->strike.corner];
        own->attempted++;
        if (own->attempted % MILESTONE_THROWN_STEP == 0) {
            add_milestone(search, MILESTONE_THROWN, own->attempted, blow);
        }
        if (blow_landed(blow) && ++own->landed % MILESTONE_LANDED_STEP == 0) {
            add_milestone(search, MILESTONE_LANDED, own->landed, blow);
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
        struct remark remark = event(REMARK_FIRST, VARIANT_ONLY, blow);
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
    struct count corner; /* all that the corner threw */
};

/* The longest run of what `pick` takes; the newest of several. */
static struct run longest_run(const struct stream *stream, enum corner corner,
                              const struct pick *pick)
{
    struct run best = {0, 0, NULL, NULL, {0, 0}};
    const struct blow *first = NULL;
    int length = 0;
    for (size_t i = 0; i < stream->count; i++) {
        const struct blow *blow = &stream->blow[i];
        if (blow->strike.corner != corner) {
            continue;
        }
        best.corner.attempted++;
        best.corner.landed += blow_landed(blow);
        if (!pick_takes(pick, &blow->strike)) {
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
    struct run best = longest_run(search->stream, corner, &pick);
    /* The same run of one limb says more. */
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        struct pick single = {(int8_t)limb, -1, (int8_t)target, -1, 0};
        if ((int)limb_group(limb) == group) {
            struct run run = longest_run(search->stream, corner, &single);
            if (run.length > best.length || (run.length == best.length && pick.limb < 0)) {
                best = run;
                pick = single;
            }
        }
    }
    struct count rest = {best.corner.attempted - best.length, best.corner.landed - best.length};
    if (best.length < search->rule->run || rest.attempted < search->rule->cases) {
        return;
    }
    struct remark remark = event(REMARK_RUN, VARIANT_ONLY, best.last);
    search->out->looked_at++;
    remark.round = best.first->round == best.last->round ? best.last->round : 0;
    remark.pick = pick;
    remark.number[0] = best.length;
    remark.number[1] = best.since;
    remark.number[2] = best.first->round;
    remark.number[3] = best.last->round;
    remark.number[4] = rest.landed;
    remark.number[5] = rest.attempted;
    remark.evidence = EVIDENCE_DIFFERENCE;
    remark.estimate = interval_newcombe(best.length, best.length, rest.landed, rest.attempted,
                                        search->rule->level);
    if (interval_excludes(remark.estimate, 0.0)) {
        search_add(search, &remark);
    }
}

void search_events(struct search *search)
{
    find_knockdowns(search);
    find_milestones(search);
    find_firsts(search);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int group = 0; group < GROUP_COUNT; group++) {
            for (int target = 0; target < TARGET_COUNT; target++) {
                find_run(search, corner, group, target);
            }
        }
    }
}
