/* setups.c: which strike opens the way for which. */
#include "ringtally/insight/setups.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/stats/adjust.h"
#include "ringtally/stats/contingency.h"

struct counts {
    struct count then[CORNER_COUNT][STRIKE_CODES];
    struct count after[CORNER_COUNT][STRIKE_CODES][STRIKE_CODES]; /* [corner][A][B] */
};

_Static_assert(STRIKE_CODES <= 32, "a bit a code in 32");

static void add(struct count *count, const struct blow *blow)
{
    count->attempted++;
    count->landed += blow_landed(blow);
}

static void count_pairs(struct counts *out, const struct stream *stream, int last,
                        int32_t window_ms)
{
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < stream->count && stream->blow[i].round <= last; i++) {
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

static int by_strength(const void *left, const void *right)
{
    const struct setup *a = left, *b = right;
    if (a->p < b->p || a->p > b->p) {
        return a->p < b->p ? -1 : 1;
    }
    int here = (a->corner * STRIKE_CODES + a->first) * STRIKE_CODES + a->then;
    int there = (b->corner * STRIKE_CODES + b->first) * STRIKE_CODES + b->then;
    return here - there;
}

static void add_pair(struct setups *out, struct setup pair)
{
    struct fisher fisher =
        contingency_fisher(pair.after.landed, pair.after.attempted - pair.after.landed,
                           pair.otherwise.landed, pair.otherwise.attempted - pair.otherwise.landed);
    pair.p = fisher.greater;
    pair.least = fisher.least;
    out->pair[out->count++] = pair;
}

/* What could not hold even alone is not looked at. */
static void keep_possible(struct setups *setups, double error)
{
    size_t kept = 0;
    for (size_t i = 0; i < setups->count; i++) {
        if (setups->pair[i].least <= error) {
            setups->pair[kept++] = setups->pair[i];
        }
    }
    setups->count = kept;
}

static double among(const struct setups *setups, double p)
{
    double sum = 0.0;
    for (size_t i = 0; i < setups->count; i++) {
        const struct setup *pair = &setups->pair[i];
        const struct count *after = &pair->after, *otherwise = &pair->otherwise;
        sum += pair->least <= p
                   ? contingency_reach(after->landed, after->attempted - after->landed,
                                       otherwise->landed, otherwise->attempted - otherwise->landed,
                                       pair->least, p)
                   : 0.0;
    }
    return sum;
}

double setups_limit(const struct setups *setups, double error)
{
    double low = error, high = error; /* a pair reaches p, so among(p) is at least p */
    while (low > 0.0 && among(setups, low) > error) {
        high = low;
        low /= 2.0;
    }
    for (int i = 0; i < 30 && low < high; i++) {
        double middle = (low + high) / 2.0;
        bool holds = among(setups, middle) <= error;
        low = holds ? middle : low;
        high = holds ? high : middle;
    }
    return setups->count ? low : 0.0;
}

int setups_init(struct setups *out, const struct stream *stream, int last,
                const struct setup_rule *rule, double error, struct error *err)
{
    struct counts counts;
    const size_t room = (size_t)CORNER_COUNT * STRIKE_CODES * STRIKE_CODES;
    *out = (struct setups){.pair = malloc(room * sizeof *out->pair)};
    if (!out->pair) {
        return error_memory(err);
    }
    int least = rule->cases > 1 ? rule->cases : 1;
    count_pairs(&counts, stream, last, rule->window_ms);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int first = 0; first < STRIKE_CODES; first++) {
            for (int then = 0; then < STRIKE_CODES; then++) {
                struct count after = counts.after[corner][first][then];
                struct count all = counts.then[corner][then];
                struct count otherwise = {all.attempted - after.attempted,
                                          all.landed - after.landed};
                if (after.attempted >= least && otherwise.attempted >= least) {
                    add_pair(out, (struct setup){.corner = (uint8_t)corner,
                                                 .first = (uint8_t)first,
                                                 .then = (uint8_t)then,
                                                 .after = after,
                                                 .otherwise = otherwise});
                }
            }
        }
    }
    out->enough = out->count;
    keep_possible(out, error);
    qsort(out->pair, out->count, sizeof *out->pair, by_strength);
    for (size_t i = 0; i < out->count; i++) {
        /* A rounding error must not keep a pair from reaching its own p. */
        out->pair[i].among = fmin(1.0, among(out, out->pair[i].p * (1.0 + 1e-9)));
    }
    return 0;
}

void setups_release(struct setups *setups)
{
    free(setups->pair);
    *setups = (struct setups){.pair = NULL};
}

double setup_power(const struct setup *pair, double more, double z)
{
    double n1 = pair->after.attempted, n2 = pair->otherwise.attempted;
    double all = (pair->after.landed + pair->otherwise.landed) / (n1 + n2);
    double low = fmin(fmax(0.0, all - more * n1 / (n1 + n2)), 1.0 - more);
    double high = low + more;
    double even = sqrt(all * (1.0 - all) * (1.0 / n1 + 1.0 / n2));
    double uneven = sqrt(high * (1.0 - high) / n1 + low * (1.0 - low) / n2);
    if (!(uneven > 0.0)) {
        return 1.0;
    }
    /* less the half step that an exact test gives away */
    double reach = more - 0.5 * (1.0 / n1 + 1.0 / n2) - z * even;
    return 0.5 * erfc(-reach / uneven * M_SQRT1_2);
}
