/* The sum over all pairings, held against every one of them written out. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "insight/match.h"

#define MOST 5

static uint32_t seed;

static int pick(int below)
{
    seed = seed * 1664525u + 1013904223u;
    return (int)((seed >> 8) % (uint32_t)below);
}

struct sums {
    double all, with[MOST * MOST];
    double best;
    unsigned long chosen; /* bits of the pairs of the best */
    int ties;
};

/* Every pairing from pair `at` on. */
static void enumerate(struct sums *sums, const struct match_pair *pairs, size_t count, size_t at,
                      unsigned used_a, unsigned used_b, double log_odds, unsigned long taken)
{
    if (at == count) {
        double odds = exp(log_odds);
        sums->all += odds;
        for (size_t i = 0; i < count; i++) {
            sums->with[i] += taken >> i & 1 ? odds : 0;
        }
        if (fabs(log_odds - sums->best) < 1e-9) {
            sums->ties++;
        } else if (log_odds > sums->best) {
            sums->best = log_odds;
            sums->chosen = taken;
            sums->ties = 0;
        }
        return;
    }
    unsigned a = 1u << pairs[at].a, b = 1u << pairs[at].b;
    enumerate(sums, pairs, count, at + 1, used_a, used_b, log_odds, taken);
    if (!(used_a & a) && !(used_b & b)) {
        enumerate(sums, pairs, count, at + 1, used_a | a, used_b | b, log_odds + pairs[at].log_odds,
                  taken | 1ul << at);
    }
}

static size_t make_random(struct match_pair *pairs, int density)
{
    size_t count = 0;
    for (int a = 0; a < MOST; a++) {
        for (int b = 0; b < MOST; b++) {
            if (pick(10) < density) {
                pairs[count++] =
                    (struct match_pair){.a = a, .b = b, .log_odds = pick(800) / 100.0 - 3};
            }
        }
    }
    return count;
}

static void match__solve__as_all_pairings_written_out(void **state)
{
    (void)state;
    struct match *match = match_new(MOST);
    assert_non_null(match);
    seed = 5;
    for (int round = 0; round < 2000; round++) {
        struct match_pair pairs[MOST * MOST];
        size_t count = make_random(pairs, 2 + round % 8);
        struct sums sums = {.best = -1};
        double log_sum = 0;
        enumerate(&sums, pairs, count, 0, 0, 0, 0, 0);
        assert_int_equal(match_solve(match, pairs, count, &log_sum), 0);
        assert_true(fabs(log_sum - log(sums.all)) < 1e-5);
        for (size_t i = 0; i < count; i++) {
            assert_true(fabs(pairs[i].likely - sums.with[i] / sums.all) < 1e-5);
            if (sums.ties == 0) {
                assert_int_equal(pairs[i].chosen, sums.chosen >> i & 1);
            }
        }
    }
    match_free(match);
}

static int by_a(const void *one, const void *other)
{
    const struct match_pair *a = one, *b = other;
    return a->a != b->a ? (a->a > b->a) - (a->a < b->a) : (a->b > b->b) - (a->b < b->b);
}

/* Odds of a few values, so that equal pairings are common: the same are chosen when the lists are
 * exchanged, and a chosen pairing is one. */
static void match__solve__same_when_exchanged(void **state)
{
    (void)state;
    struct match *match = match_new(MOST);
    assert_non_null(match);
    seed = 9;
    for (int round = 0; round < 2000; round++) {
        struct match_pair one[MOST * MOST], other[MOST * MOST];
        size_t count = make_random(one, 6);
        double log_sum = 0, turned = 0;
        for (size_t i = 0; i < count; i++) {
            one[i].log_odds += pick(1000) / 1e5;
            other[i] =
                (struct match_pair){.a = one[i].b, .b = one[i].a, .log_odds = one[i].log_odds};
        }
        qsort(other, count, sizeof *other, by_a);
        assert_int_equal(match_solve(match, one, count, &log_sum), 0);
        assert_int_equal(match_solve(match, other, count, &turned), 0);
        assert_true(fabs(log_sum - turned) < 1e-4);
        for (size_t i = 0; i < count; i++) {
            other[i] = (struct match_pair){.a = other[i].b,
                                           .b = other[i].a,
                                           .likely = other[i].likely,
                                           .chosen = other[i].chosen};
        }
        qsort(other, count, sizeof *other, by_a);
        for (size_t i = 0; i < count; i++) {
            assert_true(fabs(one[i].likely - other[i].likely) < 1e-4);
            assert_int_equal(one[i].chosen, other[i].chosen);
        }
    }
    match_free(match);
}

static void match__solve__equal_odds_pair_the_later(void **state)
{
    (void)state;
    struct match_pair one_a[] = {{.a = 0, .b = 0, .log_odds = 2}, {.a = 0, .b = 1, .log_odds = 2}};
    struct match_pair one_b[] = {{.a = 0, .b = 0, .log_odds = 2}, {.a = 1, .b = 0, .log_odds = 2}};
    struct match_pair crossed[] = {{.a = 0, .b = 0, .log_odds = 2},
                                   {.a = 0, .b = 1, .log_odds = 2},
                                   {.a = 1, .b = 0, .log_odds = 2},
                                   {.a = 1, .b = 1, .log_odds = 2}};
    struct match *match = match_new(2);
    double log_sum = 0;
    assert_non_null(match);
    assert_int_equal(match_solve(match, one_a, 2, &log_sum), 0);
    assert_true(!one_a[0].chosen && one_a[1].chosen);
    assert_int_equal(match_solve(match, one_b, 2, &log_sum), 0);
    assert_true(!one_b[0].chosen && one_b[1].chosen);
    assert_int_equal(match_solve(match, crossed, 4, &log_sum), 0);
    assert_true(crossed[0].chosen && crossed[3].chosen);
    assert_true(fabs(crossed[0].likely - crossed[1].likely) < 1e-9);
    match_free(match);
}

/* Far more at once than states are kept, and than slots: still every member in one pair at most. */
static void match__solve__a_crowd(void **state)
{
    (void)state;
    enum { CROWD = 90 };
    struct match_pair *pairs = calloc((size_t)CROWD * CROWD, sizeof *pairs);
    struct match *match = match_new(CROWD);
    double log_sum = 0, a[CROWD] = {0}, b[CROWD] = {0};
    int taken_a[CROWD] = {0}, taken_b[CROWD] = {0};
    assert_non_null(pairs);
    assert_non_null(match);
    for (int i = 0; i < CROWD * CROWD; i++) {
        pairs[i] = (struct match_pair){
            .a = i / CROWD, .b = i % CROWD, .log_odds = i / CROWD == i % CROWD ? 3 : 0};
    }
    assert_int_equal(match_solve(match, pairs, (size_t)CROWD * CROWD, &log_sum), 0);
    assert_true(isfinite(log_sum));
    for (int i = 0; i < CROWD * CROWD; i++) {
        a[pairs[i].a] += pairs[i].likely;
        b[pairs[i].b] += pairs[i].likely;
        taken_a[pairs[i].a] += pairs[i].chosen;
        taken_b[pairs[i].b] += pairs[i].chosen;
    }
    for (int i = 0; i < CROWD; i++) {
        assert_true(a[i] <= 1 + 1e-9 && b[i] <= 1 + 1e-9);
        assert_true(taken_a[i] <= 1 && taken_b[i] <= 1);
    }
    match_free(match);
    free(pairs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(match__solve__as_all_pairings_written_out),
        cmocka_unit_test(match__solve__same_when_exchanged),
        cmocka_unit_test(match__solve__equal_odds_pair_the_later),
        cmocka_unit_test(match__solve__a_crowd),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
