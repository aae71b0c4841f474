/* setups.c: which strike opens the way for which. */
#include "ringtally/insight/setups.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/stats/adjust.h"
#include "ringtally/stats/contingency.h"

const struct setup_rule setup_rule_default = SETUP_RULE_DEFAULT;

struct counts {
    struct count then[CORNER_COUNT][STRIKE_CODES];
    struct count after[CORNER_COUNT][STRIKE_CODES][STRIKE_CODES]; /* [corner][A][B] */
};

static void add(struct count *count, const struct blow *blow)
{
    count->attempted++;
    count->landed += blow_landed(blow);
}

static void count_pairs(struct counts *out, const struct stream *stream, int32_t window_ms)
{
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < stream->count; i++) {
        const struct blow *blow = &stream->blow[i];
        int corner = blow->strike.corner, then = strike_code(&blow->strike);
        uint32_t done = 0; /* bit 1 << code of each A counted for this B */
        add(&out->then[corner][then], blow);
        for (size_t j = i; j-- > 0;) {
            const struct blow *before = &stream->blow[j];
            int first = strike_code(&before->strike);
            if (before->round != blow->round || blow->at_ms - before->at_ms > window_ms) {
                break;
            }
            if (before->strike.corner == corner && !(done >> first & 1)) {
                done |= UINT32_C(1) << first;
                add(&out->after[corner][first][then], blow);
            }
        }
    }
}

static struct setup weigh(int corner, int first, int then, struct count after,
                          struct count otherwise, double level)
{
    return (struct setup){
        .corner = (uint8_t)corner,
        .first = (uint8_t)first,
        .then = (uint8_t)then,
        .after = after,
        .otherwise = otherwise,
        .difference = interval_newcombe(after.landed, after.attempted, otherwise.landed,
                                        otherwise.attempted, level),
        .p = contingency_fisher(after.landed, after.attempted - after.landed, otherwise.landed,
                                otherwise.attempted - otherwise.landed)
                 .two_sided,
    };
}

static int by_strength(const void *left, const void *right)
{
    const struct setup *a = left, *b = right;
    if (a->adjusted < b->adjusted || a->adjusted > b->adjusted) {
        return a->adjusted < b->adjusted ? -1 : 1;
    }
    if (a->p < b->p || a->p > b->p) {
        return a->p < b->p ? -1 : 1;
    }
    int here = (a->corner * STRIKE_CODES + a->first) * STRIKE_CODES + a->then;
    int there = (b->corner * STRIKE_CODES + b->first) * STRIKE_CODES + b->then;
    return here - there;
}

static int judge(struct setups *setups, const struct setup_rule *rule, struct error *err)
{
    int code = 0;
    double *p = malloc((setups->count ? setups->count : 1) * sizeof *p);
    if (!p) {
        return error_memory(err);
    }
    for (size_t i = 0; i < setups->count; i++) {
        p[i] = setups->pair[i].p;
    }
    code = adjust_false_discovery(p, p, setups->count, err);
    for (size_t i = 0; !code && i < setups->count; i++) {
        struct setup *pair = &setups->pair[i];
        pair->adjusted = p[i];
        pair->holds = p[i] <= rule->rate && interval_excludes(pair->difference, 0.0);
    }
    free(p);
    return code;
}

int setups_init(struct setups *out, const struct stream *stream, const struct setup_rule *rule,
                struct error *err)
{
    struct counts counts;
    const size_t room = (size_t)CORNER_COUNT * STRIKE_CODES * STRIKE_CODES;
    *out = (struct setups){.pair = malloc(room * sizeof *out->pair)};
    if (!out->pair) {
        return error_memory(err);
    }
    int least = rule->cases > 1 ? rule->cases : 1;
    count_pairs(&counts, stream, rule->window_ms);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int first = 0; first < STRIKE_CODES; first++) {
            for (int then = 0; then < STRIKE_CODES; then++) {
                struct count after = counts.after[corner][first][then];
                struct count all = counts.then[corner][then];
                struct count otherwise = {all.attempted - after.attempted,
                                          all.landed - after.landed};
                out->seen += after.attempted > 0;
                if (after.attempted >= least && otherwise.attempted >= least) {
                    out->pair[out->count++] =
                        weigh(corner, first, then, after, otherwise, rule->level);
                }
            }
        }
    }
    int code = judge(out, rule, err);
    if (code) {
        setups_release(out);
        return code;
    }
    qsort(out->pair, out->count, sizeof *out->pair, by_strength);
    return 0;
}

void setups_release(struct setups *setups)
{
    free(setups->pair);
    *setups = (struct setups){NULL, 0, 0};
}
