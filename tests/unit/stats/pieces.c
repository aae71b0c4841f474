/* Pieces of time: with equal wholes the classic t test, with independent strikes the classic
 * intervals. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/pieces.h"
#include "ringtally/stats/rate.h"

/* Two-sided points of Student's t: 95 % at 1, 2, 10, 30 degrees 12.706 4.303 2.228 2.042, 99 % at
 * 10 3.169 [secondary: R's qt, tests/outside/reference.R]. One degree is Cauchy's: p = 1/2 at t
 * = 1. */
static void student__table(void **state)
{
    (void)state;
    assert_printed(0, student_quantile(0.05, 1), 12.706, 3);
    assert_printed(1, student_quantile(0.05, 2), 4.303, 3);
    assert_printed(2, student_quantile(0.05, 10), 2.228, 3);
    assert_printed(3, student_quantile(0.05, 30), 2.042, 3);
    assert_printed(4, student_quantile(0.01, 10), 3.169, 3);
    assert_near(5, student_two_sided(1.0, 1.0), 0.5, 1e-12);
    assert_near(6, student_two_sided(student_quantile(0.003, 17), 17), 0.003, 1e-9);
}

/* Student 1908, Biometrika 6:1-25, the sleep of ten patients under two drugs, as two samples: t
 * -1.8608 with 18 degrees, p .07919, interval -3.363874 to .203874 [secondary: R's data set and its
 * t.test with equal variances, tests/outside/reference.R]. Shifted by 2: no part is negative. */
static void pieces__compare__student_sleep(void **state)
{
    (void)state;
    static const double one[] = {.7, -1.6, -.2, -1.2, -.1, 3.4, 3.7, .8, 0, 2};
    static const double other[] = {1.9, .8, 1.1, .1, -.1, 4.4, 5.5, 1.6, 4.6, 3.4};
    struct piece a[10], b[10];
    for (int i = 0; i < 10; i++) {
        a[i] = (struct piece){one[i] + 2.0, 1.0};
        b[i] = (struct piece){other[i] + 2.0, 1.0};
    }
    const struct contrast c = pieces_compare(a, 10, b, 10);
    const struct estimate e = pieces_interval(&c, 0.95);
    assert_true(c.defined && e.defined);
    assert_near(0, c.df, 18.0, 0.0);
    assert_printed(1, c.difference / c.error, -1.8608, 4);
    assert_printed(2, c.p, 0.07919, 5);
    assert_printed(3, e.low, -3.363874, 6);
    assert_printed(4, e.high, 0.203874, 6);
    assert_near(5, pieces_least(&c, c.p), fabs(c.difference), 1e-9);
}

/* Five of ten pieces can be dealt in 252 ways: t is near the share of them that is as far off. */
static void pieces__compare__near_the_permutations(void **state)
{
    (void)state;
    static const struct piece all[] = {{3, 5}, {1, 4}, {2, 4}, {4, 6}, {0, 2},
                                       {3, 4}, {1, 3}, {2, 6}, {1, 5}, {2, 3}};
    const double ratio = 19.0 / 42.0;
    double seen = 0.0;
    int as_far = 0, ways = 0;
    for (int i = 0; i < 5; i++)
        seen += all[i].part - ratio * all[i].whole;
    for (unsigned set = 0; set < 1u << 10; set++) {
        double moved = 0.0;
        int size = 0;
        for (int i = 0; i < 10; i++) {
            if (set >> i & 1u) {
                moved += all[i].part - ratio * all[i].whole;
                size++;
            }
        }
        if (size == 5) {
            ways++;
            as_far += fabs(moved) >= fabs(seen) - 1e-9;
        }
    }
    assert_int_equal(ways, 252);
    const struct contrast c = pieces_compare(all, 5, all + 5, 5);
    assert_near(0, c.p, (double)as_far / ways, 0.05);
}

/* Wholly apart, without any variance within: p is what the number of ways allows. */
static void pieces__compare__apart(void **state)
{
    (void)state;
    struct piece all[8];
    for (int i = 0; i < 8; i++)
        all[i] = (struct piece){i < 4 ? 2.0 : 0.0, 2.0};
    const struct contrast c = pieces_compare(all, 4, all + 4, 4);
    assert_true(c.defined);
    assert_near(0, c.p, 1.0 / 70.0, 1e-12);
    assert_near(1, c.difference, 1.0, 0.0);
}

static void pieces__compare__too_little__undefined(void **state)
{
    (void)state;
    static const struct piece some[] = {{1, 2}, {0, 2}, {0, 0}, {1, 1}, {2, 3}, {1, 2}};
    static const struct piece alike[] = {{1, 2}, {1, 2}, {1, 2}, {1, 2}};
    assert_false(pieces_compare(some, 3, some + 3, 3).defined);
    assert_false(pieces_compare(alike, 4, alike, 4).defined);
    assert_false(pieces_compare(NULL, 0, NULL, 0).defined);
    assert_near(0, pieces_least(&(struct contrast){.defined = false}, 0.05), 0.0, 0.0);
    assert_false(pieces_interval(&(struct contrast){.defined = false}, 0.95).defined);
}

/* Where every piece holds what chance would give it, or less scatter: the plain intervals. */
static void pieces__even__plain_intervals(void **state)
{
    (void)state;
    struct piece even[12];
    for (int i = 0; i < 12; i++)
        even[i] = (struct piece){i % 2 ? 2.0 : 3.0, 5.0};
    const struct estimate share = pieces_share(even, 12, 0.95);
    const struct estimate plain = interval_wilson(30, 60, 0.95);
    assert_near(0, share.low, plain.low, 1e-12);
    assert_near(0, share.high, plain.high, 1e-12);
    const struct estimate rate = pieces_rate(even, 12, 0.95);
    const struct estimate exact = rate_interval(30, 60, 0.95);
    assert_near(1, rate.low, exact.low, 1e-12);
    assert_near(1, rate.high, exact.high, 1e-12);
}

/* Everything in threes: as sure as a third of the strikes. */
static void pieces__in_threes__wider(void **state)
{
    (void)state;
    struct piece bursts[30];
    for (int i = 0; i < 30; i++)
        bursts[i] = (struct piece){i % 3 ? 0.0 : 3.0, 3.0};
    const struct estimate share = pieces_share(bursts, 30, 0.95);
    const struct estimate plain = interval_wilson(30, 90, 0.95);
    assert_near(0, share.value, plain.value, 1e-12);
    /* squares 60 of variance 20, n - 1: 3 x 30/29 */
    const double worth = 90.0 / (3.0 * 30.0 / 29.0);
    assert_near(0, share.low, interval_wilson(worth / 3.0, worth, 0.95).low, 1e-12);
    assert_true(share.high - share.low > 1.5 * (plain.high - plain.low));
    assert_false(pieces_share(NULL, 0, 0.95).defined);
    assert_false(pieces_rate(NULL, 0, 0.95).defined);
    const struct estimate none = pieces_rate(&(struct piece){0.0, 2.0}, 1, 0.95);
    assert_near(1, none.high, rate_interval(0, 2, 0.95).high, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(student__table),
        cmocka_unit_test(pieces__compare__student_sleep),
        cmocka_unit_test(pieces__compare__near_the_permutations),
        cmocka_unit_test(pieces__compare__apart),
        cmocka_unit_test(pieces__compare__too_little__undefined),
        cmocka_unit_test(pieces__even__plain_intervals),
        cmocka_unit_test(pieces__in_threes__wider),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
