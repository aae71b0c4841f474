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
    double n;
    double row[KAPPA_CATEGORIES_MAX], column[KAPPA_CATEGORIES_MAX]; /* as shares */
    double diagonal;                                                /* their share of agreement */
};

static bool margins_init(struct margins *out, const double *table, size_t q)
{
    *out = (struct margins){.n = 0};
    if (q < 1 || q > KAPPA_CATEGORIES_MAX)
        return false;
    for (size_t i = 0; i < q * q; i++) {
        if (!(table[i] >= 0 && table[i] <= (double)INTERVAL_COUNT_MAX - out->n))
            return false;
        out->n += table[i];
    }
    if (out->n <= 0)
        return false;
    double diagonal = 0;
    for (size_t i = 0; i < q; i++) {
        double row = 0, column = 0;
        for (size_t j = 0; j < q; j++) {
            row += table[i * q + j];
            column += table[j * q + i];
        }
        out->row[i] = row / out->n;
        out->column[i] = column / out->n;
        diagonal += table[i * q + i];
    }
    out->diagonal = diagonal / out->n;
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

struct kappa kappa_cohen(const double *table, size_t q, double level)
{
    struct kappa k = {.n = 0};
    struct margins m;

    if (!margins_init(&m, table, q))
        return k;
    double expected = 0.0;
    for (size_t i = 0; i < q; i++)
        expected += m.row[i] * m.column[i];
    k.n = m.n;
    k.agreement = kappa_correct(m.diagonal, expected);
    if (!k.agreement.defined || !(level > 0.0 && level <= INTERVAL_LEVEL_MAX))
        return k;

    /* Fleiss, Cohen & Everitt 1969: the variance at the value found. */
    const double observed = m.diagonal, rest = 1.0 - expected;
    double spread = 0.0;
    for (size_t i = 0; i < q; i++) {
        for (size_t j = 0; j < q; j++) {
            const double means = m.column[i] + m.row[j];
            spread +=
                table[i * q + j] / m.n * pow((i == j ? rest : 0.0) - means * (1.0 - observed), 2);
        }
    }
    const double centre = observed * expected - 2.0 * expected + observed;
    const double left = spread - centre * centre;
    const double z = special_normal_z(level);
    if (left > ROUNDING * spread) {
        k.has_interval = true;
        k.se = sqrt(left / m.n) / (rest * rest);
        k.low = fmax(k.agreement.value - z * k.se, -1.0);
        k.high = fmin(k.agreement.value + z * k.se, 1.0);
    }
    return k;
}

struct agreement kappa_alpha(const double *table, size_t categories)
{
    struct margins m;

    if (!margins_init(&m, table, categories))
        return (struct agreement){.counted = false};
    const double values = 2.0 * m.n; /* two to a unit, pooled over the taggers */
    double differ = 0.0;
    for (size_t i = 0; i < categories; i++) {
        const double share = (m.row[i] + m.column[i]) / 2.0;
        differ += share * (1.0 - share);
    }
    return kappa_correct(m.diagonal, 1.0 - differ * values / (values - 1.0));
}

struct agreement kappa_ac1(const double *table, size_t categories)
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
