/* align_clock.c: how far B's moments are behind A's, round by round: first where pairs of like
 * content heap up, then which of those heaps the whole model finds likeliest. */
#include "insight/align_fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BIN_MS      50
#define PEAKS       3
#define PEAK_MS     400   /* two peaks are at least so far apart */
#define ROUND_MS    300.0 /* a round's lateness is believed to be about so near to the bout's */
#define BOUT_MS     1000.0
#define OUTSTANDING 2.5 /* times the next peak: nothing else needs to be tried */
#define PAIRS_MOVE  3.0 /* expected pairs that move a track */
#define FOUND       0.5 /* of a round's strikes: the clock has found it */
#define UTC_GAIN    5.0 /* how much likelier (logarithm) UTC must be than the clock */

struct heap {
    double *bin;
    int half; /* bins to either side of 0 */
};

static double score(const struct heap *heap, int at)
{
    static const double kernel[] = {.5, .9, 1, .9, .5};
    double sum = 0;
    for (int k = -2; k <= 2; k++) {
        if (at + k >= -heap->half && at + k <= heap->half) {
            sum += kernel[k + 2] * heap->bin[at + k + heap->half];
        }
    }
    return sum;
}

/* Heaps the pairs of a round of A, by their lateness less `centre`. */
static void heap_up(const struct fit *fit, struct heap *heap, int round, enum align_base base,
                    int64_t centre)
{
    int64_t most = (int64_t)heap->half * BIN_MS;
    size_t first = 0, end = fit->b_count;
    while (base == ALIGN_CLOCK && first < end && fit->b[first].round != round) {
        first++;
    }
    while (base == ALIGN_CLOCK && end > first && fit->b[end - 1].round != round) {
        end--;
    }
    memset(heap->bin, 0, (2 * (size_t)heap->half + 1) * sizeof *heap->bin);
    const int64_t *at_a = base == ALIGN_UTC ? fit->utc_a : fit->moment_a;
    const int64_t *at_b = base == ALIGN_UTC ? fit->utc_b : fit->moment_b;
    for (size_t i = 0; i < fit->a_count; i++) {
        const double *content = fit->content[fit->code_a[i]];
        int64_t from = at_a[i] + centre - most - BIN_MS / 2;
        for (size_t j = first; fit->a[i].round == round && j < end; j++) {
            int64_t late = at_b[j] - from;
            if (late >= 0 && late < 2 * most && content[fit->code_b[j]] > 0) {
                heap->bin[late / BIN_MS] += content[fit->code_b[j]];
            }
        }
    }
}

/* The highest peaks, by score less what being far from `centre` costs; returns how many. */
static int peaks(double out[PEAKS], const struct heap *heap, double centre, double usual)
{
    int count = 0;
    double height[PEAKS] = {0};
    for (int at = -heap->half; at <= heap->half; at++) {
        double late = (double)at * BIN_MS;
        double here = score(heap, at) - log1p(pow((late - centre) / usual, 2));
        int k = 0;
        if (here <= 0) {
            continue;
        }
        for (k = 0; k < count && fabs(out[k] - late) > PEAK_MS; k++) {
        }
        if (k < count) { /* a neighbour: the higher of the two stands */
            if (here > height[k]) {
                out[k] = late;
                height[k] = here;
            }
        } else if (count < PEAKS) {
            out[count] = late;
            height[count++] = here;
        } else {
            int least = 0;
            for (k = 1; k < PEAKS; k++) {
                least = height[k] < height[least] ? k : least;
            }
            if (here > height[least]) {
                out[least] = late;
                height[least] = here;
            }
        }
    }
    return count;
}

/* A round on one track: how likely it is as a whole, how many pairs are expected. */
struct trial {
    struct track track;
    double likely; /* logarithm */
    double expected;
};

/* Tries a track, moved to where its pairs are. */
static int try_track(struct fit *fit, int round, struct trial *trial)
{
    int code = 0;
    for (int again = 0; !code && again < 2; again++) {
        fit->track[round] = trial->track;
        code = fit_candidates(fit, round, 0);
        code = code ? code : fit_solve(fit, &trial->likely);
        double off = 0;
        for (size_t k = 0; !code && k < fit->pair_count; k++) {
            off += fit->pairs[k].likely * fit->pairs[k].distance_ms;
        }
        trial->expected = code ? 0 : fit_expected(fit);
        if (!again && trial->expected >= PAIRS_MOVE) {
            trial->track.late_ms += off / trial->expected;
        }
    }
    return code;
}

/* Is one peak so much higher than the others that nothing else needs to be tried; it comes first.
 */
static bool stands_out(const struct heap *heap, double late[PEAKS], int count)
{
    double height[PEAKS] = {0};
    int top = 0;
    for (int k = 0; k < count; k++) {
        height[k] = score(heap, (int)lround(late[k] / BIN_MS));
        top = height[k] > height[top] ? k : top;
    }
    for (int k = 0; k < count; k++) {
        if (k != top && height[k] * OUTSTANDING > height[top]) {
            return false;
        }
    }
    late[0] = late[top];
    return height[top] > OUTSTANDING * OUTSTANDING;
}

static double limit_of(const struct fit *fit)
{
    return fit->options->lateness_max_ms - fit->options->window_ms / 2.0;
}

/* The likeliest of the peaks and of where the whole bout is. */
static int choose(struct fit *fit, const struct heap *heap, int round, double bout_ms,
                  struct trial *best)
{
    double late[PEAKS + 1];
    int count = peaks(late, heap, bout_ms, ROUND_MS);
    if (count > 0 && stands_out(heap, late, count)) {
        count = 1;
    } else {
        late[count++] = bout_ms;
    }
    int code = 0;
    *best = (struct trial){.likely = -INFINITY};
    for (int k = 0; !code && k < count; k++) {
        struct trial trial = {.track = fit->track[round]};
        trial.track.late_ms = late[k];
        trial.track.at_limit = fabs(late[k]) >= limit_of(fit);
        code = try_track(fit, round, &trial);
        trial.likely -= log1p(pow((late[k] - bout_ms) / ROUND_MS, 2));
        if (!code && trial.likely > best->likely) {
            *best = trial;
        }
    }
    fit->track[round] = best->track;
    return code;
}

/* How far B's UTC is behind A's in a round that was found by the clock. */
static int utc_behind(struct fit *fit, int round, double *out)
{
    double sum = 0, off = 0, log_sum = 0;
    int code = fit_candidates(fit, round, 0);
    code = code ? code : fit_solve(fit, &log_sum);
    for (size_t k = 0; !code && k < fit->pair_count; k++) {
        const struct match_pair *pair = &fit->pairs[k];
        sum += pair->likely;
        off += pair->likely * (double)(fit->utc_b[pair->b] - fit->utc_a[pair->a]);
    }
    *out = sum > 0 ? off / sum : 0;
    return code;
}

/* A round of which the clock finds little is looked for by UTC: as it is, and as far behind as in
 * the round `known` (0: none), for a recording tagged later. */
static int choose_utc(struct fit *fit, struct heap *heap, int round, int known, struct trial *best)
{
    double centre[2] = {0, 0};
    int centres = 1 + (known > 0);
    int code = known > 0 ? utc_behind(fit, known, &centre[1]) : 0;
    const struct trial clock = *best;
    for (int c = 0; !code && c < centres; c++) {
        double late[PEAKS];
        heap_up(fit, heap, round, ALIGN_UTC, (int64_t)centre[c]);
        int count = peaks(late, heap, 0, BOUT_MS);
        for (int k = 0; !code && k < count; k++) {
            struct trial trial = {.track = clock.track};
            trial.track.base = ALIGN_UTC;
            trial.track.late_ms = centre[c] + late[k];
            trial.track.at_limit = fabs(late[k]) >= limit_of(fit);
            code = try_track(fit, round, &trial);
            if (!code && trial.likely > clock.likely + UTC_GAIN && trial.likely > best->likely) {
                *best = trial;
            }
        }
    }
    fit->track[round] = best->track;
    return code;
}

/* Where the heaps of all rounds together are highest. */
static double highest(const struct heap *whole)
{
    double late[PEAKS], best = 0, most = 0;
    int count = peaks(late, whole, 0, BOUT_MS);
    for (int k = 0; k < count; k++) {
        double here =
            score(whole, (int)lround(late[k] / BIN_MS)) - log1p(pow(late[k] / BOUT_MS, 2));
        if (here > most) {
            most = here;
            best = late[k];
        }
    }
    return best;
}

/* How many strikes A has in each round, and where their middle is. */
static void find_middles(struct fit *fit, size_t strikes[ROUND_MAX + 1])
{
    int64_t first[ROUND_MAX + 1] = {0}, last[ROUND_MAX + 1] = {0};
    for (size_t i = 0; i < fit->a_count; i++) {
        int round = fit->a[i].round;
        int64_t at = fit->moment_a[i];
        first[round] = strikes[round] && first[round] < at ? first[round] : at;
        last[round] = strikes[round] && last[round] > at ? last[round] : at;
        strikes[round]++;
        fit->track[round].middle_ms = (double)(first[round] + last[round]) / 2;
    }
}

int fit_clocks(struct fit *fit)
{
    size_t strikes[ROUND_MAX + 1] = {0};
    struct trial trials[ROUND_MAX + 1] = {{.likely = 0}};
    const int half = fit->options->lateness_max_ms / BIN_MS;
    const size_t bins = 2 * (size_t)half + 1;
    double *bin = calloc((ROUND_MAX + 1) * bins, sizeof *bin); /* of all rounds, then of each */
    int known = 0;
    int code = bin ? 0 : ERROR_MEMORY;
    find_middles(fit, strikes);
    for (int round = 1; !code && round <= ROUND_MAX; round++) {
        struct heap heap = {&bin[(size_t)round * bins], half};
        if (strikes[round]) {
            heap_up(fit, &heap, round, ALIGN_CLOCK, 0);
            for (size_t k = 0; k < bins; k++) {
                bin[k] += heap.bin[k];
            }
        }
    }
    const double bout_ms = code ? 0 : highest(&(struct heap){bin, half});
    for (int round = 1; !code && round <= ROUND_MAX; round++) {
        struct trial *trial = &trials[round];
        if (strikes[round]) {
            code = choose(fit, &(struct heap){&bin[(size_t)round * bins], half}, round, bout_ms,
                          trial);
            known = trial->expected >= FOUND * (double)strikes[round] &&
                            trial->expected > trials[known].expected
                        ? round
                        : known;
        }
    }
    for (int round = 1; !code && round <= ROUND_MAX; round++) {
        if (strikes[round] && trials[round].expected < FOUND * (double)strikes[round]) {
            code = choose_utc(fit, &(struct heap){bin, half}, round, known, &trials[round]);
        }
    }
    free(bin);
    return code;
}
