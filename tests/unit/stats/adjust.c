/* Adjusted p-values. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/adjust.h"

/* Benjamini Y, Hochberg Y 1995, J. R. Statist. Soc. B 57:289-300, section 4: the 15 p-values of
 * Neuhaus et al. 1992. The paper rejects the first four at .05, where Bonferroni rejects three
 * (secondary: test suites of public statistics packages, names not kept). Adjusted values: the
 * first four and .0603 as these suites print them (secondary), the rest 15 p / rank by hand (own
 * arithmetic). */
static const double thrombolysis[] = {.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344,
                                      .0459, .3240, .4262, .5719, .6528, .7590, 1.000};
static const double thrombolysis_adjusted[] = {
    .0015,           .0030,           .0095,           .035625,         .0603,
    .0298 * 15 / 7,  .0298 * 15 / 7,  .0645,           .0765,           .4860,
    .4262 * 15 / 11, .5719 * 15 / 12, .6528 * 15 / 13, .7590 * 15 / 14, 1.0};

static void adjust__thrombolysis__four_stand(void **state)
{
    (void)state;
    double out[ROWS(thrombolysis)] = {0};
    size_t stand = 0, bonferroni = 0;

    assert_int_equal(adjust_false_discovery(out, thrombolysis, NULL, ROWS(out), NULL), 0);
    for (size_t i = 0; i < ROWS(out); i++) {
        assert_near(i, out[i], thrombolysis_adjusted[i], 1e-12);
        stand += out[i] <= 0.05;
        bonferroni += thrombolysis[i] * (double)ROWS(out) <= 0.05;
    }
    assert_int_equal(stand, 4);
    assert_int_equal(bonferroni, 3);
}

/* The documentation of R's p.adjust defines it so; five values, by hand: .01 5/1, .03 and .04 meet
 * at min(.03 5/2, .04 5/3), .05 5/4 undercuts both. */
static void adjust__any_order__keeps_places(void **state)
{
    (void)state;
    static const double p[] = {.01, .04, .03, .05, .20};
    static const double want[] = {.05, .0625, .0625, .0625, .20};
    double out[ROWS(p)] = {0};
    double in_place[] = {.20, .05, .03, .04, .01};

    assert_int_equal(adjust_false_discovery(out, p, NULL, ROWS(p), NULL), 0);
    assert_int_equal(adjust_false_discovery(in_place, in_place, NULL, ROWS(p), NULL), 0);
    for (size_t i = 0; i < ROWS(p); i++) {
        assert_near(i, out[i], want[i], 1e-12);
        assert_near(i, in_place[ROWS(p) - 1 - i], want[i], 1e-12);
    }
}

/* The step-up rule itself, on random values: what is kept at q is what the 1995 procedure keeps,
 * the largest i with p(i) <= i q / m and all before it. */
static void adjust__random__is_the_step_up_rule(void **state)
{
    (void)state;
    uint64_t seed = 12345;

    for (int trial = 0; trial < 300; trial++) {
        double p[40], out[40];
        const size_t n = 1 + (size_t)trial % ROWS(p);
        for (size_t i = 0; i < n; i++) {
            seed = seed * 6364136223846793005U + 1442695040888963407U;
            const double u = (double)(seed >> 40) / 16777216.0;
            p[i] = u * u * u; /* many small ones, some equal */
            if (i > 0 && (seed >> 20) % 5 == 0)
                p[i] = p[i - 1];
        }
        assert_int_equal(adjust_false_discovery(out, p, NULL, n, NULL), 0);
        double cut = -1.0;
        for (size_t i = 0; i < n; i++) {
            size_t rank = 0;
            for (size_t j = 0; j < n; j++)
                rank += p[j] <= p[i];
            if (p[i] <= (double)rank * 0.05 / (double)n && p[i] > cut)
                cut = p[i];
        }
        for (size_t i = 0; i < n; i++)
            assert_int_equal(out[i] <= 0.05 * (1.0 + 1e-12), p[i] <= cut);
    }
}

/* Weights 2 and 1/2, 1/2: as if p were .01 / 2 and .04 x 2, .04 x 2, each of three. */
static void adjust__weights__shift_the_error(void **state)
{
    (void)state;
    static const double p[] = {.01, .04, .04};
    static const double weight[] = {4.0, 1.0, 1.0}, bad[] = {1.0, 0.0, 1.0};
    double out[ROWS(p)] = {0};
    struct error err = {.code = 0};

    assert_int_equal(adjust_false_discovery(out, p, weight, ROWS(p), NULL), 0);
    assert_near(0, out[0], .01 / 2 * 3, 1e-12);
    assert_near(1, out[1], .04 * 2 * 3 / 3, 1e-12);
    assert_near(2, out[2], .04 * 2 * 3 / 3, 1e-12);
    assert_int_equal(adjust_false_discovery(out, p, bad, ROWS(p), &err), ERROR_FAILED);
    assert_string_equal(err.text, "weight 2 of 3 is not above 0");
}

static void adjust__bad_value__one_line_and_nothing_written(void **state)
{
    (void)state;
    static const double bad[] = {-0.1, 1.1, NAN, INFINITY};

    for (size_t i = 0; i < ROWS(bad); i++) {
        struct error err = {.code = 0};
        const double p[] = {0.5, bad[i]};
        double out[] = {7.0, 7.0};
        assert_int_equal(adjust_false_discovery(out, p, NULL, 2, &err), ERROR_FAILED);
        assert_string_equal(err.text, "p-value 2 of 2 is not between 0 and 1");
        assert_true(out[0] == 7.0 && out[1] == 7.0);
    }
}

static void adjust__none_and_one(void **state)
{
    (void)state;
    double one = 0.04;

    assert_int_equal(adjust_false_discovery(NULL, NULL, NULL, 0, NULL), 0);
    assert_int_equal(adjust_false_discovery(&one, &one, NULL, 1, NULL), 0);
    assert_near(0, one, 0.04, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(adjust__thrombolysis__four_stand),
        cmocka_unit_test(adjust__any_order__keeps_places),
        cmocka_unit_test(adjust__random__is_the_step_up_rule),
        cmocka_unit_test(adjust__weights__shift_the_error),
        cmocka_unit_test(adjust__bad_value__one_line_and_nothing_written),
        cmocka_unit_test(adjust__none_and_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
