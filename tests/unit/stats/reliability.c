/* Agreement of many taggers against known tables. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/reliability.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: statsmodels test_inter_rater.py; the data of irrCAC (Ben
 * and Gerry); for the other data of Krippendorff a name was not kept. The long digits are own
 * arithmetic, done with two independent statistics packages; the short ones are what the source
 * prints. */

/* Fleiss JL 1971, Measuring nominal scale agreement among many raters, Psychological Bulletin
 * 76:378-382: 30 patients x 5 diagnoses (depression, personality disorder, schizophrenia, neurosis,
 * other), 6 raters, kappa .430 [secondary]; kappa 0.4302445 as R irr prints it, in statsmodels
 * test_inter_rater.py [secondary] */
static const int patients[30 * 5] = {
    0, 0, 0, 6, 0, 0, 3, 0, 0, 3, 0, 1, 4, 0, 1, 0, 0, 0, 0, 6, 0, 3, 0, 3, 0, 2, 0, 4, 0, 0,
    0, 0, 4, 0, 2, 2, 0, 3, 1, 0, 2, 0, 0, 4, 0, 0, 0, 0, 0, 6, 1, 0, 0, 5, 0, 1, 1, 0, 4, 0,
    0, 3, 3, 0, 0, 1, 0, 0, 5, 0, 0, 2, 0, 3, 1, 0, 0, 5, 0, 1, 3, 0, 0, 1, 2, 5, 1, 0, 0, 0,
    0, 2, 0, 4, 0, 1, 0, 2, 0, 3, 0, 0, 0, 0, 6, 0, 1, 0, 5, 0, 0, 2, 0, 1, 3, 2, 0, 0, 4, 0,
    1, 0, 0, 4, 1, 0, 5, 0, 1, 0, 4, 0, 0, 0, 2, 0, 2, 0, 4, 0, 1, 0, 5, 0, 0, 0, 0, 0, 0, 6};

/* Encyclopaedia worked example, 10 subjects x 14 raters, .210; statsmodels test_inter_rater.py
 * table0 [excerpt] */
static const int subjects[10 * 5] = {0, 0, 0, 0, 14, 0, 2, 6, 4, 2, 0, 0, 3, 5, 6, 0, 3,
                                     9, 2, 0, 2, 2,  8, 1, 1, 7, 7, 0, 0, 0, 3, 2, 6, 3,
                                     0, 2, 5, 3, 2,  2, 6, 5, 2, 1, 0, 0, 2, 2, 3, 7};

/* Krippendorff K 2011, Computing Krippendorff's Alpha-Reliability, Annenberg School for
 * Communication departmental paper 43. Units x observers, -1 for missing.
 * A: Meg and Owen, 10 units, binary, .095 [from memory] */
static const int meg_owen[10 * 2] = {0, 1, 1, 1, 0, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0};
/* B: Ben and Gerry, 12 units, .692 [data secondary, value from memory]; a b c d e = 0 .. 4 */
static const int ben_gerry[12 * 2] = {0, 1, 0, 0, 1, 1, 1, 1, 3, 1, 2, 2,
                                      2, 2, 2, 2, 4, 4, 3, 3, 3, 3, 0, 3};
/* C: 4 observers, 12 units, .743, 40 pairable values [secondary]; categories 1 .. 5, 0 unused */
static const int four[12 * 4] = {1, 1, -1, 1, 2,  2, 3, 2, 3,  3,  3, 3, 3,  3, 3,  3,
                                 2, 2, 2,  2, 1,  2, 3, 4, 4,  4,  4, 4, 1,  1, 2,  1,
                                 2, 2, 2,  2, -1, 5, 5, 5, -1, -1, 1, 1, -1, 3, -1, -1};
/* 3 observers, 15 units (Krippendorff, Content Analysis; encyclopaedia article), .691, 26 pairable
 * values [secondary]; categories 1 .. 4, 0 unused */
static const int three[15 * 3] = {-1, 1,  -1, -1, -1, -1, -1, 2,  2,  -1, 1,  1,  -1, 3,  3,
                                  3,  3,  4,  4,  4,  4,  1,  3,  -1, 2,  -1, 2,  1,  -1, 1,
                                  1,  -1, 1,  3,  -1, 3,  3,  -1, 3,  -1, -1, -1, 3,  -1, 4};

/* irrCAC README cac.raw4raters, the table C above, the twelfth unit rated once: AC1 0.77544,
 * pa 0.8181818, pe 0.1903212 [excerpt] */
static const int raw4raters[12 * 5] = {3, 0, 0, 0, 0, 0, 3, 1, 0, 0, 0, 0, 4, 0, 0, 0, 0, 4, 0, 0,
                                       0, 4, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0, 0, 4, 0, 3, 1, 0, 0, 0,
                                       0, 4, 0, 0, 0, 0, 0, 0, 0, 3, 2, 0, 0, 0, 0, 0, 0, 1, 0, 0};

static void reliability__fleiss__known_values(void **state)
{
    (void)state;
    const struct agreement f = reliability_fleiss(patients, 30, 5);

    assert_true(f.defined);
    assert_near(0, f.observed, 0.5555555555555555, 1e-9);
    assert_near(0, f.expected, 0.21993827160493828, 1e-9);
    assert_near(0, f.value, 0.43024452006014074, 1e-9);
    assert_printed(0, f.value, 0.430, 3);
    assert_printed(0, f.value, 0.4302445, 7);
    assert_near(1, reliability_fleiss(subjects, 10, 5).value, 0.20993070442195522, 1e-9);
    assert_printed(1, reliability_fleiss(subjects, 10, 5).value, 0.210, 3);
}

/* statsmodels test_inter_rater.py, test_fleis_randolph [excerpt]: .161905, .708333, 1. */
static void reliability__fleiss__small_tables(void **state)
{
    (void)state;
    static const int one[] = {7, 1, 3, 5}, two[] = {6, 1, 0, 0, 7, 0}, perfect[] = {7, 0, 0, 7};

    assert_printed(0, reliability_fleiss(one, 2, 2).value, 0.161905, 6);
    assert_printed(1, reliability_fleiss(two, 2, 3).value, 0.708333, 6);
    assert_near(2, reliability_fleiss(perfect, 2, 2).value, 1.0, 1e-12);
}

/* Codes in units x raters order, -1 for missing. */
static void count(int *counts, size_t categories, const int *codes, size_t units, size_t raters)
{
    for (size_t i = 0; i < units * categories; i++)
        counts[i] = 0;
    for (size_t i = 0; i < units * raters; i++)
        if (codes[i] >= 0)
            counts[i / raters * categories + (size_t)codes[i]]++;
}

static void check_alpha(size_t row, const int *codes, size_t units, size_t raters,
                        size_t categories, double value, double printed, int digits)
{
    int counts[15 * 6];

    assert_true(units * categories <= ROWS(counts));
    count(counts, categories, codes, units, raters);
    const struct agreement a = reliability_alpha(counts, units, categories);
    assert_true(a.counted && a.defined);
    assert_near(row, a.value, value, 1e-9);
    assert_printed(row, a.value, printed, digits);
}

static void reliability__alpha__known_values(void **state)
{
    (void)state;
    check_alpha(0, meg_owen, 10, 2, 2, 2.0 / 21.0, 0.095, 3);
    check_alpha(1, ben_gerry, 12, 2, 5, 0.6919642857142858, 0.692, 3);
    check_alpha(2, four, 12, 4, 6, 0.743421052631579, 0.743, 3);
    check_alpha(3, three, 15, 3, 5, 0.691358024691358, 0.691, 3);
}

static void reliability__ac1__known_values(void **state)
{
    (void)state;
    const struct agreement raw = reliability_ac1(raw4raters, 12, 5);
    /* irrCAC README distrib.6raters, the first 15 patients: AC1 0.4448007, Fleiss 0.4139265, alpha
     * 0.4204384, pa 0.5511111, pe 0.1914815 [excerpt] */
    const struct agreement first = reliability_ac1(patients, 15, 5);

    assert_true(raw.defined && first.defined);
    assert_near(0, raw.observed, 0.8181818181818182, 1e-9);
    assert_near(0, raw.expected, 0.19032118055555555, 1e-9);
    assert_near(0, raw.value, 0.775444068126995, 1e-9);
    assert_printed(0, raw.value, 0.77544, 5);
    assert_near(1, first.observed, 0.5511111111111113, 1e-9);
    assert_near(1, first.expected, 0.19148148148148147, 1e-9);
    assert_near(1, first.value, 0.44480073293632644, 1e-9);
    assert_printed(1, first.value, 0.4448007, 7);
    assert_printed(1, reliability_fleiss(patients, 15, 5).value, 0.4139265, 7);
    assert_printed(1, reliability_alpha(patients, 15, 5).value, 0.4204384, 7);
}

/* Nothing to pair, one category for all, taggers who missed units. */
static void reliability__degenerate__undefined_not_divided(void **state)
{
    (void)state;
    static const int none[] = {0, 0, 0, 0}, single[] = {1, 0, 0, 1};
    static const int same[] = {3, 0, 3, 0}, uneven[] = {3, 0, 2, 0}, negative[] = {3, -1, 2, 2};
    static const int huge[] = {INT32_MAX, 0, 0, 1};

    assert_false(reliability_fleiss(none, 2, 2).counted);
    assert_false(reliability_alpha(none, 2, 2).counted);
    assert_false(reliability_ac1(none, 2, 2).counted);
    assert_false(reliability_fleiss(single, 2, 2).counted);
    assert_false(reliability_alpha(single, 2, 2).counted);
    assert_false(reliability_ac1(single, 2, 2).counted);

    assert_true(reliability_fleiss(same, 2, 2).counted);
    assert_false(reliability_fleiss(same, 2, 2).defined);
    assert_true(reliability_alpha(same, 2, 2).counted);
    assert_false(reliability_alpha(same, 2, 2).defined);
    assert_near(0, reliability_ac1(same, 2, 2).value, 1.0, 0.0);
    assert_false(reliability_ac1(same, 4, 1).counted);

    assert_false(reliability_fleiss(uneven, 2, 2).counted);
    assert_true(reliability_alpha(uneven, 2, 2).counted);
    assert_false(reliability_fleiss(negative, 2, 2).counted);
    assert_false(reliability_alpha(negative, 2, 2).counted);
    assert_false(reliability_ac1(negative, 2, 2).counted);
    assert_false(reliability_alpha(huge, 2, 2).counted);
    assert_false(reliability_fleiss(NULL, 0, 2).counted);
    assert_false(reliability_alpha(NULL, 0, 2).counted);
    assert_false(reliability_ac1(NULL, 0, 2).counted);
    assert_false(reliability_alpha(same, 1, 0).counted);
    assert_false(reliability_alpha(same, 1, RELIABILITY_CATEGORIES_MAX + 1).counted);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reliability__fleiss__known_values),
        cmocka_unit_test(reliability__fleiss__small_tables),
        cmocka_unit_test(reliability__alpha__known_values),
        cmocka_unit_test(reliability__ac1__known_values),
        cmocka_unit_test(reliability__degenerate__undefined_not_divided),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
