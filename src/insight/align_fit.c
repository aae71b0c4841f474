/* align_fit.c: candidates, their odds by the rates of error, and the rates by the candidates. */
#include "insight/align_fit.h"

#include <math.h>
#include <stdlib.h>

#define NEAR_MS      500  /* how fast strikes come is told from this much before and after */
#define NEAR_USUAL   1.0  /* strikes' worth of belief in the bout's usual speed */
#define WIDE_SHARE   0.03 /* of pairs out of step, their jitter three times as wide */
#define WIDE         3.0
#define JITTER_START 150.0
#define JITTER_LEAST 15.0
#define PAIRS_BELIEF 10.0 /* pairs' worth of belief in what the options expect */
#define PAIRS_LATE   3.0  /* expected pairs that move a round's lateness */
#define PAIRS_DRIFT  20.0 /* and those that show a drift */

static const int category_counts[FIT_FIELDS] = {CORNER_COUNT, LIMB_COUNT, TARGET_COUNT, 2};

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

/* How many others of its desk are around each, by their corner; adds up what is usual. */
static int (*neighbours(const struct align_strike *strikes, size_t count,
                        double usual[2]))[CORNER_COUNT]
{
    int(*near)[CORNER_COUNT] = calloc(count + 1, sizeof *near);
    for (size_t i = 0; near && i < count; i++) {
        for (size_t k = i + 1; k < count && strikes[k].round == strikes[i].round &&
                               strikes[k].elapsed_ms - strikes[i].elapsed_ms <= NEAR_MS;
             k++) {
            if (fabs(moment(&strikes[k]) - moment(&strikes[i])) <= NEAR_MS) {
                near[i][strikes[k].strike.corner]++;
                near[k][strikes[i].strike.corner]++;
            }
        }
    }
    for (size_t i = 0; near && i < count; i++) {
        int corner = strikes[i].strike.corner;
        usual[0] += (near[i][corner] + 0.1) / (double)count / (2.0 * NEAR_MS);
        usual[1] +=
            (near[i][corner_other((enum corner)corner)] + 0.1) / (double)count / (2.0 * NEAR_MS);
    }
    return near;
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

static int code_of(const struct strike *strike)
{
    return ((strike->corner * LIMB_COUNT + strike->limb) * TARGET_COUNT + strike->target) * 2 +
           fit_says(strike, FIT_LANDED);
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
        (*codes)[i] = (uint8_t)code_of(&strikes[i].strike);
    }
    return true;
}

int fit_init(struct fit *fit)
{
    fit->near_a = neighbours(fit->a, fit->a_count, fit->usual);
    fit->near_b = neighbours(fit->b, fit->b_count, fit->usual);
    fit->match = match_new(fit->b_count);
    if (!fit->near_a || !fit->near_b || !fit->match ||
        !read_list(fit->a, fit->a_count, &fit->moment_a, &fit->utc_a, &fit->code_a) ||
        !read_list(fit->b, fit->b_count, &fit->moment_b, &fit->utc_b, &fit->code_b)) {
        return ERROR_MEMORY;
    }
    for (int field = 0; field < FIT_FIELDS; field++) {
        double *share = fit->share[field];
        int categories = category_counts[field];
        double all = (double)(fit->a_count + fit->b_count) + 0.5 * categories;
        for (int value = 0; value < categories; value++) {
            share[value] = 0.5 / all;
        }
        for (size_t i = 0; i < fit->a_count; i++) {
            share[fit_says(&fit->a[i].strike, (enum fit_field)field)] += 1 / all;
        }
        for (size_t i = 0; i < fit->b_count; i++) {
            share[fit_says(&fit->b[i].strike, (enum fit_field)field)] += 1 / all;
        }
    }
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

/* Are two limbs of one kind. */
static bool same_kind(int one, int other)
{
    return limb_group((enum limb)one) == limb_group((enum limb)other);
}

/* The share of two strikes picked blindly that differ in the field: of one kind of limb, or not. */
static double differing(const struct fit *fit, enum fit_field field, bool kind)
{
    double sum = 0;
    for (int x = 0; x < category_counts[field]; x++) {
        for (int y = 0; y < category_counts[field]; y++) {
            if (x != y && (field != FIT_LIMB || same_kind(x, y) == kind)) {
                sum += fit->share[field][x] * fit->share[field][y];
            }
        }
    }
    return fmax(sum, 1e-9);
}

/* A pair says x with the share of x among strikes; a desk that errs says another with its share.
 * What corners say is weighed by how fast each corner's strikes come. */
static double field_odds(const struct fit *fit, enum fit_field field, int x, int y, double other,
                         double kind)
{
    double same = fit->rates.same[field], side = field == FIT_LIMB ? fit->rates.side : 0;
    if (field == FIT_CORNER) {
        return x == y ? same : 1 - same;
    }
    if (x == y) {
        return same / fit->share[field][x];
    }
    return field == FIT_LIMB && same_kind(x, y) ? (1 - same) * side / kind
                                                : (1 - same) * (1 - side) / other;
}

void fit_content(struct fit *fit)
{
    double log_odds[FIT_FIELDS][LIMB_COUNT][LIMB_COUNT];
    for (int field = 0; field < FIT_FIELDS; field++) {
        double other = differing(fit, (enum fit_field)field, false);
        double kind = field == FIT_LIMB ? differing(fit, FIT_LIMB, true) : 1;
        for (int x = 0; x < category_counts[field]; x++) {
            for (int y = 0; y < category_counts[field]; y++) {
                log_odds[field][x][y] =
                    log(field_odds(fit, (enum fit_field)field, x, y, other, kind));
            }
        }
    }
    for (int x = 0; x < FIT_CODES; x++) {
        for (int y = 0; y < FIT_CODES; y++) {
            fit->content[x][y] = log_odds[FIT_LANDED][x % 2][y % 2] +
                                 log_odds[FIT_TARGET][x / 2 % TARGET_COUNT][y / 2 % TARGET_COUNT] +
                                 log_odds[FIT_LIMB][x / (2 * TARGET_COUNT) % LIMB_COUNT]
                                         [y / (2 * TARGET_COUNT) % LIMB_COUNT] +
                                 log_odds[FIT_CORNER][x / (2 * TARGET_COUNT * LIMB_COUNT)]
                                         [y / (2 * TARGET_COUNT * LIMB_COUNT)];
        }
    }
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
        double speed = 2 / (one + other) / seen;
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
        side += a->limb != b->limb && same_kind(a->limb, b->limb) ? pair->likely : 0;
    }
    struct rates *rates = &fit->rates;
    struct rates found = *rates;
    expect(fit);
    expected = *rates;
    double only_a = (double)fit->a_count - pairs, only_b = (double)fit->b_count - pairs;
    double all = pairs + only_a + only_b;
    double belief = 1;
    found.only_a = (fmax(only_a, 0) + belief * expected.only_a) / (all + belief);
    found.only_b = (fmax(only_b, 0) + belief * expected.only_b) / (all + belief);
    found.both = 1 - found.only_a - found.only_b;
    found.both = fmax(found.both, 1e-3);
    found.jitter_ms =
        fmax(JITTER_LEAST, sqrt((spread + JITTER_START * JITTER_START) / (pairs + 1)));
    for (int field = 0; field < FIT_FIELDS; field++) {
        found.same[field] =
            (same[field] + PAIRS_BELIEF * expected.same[field]) / (pairs + PAIRS_BELIEF);
    }
    found.side = (side + expected.side) / (differ + 1);
    *rates = found;
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
