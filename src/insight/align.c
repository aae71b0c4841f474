/* align.c: the alignment of two desks' strikes: clocks, then rates and pairs in turn until they
 * agree with each other, then what is listed. */
#include "ringtally/insight/align.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "insight/align_fit.h"

#define TURNS        40
#define SETTLED      0.02 /* expected pairs that one more turn no longer moves */
#define SHIFTS       4
#define CHANCE_TURNS 2

int64_t align_behind(const struct align_strike *a, const struct align_strike *b)
{
    return (int64_t)b->elapsed_ms + b->idle_ms - a->elapsed_ms - a->idle_ms;
}

double align_expected(int32_t points)
{
    return pow(10, -points / 1000.0);
}

static int settle(struct fit *fit)
{
    double pairs = -1;
    int code = 0;
    for (int turn = 0; !code && turn < TURNS; turn++) {
        double before = pairs, jitter = fit->rates.jitter_ms;
        double log_sum = 0;
        code = fit_candidates(fit, 0, 0);
        code = code ? code : fit_solve(fit, &log_sum);
        if (code) {
            break;
        }
        pairs = fit_expected(fit);
        if (turn > 1 && fabs(pairs - before) < SETTLED && fabs(jitter - fit->rates.jitter_ms) < 1) {
            break;
        }
        if (turn + 1 < TURNS) {
            fit_rates(fit);
            fit_tracks(fit);
        }
    }
    return code;
}

static int copy_ties(struct align *out, const struct fit *fit)
{
    int32_t *pair_of = malloc((fit->a_count + 1) * sizeof *pair_of);
    int32_t *other = malloc((fit->b_count + 1) * sizeof *other);
    double *alone_a = calloc(fit->a_count + 1, sizeof *alone_a);
    double *alone_b = calloc(fit->b_count + 1, sizeof *alone_b);
    out->ties = calloc(fit->pair_count + 1, sizeof *out->ties);
    out->links = calloc(fit->a_count + fit->b_count + 1, sizeof *out->links);
    if (!pair_of || !other || !alone_a || !alone_b || !out->ties || !out->links) {
        free(pair_of);
        free(other);
        free(alone_a);
        free(alone_b);
        return ERROR_MEMORY;
    }
    memset(pair_of, -1, fit->a_count * sizeof *pair_of);
    memset(other, -1, fit->b_count * sizeof *other);
    for (size_t k = 0; k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        alone_a[pair->a] += pair->likely;
        alone_b[pair->b] += pair->likely;
        if (pair->likely > 1e-9) {
            out->ties[out->tie_count++] = (struct align_tie){pair->a, pair->b, pair->likely};
            out->expected += pair->likely;
        }
        if (pair->chosen) {
            pair_of[pair->a] = (int32_t)k;
            other[pair->b] = pair->a;
        }
    }
    size_t j = 0;
    for (size_t i = 0; i <= fit->a_count; i++) {
        const struct align_strike *a = i < fit->a_count ? &fit->a[i] : NULL;
        for (; j < fit->b_count; j++) {
            const struct align_strike *b = &fit->b[j];
            double late = a ? fit->track[a->round].late_ms : 0;
            if (other[j] < 0) {
                if (a && (b->round > a->round ||
                          (b->round == a->round && (double)align_behind(a, b) >= late))) {
                    break;
                }
                out->links[out->count++] =
                    (struct align_link){-1, (int32_t)j, 1 - fmin(alone_b[j], 1)};
                out->only_b++;
            } else if (a && b->round > a->round) {
                break;
            } else if (a && b->round == a->round && (double)align_behind(a, b) >= late) {
                break;
            }
        }
        if (a && pair_of[i] >= 0) {
            const struct match_pair *pair = &fit->pairs[pair_of[i]];
            out->links[out->count++] = (struct align_link){pair->a, pair->b, pair->likely};
            out->paired++;
            out->wrong += 1 - pair->likely;
        } else if (a) {
            out->links[out->count++] = (struct align_link){(int32_t)i, -1, 1 - fmin(alone_a[i], 1)};
            out->only_a++;
        }
    }
    free(pair_of);
    free(other);
    free(alone_a);
    free(alone_b);
    return 0;
}

/* What would be paired at lateness values that cannot be right: strikes as alike and as near as
 * these are, and how many pairs there are is learnt anew, lest a desk that misses nothing be given
 * a partner for everything. */
static int find_chance(struct align *out, struct fit *fit)
{
    static const double shifts[SHIFTS] = {-5.7, -3.1, 4.3, 7.9}; /* windows */
    int code = 0;
    for (int k = 0; !code && k < SHIFTS; k++) {
        double log_sum = 0;
        fit->rates.both = fit->rates.only_a = fit->rates.only_b = 1.0 / 3;
        code = fit_candidates(fit, 0, shifts[k] * fit->options->window_ms);
        for (int turn = 0; !code && turn < CHANCE_TURNS; turn++) {
            code = fit_solve(fit, &log_sum);
            if (!code && turn + 1 < CHANCE_TURNS) {
                fit_shares_alone(fit);
            }
        }
        for (size_t p = 0; !code && p < fit->pair_count; p++) {
            const struct match_pair *pair = &fit->pairs[p];
            out->chance += pair->likely / SHIFTS;
            for (int r = 0; r < out->rounds; r++) {
                if (out->round[r].round == fit->a[pair->a].round) {
                    out->round[r].chance += pair->likely / SHIFTS;
                }
            }
        }
    }
    return code;
}

static void copy_rounds(struct align *out, const struct fit *fit)
{
    const double limit = fit->options->lateness_max_ms - fit->options->window_ms / 2.0;
    for (size_t i = 0; i < fit->a_count; i++) {
        const struct track *track = &fit->track[fit->a[i].round];
        if (out->rounds == 0 || out->round[out->rounds - 1].round != fit->a[i].round) {
            out->round[out->rounds++] =
                (struct align_round){.round = fit->a[i].round,
                                     .base = track->base,
                                     .lateness_ms = track->late_ms,
                                     .drift = track->drift * 60000,
                                     .at_limit = fabs(track->late_ms) >= limit};
        }
        out->round[out->rounds - 1].strikes++;
    }
    for (size_t k = 0; k < out->tie_count; k++) {
        for (int r = 0; r < out->rounds; r++) {
            if (out->round[r].round == fit->a[out->ties[k].a].round) {
                out->round[r].paired += out->ties[k].likely;
            }
        }
    }
    double late = 0;
    for (int r = 0; r < out->rounds; r++) {
        const struct align_round *round = &out->round[r];
        late += round->base == ALIGN_CLOCK ? round->paired * round->lateness_ms : 0;
    }
    out->lateness_ms = out->expected > 0 ? (int32_t)lround(late / out->expected) : 0;
}

int align_make(struct align *out, const struct align_strike *a, size_t a_count,
               const struct align_strike *b, size_t b_count, const struct align_options *options)
{
    struct fit fit = {.a = a, .b = b, .a_count = a_count, .b_count = b_count, .options = options};
    *out = (struct align){0};
    int code = fit_init(&fit);
    code = code ? code : fit_clocks(&fit);
    code = code ? code : settle(&fit);
    code = code ? code : copy_ties(out, &fit);
    if (!code) {
        out->jitter_ms = fit.rates.jitter_ms;
        copy_rounds(out, &fit);
        code = find_chance(out, &fit);
    }
    fit_release(&fit);
    if (code) {
        align_release(out);
    }
    return code;
}

void align_release(struct align *align)
{
    free(align->links);
    free(align->ties);
    *align = (struct align){0};
}
