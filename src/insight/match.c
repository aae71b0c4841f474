/* match.c: the sum over all pairings, forward and backward, and the likeliest of them. */
#include "insight/match.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/error.h"
#include "ringtally/base/grow.h"

#define SLOTS      64
#define HASH_SIZE  32768u
#define NEGLIGIBLE (-9.0)  /* log odds of a candidate that no sum would notice */
#define FAINT      1e-7    /* of the likeliest state */
#define RAISE      2.0     /* the least is raised so until no more than the beam are left */
#define SCALE      65536.0 /* whole numbers are summed in any order alike */

struct state {
    uint64_t used; /* slots taken */
    double forward, backward;
    int64_t best;     /* of the likeliest way here */
    int32_t from, by; /* its last step: the state before, the pair; -1: alone */
    bool dropped;
};

struct move {
    int32_t from, to, by;
};

/* One member of the first list: where its states and moves begin, and what they were divided by. */
struct step {
    size_t states, moves;
    double scale;
};

struct match {
    size_t b_count;
    int32_t *slot; /* by member of the second list; -1: not yet */
    size_t *last;  /* its last pair */
    struct state *states;
    size_t state_count, state_room;
    struct move *moves;
    size_t move_count, move_room;
    struct step *steps;
    size_t step_count, step_room;
    int32_t hash[HASH_SIZE];
    uint32_t stamp[HASH_SIZE], now;
    uint64_t free_slots;
};

struct match *match_new(size_t b_count)
{
    struct match *match = calloc(1, sizeof *match);
    if (match) {
        match->b_count = b_count;
        match->slot = calloc(b_count + 1, sizeof *match->slot);
        match->last = calloc(b_count + 1, sizeof *match->last);
        if (!match->slot || !match->last) {
            match_free(match);
            match = NULL;
        }
    }
    return match;
}

void match_free(struct match *match)
{
    if (match) {
        free(match->slot);
        free(match->last);
        free(match->states);
        free(match->moves);
        free(match->steps);
        free(match);
    }
}

/* The state of that step with these slots, made where there is none; -1: no memory. */
static int32_t state_of(struct match *match, uint64_t used)
{
    uint32_t at = (uint32_t)((used * 0x9e3779b97f4a7c15u) >> 49);
    while (match->stamp[at] == match->now) {
        if (match->states[match->hash[at]].used == used) {
            return match->hash[at];
        }
        at = (at + 1) & (HASH_SIZE - 1);
    }
    if (!grow_array(&match->states, sizeof *match->states, match->state_count, 1,
                    &match->state_room)) {
        return -1;
    }
    match->stamp[at] = match->now;
    match->hash[at] = (int32_t)match->state_count;
    match->states[match->state_count] =
        (struct state){.used = used, .best = INT64_MIN, .from = -1, .by = -1};
    return (int32_t)match->state_count++;
}

static int take(struct match *match, const struct match_pair *pairs, int32_t from, int32_t by,
                uint64_t retired, double odds)
{
    uint64_t used = match->states[from].used;
    if (by >= 0) {
        used |= (uint64_t)1 << match->slot[pairs[by].b];
    }
    int32_t to = state_of(match, used & ~retired);
    if (to < 0 ||
        !grow_array(&match->moves, sizeof *match->moves, match->move_count, 1, &match->move_room)) {
        return ERROR_MEMORY;
    }
    match->moves[match->move_count++] = (struct move){from, to, by};
    const struct state *before = &match->states[from];
    struct state *after = &match->states[to];
    after->forward += before->forward * odds;
    int64_t best = before->best + (by >= 0 ? llround(pairs[by].log_odds * SCALE) : 0);
    if (best > after->best || (best == after->best && by > after->by)) {
        after->best = best;
        after->from = from;
        after->by = by;
    }
    return 0;
}

/* Drops what is too unlikely to matter and divides the rest by its sum. */
static double prune(struct match *match, size_t first)
{
    size_t count = match->state_count - first;
    double most = 0, sum = 0;
    for (size_t i = first; i < match->state_count; i++) {
        most = fmax(most, match->states[i].forward);
    }
    double least = most * FAINT;
    size_t kept = count;
    while (kept > MATCH_BEAM && least * RAISE <= most) {
        least *= RAISE;
        kept = 0;
        for (size_t i = first; i < match->state_count; i++) {
            kept += match->states[i].forward >= least;
        }
    }
    kept = 0;
    for (size_t i = first; i < match->state_count; i++) {
        struct state *state = &match->states[i];
        state->dropped = state->forward < least || kept == MATCH_BEAM;
        kept += !state->dropped;
        sum += state->dropped ? 0 : state->forward;
    }
    for (size_t i = first; i < match->state_count; i++) {
        match->states[i].forward /= sum;
    }
    return sum;
}

/* From the one state in which a run of steps ends, back to the one in which it began. */
static void run_back(struct match *match, struct match_pair *pairs)
{
    int32_t at = (int32_t)match->steps[match->step_count].states;
    match->states[at].backward = 1;
    for (size_t k = match->step_count; k > 0; k--) {
        const struct step *step = &match->steps[k];
        size_t end = k < match->step_count ? match->steps[k + 1].moves : match->move_count;
        for (size_t m = step->moves; m < end; m++) {
            struct move move = match->moves[m];
            struct state *from = &match->states[move.from];
            const struct state *to = &match->states[move.to];
            if (from->dropped || to->dropped) {
                continue;
            }
            double on = to->backward * (move.by >= 0 ? pairs[move.by].odds : 1) / step->scale;
            from->backward += on;
            if (move.by >= 0) {
                pairs[move.by].likely += from->forward * on;
            }
        }
    }
    for (size_t k = match->step_count; k > 0; k--) {
        if (match->states[at].by >= 0) {
            pairs[match->states[at].by].chosen = true;
        }
        at = match->states[at].from;
    }
}

static int begin_run(struct match *match)
{
    match->state_count = match->move_count = match->step_count = 0;
    match->now++;
    if (!grow_array(&match->steps, sizeof *match->steps, 0, 1, &match->step_room) ||
        state_of(match, 0) < 0) {
        return ERROR_MEMORY;
    }
    match->steps[0] = (struct step){0, 0, 1};
    match->states[0].forward = 1;
    match->states[0].best = 0;
    match->free_slots = UINT64_MAX;
    return 0;
}

/* One member of the first list, whose pairs are first .. end - 1. */
static int step_on(struct match *match, struct match_pair *pairs, size_t first, size_t end)
{
    const size_t before = match->steps[match->step_count].states;
    const size_t begin = match->state_count;
    uint64_t retired = 0;
    int code =
        grow_array(&match->steps, sizeof *match->steps, match->step_count, 2, &match->step_room)
            ? 0
            : ERROR_MEMORY;
    for (size_t i = first; i < end; i++) {
        int32_t *slot = &match->slot[pairs[i].b];
        if (pairs[i].odds <= 0) {
            continue;
        }
        if (*slot < 0 && match->free_slots) {
            *slot = __builtin_ctzll(match->free_slots);
            match->free_slots &= match->free_slots - 1;
        }
        if (*slot >= 0 && match->last[pairs[i].b] == i) {
            retired |= (uint64_t)1 << *slot;
        }
    }
    match->now++;
    size_t moves = match->move_count;
    for (size_t s = before; !code && s < begin; s++) {
        if (match->states[s].dropped) {
            continue;
        }
        code = take(match, pairs, (int32_t)s, -1, retired, 1);
        for (size_t i = first; !code && i < end; i++) {
            int32_t slot = match->slot[pairs[i].b];
            if (slot >= 0 && pairs[i].odds > 0 && !(match->states[s].used >> slot & 1)) {
                code = take(match, pairs, (int32_t)s, (int32_t)i, retired, pairs[i].odds);
            }
        }
    }
    if (!code) {
        match->free_slots |= retired;
        match->steps[++match->step_count] = (struct step){begin, moves, prune(match, begin)};
    }
    return code;
}

/* The common case: one candidate, which nobody else could take. */
static bool is_alone(const struct match *match, const struct match_pair *pairs, size_t first,
                     size_t end, size_t *only)
{
    size_t count = 0;
    for (size_t i = first; i < end; i++) {
        if (pairs[i].odds > 0) {
            *only = i;
            count++;
        }
    }
    return count == 1 && match->free_slots == UINT64_MAX && match->slot[pairs[*only].b] < 0 &&
           match->last[pairs[*only].b] == *only;
}

int match_solve(struct match *match, struct match_pair *pairs, size_t count, double *log_sum)
{
    *log_sum = 0;
    for (size_t i = 0; i < count; i++) {
        pairs[i].likely = 0;
        pairs[i].odds = pairs[i].log_odds > NEGLIGIBLE ? exp(pairs[i].log_odds) : 0;
        pairs[i].chosen = false;
        match->slot[pairs[i].b] = -1;
        if (pairs[i].odds > 0) {
            match->last[pairs[i].b] = i;
        }
    }
    int code = begin_run(match);
    for (size_t first = 0, end = 0; !code && first < count; first = end) {
        while (end < count && pairs[end].a == pairs[first].a) {
            end++;
        }
        size_t only = 0;
        if (is_alone(match, pairs, first, end, &only)) {
            pairs[only].likely = pairs[only].odds / (1 + pairs[only].odds);
            pairs[only].chosen = pairs[only].log_odds >= 0;
            *log_sum += log1p(pairs[only].odds);
            continue;
        }
        code = step_on(match, pairs, first, end);
        if (!code) {
            const struct step *step = &match->steps[match->step_count];
            *log_sum += log(step->scale);
            if (match->free_slots == UINT64_MAX) { /* nothing that a later one could still take */
                run_back(match, pairs);
                code = begin_run(match);
            }
        }
    }
    return code;
}
