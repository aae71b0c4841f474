/* The runs test against known sequences and against every order there is. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <setjmp.h>
#include <cmocka.h>

#include <string.h>

#include "near.h"
#include "ringtally/stats/runs.h"

/* Each value stands beside its source. In brackets how well that is known, in the words of
 * DEVELOPERS.md. Secondary sources here: the tests of CPAN Statistics-Sequences-Runs. The long
 * digits are own arithmetic, done with two independent statistics packages; the short ones are
 * what the source prints. */
struct runs_case {
    const char *sequence; /* NULL: the source gives counts only */
    int64_t one, other, count;
    double mean, variance, z, z_cc, exact_le, exact_ge;
};

static const struct runs_case runs_cases[] = {
    /* Swed FS, Eisenhart C 1943, Tables for testing randomness of grouping in a sequence of
     * alternatives, Annals of Mathematical Statistics 14:66-87, p. 71 and Table I; in the
     * tests of CPAN Statistics-Sequences-Runs [secondary] */
    {"HHHHHHHHHHDHDDDDHHHHHHHHH", 5, 20, 5, 9.0, 2.3333333333333335, -2.6186146828319083,
     -2.29128784747792, 0.018351214003387916, 0.9966685488424619},
    /* Swed & Eisenhart 1943, Table I (20, 20, u=15) [secondary] */
    {NULL, 20, 20, 15, 21.0, 9.743589743589743, -1.9221698265515623, -1.7619890076722655,
     0.037998211800020575, 0.9818372853677781},
    /* Swed & Eisenhart 1943, seats at a counter (5 occupied, 11 empty) [secondary] */
    {"EOEEOEEEOEEEOEOE", 11, 5, 11, 7.875, 2.6927083333333335, 1.904387685446346,
     1.5996856557749306, 1.0, 0.057692307692307696},
    /* Siegel S 1956, Nonparametric Statistics, p. 142 (Wald-Wolfowitz, r=6, z=-2.9 with
     * correction) [secondary] */
    {"ccccccccccccccecccccceceeeeee", 21, 8, 6, 12.586206896551724, 4.380499405469679,
     -3.146831990172923, -2.907936367882308, 0.002338923778204138, 0.9995202864768082},
    /* CPAN Statistics::Sequences::Runs 0.22 SYNOPSIS: observed 11, expected 10.9, exact p
     * 0.5700167 [excerpt] */
    {"10001101100100111101", 9, 11, 11, 10.9, 4.637368421052631, 0.04643700480029226,
     -0.18574801920116984, 0.6050250059537985, 0.5700166706358657},
};

static void runs__sequences__known_values(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS(runs_cases); i++) {
        const struct runs_case *c = &runs_cases[i];
        const struct runs r = runs_test(c->one, c->other, c->count);
        assert_true(r.defined);
        assert_near(i, r.mean, c->mean, 1e-9);
        assert_near(i, r.variance, c->variance, 1e-9);
        assert_near(i, r.z, c->z, 1e-9);
        /* The correction stops at the mean here: what overshoots it is 0. */
        assert_near(i, r.z_cc, c->z * c->z_cc < 0.0 ? 0.0 : c->z_cc, 1e-9);
        assert_near(i, r.exact_le, c->exact_le, 1e-9);
        assert_near(i, r.exact_ge, c->exact_ge, 1e-9);
        if (c->sequence == NULL)
            continue;
        bool flags[32];
        const size_t length = strlen(c->sequence);
        assert_true(length <= ROWS(flags));
        for (size_t j = 0; j < length; j++)
            flags[j] = c->sequence[j] == c->sequence[0];
        const struct runs s = runs_test_sequence(flags, length);
        assert_true(s.defined);
        assert_int_equal(s.count, c->count);
        assert_int_equal(s.yes + s.no, (int64_t)length);
        assert_near(i, s.exact_le, r.exact_le, 1e-12);
        assert_near(i, s.z, r.z, 1e-12);
    }
}

/* Swed & Eisenhart 1943 as quoted (secondary): .0183512, .0379982, .0576923. */
static void runs__exact__printed(void **state)
{
    (void)state;
    assert_printed(0, runs_test(5, 20, 5).exact_le, 0.0183512, 7);
    assert_printed(1, runs_test(20, 20, 15).exact_le, 0.0379982, 7);
    assert_printed(2, runs_test(11, 5, 11).exact_ge, 0.0576923, 7);
    assert_printed(0, runs_test(5, 20, 5).z_cc, -2.29, 2);
}

/* Every order of up to 12, counted. */
static void runs__exact__every_order(void **state)
{
    (void)state;
    for (size_t length = 3; length <= 12; length++) {
        int orders[13][26] = {{0}}, all[13] = {0};
        for (unsigned bits = 0; bits < 1U << length; bits++) {
            size_t yes = 0, count = 0;
            for (size_t i = 0; i < length; i++) {
                yes += bits >> i & 1U;
                count += i == 0 || (bits >> i & 1U) != (bits >> (i - 1) & 1U);
            }
            orders[yes][count]++;
            all[yes]++;
        }
        for (size_t yes = 1; yes < length; yes++) {
            int so_far = 0;
            for (size_t count = 2; count <= length; count++) {
                const struct runs r =
                    runs_test((int64_t)yes, (int64_t)(length - yes), (int64_t)count);
                assert_int_equal(r.defined, orders[yes][count] > 0);
                const int before = so_far;
                so_far += orders[yes][count];
                if (!r.defined)
                    continue;
                assert_near(count, r.exact_le, (double)so_far / all[yes], 1e-12);
                assert_near(count, r.exact_ge, 1.0 - (double)before / all[yes], 1e-12);
            }
        }
    }
}

static void runs__degenerate__undefined(void **state)
{
    (void)state;
    static const bool same[] = {true, true, true};

    assert_false(runs_test_sequence(same, 3).defined);
    assert_false(runs_test_sequence(same, 1).defined);
    assert_false(runs_test_sequence(NULL, 0).defined);
    assert_false(runs_test(0, 5, 1).defined);
    assert_false(runs_test(1, 1, 2).defined);
    assert_false(runs_test(5, 5, 1).defined);
    assert_false(runs_test(5, 5, 11).defined);
    assert_false(runs_test(-5, 5, 2).defined);
    assert_false(runs_test(INT64_MAX, INT64_MAX, 2).defined);
    assert_true(runs_test(RUNS_MAX / 2, RUNS_MAX / 2, RUNS_MAX / 2).defined);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs__sequences__known_values),
        cmocka_unit_test(runs__exact__printed),
        cmocka_unit_test(runs__exact__every_order),
        cmocka_unit_test(runs__degenerate__undefined),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
