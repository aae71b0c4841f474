/* align_fit.c: candidates, their odds by the rates of error, and the rates by the candidates. */
#include "insight/align_fit.h"

#include <math.h>
#include <stdlib.h>

#include "ringtally/base/grow.h"

#define NEAR_MS      500  /* how fast strikes come is told from this much before and after */
#define BELIEF_LEAST 0.02 /* strikes' worth, in the bout's usual speed */
#define BELIEF_MOST  2.0  /* no bout is quite even; this project's choice */
#define LAG_SMOOTH   3    /* lags to either side */
#define LAG_BELIEF   3.0  /* strikes' worth of belief in no lag being different, by lag */
#define WIDE_SHARE   0.03 /* of pairs out of step, their jitter three times as wide */
#define WIDE         3.0
#define JITTER_START 150.0
#define JITTER_LEAST 15.0
#define PAIRS_BELIEF 2.0 /* pairs' worth of belief in what the options expect */
#define BOTH_LEAST   1e-3
#define ROOT_OF_2PI  0.3989422804014327 /* its inverse */
#define PAIRS_LATE   3.0                /* expected pairs that move a round's lateness */
#define SPREAD_LEAST 1e6                /* their moments' variance, square milliseconds */
#define UTC_STEP     1.5
#define UTC_STEP_MS  50.0
#define PAIRS_DRIFT  20.0 /* and those that show a drift */
enum { NEAR_LAGS = NEAR_MS / FIT_LAG_MS };

int fit_says(const struct strike *strike, enum fit_field field)
{
    switch (field) {
    case FIT_CORNER:
        return strike->corner;
    case FIT_LIMB:
        return strike->limb;
    case FIT_TARGET:
        return strike->target;
    default:
        return strike->outcome == OUTCOME_LANDED;
    }
}

static double moment(const struct align_strike *strike)
{
    return (double)strike->elapsed_ms + (double)strike->idle_ms;
}

/* How many others of its desk are around each, by their corner; and how far apart they are. */
static int (*neighbours(const struct align_strike *strikes, size_t count,
                        double apart[2][FIT_LAGS]))[CORNER_COUNT]
{
    int(*near)[CORNER_COUNT] = calloc(count + 1, sizeof *near);
    for (size_t i = 0; near && i < count; i++) {
        for (size_t k = i + 1;
             k < count && strikes[k].round == strikes[i].round &&
             strikes[k].elapsed_ms - strikes[i].elapsed_ms < FIT_LAGS * FIT_LAG_MS;
             k++) {
            double lag = fabs(moment(&strikes[k]) - moment(&strikes[i]));
            if (lag < FIT_LAGS * FIT_LAG_MS) {
                apart[strikes[i].strike.corner != strikes[k].strike.corner]
                     [(int)(lag / FIT_LAG_MS)] += 2;
            }
            if (lag <= NEAR_MS) {
                near[i][strikes[k].strike.corner]++;
                near[k][strikes[i].strike.corner]++;
            }
        }
    }
    return near;
}

/* How much a quiet neighbourhood is still believed to be as busy as usual, in strikes' worth: as
 * much as makes the model expect of empty ones what Robbins' estimate finds there, the
 * neighbourhoods with one strike for each with none (Robbins H 1956, Proceedings of the Third
 * Berkeley Symposium 1:157-163), where speeds differ as a gamma distribution (Greenwood M, Yule GU
 * 1920, Journal of the Royal Statistical Society 83:255-279). Where combinations come, little: a
 * strike of a corner of which there is no other near is likely the other corner's, said wrongly. */
static double find_belief(const struct fit *fit, int other)
{
    const struct align_strike *const lists[] = {fit->a, fit->b};
    const size_t counts[] = {fit->a_count, fit->b_count};
    int(*const nears[])[CORNER_COUNT] = {fit->near_a, fit->near_b};
    double sum = 0, none = 1, one = 0.5;
    for (int k = 0; k < 2; k++) {
        for (size_t i = 0; i < counts[k]; i++) {
            int near = nears[k][i][lists[k][i].strike.corner ^ other];
            sum += near;
            none += near == 0;
            one += near == 1;
        }
    }
    double mean = sum / fmax((double)(fit->a_count + fit->b_count), 1), empty = one / none;
    return empty < mean ? fmin(fmax(empty / (1 - empty / mean), BELIEF_LEAST), BELIEF_MOST)
                        : BELIEF_MOST;
}

/* What is usual around a strike, and where: two different strikes of two desks are as far apart as
 * two of one desk, which nobody can take for one. */
static void find_usual(struct fit *fit, double apart[2][FIT_LAGS])
{
    const double strikes = (double)(fit->a_count + fit->b_count);
    for (int other = 0; other < 2; other++) {
        double near = 0, mean = 0;
        for (int k = 0; k < NEAR_LAGS; k++) {
            near += apart[other][k];
        }
        mean = near / NEAR_LAGS;
        fit->usual[other] = (near / fmax(strikes, 1) + 0.1) / (2.0 * NEAR_MS) * 2;
        for (int k = 0; k < FIT_LAGS; k++) {
            double sum = 0, weights = 0;
            for (int d = -LAG_SMOOTH; d <= LAG_SMOOTH; d++) {
                int at = k + d < 0 ? -1 - k - d : k + d; /* 0 is a mirror */
                if (at < FIT_LAGS) {
                    double weight = 1 + LAG_SMOOTH - abs(d);
                    sum += weight * apart[other][at];
                    weights += weight;
                }
            }
            fit->shape[other][k] = (sum / weights + LAG_BELIEF) / (mean + LAG_BELIEF);
        }
    }
}

/* The rates as the options expect them. */
static struct rates expect(const struct align_options *options)
{
    const double alone = align_expected(options->alone);
    return (struct rates){.both = 1 - 2 * alone,
                          .only_a = alone,
                          .only_b = alone,
                          .jitter_ms = JITTER_START,
                          .same = {[FIT_CORNER] = 1 - align_expected(options->corner),
                                   [FIT_LIMB] = 1 - align_expected(options->limb),
                                   [FIT_TARGET] = 1 - align_expected(options->target),
                                   [FIT_LANDED] = 1 - align_expected(options->outcome)},
                          .side = align_expected(options->side)};
}

static bool read_list(const struct align_strike *strikes, size_t count, int64_t **moments,
                      int64_t **utc, uint8_t **codes)
{
    *moments = calloc(count + 1, sizeof **moments);
    *utc = calloc(count + 1, sizeof **utc);
    *codes = calloc(count + 1, sizeof **codes);
    if (!*moments || !*utc || !*codes) {
        return false;
    }
    for (size_t i = 0; i < count; i++) {
        (*moments)[i] = (int64_t)strikes[i].elapsed_ms + strikes[i].idle_ms;
        (*utc)[i] = strikes[i].at_ms;
        (*codes)[i] = (uint8_t)fit_code(&strikes[i].strike);
    }
    return true;
}

int fit_init(struct fit *fit)
{
    double apart[2][FIT_LAGS] = {{0}};
    fit->near_a = neighbours(fit->a, fit->a_count, apart);
    fit->near_b = neighbours(fit->b, fit->b_count, apart);
    find_usual(fit, apart);
    for (int other = 0; other < 2 && fit->near_a && fit->near_b; other++) {
        fit->belief[other] = find_belief(fit, other);
    }
    fit->match = match_new(fit->b_count);
    if (!fit->near_a || !fit->near_b || !fit->match ||
        !read_list(fit->a, fit->a_count, &fit->moment_a, &fit->utc_a, &fit->code_a) ||
        !read_list(fit->b, fit->b_count, &fit->moment_b, &fit->utc_b, &fit->code_b)) {
        return ERROR_MEMORY;
    }
    fit->loose_b = calloc(fit->b_count + 1, sizeof *fit->loose_b);
    if (!fit->loose_b) {
        return ERROR_MEMORY;
    }
    for (size_t j = 0; j < fit->b_count; j++) {
        if (fit->b[j].off_clock) {
            fit->loose_b[fit->loose_count++] = j;
        }
    }
    fit_shares(fit);
    fit->rates = expect(fit->options);
    fit_content(fit);
    return 0;
}

void fit_release(struct fit *fit)
{
    free(fit->moment_a);
    free(fit->moment_b);
    free(fit->utc_a);
    free(fit->utc_b);
    free(fit->code_a);
    free(fit->code_b);
    free(fit->near_a);
    free(fit->near_b);
    free(fit->pairs);
    free(fit->loose_b);
    match_free(fit->match);
}

double fit_late(const struct fit *fit, size_t a)
{
    const struct track *track = &fit->track[fit->a[a].round];
    return track->late_ms + track->drift * ((double)fit->moment_a[a] - track->middle_ms);
}

static bool add_pair(struct fit *fit, size_t a, size_t b, double distance)
{
    if (!grow_array(&fit->pairs, sizeof *fit->pairs, fit->pair_count, 1, &fit->pair_room)) {
        return false;
    }
    fit->pairs[fit->pair_count++] =
        (struct match_pair){.a = (int32_t)a, .b = (int32_t)b, .distance_ms = distance};
    return true;
}

static int by_b(const void *one, const void *other)
{
    const struct match_pair *a = one, *b = other;
    return (a->b > b->b) - (a->b < b->b);
}

/* Those of B that are near by UTC; on a track that has a clock only those that the clock has in
 * another round: what was thrown before a shadow started its clock. */
static bool add_by_utc(struct fit *fit, size_t i, double late)
{
    const struct align_strike *a = &fit->a[i];
    const bool clock = fit->track[a->round].base == ALIGN_CLOCK;
    const bool loose = clock && !a->off_clock;
    const size_t count = loose ? fit->loose_count : fit->b_count;
    for (size_t k = 0; k < count; k++) {
        size_t j = loose ? fit->loose_b[k] : k;
        double distance = (double)(fit->utc_b[j] - fit->utc_a[i]) - late;
        if (fabs(distance) <= fit->options->window_ms && (!clock || fit->b[j].round != a->round) &&
            !add_pair(fit, i, j, distance)) {
            return false;
        }
    }
    return true;
}

/* Those of B that are near on the clock, in the same round. *first: none before it is. */
static bool add_by_clock(struct fit *fit, size_t i, double late, size_t *first)
{
    const struct align_strike *a = &fit->a[i];
    const double window = fit->options->window_ms, slack = window + fabs(late);
    while (*first < fit->b_count &&
           (fit->b[*first].round < a->round ||
            (fit->b[*first].round == a->round &&
             fit->b[*first].elapsed_ms + 4 * window + 2 * fabs(late) < a->elapsed_ms))) {
        ++*first;
    }
    for (size_t j = *first; j < fit->b_count && fit->b[j].round == a->round &&
                            fit->b[j].elapsed_ms <= a->elapsed_ms + slack;
         j++) {
        double distance = (double)(fit->moment_b[j] - fit->moment_a[i]) - late;
        if (fabs(distance) <= window && a->elapsed_ms - fit->b[j].elapsed_ms <= slack &&
            !add_pair(fit, i, j, distance)) {
            return false;
        }
    }
    return true;
}

int fit_candidates(struct fit *fit, int round, double shift_ms)
{
    size_t first = 0;
    fit->pair_count = 0;
    for (size_t i = 0; i < fit->a_count; i++) {
        const struct track *track = &fit->track[fit->a[i].round];
        const size_t begin = fit->pair_count;
        const bool clock = track->base == ALIGN_CLOCK;
        if (round && fit->a[i].round != round) {
            continue;
        }
        if ((clock && !add_by_clock(fit, i, fit_late(fit, i) + shift_ms, &first)) ||
            (!clock && !add_by_utc(fit, i, fit_late(fit, i) + shift_ms))) {
            return ERROR_MEMORY;
        }
        if (clock && track->has_utc) {
            const size_t here = fit->pair_count;
            if (!add_by_utc(fit, i, track->utc_ms + shift_ms)) {
                return ERROR_MEMORY;
            }
            if (here > begin && fit->pair_count > here) {
                qsort(&fit->pairs[begin], fit->pair_count - begin, sizeof *fit->pairs, by_b);
            }
        }
    }
    return 0;
}

/* Most pairs are in step; a few are late by more, as a finger is that waited. */
static void densities(double *step, double *wide, double distance, double jitter)
{
    double by = distance / jitter;
    *step = (1 - WIDE_SHARE) * exp(-by * by / 2);
    *wide = WIDE_SHARE / WIDE * exp(-by * by / (2 * WIDE * WIDE));
}

static double log_density(double distance, double jitter)
{
    double step, wide;
    densities(&step, &wide, distance, jitter);
    return log((step + wide + 1e-300) / jitter * ROOT_OF_2PI);
}

/* What a pair counts for jitter and lateness: its probability, less where it is out of step. */
static double steadiness(const struct fit *fit, size_t k)
{
    double step, wide;
    densities(&step, &wide, fit->pairs[k].distance_ms, fit->rates.jitter_ms);
    return fit->pairs[k].likely * (step + wide / (WIDE * WIDE) + 1e-300) / (step + wide + 1e-300);
}

int fit_solve(struct fit *fit, double *log_sum)
{
    const struct rates *rates = &fit->rates;
    double seen = 1 + rates->both; /* how many desks have a strike, on average */
    double alone = log(rates->both) - log(rates->only_a) - log(rates->only_b);
    for (size_t k = 0; k < fit->pair_count; k++) {
        struct match_pair *pair = &fit->pairs[k];
        const struct strike *a = &fit->a[pair->a].strike;
        const struct strike *b = &fit->b[pair->b].strike;
        bool same = a->corner == b->corner;
        double belief = fit->belief[!same];
        double spare = belief / fit->usual[!same] + 2.0 * NEAR_MS;
        const int *of_a = fit->near_a[pair->a], *of_b = fit->near_b[pair->b];
        double one = spare / (belief + of_a[a->corner] + of_b[a->corner]);
        double other = spare / (belief + of_a[b->corner] + of_b[b->corner]);
        double lag = fabs(fit->pairs[k].distance_ms) / FIT_LAG_MS;
        double speed =
            2 / (one + other) / seen * (lag < FIT_LAGS ? fit->shape[!same][(int)lag] : 1);
        pair->log_odds = alone - log(speed) +
                         log_density(fit->pairs[k].distance_ms, rates->jitter_ms) +
                         fit->content[fit->code_a[pair->a]][fit->code_b[pair->b]];
    }
    return match_solve(fit->match, fit->pairs, fit->pair_count, log_sum);
}

double fit_expected(const struct fit *fit)
{
    double sum = 0;
    for (size_t k = 0; k < fit->pair_count; k++) {
        sum += fit->pairs[k].likely;
    }
    return sum;
}

void fit_shares_alone(struct fit *fit)
{
    double pairs = fit_expected(fit);
    double expected = align_expected(fit->options->alone);
    double only_a = fmax((double)fit->a_count - pairs, 0);
    double only_b = fmax((double)fit->b_count - pairs, 0);
    double all = pairs + only_a + only_b + 1;
    fit->rates.only_a = (only_a + expected) / all;
    fit->rates.only_b = (only_b + expected) / all;
    fit->rates.both = fmax(1 - fit->rates.only_a - fit->rates.only_b, BOTH_LEAST);
}

void fit_rates(struct fit *fit)
{
    const struct rates expected = expect(fit->options);
    struct rates *rates = &fit->rates;
    double pairs = fit_expected(fit);
    double spread = 0, differ = 0, side = 0;
    double same[FIT_FIELDS] = {0};
    for (size_t k = 0; k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        const struct strike *a = &fit->a[pair->a].strike;
        const struct strike *b = &fit->b[pair->b].strike;
        spread += steadiness(fit, k) * fit->pairs[k].distance_ms * fit->pairs[k].distance_ms;
        for (int field = 0; field < FIT_FIELDS; field++) {
            bool agreed = fit_says(a, (enum fit_field)field) == fit_says(b, (enum fit_field)field);
            same[field] += agreed ? pair->likely : 0;
        }
        if (a->limb != b->limb) {
            differ += pair->likely;
            side +=
                limb_group((enum limb)a->limb) == limb_group((enum limb)b->limb) ? pair->likely : 0;
        }
    }
    rates->jitter_ms =
        fmax(JITTER_LEAST, sqrt((spread + JITTER_START * JITTER_START) / (pairs + 1)));
    for (int field = 0; field < FIT_FIELDS; field++) {
        rates->same[field] =
            (same[field] + PAIRS_BELIEF * expected.same[field]) / (pairs + PAIRS_BELIEF);
    }
    rates->side = (side + expected.side) / (differ + 1);
    fit_shares_alone(fit);
    fit_content(fit);
}

/* Does UTC keep step with the clock of a round, within what the fingers do anyway? */
static void find_utc(struct fit *fit)
{
    double sum[ROUND_MAX + 1] = {0}, off[ROUND_MAX + 1] = {0}, square[ROUND_MAX + 1] = {0};
    double origin[ROUND_MAX + 1] = {0};
    for (size_t k = 0; k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        const int round = fit->a[pair->a].round;
        double behind = (double)(fit->utc_b[pair->b] - fit->utc_a[pair->a]);
        origin[round] = sum[round] > 0 ? origin[round] : behind;
        double weight = steadiness(fit, k);
        sum[round] += weight;
        off[round] += weight * (behind - origin[round]);
        square[round] += weight * (behind - origin[round]) * (behind - origin[round]);
    }
    for (int round = 0; round <= ROUND_MAX; round++) {
        struct track *track = &fit->track[round];
        double mean = sum[round] > 0 ? off[round] / sum[round] : 0;
        double spread = sum[round] > 0 ? square[round] / sum[round] - mean * mean : 0;
        track->has_utc = track->base == ALIGN_CLOCK && sum[round] >= PAIRS_DRIFT &&
                         sqrt(fmax(spread, 0)) <= UTC_STEP * fit->rates.jitter_ms + UTC_STEP_MS;
        track->utc_ms = origin[round] + mean;
    }
}

/* A straight line through each round's distances. */
void fit_tracks(struct fit *fit)
{
    double sum[ROUND_MAX + 1] = {0}, off[ROUND_MAX + 1] = {0}, at[ROUND_MAX + 1] = {0};
    double across[ROUND_MAX + 1] = {0}, along[ROUND_MAX + 1] = {0};
    for (size_t k = 0; k < fit->pair_count; k++) {
        const int32_t a = fit->pairs[k].a;
        const int round = fit->a[a].round;
        const bool across_rounds = fit->track[round].base == ALIGN_CLOCK &&
                                   fit->b[fit->pairs[k].b].round != round; /* found by UTC */
        double weight = across_rounds ? 0 : steadiness(fit, k);
        double along_ms = (double)fit->moment_a[a] - fit->track[round].middle_ms;
        sum[round] += weight;
        off[round] += weight * fit->pairs[k].distance_ms;
        at[round] += weight * along_ms;
        across[round] += weight * along_ms * fit->pairs[k].distance_ms;
        along[round] += weight * along_ms * along_ms;
    }
    for (int round = 0; round <= ROUND_MAX; round++) {
        struct track *track = &fit->track[round];
        if (sum[round] < PAIRS_LATE) {
            continue;
        }
        double mean = off[round] / sum[round], where = at[round] / sum[round];
        double spread = along[round] / sum[round] - where * where;
        double slope = 0;
        if (sum[round] >= PAIRS_DRIFT && spread > SPREAD_LEAST) {
            slope = (across[round] / sum[round] - mean * where) / spread;
        }
        track->drift += slope;
        track->late_ms += mean - slope * where;
    }
    find_utc(fit);
}
