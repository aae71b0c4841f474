/* Intervals against known ones, and against the binomial tail itself. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>
#include <float.h>

#include "near.h"
#include "ringtally/stats/interval.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: the tests of the R package ratesci and other public test
 * suites (one proportion); public test suites whose names were not kept (differences), among them
 * one that quotes a table of WUSS 2016, paper 127. The long digits are own arithmetic, done with
 * two independent statistics packages; the short ones are what the source prints. */
struct share_case {
    int64_t k, n;
    double low, high;
    double printed_low, printed_high;
    int digits;
};

struct difference_case {
    int64_t k1, n1, k2, n2;
    double value, low, high;
    double printed_low, printed_high;
    int digits;
};

static const struct share_case wilson_cases[] = {
    /* Newcombe RG 1998, Two-sided confidence intervals for the single proportion: comparison
     * of seven methods, Statistics in Medicine 17:857-872, Table I (method 3, score) [secondary] */
    {81, 263, 0.2552885198782742, 0.36620957698280004, 0.2553, 0.3662, 4},
    {15, 148, 0.06238639953073629, 0.16048724172330803, 0.0624, 0.1605, 4},
    {0, 20, 0.0, 0.16112515805281935, 0.0, 0.1611, 4},
    {1, 29, 0.006113214292762667, 0.17175521879320282, 0.0061, 0.1718, 4},
    /* computed reference (closed forms: Wilson 0/n upper = z^2/(n+z^2); exact 0/n upper =
     * 1-(0.025)^(1/n)) [own arithmetic] */
    {10, 10, 0.7224672001371109, 1.0, NONE, NONE, 0},
    {9, 10, 0.5958499732047615, 0.9821237869049271, NONE, NONE, 0},
    {3, 10, 0.10779126740630102, 0.6032218525388546, NONE, NONE, 0},
    {0, 1, 0.0, 0.7934506856227626, NONE, NONE, 0},
    {56, 70, 0.6918335550374693, 0.8769526075163704, NONE, NONE, 0},
    {48, 80, 0.490454650051604, 0.7003817240412907, NONE, NONE, 0},
};

static const struct share_case wilson_cc_cases[] = {
    /* Newcombe RG 1998, Two-sided confidence intervals for the single proportion: comparison
     * of seven methods, Statistics in Medicine 17:857-872, Table I (method 4, score with
     * continuity correction) [secondary] */
    {81, 263, 0.25350868229518514, 0.3681762010430035, 0.2535, 0.3682, 4},
    {15, 148, 0.059778208428498125, 0.16444977936483698, 0.0598, 0.1644, 4},
    {0, 20, 0.0, 0.20045334501348705, 0.0, 0.2005, 4},
    {1, 29, 0.001802640213279666, 0.19628175100975953, 0.0018, 0.1963, 4},
    /* computed reference (closed forms: Wilson 0/n upper = z^2/(n+z^2); exact 0/n upper =
     * 1-(0.025)^(1/n)) [own arithmetic] */
    {1, 10, 0.005242301569677699, 0.4588460161566561, NONE, NONE, 0},
    {9, 10, 0.5411539838433439, 0.9947576984303222, NONE, NONE, 0},
    {1, 1, 0.05462075552885204, 1.0, NONE, NONE, 0},
    /* R-help mailing list, 1 Feb 2007, 'prop.test() references' (M. Schwartz / J. Lobry)
     * [excerpt] */
    {340, 400, 0.8103308616256776, 0.8827748786673736, 0.8103309, 0.8827749, 7},
    /* R package statpsych, help page ci.prop1, example output [excerpt] */
    {12, 100, 0.06625152923980704, 0.20397718407558438, 0.06625153, 0.2039772, 7},
};

static const struct share_case exact_cases[] = {
    /* Newcombe RG 1998, Two-sided confidence intervals for the single proportion: comparison
     * of seven methods, Statistics in Medicine 17:857-872, Table I (method 5, Clopper-Pearson)
     * [secondary] */
    {81, 263, 0.25273674558504283, 0.3676219226013475, 0.2527, 0.3676, 4},
    {15, 148, 0.05784401008344803, 0.16165049034947895, 0.0578, 0.1617, 4},
    {0, 20, 0.0, 0.16843347098308548, 0.0, 0.1684, 4},
    {1, 29, 0.0008726468835971072, 0.17764429548841465, 0.0009, 0.1776, 4},
    /* computed reference (closed forms: Wilson 0/n upper = z^2/(n+z^2); exact 0/n upper =
     * 1-(0.025)^(1/n)) [own arithmetic] */
    {0, 10, 0.0, 0.30849710781876294, NONE, NONE, 0},
    {9, 10, 0.5549838829718047, 0.9974714214555375, NONE, NONE, 0},
    {3, 10, 0.06673951117773447, 0.652452850060008, NONE, NONE, 0},
    {1, 1, 0.025000000000000022, 1.0, NONE, NONE, 0},
    {48, 80, 0.48437694049535573, 0.7079906437447306, NONE, NONE, 0},
};

static const struct difference_case newcombe_cases[] = {
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (a), method 10 [secondary] */
    {56, 70, 48, 80, 0.20000000000000007, 0.052431472402364815, 0.3338726540369059, 0.0524, 0.3339,
     4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (b), method 10 [secondary] */
    {9, 10, 3, 10, 0.6000000000000001, 0.17052272393450302, 0.8090179735354881, 0.1705, 0.809, 4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (c), method 10 [secondary] */
    {6, 7, 2, 7, 0.5714285714285714, 0.0582279274823122, 0.8062496375242278, 0.0582, 0.8062, 4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (d), method 10 [secondary] */
    {5, 56, 0, 29, 0.08928571428571429, -0.03813714790353688, 0.1925600138551116, -0.0381, 0.1926,
     4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (e), method 10 [secondary] */
    {0, 10, 0, 20, 0.0, -0.16112515805281935, 0.27753279986288926, -0.1611, 0.2775, 4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (f), method 10 [secondary] */
    {0, 10, 0, 10, 0.0, -0.27753279986288926, 0.27753279986288926, -0.2775, 0.2775, 4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (g), method 10 [secondary] */
    {10, 10, 0, 20, 1.0, 0.6790860371419147, 1.0, 0.6791, 1.0, 4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (h), method 10 [secondary] */
    {10, 10, 0, 10, 1.0, 0.6075093504305242, 1.0, 0.6075, 1.0, 4},
    /* WUSS 2016 paper 127 p. 9 (HIV trial), as quoted in a public test suite [secondary] */
    {84, 101, 89, 105, -0.01593587930221596, -0.11774964978519369, 0.08507135181574281, -0.1177,
     0.0851, 4},
};

static const struct difference_case newcombe_cc_cases[] = {
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (a), method 11 [secondary] */
    {56, 70, 48, 80, 0.20000000000000007, 0.0427678720028897, 0.3421862784381804, 0.0428, 0.3422,
     4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (b), method 11 [secondary] */
    {9, 10, 3, 10, 0.6000000000000001, 0.1012872258857005, 0.8386689697680606, 0.1013, 0.8387, 4},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (c), method 11 [own arithmetic] */
    {6, 7, 2, 7, 0.5714285714285714, -0.029024115004850914, 0.8422666269086705, NONE, NONE, 0},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (d), method 11 [own arithmetic] */
    {5, 56, 0, 29, 0.08928571428571429, -0.0667085392570008, 0.2036982856609522, NONE, NONE, 0},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (e), method 11 [own arithmetic] */
    {0, 10, 0, 20, 0.0, -0.20045334501348705, 0.3445372183069226, NONE, NONE, 0},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (f), method 11 [own arithmetic] */
    {0, 10, 0, 10, 0.0, -0.3445372183069226, 0.3445372183069226, NONE, NONE, 0},
    /* Newcombe RG 1998, Interval estimation for the difference between independent
     * proportions: comparison of eleven methods, Statistics in Medicine 17:873-890, Table II,
     * example (g), method 11 [secondary] */
    {10, 10, 0, 20, 1.0, 0.6013931281001692, 1.0, 0.6014, 1.0, 4},
};

static void check_shares(const struct share_case *cases, size_t count,
                         struct estimate (*interval)(int64_t, int64_t, double))
{
    for (size_t i = 0; i < count; i++) {
        const struct share_case *c = &cases[i];
        const struct estimate e = interval(c->k, c->n, 0.95);
        assert_true(e.defined);
        assert_near(i, e.value, (double)c->k / (double)c->n, 1e-15);
        assert_near(i, e.low, c->low, 1e-9);
        assert_near(i, e.high, c->high, 1e-9);
        assert_printed(i, e.low, c->printed_low, c->digits);
        assert_printed(i, e.high, c->printed_high, c->digits);
    }
}

static void interval__wilson__known_values(void **state)
{
    (void)state;
    check_shares(wilson_cases, ROWS(wilson_cases), interval_wilson);
}

static void interval__wilson_cc__known_values(void **state)
{
    (void)state;
    check_shares(wilson_cc_cases, ROWS(wilson_cc_cases), interval_wilson_cc);
}

static void interval__exact__known_values(void **state)
{
    (void)state;
    check_shares(exact_cases, ROWS(exact_cases), interval_exact);
}

static void check_differences(const struct difference_case *cases, size_t count,
                              struct estimate (*interval)(int64_t, int64_t, int64_t, int64_t,
                                                          double))
{
    for (size_t i = 0; i < count; i++) {
        const struct difference_case *c = &cases[i];
        const struct estimate e = interval(c->k1, c->n1, c->k2, c->n2, 0.95);
        assert_true(e.defined);
        assert_near(i, e.value, c->value, 1e-12);
        assert_near(i, e.low, c->low, 1e-9);
        assert_near(i, e.high, c->high, 1e-9);
        assert_printed(i, e.low, c->printed_low, c->digits);
        assert_printed(i, e.high, c->printed_high, c->digits);
    }
}

static void interval__newcombe__known_values(void **state)
{
    (void)state;
    check_differences(newcombe_cases, ROWS(newcombe_cases), interval_newcombe);
}

static void interval__newcombe_cc__known_values(void **state)
{
    (void)state;
    check_differences(newcombe_cc_cases, ROWS(newcombe_cc_cases), interval_newcombe_cc);
}

/* P(X >= k) for a binomial, added up term by term from k upwards in long double. */
static double binomial_upper(int64_t k, int64_t n, double p)
{
    const long double log_odds = logl((long double)p) - log1pl(-(long double)p);
    long double term = lgammal((long double)n + 1) - lgammal((long double)k + 1) -
                       lgammal((long double)(n - k) + 1) + (long double)k * log_odds +
                       (long double)n * log1pl(-(long double)p);
    long double sum = 0;

    term = expl(term);
    for (int64_t x = k; x <= n && term > sum * 1e-18L; x++) {
        sum += term;
        term *= (long double)(n - x) / (long double)(x + 1) * expl(log_odds);
    }
    return (double)sum;
}

/* What defines the Clopper-Pearson limits: each leaves half of 1 - level in its tail. */
static void interval__exact__leaves_its_tails(void **state)
{
    (void)state;
    static const int64_t sizes[] = {1, 2, 7, 30, 263, 1500, 30000, 1000000};
    static const double levels[] = {0.5, 0.9, 0.95, 0.99, 0.9999};

    for (size_t i = 0; i < ROWS(sizes); i++) {
        const int64_t n = sizes[i];
        const int64_t hits[] = {0, 1, 2, n / 10, n / 3, n / 2, n - 1, n};
        for (size_t j = 0; j < ROWS(hits); j++) {
            const int64_t k = hits[j] > n ? n : hits[j];
            for (size_t l = 0; l < ROWS(levels); l++) {
                const double tail = (1.0 - levels[l]) / 2.0;
                const struct estimate e = interval_exact(k, n, levels[l]);
                assert_true(e.defined && e.low <= e.value && e.value <= e.high);
                if (k > 0)
                    assert_near(i, binomial_upper(k, n, e.low) / tail, 1.0, 1e-6);
                else
                    assert_near(i, e.low, 0.0, 0.0);
                /* Close to 1 a double cannot hold the limit any better. */
                const double grain = 1e-6 + DBL_EPSILON / (1.0 - e.high);
                if (k < n)
                    assert_near(i, binomial_upper(n - k, n, 1.0 - e.high) / tail, 1.0, grain);
                else
                    assert_near(i, e.high, 1.0, 0.0);
            }
        }
    }
}

/* Closed forms: Wilson z^2/(n+z^2), exact 1 - .025^(1/n). z is the 97.5 % point of the standard
 * normal, 1.959963984540054, as every table of it prints. */
static void interval__none_landed__closed_form(void **state)
{
    (void)state;
    const double z = 1.959963984540054;

    for (int64_t n = 1; n <= 1000; n++) {
        const double high = z * z / ((double)n + z * z);
        const double exact = 1.0 - pow(0.025, 1.0 / (double)n);
        assert_near(n, interval_wilson(0, n, 0.95).high, high, 1e-12);
        assert_near(n, interval_wilson(0, n, 0.95).low, 0.0, 0.0);
        assert_near(n, interval_wilson(n, n, 0.95).low, 1.0 - high, 1e-12);
        assert_near(n, interval_wilson(n, n, 0.95).high, 1.0, 0.0);
        assert_near(n, interval_exact(0, n, 0.95).high, exact, 1e-12);
    }
}

/* Every k of n: inside [0, 1], around the share, mirrored for n - k, wider with correction. */
static void interval__every_share__holds_its_shape(void **state)
{
    (void)state;
    for (int64_t n = 1; n <= 60; n++) {
        for (int64_t k = 0; k <= n; k++) {
            const struct estimate plain = interval_wilson(k, n, 0.95);
            const struct estimate wide = interval_wilson_cc(k, n, 0.95);
            const struct estimate mirror = interval_wilson_cc(n - k, n, 0.95);
            assert_true(plain.low >= 0.0 && plain.low <= plain.value);
            assert_true(plain.high <= 1.0 && plain.high >= plain.value);
            assert_true(wide.low <= plain.low && wide.high >= plain.high);
            assert_true(wide.low >= 0.0 && wide.high <= 1.0);
            assert_near(k, wide.low, 1.0 - mirror.high, 1e-12);
            assert_true(interval_wilson(k, n, 0.99).high >= plain.high);
        }
    }
}

static void assert_undefined(struct estimate e)
{
    assert_false(e.defined);
    assert_true(e.value == 0.0 && e.low == 0.0 && e.high == 0.0);
}

static void interval__impossible_counts__undefined(void **state)
{
    (void)state;
    static const int64_t bad[][2] = {{0, 0},
                                     {1, 0},
                                     {11, 10},
                                     {-1, 10},
                                     {0, -5},
                                     {INT64_MIN, INT64_MAX},
                                     {0, (int64_t)INTERVAL_COUNT_MAX + 1}};
    static const double levels[] = {0.0, 1.0, -0.5, 95.0, NAN, INFINITY};

    for (size_t i = 0; i < ROWS(bad); i++) {
        const int64_t k = bad[i][0], n = bad[i][1];
        assert_undefined(interval_wilson(k, n, 0.95));
        assert_undefined(interval_wilson_cc(k, n, 0.95));
        assert_undefined(interval_exact(k, n, 0.95));
        assert_undefined(interval_newcombe(k, n, 1, 2, 0.95));
        assert_undefined(interval_newcombe_cc(1, 2, k, n, 0.95));
    }
    for (size_t i = 0; i < ROWS(levels); i++) {
        assert_undefined(interval_wilson(1, 2, levels[i]));
        assert_undefined(interval_wilson_cc(1, 2, levels[i]));
        assert_undefined(interval_exact(1, 2, levels[i]));
        assert_undefined(interval_newcombe(1, 2, 1, 2, levels[i]));
    }
}

static void interval__excludes__only_what_is_outside(void **state)
{
    (void)state;
    const struct estimate no_change = interval_newcombe(5, 56, 0, 29, 0.95);
    const struct estimate change = interval_newcombe(56, 70, 48, 80, 0.95);
    const struct estimate nothing = interval_newcombe(0, 0, 48, 80, 0.95);

    assert_false(interval_excludes(no_change, 0.0));
    assert_true(interval_excludes(change, 0.0));
    assert_false(interval_excludes(change, change.low));
    assert_true(interval_excludes(change, 0.99));
    assert_false(interval_excludes(nothing, 0.5));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(interval__wilson__known_values),
        cmocka_unit_test(interval__wilson_cc__known_values),
        cmocka_unit_test(interval__exact__known_values),
        cmocka_unit_test(interval__newcombe__known_values),
        cmocka_unit_test(interval__newcombe_cc__known_values),
        cmocka_unit_test(interval__exact__leaves_its_tails),
        cmocka_unit_test(interval__none_landed__closed_form),
        cmocka_unit_test(interval__every_share__holds_its_shape),
        cmocka_unit_test(interval__impossible_counts__undefined),
        cmocka_unit_test(interval__excludes__only_what_is_outside),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
