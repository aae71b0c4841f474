/* Agreement of two taggers against known tables. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/kappa.h"
#include "ringtally/stats/reliability.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: the help page of R psych (Cohen, Fleiss); B. Gerstman,
 * "Epidemiology Kept Simple" (Feinstein and Cicchetti); P. O'Donoghue, "Research Methods for
 * Sports Performance Analysis"; journals that quote Landis and Koch; for Gwet a name was not kept.
 * The long digits are own arithmetic, done with two independent statistics packages; the short
 * ones are what the source prints. */
struct kappa_case {
    size_t categories;
    double table[49];
    double n;
    double observed, expected;
    double value, se, low, high;
    double printed_value, printed_se;
    int digits;
};

static const struct kappa_case kappa_cases[] = {
    /* Cohen J 1968, Weighted kappa, Psychological Bulletin 70:213-220 (kappa itself: Cohen
     * 1960, Educational and Psychological Measurement 20:37-46); data in R psych help page
     * cohen.kappa ('data matrix taken from Cohen', 'cohen reports .492 and .348'); proportions
     * .44 .07 .09 / .05 .20 .05 / .01 .03 .06, N=200 [secondary] */
    {3,
     {88, 14, 18, 10, 40, 10, 2, 6, 12},
     200,
     0.7,
     0.41,
     0.49152542372881347,
     0.05100181557607786,
     0.3915637020535469,
     0.59148714540408,
     0.492,
     NONE,
     3},
    /* Fleiss JL, Cohen J, Everitt BS 1969, Large sample standard errors of kappa and weighted
     * kappa, Psychological Bulletin 72:323-327, worked example N=200 (table seen in R psych
     * help page; kappa .429, SE .054) [secondary: R's psych, tests/outside/reference.R] */
    {3,
     {106, 10, 4, 22, 28, 10, 2, 12, 6},
     200,
     0.7,
     0.475,
     0.4285714285714285,
     0.05371100486916735,
     0.32329979345440496,
     0.533843063688452,
     0.429,
     0.054,
     3},
    /* SAS PROC FREQ print-out in statsmodels 0.13.5, stats/tests/test_inter_rater.py,
     * TestUnweightedCohens [excerpt] */
    {3,
     {0, 4, 1, 0, 8, 0, 0, 1, 5},
     19,
     0.6842105263157895,
     0.3878116343490305,
     0.48416289592760187,
     0.1380135783058146,
     0.21366125307070666,
     0.754664538784497,
     0.4842,
     0.138,
     4},
    /* Feinstein AR, Cicchetti DV 1990, High agreement but low kappa I, J Clin Epidemiol
     * 43:543-549; quoted in Gerstman BB, Epidemiology Kept Simple, 3rd ed., Table 10.6
     * [secondary] */
    {2,
     {40, 9, 6, 45},
     100,
     0.85,
     0.5008,
     0.6995192307692307,
     0.07139360269998822,
     0.5595903407506923,
     0.8394481207877692,
     0.7,
     NONE,
     2},
    {2,
     {80, 10, 5, 5},
     100,
     0.85,
     0.78,
     0.318181818181818,
     0.13345652122383617,
     0.05661184308109374,
     0.5797517932825422,
     0.32,
     NONE,
     2},
    /* Feinstein & Cicchetti 1990 (second paradox pair; po .60) [from memory] */
    {2,
     {45, 15, 25, 15},
     100,
     0.6,
     0.54,
     0.13043478260869554,
     0.0986615376234396,
     -0.06293827779258965,
     0.3238078430099807,
     0.13,
     NONE,
     2},
    {2,
     {25, 35, 5, 35},
     100,
     0.6,
     0.46,
     0.25925925925925924,
     0.07715973174444572,
     0.10802896398337367,
     0.4104895545351448,
     0.26,
     NONE,
     2},
    /* Gerstman, Epidemiology Kept Simple, Illustrative Example 10.1 (po .8943, pe .7780, kappa
     * .524; margins 2249/17541 and 2776/17014, N 19790) [excerpt] */
    {2,
     {1467, 1309, 782, 16232},
     19790,
     0.8943405760485094,
     0.7779660104671563,
     0.524129507496593,
     0.009093669444431669,
     0.5063062428981946,
     0.5419527720949915,
     0.524,
     NONE,
     3},
    /* Gwet KL 2002/2008 (125 subjects); table met in a public test suite as a kappa-paradox
     * case [secondary (table), from memory (AC1 .9408)] */
    {2,
     {118, 5, 2, 0},
     125,
     0.944,
     0.94528,
     -0.02339181286549608,
     0.012286756672845256,
     -0.04747341343107997,
     0.0006897877000878114,
     -0.0234,
     NONE,
     4},
    /* O'Donoghue P, Research Methods for Sports Performance Analysis, Tables 7.1 and 7.2 (data
     * Brown & O'Donoghue 2008b), tennis point types, 1256 of 1356 agreed, p0 = .926 [secondary] */
    {7,
     {78, 0, 0, 0, 0, 0, 1, 1,   38, 0,  1, 0, 0, 2, 1, 0,  232, 1, 1, 0, 2, 0,  1, 0,  17,
      0,  0, 1, 0, 0, 2, 0, 131, 3,  33, 0, 0, 0, 0, 7, 70, 15,  0, 2, 9, 0, 12, 5, 690},
     1356,
     0.9262536873156342,
     0.34419351119464675,
     0.8875486687868773,
     0.010822452146557584,
     0.8663370523552163,
     0.9087602852185384,
     NONE,
     NONE,
     3},
    /* Dohoo I, Martin W, Stryhn H, Veterinary Epidemiologic Research (IFAT example), R epiR
     * help page epi.kappa: kappa 0.6735838, se(null) 0.05842553, z 11.52893 [excerpt] */
    {2,
     {19, 10, 6, 256},
     291,
     0.9450171821305842,
     0.8315560751526316,
     0.6735838474481209,
     0.0762238928565496,
     0.5241877626878438,
     0.822979932208398,
     0.6735838,
     NONE,
     5},
    /* Hout et al. 1987 table in R vcd data set SexualFun (Agresti 1990); vcd::Kappa prints
     * 0.1293 ASE 0.0686 [excerpt] */
    {4,
     {7, 7, 2, 3, 2, 8, 3, 7, 1, 5, 4, 9, 2, 8, 9, 14},
     91,
     0.3626373626373626,
     0.2679628064243449,
     0.12933025404157042,
     0.06859853248070859,
     -0.005120399012919524,
     0.2637809070960604,
     0.1293,
     0.0686,
     4},
};

static void kappa__tables__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(kappa_cases); i++) {
        const struct kappa_case *c = &kappa_cases[i];
        const struct kappa k = kappa_cohen(c->table, c->categories, 0.95);
        assert_true(k.agreement.counted && k.agreement.defined && k.has_interval);
        assert_true(k.n == c->n);
        if (!isnan(c->observed))
            assert_near(i, k.agreement.observed, c->observed, 1e-9);
        if (!isnan(c->expected))
            assert_near(i, k.agreement.expected, c->expected, 1e-9);
        assert_near(i, k.agreement.value, c->value, 1e-9);
        assert_near(i, k.se, c->se, 1e-9);
        assert_near(i, k.low, c->low, 1e-9);
        assert_near(i, k.high, c->high, 1e-9);
        assert_printed(i, k.agreement.value, c->printed_value, c->digits);
        assert_printed(i, k.se, c->printed_se, c->digits);
    }
}

/* The taggers may change seats. */
static void kappa__seats__do_not_matter(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(kappa_cases); i++) {
        const struct kappa_case *c = &kappa_cases[i];
        const size_t q = c->categories;
        double turned[49];
        for (size_t r = 0; r < q; r++)
            for (size_t s = 0; s < q; s++)
                turned[s * q + r] = c->table[r * q + s];
        const struct kappa plain = kappa_cohen(c->table, q, 0.95);
        const struct kappa seats = kappa_cohen(turned, q, 0.95);
        assert_near(i, seats.agreement.value, plain.agreement.value, 1e-12);
        assert_near(i, seats.se, plain.se, 1e-12);
    }
}

/* Expected counts have fractions: all counts halved are the same shares, with twice the variance.
 */
static void kappa__fractions__are_counts(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(kappa_cases); i++) {
        const struct kappa_case *c = &kappa_cases[i];
        double half[49];
        for (size_t k = 0; k < ROWS(half); k++)
            half[k] = c->table[k] / 2;
        const struct kappa k = kappa_cohen(half, c->categories, 0.95);
        assert_near(i, k.n, (double)c->n / 2, 1e-9);
        assert_near(i, k.agreement.value, c->value, 1e-9);
        assert_near(i, k.se, c->se * sqrt(2), 1e-9);
    }
}

/* Few strikes, high agreement: the large-sample interval reaches past what a kappa can be. */
static void kappa__interval__within_its_range(void **state)
{
    (void)state;
    static const double high[] = {30, 1, 0, 4}, low[] = {1, 9, 9, 0};
    const struct kappa near_one = kappa_cohen(high, 2, 0.95);
    const struct kappa below = kappa_cohen(low, 2, 0.999999);

    assert_true(near_one.agreement.value + 1.959964 * near_one.se > 1.0);
    assert_true(near_one.high == 1.0);
    assert_near(0, near_one.low, near_one.agreement.value - 1.959964 * near_one.se, 1e-6);
    assert_true(below.has_interval && below.low == -1.0 && below.high < 1.0);
}

/* One category used by both: they agree wholly and kappa says nothing; AC1 does. */
static void kappa__one_category_for_all__undefined_not_divided(void **state)
{
    (void)state;
    static const double table[] = {12, 0, 0, 0, 0, 0, 0, 0, 0};
    const struct kappa k = kappa_cohen(table, 3, 0.95);

    assert_true(k.agreement.counted);
    assert_near(0, k.agreement.observed, 1.0, 0.0);
    assert_near(0, k.agreement.expected, 1.0, 0.0);
    assert_false(k.agreement.defined || k.has_interval);
    assert_false(kappa_alpha(table, 3).defined);
    assert_true(kappa_alpha(table, 3).counted);
    assert_true(kappa_ac1(table, 3).defined);
    assert_near(0, kappa_ac1(table, 3).value, 1.0, 0.0);
    assert_false(kappa_cohen(table, 1, 0.95).agreement.defined);
    assert_false(kappa_ac1(table, 1).counted);
}

/* One tagger never left one category: kappa is 0. */
static void kappa__one_sided_table__zero(void **state)
{
    (void)state;
    static const double table[] = {7, 3, 0, 0};
    const struct kappa k = kappa_cohen(table, 2, 0.95);

    assert_true(k.agreement.defined);
    assert_near(0, k.agreement.value, 0.0, 1e-12);
}

/* Rounding must not leave an error where there is none. */
static void kappa__perfect_agreement__no_interval(void **state)
{
    (void)state;
    for (int64_t one = 1; one <= 1000000; one = one * 3 + 1) {
        for (int64_t other = 1; other <= 40; other++) {
            const double table[] = {(double)one, 0, 0, 0, (double)other, 0, 0, 0, 7};
            const struct kappa k = kappa_cohen(table, 3, 0.95);
            assert_true(k.agreement.defined);
            assert_near(other, k.agreement.value, 1.0, 0.0);
            assert_false(k.has_interval);
            assert_true(k.se == 0.0 && k.low == 0.0 && k.high == 0.0);
        }
    }
}

static void kappa__impossible_tables__undefined(void **state)
{
    (void)state;
    static const double bad[][4] = {{0, 0, 0, 0},          {5, -1, 0, 5},  {1e300, 1e300, 0, 0},
                                    {1000000000, 1, 0, 0}, {1, NAN, 0, 1}, {1, INFINITY, 0, 1}};
    static const double good[] = {40, 9, 6, 45};

    for (size_t i = 0; i < ROWS(bad); i++) {
        const struct kappa k = kappa_cohen(bad[i], 2, 0.95);
        assert_false(k.agreement.counted || k.agreement.defined || k.has_interval);
        assert_true(k.agreement.value == 0.0 && k.n == 0);
        assert_false(kappa_alpha(bad[i], 2).counted || kappa_ac1(bad[i], 2).counted);
    }
    assert_false(kappa_cohen(good, 0, 0.95).agreement.counted);
    assert_false(kappa_cohen(good, KAPPA_CATEGORIES_MAX + 1, 0.95).agreement.counted);
    assert_true(kappa_cohen(good, 2, 1.0).agreement.defined);
    assert_false(kappa_cohen(good, 2, 1.0).has_interval);
}

struct coefficient_case {
    size_t categories;
    double table[9];
    double observed, expected, value; /* of AC1 */
    double printed;
    int digits;
};

static const struct coefficient_case ac1_cases[] = {
    /* Gwet KL 2014, Handbook of Inter-Rater Reliability 4th ed.; irrCAC README,
     * cont3x3abstractors: AC1 0.8493305, pa 0.89 [excerpt] */
    {3, {13, 0, 0, 0, 20, 7, 0, 4, 56}, 0.89, 0.269925, 0.8493305482313461, 0.8493305, 7},
    /* Gwet 2002/2008, 125 subjects [table secondary, value from memory] */
    {2, {118, 5, 2, 0}, 0.944, 0.054432, 0.9407763376087177, 0.9408, 4},
};

static void kappa__ac1__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(ac1_cases); i++) {
        const struct coefficient_case *c = &ac1_cases[i];
        const struct agreement a = kappa_ac1(c->table, c->categories);
        assert_true(a.counted && a.defined);
        assert_near(i, a.observed, c->observed, 1e-9);
        assert_near(i, a.expected, c->expected, 1e-9);
        assert_near(i, a.value, c->value, 1e-9);
        assert_printed(i, a.value, c->printed, c->digits);
    }
}

/* The other coefficients of the first table in the same README (excerpt): kappa 0.7964094 with
 * standard error 0.05891072, alpha 0.7972585. */
static void kappa__alpha__known_values(void **state)
{
    (void)state;
    const struct agreement alpha = kappa_alpha(ac1_cases[0].table, 3);
    const struct kappa kappa = kappa_cohen(ac1_cases[0].table, 3, 0.95);

    assert_true(alpha.defined);
    assert_printed(0, alpha.value, 0.7972585, 7);
    assert_printed(0, kappa.agreement.value, 0.7964094, 7);
    assert_printed(0, kappa.se, 0.05891072, 8);
}

/* The table and the units behind it tell the same. */
static void kappa__table_and_units__agree(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(ac1_cases); i++) {
        const struct coefficient_case *c = &ac1_cases[i];
        const size_t q = c->categories;
        int counts[200 * 3] = {0};
        size_t units = 0;
        for (size_t r = 0; r < q; r++) {
            for (size_t s = 0; s < q; s++) {
                for (int k = 0; k < (int)c->table[r * q + s]; k++) {
                    counts[units * q + r]++;
                    counts[units * q + s]++;
                    units++;
                }
            }
        }
        const struct agreement alpha = reliability_alpha(counts, units, q);
        const struct agreement ac1 = reliability_ac1(counts, units, q);
        assert_near(i, kappa_alpha(c->table, q).value, alpha.value, 1e-12);
        assert_near(i, kappa_alpha(c->table, q).expected, alpha.expected, 1e-12);
        assert_near(i, kappa_ac1(c->table, q).value, ac1.value, 1e-12);
    }
}

/* O'Donoghue, Research Methods for Sports Performance Analysis, Table 7.1 (formula of Hughes,
 * Cooper & Nevill 2002; secondary): printed 1.3 2.4 2.5 0.0 11.3 16.5 3.6. */
static void kappa__percentage_error__known_values(void **state)
{
    (void)state;
    static const struct {
        int64_t one, other;
        double printed, percent;
    } cases[] = {{79, 80, 1.3, 1.257861635220126},
                 {42, 41, 2.4, 2.4096385542168677},
                 {237, 243, 2.5, 2.5},
                 {19, 19, 0.0, 0.0},
                 {169, 151, 11.3, 11.25},
                 {92, 78, 16.5, 16.470588235294116},
                 {718, 744, 3.6, 3.556771545827633}};
    double out = 1.0;

    for (size_t i = 0; i < ROWS(cases); i++) {
        assert_true(kappa_percentage_error(&out, cases[i].one, cases[i].other));
        assert_near(i, out, cases[i].percent, 1e-9);
        assert_printed(i, out, cases[i].printed, 1);
    }
    assert_true(kappa_percentage_error(&out, 0, 4));
    assert_near(0, out, 200.0, 1e-12);
    assert_false(kappa_percentage_error(&out, 0, 0));
    assert_true(out == 0.0);
    assert_false(kappa_percentage_error(&out, -1, 5));
    assert_false(kappa_percentage_error(&out, 5, INT64_MIN));
}

/* Landis JR, Koch GG 1977 (secondary): printed bands <0, 0-.20, .21-.40, .41-.60, .61-.80, .81-1.
 * What falls into a gap (.205) is unrounded, hence above the lower band. */
static void kappa__word__unrounded(void **state)
{
    (void)state;
    static const struct {
        double value;
        const char *word;
    } cases[] = {{-1.0, "poor"},
                 {-1e-9, "poor"},
                 {0.0, "slight"},
                 {0.20, "slight"},
                 {0.205, "fair"},
                 {0.40, "fair"},
                 {0.4000001, "moderate"},
                 {0.60, "moderate"},
                 {0.605, "substantial"},
                 {0.80, "substantial"},
                 {0.81, "almost perfect"},
                 {1.0, "almost perfect"},
                 {NAN, "-"}};

    for (size_t i = 0; i < ROWS(cases); i++)
        assert_string_equal(kappa_word(cases[i].value), cases[i].word);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kappa__tables__known_values),
        cmocka_unit_test(kappa__seats__do_not_matter),
        cmocka_unit_test(kappa__fractions__are_counts),
        cmocka_unit_test(kappa__interval__within_its_range),
        cmocka_unit_test(kappa__one_category_for_all__undefined_not_divided),
        cmocka_unit_test(kappa__one_sided_table__zero),
        cmocka_unit_test(kappa__perfect_agreement__no_interval),
        cmocka_unit_test(kappa__impossible_tables__undefined),
        cmocka_unit_test(kappa__ac1__known_values),
        cmocka_unit_test(kappa__alpha__known_values),
        cmocka_unit_test(kappa__table_and_units__agree),
        cmocka_unit_test(kappa__percentage_error__known_values),
        cmocka_unit_test(kappa__word__unrounded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
