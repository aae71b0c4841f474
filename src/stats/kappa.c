/* kappa.c: agreement of two observers. */
#include "ringtally/stats/kappa.h"

#include <math.h>

#include "ringtally/stats/interval.h"
#include "stats/special.h"

/* A difference this small beside what was subtracted is rounding: 0 was meant. */
#define ROUNDING 1e-13
/* The chance agreement from which on nothing is left to correct. */
#define EXPECTED_MAX (1.0 - 1e-12)

struct margins {
    int64_t n;
    double row[KAPPA_CATEGORIES_MAX], column[KAPPA_CATEGORIES_MAX]; /* as shares */
    double diagonal;                                                /* their share of agreement */
};

static bool margins_init(struct margins *out, const int64_t *table, size_t q)
{
    *out = (struct margins){.n = 0};
    if (q < 1 || q > KAPPA_CATEGORIES_MAX)
        return false;
    for (size_t i = 0; i < q * q; i++) {
        if (table[i] < 0 || table[i] > INTERVAL_COUNT_MAX - out->n)
            return false;
        out->n += table[i];
    }
    if (out->n == 0)
        return false;
    int64_t diagonal = 0;
    for (size_t i = 0; i < q; i++) {
        int64_t row = 0, column = 0;
        for (size_t j = 0; j < q; j++) {
            row += table[i * q + j];
            column += table[j * q + i];
        }
        out->row[i] = (double)row / (double)out->n;
        out->column[i] = (double)column / (double)out->n;
        diagonal += table[i * q + i];
    }
    out->diagonal = (double)diagonal / (double)out->n;
    return true;
}

struct agreement kappa_correct(double observed, double expected)
{
    struct agreement a = {.counted = true, .observed = observed, .expected = expected};

    if (expected < EXPECTED_MAX) {
        a.defined = true;
        a.value = (observed - expected) / (1.0 - expected);
    }
    return a;
}

/* Cell weights; NULL stands for 1 on the diagonal and 0 elsewhere. */
static double weight(const double *weights, size_t q, size_t i, size_t j)
{
    if (weights != NULL)
        return weights[i * q + j];
    return i == j ? 1.0 : 0.0;
}

static bool weights_valid(const double *weights, size_t q)
{
    for (size_t i = 0; i < q; i++)
        for (size_t j = 0; j < q; j++) {
            const double w = weights[i * q + j];
            if (!isfinite(w) || w > 1.0 || (i == j && w != 1.0))
                return false;
        }
    return true;
}

static struct kappa measure(const int64_t *table, size_t q, const double *weights, double level)
{
    struct kappa k = {.n = 0};
    struct margins m;

    if (!margins_init(&m, table, q) || (weights != NULL && !weights_valid(weights, q)))
        return k;
    const double n = (double)m.n;
    double observed = 0.0, expected = 0.0;
    double row_mean[KAPPA_CATEGORIES_MAX] = {0}, column_mean[KAPPA_CATEGORIES_MAX] = {0};
    for (size_t i = 0; i < q; i++) {
        for (size_t j = 0; j < q; j++) {
            const double w = weight(weights, q, i, j);
            observed += w * (double)table[i * q + j];
            expected += w * m.row[i] * m.column[j];
            row_mean[i] += w * m.column[j];
            column_mean[j] += w * m.row[i];
        }
    }
    observed /= n;
    k.n = m.n;
    k.agreement = kappa_correct(observed, expected);
    if (!k.agreement.defined || !(level > 0.0 && level <= INTERVAL_LEVEL_MAX))
        return k;

    /* Fleiss, Cohen & Everitt 1969: the variance at the value found, and under chance. */
    const double rest = 1.0 - expected;
    double spread = 0.0, spread0 = 0.0;
    for (size_t i = 0; i < q; i++) {
        for (size_t j = 0; j < q; j++) {
            const double w = weight(weights, q, i, j);
            const double means = row_mean[i] + column_mean[j];
            spread += (double)table[i * q + j] / n * pow(w * rest - means * (1.0 - observed), 2);
            spread0 += m.row[i] * m.column[j] * pow(w - means, 2);
        }
    }
    const double centre = observed * expected - 2.0 * expected + observed;
    const double left = spread - centre * centre, left0 = spread0 - expected * expected;
    const double z = special_normal_z(level);
    if (left > ROUNDING * spread) {
        k.has_interval = true;
        k.se = sqrt(left / n) / (rest * rest);
        k.low = k.agreement.value - z * k.se;
        k.high = k.agreement.value + z * k.se;
    }
    if (left0 > ROUNDING * spread0) {
        k.has_test = true;
        k.se0 = sqrt(left0 / n) / rest;
        k.z = k.agreement.value / k.se0;
    }
    return k;
}

struct kappa kappa_cohen(const int64_t *table, size_t categories, double level)
{
    return measure(table, categories, NULL, level);
}

struct kappa kappa_weighted(const int64_t *table, size_t categories, const double *weights,
                            double level)
{
    if (categories < 1 || categories > KAPPA_CATEGORIES_MAX || weights == NULL)
        return (struct kappa){.n = 0};
    return measure(table, categories, weights, level);
}

struct agreement kappa_alpha(const int64_t *table, size_t categories)
{
    struct margins m;

    if (!margins_init(&m, table, categories))
        return (struct agreement){.counted = false};
    const double values = 2.0 * (double)m.n; /* two to a unit, pooled over the taggers */
    double differ = 0.0;
    for (size_t i = 0; i < categories; i++) {
        const double share = (m.row[i] + m.column[i]) / 2.0;
        differ += share * (1.0 - share);
    }
    return kappa_correct(m.diagonal, 1.0 - differ * values / (values - 1.0));
}

struct agreement kappa_ac1(const int64_t *table, size_t categories)
{
    struct margins m;

    if (categories < 2 || !margins_init(&m, table, categories))
        return (struct agreement){.counted = false};
    double differ = 0.0;
    for (size_t i = 0; i < categories; i++) {
        const double share = (m.row[i] + m.column[i]) / 2.0;
        differ += share * (1.0 - share);
    }
    return kappa_correct(m.diagonal, differ / ((double)categories - 1.0));
}

bool kappa_percentage_error(double *out, int64_t one, int64_t other)
{
    *out = 0.0;
    if (one < 0 || other < 0 || (one == 0 && other == 0))
        return false;
    *out = 200.0 * fabs((double)one - (double)other) / ((double)one + (double)other);
    return true;
}

const char *kappa_word(double value)
{
    if (isnan(value))
        return "-";
    if (value < 0.0)
        return "poor";
    if (value <= 0.20)
        return "slight";
    if (value <= 0.40)
        return "fair";
    if (value <= 0.60)
        return "moderate";
    if (value <= 0.80)
        return "substantial";
    return "almost perfect";
}
