/* align.c: the alignment of two desks' strikes: clocks, then rates and pairs in turn until they
 * agree with each other, then what is listed. */
#include "ringtally/insight/align.h"

#include <math.h>
#include <stdlib.h>

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

/* Expectation and maximisation in turn. */
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

static struct align_round *round_of(struct align *align, int round)
{
    int r = 0;
    while (r + 1 < align->rounds && align->round[r].round != round) {
        r++;
    }
    return &align->round[r];
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
            round_of(out, fit->a[pair->a].round)->chance += pair->likely / SHIFTS;
        }
    }
    return code;
}

static void copy_rounds(struct align *out, const struct fit *fit)
{
    for (size_t i = 0; i < fit->a_count; i++) {
        const struct track *track = &fit->track[fit->a[i].round];
        if (out->rounds == 0 || out->round[out->rounds - 1].round != fit->a[i].round) {
            out->round[out->rounds++] = (struct align_round){.round = fit->a[i].round,
                                                             .base = track->base,
                                                             .lateness_ms = track->late_ms,
                                                             .drift = track->drift * 60000,
                                                             .at_limit = track->at_limit};
        }
        out->round[out->rounds - 1].strikes++;
    }
    for (size_t k = 0; k < out->tie_count; k++) {
        round_of(out, fit->a[out->ties[k].a].round)->paired += out->ties[k].likely;
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
    code = code ? code : fit_links(out, &fit);
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
