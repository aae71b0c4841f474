/* Rates and their ratios against known intervals, and against the Poisson tail itself. */
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

struct ratio_case {
    int64_t count1;
    double exposure1;
    int64_t count2;
    double exposure2;
    double ratio, low, high, p;
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

static const struct ratio_case ratio_cases[] = {
    /* Boice & Monson 1977 breast-cancer data in Rothman & Greenland, Modern Epidemiology; R
     * episheet test-rate.R: ratio 1.855, 95% CI 1.03 to 3.35, difference 67.5 (7.5 to 128) per
     * 100 000 [secondary] */
    {41, 28010.0, 15, 19017.0, 1.8557586576222778, 1.0056840626892576, 3.6093003110779054,
     0.047660246754565865},
    /* Gu, Ng, Tang & Schucany 2008, Testing the ratio of two Poisson rates, Biometrical
     * Journal 50:283-298, example 1; statsmodels test_rates_poisson.py (R exactci central CI
     * 1.339735721772650 to 3.388365573616252; one-sided p Wald .000356, score .000316, sqrt
     * .000285) [secondary] */
    {60, 51477.5, 30, 54308.7, 2.1099975717546497, 1.3397357217716694, 3.3883655736243234,
     0.0008561053881002488},
    /* R help page poisson.test, second example (eba1977): 1.971488 (0.8584264, 4.2772659), p
     * 0.07967 [excerpt] */
    {11, 800.0, 21, 3011.0, 1.9714880952380953, 0.858426403391619, 4.277265943654079,
     0.11201731957539936},
    /* Fay MP, R rateratio.test vignette: 0.2070941557 (0.02177406, 1.00054910), p = 0.05011
     * [excerpt] */
    {2, 17877.0, 9, 16660.0, 0.20709415574325793, 0.021774062759064197, 1.0005491044875288,
     0.050106495614108904},
};

static void rate__interval__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(rate_cases); i++) {
        const struct rate_case *c = &rate_cases[i];
        const struct estimate e = rate_interval(c->count, c->exposure, c->level);
        assert_true(e.defined);
        assert_near(i, e.value, c->value, 1e-8);
        assert_near(i, e.low, c->low, 1e-8);
        assert_near(i, e.high, c->high, 1e-8);
        assert_printed(i, e.low, c->printed_low, c->digits);
        assert_printed(i, e.high, c->printed_high, c->digits);
    }
}

static void rate__compare__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(ratio_cases); i++) {
        const struct ratio_case *c = &ratio_cases[i];
        const struct rate_ratio r =
            rate_compare(c->count1, c->exposure1, c->count2, c->exposure2, 0.95);
        assert_true(r.defined && r.bounded);
        assert_near(i, r.ratio, c->ratio, 1e-8);
        assert_near(i, r.low, c->low, 1e-8);
        assert_near(i, r.high, c->high, 1e-8);
        assert_near(i, r.p, c->p, 1e-8);
    }
}

/* As printed: R help page poisson.test (excerpt) 1.971488 (.8584264, 4.2772659); rateratio.test
 * vignette (excerpt) .2070941557 (.02177406, 1.00054910), p .05011. For the latter poisson.test
 * prints p .0331 by the other convention, beside the same interval that holds 1. */
static void rate__compare__printed(void **state)
{
    (void)state;
    const struct rate_ratio disease = rate_compare(11, 800, 21, 3011, 0.95);
    const struct rate_ratio vignette = rate_compare(2, 17877, 9, 16660, 0.95);

    assert_printed(0, disease.ratio, 1.971488, 6);
    assert_printed(0, disease.low, 0.8584264, 7);
    assert_printed(0, disease.high, 4.2772659, 7);
    assert_printed(1, vignette.ratio, 0.2070941557, 10);
    assert_printed(1, vignette.low, 0.02177406, 8);
    assert_printed(1, vignette.high, 1.00054910, 8);
    assert_printed(1, vignette.p, 0.05011, 5);
    assert_false(rate_differs(vignette));
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
            const struct estimate e = rate_interval(counts[i], 1.0, levels[l]);
            assert_true(e.defined && e.low <= e.value && e.value < e.high);
            if (counts[i] > 0)
                assert_near(i, poisson_tail(counts[i], e.low, 1) / tail, 1.0, 1e-6);
            assert_near(i, poisson_tail(counts[i], e.high, -1) / tail, 1.0, 1e-6);
        }
    }
}

/* The test and the interval tell one story, and swapping the sides turns the ratio over. */
static void rate__compare__p_and_interval_agree(void **state)
{
    (void)state;
    for (int64_t x = 0; x <= 25; x++) {
        for (int64_t y = 0; y <= 25; y++) {
            const struct rate_ratio r = rate_compare(x, 2.0, y, 3.0, 0.95);
            const struct rate_ratio turned = rate_compare(y, 3.0, x, 2.0, 0.95);
            if (x + y == 0) {
                assert_false(r.defined || rate_differs(r));
                continue;
            }
            assert_true(r.defined);
            assert_int_equal(r.bounded, y > 0);
            assert_int_equal(rate_differs(r), r.p < 0.05);
            assert_near(x, turned.p, r.p, 1e-12);
            if (x > 0 && y > 0) {
                assert_near(x, turned.ratio * r.ratio, 1.0, 1e-12);
                assert_near(x, turned.low * r.high, 1.0, 1e-10);
            }
        }
    }
}

/* 3 against 0 in equal time: all three fell on one side, p = 2 / 2^3; the lower limit is the odds
 * of .025^(1/3). Closed forms. */
static void rate__compare__nothing_on_the_other_side(void **state)
{
    (void)state;
    const double share = cbrt(0.025);
    const struct rate_ratio up = rate_compare(3, 1.0, 0, 1.0, 0.95);
    const struct rate_ratio down = rate_compare(0, 1.0, 3, 1.0, 0.95);

    assert_true(up.defined && down.defined);
    assert_false(up.bounded);
    assert_true(down.bounded);
    assert_near(0, up.p, 0.25, 1e-12);
    assert_near(0, up.low, share / (1.0 - share), 1e-9);
    assert_true(up.ratio == 0.0 && up.high == 0.0);
    assert_near(0, down.ratio, 0.0, 0.0);
    assert_near(0, down.low, 0.0, 0.0);
    assert_near(0, down.high, (1.0 - share) / share, 1e-9);
    assert_near(0, rate_compare(3, 1.0, 3, 1.0, 0.95).p, 1.0, 0.0);
    assert_true(rate_differs(rate_compare(8, 1.0, 0, 1.0, 0.95)));
}

static void rate__impossible_input__undefined(void **state)
{
    (void)state;
    static const double exposures[] = {0.0, -1.0, NAN, INFINITY};

    for (size_t i = 0; i < ROWS(exposures); i++) {
        assert_false(rate_interval(5, exposures[i], 0.95).defined);
        assert_false(rate_compare(5, exposures[i], 5, 1.0, 0.95).defined);
        assert_false(rate_compare(5, 1.0, 5, exposures[i], 0.95).defined);
    }
    assert_false(rate_interval(-1, 1.0, 0.95).defined);
    assert_false(rate_interval((int64_t)INTERVAL_COUNT_MAX + 1, 1.0, 0.95).defined);
    assert_false(rate_interval(1, 1.0, 1.0).defined);
    assert_false(rate_compare(0, 1.0, 0, 1.0, 0.95).defined);
    assert_false(rate_compare(-3, 1.0, 5, 1.0, 0.95).defined);
    assert_false(rate_compare(INT64_MAX, 1.0, INT64_MAX, 1.0, 0.95).defined);
    assert_false(rate_compare(1, 1.0, 1, 1.0, 0.0).defined);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rate__interval__known_values),
        cmocka_unit_test(rate__compare__known_values),
        cmocka_unit_test(rate__compare__printed),
        cmocka_unit_test(rate__interval__leaves_its_tails),
        cmocka_unit_test(rate__compare__p_and_interval_agree),
        cmocka_unit_test(rate__compare__nothing_on_the_other_side),
        cmocka_unit_test(rate__impossible_input__undefined),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
