/* align_content.c: what two desks say of one strike, and of two: each sees the limb and the target
 * that there were, or by mistake another, and whether it landed likewise. */
#include <math.h>
#include <string.h>

#include "insight/align_fit.h"

#define PLACES       (LIMB_COUNT * TARGET_COUNT) /* a limb and a target; these hang together */
#define SHARES_LEAST 1e-6

/* What a desk says, by what there was. */
struct errors {
    double limb[LIMB_COUNT][LIMB_COUNT], target[TARGET_COUNT][TARGET_COUNT];
};

static bool same_kind(int one, int other)
{
    return limb_group((enum limb)one) == limb_group((enum limb)other);
}

/* The share of one desk's mistakes, where two desks say the same with `same` and a mistake falls on
 * each of `others`: same = (1 - e)^2 + e^2 / others. */
static double mistakes(double same, int others)
{
    double hit = 1.0 / fmax(others, 1);
    double root = 1 - (1 + hit) * (1 - same);
    return (1 - sqrt(fmax(root, 0))) / (1 + hit);
}

static void find_errors(struct errors *out, const struct fit *fit)
{
    int limbs = 0, targets = 0;
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        limbs += fit->used[FIT_LIMB][limb];
    }
    for (int target = 0; target < TARGET_COUNT; target++) {
        targets += fit->used[FIT_TARGET][target];
    }
    double limb_error = mistakes(fit->rates.same[FIT_LIMB], limbs - 1);
    double target_error = mistakes(fit->rates.same[FIT_TARGET], targets - 1);
    memset(out, 0, sizeof *out);
    for (int z = 0; z < LIMB_COUNT; z++) {
        int kind = 0;
        for (int x = 0; x < LIMB_COUNT; x++) {
            kind += x != z && fit->used[FIT_LIMB][x] && same_kind(x, z);
        }
        int rest = limbs - fit->used[FIT_LIMB][z] - kind;
        double side = kind == 0 ? 0 : rest <= 0 ? 1 : fit->rates.side;
        for (int x = 0; x < LIMB_COUNT; x++) {
            out->limb[z][x] = x == z                    ? 1 - limb_error
                              : !fit->used[FIT_LIMB][x] ? 0
                              : same_kind(x, z)         ? limb_error * side / kind
                                                        : limb_error * (1 - side) / rest;
        }
    }
    for (int z = 0; z < TARGET_COUNT; z++) {
        int rest = targets - fit->used[FIT_TARGET][z];
        for (int x = 0; x < TARGET_COUNT; x++) {
            out->target[z][x] = x == z                      ? 1 - target_error
                                : !fit->used[FIT_TARGET][x] ? 0
                                                            : target_error / rest;
        }
    }
}

/* What there was, from what was said and how it errs: one turn (Richardson WH 1972, Journal of the
 * Optical Society of America 62:55-59; Lucy LB 1974, Astronomical Journal 79:745-754). */
static void sharpen(double was[PLACES], const double said[PLACES], double by[PLACES][PLACES])
{
    double would[PLACES] = {0}, turned[PLACES] = {0}, sum = 0;
    for (int z = 0; z < PLACES; z++) {
        for (int x = 0; x < PLACES; x++) {
            would[x] += was[z] * by[z][x];
        }
    }
    for (int z = 0; z < PLACES; z++) {
        for (int x = 0; x < PLACES; x++) {
            turned[z] += would[x] > 0 ? by[z][x] * said[x] / would[x] : 0;
        }
        turned[z] *= was[z];
        sum += turned[z];
    }
    for (int z = 0; z < PLACES && sum > 0; z++) { /* where nothing was said nothing is known anew */
        was[z] = turned[z] / sum;
    }
}

static void weigh_places(double log_odds[PLACES][PLACES], struct fit *fit)
{
    struct errors errors;
    double by[PLACES][PLACES], together[PLACES][PLACES] = {{0}}, alone[PLACES] = {0};
    find_errors(&errors, fit);
    for (int z = 0; z < PLACES; z++) {
        for (int x = 0; x < PLACES; x++) {
            by[z][x] = errors.limb[z / TARGET_COUNT][x / TARGET_COUNT] *
                       errors.target[z % TARGET_COUNT][x % TARGET_COUNT];
        }
    }
    sharpen(fit->was, fit->said, by);
    for (int z = 0; z < PLACES; z++) {
        for (int x = 0; x < PLACES && fit->was[z] > 0; x++) {
            double one = fit->was[z] * by[z][x];
            alone[x] += one;
            for (int y = 0; y < PLACES && one > 0; y++) {
                together[x][y] += one * by[z][y];
            }
        }
    }
    for (int x = 0; x < PLACES; x++) {
        for (int y = 0; y < PLACES; y++) {
            log_odds[x][y] = log(fmax(together[x][y], SHARES_LEAST * SHARES_LEAST) /
                                 (fmax(alone[x], SHARES_LEAST) * fmax(alone[y], SHARES_LEAST)));
        }
    }
}

static void weigh_landed(double log_odds[2][2], const struct fit *fit)
{
    double error = mistakes(fit->rates.same[FIT_LANDED], 1);
    double landed = fit->landed;
    double true_share = error < 0.49 ? (landed - error) / (1 - 2 * error) : landed;
    true_share = fmin(fmax(true_share, 0.01), 0.99);
    double says[2] = {1 - true_share - error + 2 * true_share * error,
                      true_share + error - 2 * true_share * error};
    double both[2][2];
    both[1][1] = true_share * (1 - error) * (1 - error) + (1 - true_share) * error * error;
    both[0][0] = (1 - true_share) * (1 - error) * (1 - error) + true_share * error * error;
    both[0][1] = both[1][0] = error * (1 - error);
    for (int x = 0; x < 2; x++) {
        for (int y = 0; y < 2; y++) {
            log_odds[x][y] = log(fmax(both[x][y], SHARES_LEAST) / (says[x] * says[y]));
        }
    }
}

void fit_content(struct fit *fit)
{
    double places[PLACES][PLACES], landed[2][2];
    weigh_places(places, fit);
    weigh_landed(landed, fit);
    for (int x = 0; x < FIT_CODES; x++) {
        for (int y = 0; y < FIT_CODES; y++) {
            double same = fit->rates.same[FIT_CORNER];
            /* What corners say is weighed by how fast each corner's strikes come. */
            double corner = x / (2 * PLACES) == y / (2 * PLACES) ? same : 1 - same;
            fit->content[x][y] =
                log(corner) + places[x / 2 % PLACES][y / 2 % PLACES] + landed[x % 2][y % 2];
        }
    }
}

int fit_code(const struct strike *strike)
{
    return ((strike->corner * LIMB_COUNT + strike->limb) * TARGET_COUNT + strike->target) * 2 +
           fit_says(strike, FIT_LANDED);
}

void fit_shares(struct fit *fit)
{
    const struct align_strike *const lists[] = {fit->a, fit->b};
    const size_t counts[] = {fit->a_count, fit->b_count};
    double all = (double)(fit->a_count + fit->b_count) + 1;
    double places = 0;
    fit->landed = 0.5 / all;
    for (int k = 0; k < 2; k++) {
        for (size_t i = 0; i < counts[k]; i++) {
            const struct strike *strike = &lists[k][i].strike;
            fit->used[FIT_LIMB][strike->limb] = fit->used[FIT_TARGET][strike->target] = true;
            fit->said[strike->limb * TARGET_COUNT + strike->target] += 1;
            fit->landed += fit_says(strike, FIT_LANDED) / all;
        }
    }
    for (int x = 0; x < PLACES; x++) {
        bool used =
            fit->used[FIT_LIMB][x / TARGET_COUNT] && fit->used[FIT_TARGET][x % TARGET_COUNT];
        fit->said[x] += used ? 0.5 : 0;
        places += fit->said[x];
    }
    for (int x = 0; x < PLACES; x++) {
        fit->said[x] /= fmax(places, 1);
        fit->was[x] = fit->said[x];
    }
}
