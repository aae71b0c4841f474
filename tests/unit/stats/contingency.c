/* Fisher's exact test, the upper tail, against known tables and against whole-number
 * arithmetic. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include "near.h"
#include "ringtally/stats/contingency.h"
#include "ringtally/stats/interval.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: B. Gerstman, "Epidemiology Kept Simple" (Feinstein and
 * Cicchetti); a public test suite whose name was not kept (the small exact fractions). The long
 * digits are own arithmetic, done with two independent statistics packages; the short ones are
 * what the source prints. */
struct fisher_case {
    int64_t cell[4];
    double greater;
};

static const struct fisher_case fisher_cases[] = {
    /* Fisher RA 1935, The Design of Experiments, ch. II; Agresti A 2002, Categorical Data
     * Analysis p. 91; R help page fisher.test, first example [excerpt] */
    {{3, 1, 1, 3}, 0.24285714285714285},
    /* Fisher 1935, ch. II: 1/70 when all eight cups are right [secondary: R,
     * tests/outside/reference.R] */
    {{4, 0, 0, 4}, 0.014285714285714285},
    /* Fisher RA 1962/1970, criminal convictions of like-sex twins; R help page fisher.test,
     * second example [excerpt] */
    {{2, 15, 10, 3}, 0.9999845190186861},
    /* exact rational; the same fractions stand in a public test suite (4/9, 6/13, 13/63,
     * 1/126, 1/21, 1/10) [secondary] */
    {{0, 2, 5, 3}, 1.0},
    {{0, 2, 7, 5}, 1.0},
    {{4, 1, 1, 3}, 0.16666666666666666},
    {{5, 0, 0, 5}, 0.003968253968253968},
    {{4, 1, 0, 5}, 0.023809523809523808},
    {{3, 0, 0, 3}, 0.05},
    /* same counts as Newcombe example (a) [own arithmetic] */
    {{56, 14, 48, 32}, 0.00632471112989837},
    /* Physicians' Health Study table, Agresti A 2007, An Introduction to Categorical Data
     * Analysis, 2nd ed., Table 2.3 [from memory]; p [secondary: R,
     * tests/outside/reference.R] */
    {{189, 10845, 104, 10933}, 3.252710905458003e-07},
};

static struct fisher fisher_of(const int64_t cell[4])
{
    return contingency_fisher(cell[0], cell[1], cell[2], cell[3]);
}

static void contingency__fisher__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(fisher_cases); i++) {
        const struct fisher_case *c = &fisher_cases[i];
        const struct fisher f = fisher_of(c->cell);
        assert_true(f.defined);
        /* Small ones relative to themselves: 5e-07 within 1e-9 would prove nothing. */
        assert_near(i, f.greater / c->greater, 1.0, 1e-9);
    }
}

/* What the sources print. Fisher 1935: 17/70 for three of four cups, 1/70 for all; R help page
 * fisher.test (excerpt): .2429, and for the twins .0004652 (less: here the other row first). */
static void contingency__fisher__printed(void **state)
{
    (void)state;
    assert_printed(0, contingency_fisher(3, 1, 1, 3).greater, 0.2429, 4);
    assert_near(0, contingency_fisher(3, 1, 1, 3).greater, 17.0 / 70.0, 1e-14);
    assert_near(0, contingency_fisher(4, 0, 0, 4).greater, 1.0 / 70.0, 1e-14);
    assert_printed(0, contingency_fisher(10, 3, 2, 15).greater, 0.0004652, 7);
}

static uint64_t choose(uint64_t n, uint64_t k)
{
    uint64_t ways = 1;

    for (uint64_t i = 1; i <= k; i++)
        ways = ways * (n - k + i) / i;
    return ways;
}

/* Every table of up to 13 a row, in whole numbers: ties are ties there, without any tolerance. */
static void contingency__fisher__whole_number_arithmetic(void **state)
{
    (void)state;
    for (uint64_t one = 0; one <= 13; one++) {
        for (uint64_t other = one == 0 ? 1 : 0; other <= 13; other++) {
            for (uint64_t yes = 0; yes <= one + other; yes++) {
                const uint64_t least = yes > other ? yes - other : 0;
                const uint64_t most = yes < one ? yes : one;
                for (uint64_t a = least; a <= most; a++) {
                    const uint64_t last = choose(one, most) * choose(other, yes - most);
                    uint64_t greater = 0;
                    for (uint64_t x = least; x <= most; x++) {
                        const uint64_t ways = choose(one, x) * choose(other, yes - x);
                        greater += x >= a ? ways : 0;
                    }
                    const double all = (double)choose(one + other, yes);
                    const struct fisher f =
                        contingency_fisher((int64_t)a, (int64_t)(one - a), (int64_t)(yes - a),
                                           (int64_t)(other - (yes - a)));
                    assert_true(f.defined);
                    assert_near(a, f.greater, (double)greater / all, 1e-13);
                    assert_near(a, f.least, (double)last / all, 1e-13);
                    /* its own p is reached, and a little less is not */
                    const double more = (double)(greater - choose(one, a) * choose(other, yes - a));
                    const int64_t of[] = {(int64_t)a, (int64_t)(one - a), (int64_t)(yes - a),
                                          (int64_t)(other - (yes - a))};
                    assert_near(
                        a, contingency_reach(of[0], of[1], of[2], of[3], f.least, f.greater * (1.0 + 1e-9)),
                        f.greater, 1e-12);
                    assert_near(
                        a, contingency_reach(of[0], of[1], of[2], of[3], f.least, f.greater * (1.0 - 1e-9)),
                        more / all, 1e-12);
                }
            }
        }
    }
}

/* Beyond what a double can hold the tails end at 0; of the symmetric table they are a half. */
static void contingency__fisher__large_tables(void **state)
{
    (void)state;
    const struct fisher extreme = contingency_fisher(100000, 0, 0, 100000);
    const struct fisher even = contingency_fisher(250000, 250000, 250000, 250000);
    const struct fisher most = contingency_fisher(250000000, 250000000, 250000000, 250000000);
    const struct fisher huge = contingency_fisher(1, 999, 99999, 999899001);

    assert_true(extreme.defined && even.defined && most.defined && huge.defined);
    assert_near(0, most.greater, 0.5, 1e-4);
    assert_near(0, extreme.greater, 0.0, 0.0);
    assert_near(0, extreme.least, 0.0, 0.0);
    assert_near(0, even.greater, 0.5, 1e-3);
    /* About Poisson with mean .1: P(X >= 1) = 1 - exp(-.1). */
    assert_near(0, huge.greater, 1.0 - exp(-0.1), 1e-4);
}

static void contingency__nothing_in_a_row__still_a_number(void **state)
{
    (void)state;
    static const int64_t tables[][4] = {
        {0, 0, 3, 4}, {3, 4, 0, 0}, {0, 5, 0, 6}, {5, 0, 6, 0}, {1, 0, 0, 0}};
    double out = 1.0;

    for (size_t i = 0; i < ROWS(tables); i++) {
        const struct fisher f = fisher_of(tables[i]);
        assert_true(f.defined);
        assert_near(i, f.greater, 1.0, 0.0);
    }
    assert_false(contingency_yule_q(&out, 0, 0, 3, 4));
    assert_true(out == 0.0);
}

static void contingency__impossible_counts__undefined(void **state)
{
    (void)state;
    static const int64_t bad[][4] = {{0, 0, 0, 0},
                                     {-1, 5, 5, 5},
                                     {5, -1, 5, 5},
                                     {5, 5, -1, 5},
                                     {5, 5, 5, -1},
                                     {INT64_MAX, INT64_MAX, INT64_MAX, INT64_MAX},
                                     {INTERVAL_COUNT_MAX, 1, 0, 0}};

    for (size_t i = 0; i < ROWS(bad); i++) {
        double out = 1.0;
        assert_false(fisher_of(bad[i]).defined);
        assert_false(contingency_yule_q(&out, bad[i][0], bad[i][1], bad[i][2], bad[i][3]));
        assert_true(out == 0.0);
    }
}

/* (40 x 45 - 9 x 6) / (40 x 45 + 9 x 6) and (80 x 5 - 10 x 5) / (80 x 5 + 10 x 5): tables of
 * Feinstein & Cicchetti 1990 (secondary), Q derived; the measure itself is asked for by James,
 * Taylor & Stanley 2007. */
static void contingency__yule_q__worked(void **state)
{
    (void)state;
    double q = 0.0;

    assert_true(contingency_yule_q(&q, 40, 9, 6, 45));
    assert_near(0, q, 0.941747572815534, 1e-12);
    assert_true(contingency_yule_q(&q, 80, 10, 5, 5));
    assert_near(1, q, 0.7777777777777778, 1e-12);
    assert_true(contingency_yule_q(&q, 0, 7, 9, 0));
    assert_near(2, q, -1.0, 0.0);
    assert_true(contingency_yule_q(&q, 3, 0, 2, 9));
    assert_near(3, q, 1.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(contingency__fisher__known_values),
        cmocka_unit_test(contingency__fisher__printed),
        cmocka_unit_test(contingency__fisher__whole_number_arithmetic),
        cmocka_unit_test(contingency__fisher__large_tables),
        cmocka_unit_test(contingency__nothing_in_a_row__still_a_number),
        cmocka_unit_test(contingency__impossible_counts__undefined),
        cmocka_unit_test(contingency__yule_q__worked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
