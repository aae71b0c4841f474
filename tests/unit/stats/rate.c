/* Rates against known intervals, and against the Poisson tail itself. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/rate.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: the help page of R epitools; the test file of episheet;
 * statsmodels test_rates_poisson.py; a calculator's page whose name was not kept. The long digits
 * are own arithmetic, done with two independent statistics packages; the short ones are what the
 * source prints. */
struct rate_case {
    int64_t count;
    double exposure, level;
    double value, low, high;
    double printed_low, printed_high;
    int digits;
};

static const struct rate_case rate_cases[] = {
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442 (0:
     * 3.689 in R epitools help page; 10: 4.80 to 18.39 in a public calculator page) [secondary] */
    {0, 1.0, 0.95, 0.0, 0.0, 3.6888794541139354, NONE, NONE, 0},
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442
     * [own arithmetic] */
    {1, 1.0, 0.95, 1.0, 0.025317807984289897, 5.571643390938898, NONE, NONE, 0},
    {3, 1.0, 0.95, 3.0, 0.6186721228956015, 8.767273069742323, NONE, NONE, 0},
    {5, 1.0, 0.95, 5.0, 1.623486390118421, 11.66833207932267, NONE, NONE, 0},
    {8, 1.0, 0.95, 8.0, 3.4538321767485023, 15.763189220193313, NONE, NONE, 0},
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442 (0:
     * 3.689 in R epitools help page; 10: 4.80 to 18.39 in a public calculator page) [secondary] */
    {10, 1.0, 0.95, 10.0, 4.7953886961324335, 18.39035604201778, NONE, NONE, 0},
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442
     * [own arithmetic] */
    {15, 1.0, 0.95, 15.0, 8.395386132783312, 24.740218871485844, NONE, NONE, 0},
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442
     * [secondary] */
    {25, 1.0, 0.95, 25.0, 16.178681847829328, 36.904931697530365, NONE, NONE, 0},
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442
     * [own arithmetic] */
    {30, 1.0, 0.95, 30.0, 20.240874021420915, 42.82686539480766, NONE, NONE, 0},
    {41, 1.0, 0.95, 41.0, 29.42230786845528, 55.62112956573492, NONE, NONE, 0},
    {50, 1.0, 0.95, 50.0, 37.110963737461866, 65.91876666433681, NONE, NONE, 0},
    {100, 1.0, 0.95, 100.0, 81.36399125092315, 121.62679379242638, NONE, NONE, 0},
    /* Garwood F 1936, Fiducial limits for the Poisson distribution, Biometrika 28:437-442;
     * values for C=25 in a vendor statistics FAQ 'confidence interval of a count' [excerpt] */
    {25, 1.0, 0.9, 25.0, 17.382125841750874, 34.916080169924065, 17.38, 34.92, 2},
    {25, 1.0, 0.95, 25.0, 16.178681847829328, 36.904931697530365, 16.18, 36.9, 2},
    {25, 1.0, 0.99, 25.0, 13.99537443318666, 41.00041285138767, 14.0, 41.0, 2},
    /* R help page poisson.test, first example (Welsh nickel workers): 5.661407 (4.753125,
     * 6.692709) [excerpt] */
    {137, 24.19893, 0.95, 5.661407343217241, 4.753124804848751, 6.692709334176073, 4.753125,
     6.692709, 6},
};

static void rate__interval__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(rate_cases); i++) {
        const struct rate_case *c = &rate_cases[i];
        const struct estimate e = rate_interval((double)c->count, c->exposure, c->level);
        assert_true(e.defined);
        assert_near(i, e.value, c->value, 1e-8);
        assert_near(i, e.low, c->low, 1e-8);
        assert_near(i, e.high, c->high, 1e-8);
        assert_printed(i, e.low, c->printed_low, c->digits);
        assert_printed(i, e.high, c->printed_high, c->digits);
    }
}

/* P(X >= x) for a Poisson, added up term by term in long double; P(X <= x) downwards. */
static double poisson_tail(int64_t x, double mean, int direction)
{
    long double term =
        expl((long double)x * logl((long double)mean) - mean - lgammal((long double)x + 1));
    long double sum = 0;

    for (int64_t i = x; i >= 0 && term > sum * 1e-18L; i += direction) {
        sum += term;
        term *= direction > 0 ? (long double)mean / (long double)(i + 1)
                              : (long double)i / (long double)mean;
    }
    return (double)sum;
}

static void rate__interval__leaves_its_tails(void **state)
{
    (void)state;
    static const int64_t counts[] = {0, 1, 2, 3, 9, 77, 1500, 40000, 1000000};
    static const double levels[] = {0.5, 0.9, 0.95, 0.99, 0.9999};

    for (size_t i = 0; i < ROWS(counts); i++) {
        for (size_t l = 0; l < ROWS(levels); l++) {
            const double tail = (1.0 - levels[l]) / 2.0;
            const struct estimate e = rate_interval((double)counts[i], 1.0, levels[l]);
            assert_true(e.defined && e.low <= e.value && e.value < e.high);
            if (counts[i] > 0)
                assert_near(i, poisson_tail(counts[i], e.low, 1) / tail, 1.0, 1e-6);
            assert_near(i, poisson_tail(counts[i], e.high, -1) / tail, 1.0, 1e-6);
        }
    }
}

static void rate__impossible_input__undefined(void **state)
{
    (void)state;
    static const double exposures[] = {0.0, -1.0, NAN, INFINITY};

    for (size_t i = 0; i < ROWS(exposures); i++) {
        assert_false(rate_interval(5, exposures[i], 0.95).defined);
    }
    assert_false(rate_interval(-1, 1.0, 0.95).defined);
    assert_false(rate_interval(INTERVAL_COUNT_MAX + 1.0, 1.0, 0.95).defined);
    assert_false(rate_interval(1, 1.0, 1.0).defined);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rate__interval__known_values),
        cmocka_unit_test(rate__interval__leaves_its_tails),
        cmocka_unit_test(rate__impossible_input__undefined),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
