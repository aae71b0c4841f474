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

static void check_shares(const struct share_case *cases, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct share_case *c = &cases[i];
        const struct estimate e = interval_wilson((double)c->k, (double)c->n, 0.95);
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
    check_shares(wilson_cases, ROWS(wilson_cases));
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

/* Closed form: z^2/(n+z^2). z is the 97.5 % point of the standard
 * normal, 1.959963984540054, as every table of it prints. */
static void interval__none_landed__closed_form(void **state)
{
    (void)state;
    const double z = 1.959963984540054;

    for (int64_t n = 1; n <= 1000; n++) {
        const double high = z * z / ((double)n + z * z);
        assert_near(n, interval_wilson(0, n, 0.95).high, high, 1e-12);
        assert_near(n, interval_wilson(0, n, 0.95).low, 0.0, 0.0);
        assert_near(n, interval_wilson(n, n, 0.95).low, 1.0 - high, 1e-12);
        assert_near(n, interval_wilson(n, n, 0.95).high, 1.0, 0.0);
    }
}

/* Every k of n: inside [0, 1], around the share, mirrored for n - k; the half of both wider. */
static void interval__every_share__holds_its_shape(void **state)
{
    (void)state;
    for (int64_t n = 1; n <= 60; n++) {
        for (int64_t k = 0; k <= n; k++) {
            const struct estimate plain = interval_wilson(k, n, 0.95);
            const struct estimate mirror = interval_wilson(n - k, n, 0.95);
            assert_true(plain.low >= 0.0 && plain.low <= plain.value);
            assert_true(plain.high <= 1.0 && plain.high >= plain.value);
            assert_near(k, plain.low, 1.0 - mirror.high, 1e-12);
            if (n > 1) {
                const struct estimate half = interval_wilson((double)k / 2, (double)n / 2, 0.95);
                assert_near(k, half.value, plain.value, 1e-12);
                assert_true(half.low <= plain.low && half.high >= plain.high);
            }
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
        assert_undefined(interval_wilson((double)k, (double)n, 0.95));
        assert_undefined(interval_newcombe(k, n, 1, 2, 0.95));
    }
    for (size_t i = 0; i < ROWS(levels); i++) {
        assert_undefined(interval_wilson(1, 2, levels[i]));
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
        cmocka_unit_test(interval__newcombe__known_values),
        cmocka_unit_test(interval__none_landed__closed_form),
        cmocka_unit_test(interval__every_share__holds_its_shape),
        cmocka_unit_test(interval__impossible_counts__undefined),
        cmocka_unit_test(interval__excludes__only_what_is_outside),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
