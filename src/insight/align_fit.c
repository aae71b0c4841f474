/* align_fit.c: candidates, their odds by the rates of error, and the rates by the candidates. */
#include "insight/align_fit.h"

#include <math.h>
#include <stdlib.h>

#define NEAR_MS      500  /* how fast strikes come is told from this much before and after */
#define NEAR_USUAL   1.0  /* strikes' worth of belief in the bout's usual speed */
#define LAG_SMOOTH   3    /* lags to either side */
#define LAG_BELIEF   3.0  /* strikes' worth of belief in no lag being different, by lag */
#define WIDE_SHARE   0.03 /* of pairs out of step, their jitter three times as wide */
#define WIDE         3.0
#define JITTER_START 150.0
#define JITTER_LEAST 15.0
#define PAIRS_BELIEF 2.0 /* pairs' worth of belief in what the options expect */
#define BOTH_LEAST   1e-3
#define PAIRS_LATE   3.0  /* expected pairs that move a round's lateness */
#define PAIRS_DRIFT  20.0 /* and those that show a drift */

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

/* What is usual around a strike, and where: two different strikes of two desks are as far apart as
 * two of one desk, which nobody can take for one. */
static void find_usual(struct fit *fit, double apart[2][FIT_LAGS])
{
    const double strikes = (double)(fit->a_count + fit->b_count);
    for (int other = 0; other < 2; other++) {
        double near = 0, mean = 0;
        for (int k = 0; k < NEAR_MS / FIT_LAG_MS; k++) {
            near += apart[other][k];
        }
        mean = near / (NEAR_MS / FIT_LAG_MS);
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

static void expect(struct fit *fit)
{
    const struct align_options *options = fit->options;
    const int32_t points[FIT_FIELDS] = {options->corner, options->limb, options->target,
                                        options->outcome};
    double alone = align_expected(options->alone);
    fit->rates = (struct rates){.both = 1 - 2 * alone,
                                .only_a = alone,
                                .only_b = alone,
                                .jitter_ms = JITTER_START,
                                .side = align_expected(options->side)};
    for (int field = 0; field < FIT_FIELDS; field++) {
        fit->rates.same[field] = 1 - align_expected(points[field]);
    }
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
    fit->match = match_new(fit->b_count);
    if (!fit->near_a || !fit->near_b || !fit->match ||
        !read_list(fit->a, fit->a_count, &fit->moment_a, &fit->utc_a, &fit->code_a) ||
        !read_list(fit->b, fit->b_count, &fit->moment_b, &fit->utc_b, &fit->code_b)) {
        return ERROR_MEMORY;
    }
    fit_shares(fit);
    expect(fit);
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
    free(fit->distance);
    match_free(fit->match);
}

static double behind(const struct align_strike *a, const struct align_strike *b,
                     enum align_base base)
{
    return base == ALIGN_UTC ? (double)(b->at_ms - a->at_ms) : moment(b) - moment(a);
}

static bool add_pair(struct fit *fit, size_t a, size_t b, double distance)
{
    if (fit->pair_count == fit->pair_room) {
        size_t room = fit->pair_room ? fit->pair_room * 2 : 4096;
        struct match_pair *pairs = realloc(fit->pairs, room * sizeof *pairs);
        if (!pairs) {
            return false;
        }
        fit->pairs = pairs;
        double *distances = realloc(fit->distance, room * sizeof *distances);
        if (!distances) {
            return false;
        }
        fit->distance = distances;
        fit->pair_room = room;
    }
    fit->distance[fit->pair_count] = distance;
    fit->pairs[fit->pair_count++] = (struct match_pair){.a = (int32_t)a, .b = (int32_t)b};
    return true;
}

int fit_candidates(struct fit *fit, int round, double shift_ms)
{
    const double window = fit->options->window_ms;
    size_t first = 0;
    fit->pair_count = 0;
    for (size_t i = 0; i < fit->a_count; i++) {
        const struct align_strike *a = &fit->a[i];
        const struct track *track = &fit->track[a->round];
        if (round && a->round != round) {
            continue;
        }
        double late = track->late_ms + track->drift * (moment(a) - track->middle_ms) + shift_ms;
        double slack = window + fabs(late);
        bool clock = track->base == ALIGN_CLOCK;
        while (clock && first < fit->b_count &&
               (fit->b[first].round < a->round ||
                (fit->b[first].round == a->round &&
                 fit->b[first].elapsed_ms + 4 * window + 2 * fabs(late) < a->elapsed_ms))) {
            first++;
        }
        for (size_t j = clock ? first : 0; j < fit->b_count; j++) {
            const struct align_strike *b = &fit->b[j];
            if (clock && (b->round > a->round || b->elapsed_ms > a->elapsed_ms + slack)) {
                break;
            }
            double distance = behind(a, b, track->base) - late;
            if (fabs(distance) <= window &&
                (!clock || (b->round == a->round && a->elapsed_ms - b->elapsed_ms <= slack)) &&
                !add_pair(fit, i, j, distance)) {
                return ERROR_MEMORY;
            }
        }
    }
    return 0;
}

static double log_density(double distance, double jitter)
{
    double by = distance / jitter;
    double core = (1 - WIDE_SHARE) * exp(-by * by / 2);
    double wide = WIDE_SHARE / WIDE * exp(-by * by / (2 * WIDE * WIDE));
    return log((core + wide) / jitter * 0.3989422804014327 + 1e-300);
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
        double spare = NEAR_USUAL / fit->usual[!same] + 2.0 * NEAR_MS;
        const int *of_a = fit->near_a[pair->a], *of_b = fit->near_b[pair->b];
        double one = spare / (NEAR_USUAL + of_a[a->corner] + of_b[a->corner]);
        double other = spare / (NEAR_USUAL + of_a[b->corner] + of_b[b->corner]);
        double lag = fabs(fit->distance[k]) / FIT_LAG_MS;
        double speed =
            2 / (one + other) / seen * (lag < FIT_LAGS ? fit->shape[!same][(int)lag] : 1);
        pair->log_odds = alone - log(speed) + log_density(fit->distance[k], rates->jitter_ms) +
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
    struct rates expected;
    double pairs = fit_expected(fit);
    double spread = 0, differ = 0, side = 0;
    double same[FIT_FIELDS] = {0};
    for (size_t k = 0; k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        const struct strike *a = &fit->a[pair->a].strike;
        const struct strike *b = &fit->b[pair->b].strike;
        double by = fit->distance[k] / fit->rates.jitter_ms;
        double core = (1 - WIDE_SHARE) * exp(-by * by / 2);
        double wide = WIDE_SHARE / WIDE * exp(-by * by / (2 * WIDE * WIDE)) + 1e-300;
        spread += pair->likely * fit->distance[k] * fit->distance[k] *
                  (core + wide / (WIDE * WIDE)) / (core + wide);
        for (int field = 0; field < FIT_FIELDS; field++) {
            same[field] += pair->likely * (fit_says(a, (enum fit_field)field) ==
                                           fit_says(b, (enum fit_field)field));
        }
        differ += a->limb != b->limb ? pair->likely : 0;
        side +=
            a->limb != b->limb && limb_group((enum limb)a->limb) == limb_group((enum limb)b->limb)
                ? pair->likely
                : 0;
    }
    struct rates *rates = &fit->rates;
    struct rates found = *rates;
    expect(fit);
    expected = *rates;
    found.jitter_ms =
        fmax(JITTER_LEAST, sqrt((spread + JITTER_START * JITTER_START) / (pairs + 1)));
    for (int field = 0; field < FIT_FIELDS; field++) {
        found.same[field] =
            (same[field] + PAIRS_BELIEF * expected.same[field]) / (pairs + PAIRS_BELIEF);
    }
    found.side = (side + expected.side) / (differ + 1);
    *rates = found;
    fit_shares_alone(fit);
    fit_content(fit);
}

void fit_tracks(struct fit *fit)
{
    double sum[ROUND_MAX + 1] = {0}, off[ROUND_MAX + 1] = {0}, at[ROUND_MAX + 1] = {0};
    double across[ROUND_MAX + 1] = {0}, along[ROUND_MAX + 1] = {0};
    for (size_t k = 0; k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        const struct align_strike *a = &fit->a[pair->a];
        double by = fit->distance[k] / fit->rates.jitter_ms;
        double core = (1 - WIDE_SHARE) * exp(-by * by / 2);
        double wide = WIDE_SHARE / WIDE * exp(-by * by / (2 * WIDE * WIDE)) + 1e-300;
        double weight = pair->likely * (core + wide / (WIDE * WIDE)) / (core + wide);
        double along_ms = moment(a) - fit->track[a->round].middle_ms;
        sum[a->round] += weight;
        off[a->round] += weight * fit->distance[k];
        at[a->round] += weight * along_ms;
        across[a->round] += weight * along_ms * fit->distance[k];
        along[a->round] += weight * along_ms * along_ms;
    }
    for (int round = 0; round <= ROUND_MAX; round++) {
        struct track *track = &fit->track[round];
        if (sum[round] < PAIRS_LATE) {
            continue;
        }
        double mean = off[round] / sum[round], where = at[round] / sum[round];
        double spread = along[round] / sum[round] - where * where;
        double slope = 0;
        if (sum[round] >= PAIRS_DRIFT && spread > 1e6) {
            slope = (across[round] / sum[round] - mean * where) / spread;
        }
        track->drift += slope;
        track->late_ms += mean - slope * where;
    }
}
