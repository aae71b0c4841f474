/* The pairing of two desks' strikes: held against every monotone matching of short sequences, and
 * against its own laws. */
#include "../tally/support.h"

#include <stdlib.h>
#include <time.h>

#include "ringtally/insight/align.h"

#define SHORT 6

static uint32_t seed;

static int pick(int below)
{
    seed = seed * 1664525u + 1013904223u;
    return (int)((seed >> 8) % (uint32_t)below);
}

static struct align_strike strike_at(int64_t seq, int round, int32_t elapsed_ms, enum corner corner,
                                     enum limb limb, enum target target, enum outcome outcome)
{
    return (struct align_strike){.name = {0, seq},
                                 .strike = {.corner = (uint8_t)corner,
                                            .limb = (uint8_t)limb,
                                            .target = (uint8_t)target,
                                            .outcome = (uint8_t)outcome},
                                 .round = (uint8_t)round,
                                 .elapsed_ms = elapsed_ms};
}

/* Few moments and few kinds, so that equal costs are common; some off the clock. */
static size_t make_random(struct align_strike *out, size_t most, int step_ms, int steps)
{
    size_t count = (size_t)pick((int)most + 1);
    for (size_t i = 0; i < count; i++) {
        out[i] = strike_at((int64_t)i + 1, 1 + pick(8) / 7, step_ms * pick(steps),
                           (enum corner)pick(2), (enum limb)(LIMB_LEFT_HAND + pick(2) * 7),
                           (enum target)pick(2), (enum outcome)pick(2));
        if (pick(8) == 0) {
            out[i].off_clock = true;
            out[i].idle_ms = step_ms * pick(4);
        }
    }
    align_sort(out, count);
    return count;
}

/* The least cost over every way to leave alone or pair, written without any table. */
static int64_t brute(const struct align_strike *a, size_t n, const struct align_strike *b, size_t m,
                     int32_t late, const struct align_options *options)
{
    if (n == 0 || m == 0) {
        return (int64_t)(n + m) * options->alone;
    }
    int64_t best = brute(a + 1, n - 1, b, m, late, options) + options->alone;
    for (size_t j = 0; j < m; j++) { /* the first of A with the j-th of B, those before it alone */
        int32_t points = align_pair_cost(&a[0], &b[j], late, options);
        if (points >= 0) {
            int64_t cost = points + (int64_t)j * options->alone +
                           brute(a + 1, n - 1, b + j + 1, m - j - 1, late, options);
            best = cost < best ? cost : best;
        }
    }
    return best;
}

/* What the links cost; fails where they cross, repeat or leave out a strike. */
static int64_t cost_of(const struct align *align, const struct align_strike *a, size_t n,
                       const struct align_strike *b, size_t m, const struct align_options *options)
{
    int32_t next_a = 0;
    int32_t next_b = 0;
    int64_t cost = 0;
    for (size_t i = 0; i < align->count; i++) {
        struct align_link link = align->links[i];
        if (link.a >= 0) {
            assert_int_equal(link.a, next_a++);
        }
        if (link.b >= 0) {
            assert_int_equal(link.b, next_b++);
        }
        if (link.a >= 0 && link.b >= 0) {
            int32_t points = align_pair_cost(&a[link.a], &b[link.b], align->lateness_ms, options);
            assert_true(points >= 0);
            cost += points;
        } else {
            assert_true(link.a >= 0 || link.b >= 0);
            cost += options->alone;
        }
    }
    assert_int_equal(next_a, n);
    assert_int_equal(next_b, m);
    assert_int_equal(align->paired * 2 + align->only_a + align->only_b, n + m);
    return cost;
}

static void align__make__as_brute_force(void **state)
{
    (void)state;
    seed = 7;
    size_t paired = 0;
    for (int round = 0; round < 6000; round++) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[SHORT], b[SHORT];
        struct align align;
        /* Dense, common and sparse in turn, so that the kept columns are all or few. */
        int step = (int[]){40, 250, 900}[round % 3];
        size_t n = make_random(a, SHORT, step, 12);
        size_t m = make_random(b, SHORT, step, 12);
        options.lateness_max_ms = round % 2 ? 0 : 600;
        assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
        assert_int_equal(align.cost, brute(a, n, b, m, align.lateness_ms, &options));
        assert_int_equal(align.cost, cost_of(&align, a, n, b, m, &options));
        paired += align.paired;
        align_release(&align);
    }
    assert_in_range(paired, 5000, 18000);
}

static void align__make__same_pairs_when_exchanged(void **state)
{
    (void)state;
    seed = 11;
    for (int round = 0; round < 6000; round++) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[30], b[30];
        struct align one, other;
        int32_t partner[30];
        int step = (int[]){100, 250, 500}[round % 3];
        size_t n = make_random(a, 30, step, 40);
        size_t m = make_random(b, 30, step, 40);
        options.lateness_max_ms = round % 2 ? 0 : 1000;
        assert_int_equal(align_make(&one, a, n, b, m, &options), 0);
        assert_int_equal(align_make(&other, b, m, a, n, &options), 0);
        assert_int_equal(one.lateness_ms, -other.lateness_ms);
        assert_int_equal(one.cost, other.cost);
        memset(partner, -1, sizeof partner);
        for (size_t i = 0; i < one.count; i++) {
            if (one.links[i].a >= 0) {
                partner[one.links[i].a] = one.links[i].b;
            }
        }
        for (size_t i = 0; i < other.count; i++) {
            if (other.links[i].b >= 0) {
                assert_int_equal(other.links[i].a, partner[other.links[i].b]);
            }
        }
        align_release(&one);
        align_release(&other);
    }
}

static void align__make__equal_costs_settled_always_alike(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    options.lateness_max_ms = 0;
    struct align_strike one[] = {
        strike_at(1, 1, 1000, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED)};
    struct align_strike two[] = {
        strike_at(1, 1, 900, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED),
        strike_at(2, 1, 1100, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED)};
    struct align align;
    assert_int_equal(align_make(&align, one, 1, two, 2, &options), 0);
    assert_int_equal(align.count, 2);
    assert_int_equal(align.links[0].a, -1);
    assert_int_equal(align.links[0].b, 0);
    assert_int_equal(align.links[1].a, 0);
    assert_int_equal(align.links[1].b, 1);
    align_release(&align);
}

/* Steps of 137 ms mean that a bout of one kind of strike would fit at many a lateness; the kinds
 * tell which is right. */
static void align__make__takes_out_lateness(void **state)
{
    (void)state;
    seed = 3;
    for (int32_t late = -1900; late <= 1900; late += 475) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[200], b[200];
        struct align align;
        for (int i = 0; i < 200; i++) {
            a[i] = strike_at(i + 1, 1, 5000 + 300 * i + pick(150), (enum corner)pick(2),
                             (enum limb)(pick(2) * LIMB_LEFT_LEG), (enum target)pick(3),
                             (enum outcome)pick(2));
            b[i] = a[i];
            b[i].elapsed_ms += late + pick(101) - 50;
        }
        align_sort(b, 200);
        assert_int_equal(align_make(&align, a, 200, b, 200, &options), 0);
        assert_int_equal(align.paired, 200);
        assert_in_range(align.lateness_ms - late + 15, 0, 30);
        align_release(&align);
    }
}

static void align__make__rounds_and_window_hold(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    options.lateness_max_ms = 0;
    struct align_strike a[] = {
        strike_at(1, 1, 179900, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(2, 2, 5000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(3, 2, 9000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED)};
    struct align_strike b[] = {
        strike_at(1, 2, 0, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(2, 2, 6000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(3, 2, 10001, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED)};
    struct align align;
    assert_int_equal(align_make(&align, a, 3, b, 3, &options), 0);
    assert_int_equal(align.paired, 1); /* 5.000 with 6.000: a whole window, not more */
    assert_int_equal(align.cost, 1000 + 4 * 1000);
    align_release(&align);
}

static void align__make__nothing_on_one_side(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct align_strike a[] = {
        strike_at(1, 1, 100, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED)};
    struct align align;
    assert_int_equal(align_make(&align, NULL, 0, NULL, 0, &options), 0);
    assert_int_equal(align.count, 0);
    align_release(&align);
    assert_int_equal(align_make(&align, a, 1, NULL, 0, &options), 0);
    assert_int_equal(align.only_a, 1);
    align_release(&align);
    assert_int_equal(align_make(&align, NULL, 0, a, 1, &options), 0);
    assert_int_equal(align.only_b, 1);
    align_release(&align);
}

static struct entry clock_entry(int desk, int64_t seq, int64_t utc_ms, enum entry_code code,
                                int32_t elapsed_ms)
{
    struct entry entry = test_entry(desk, seq, utc_ms, ENTRY_CLOCK);
    entry.code = (uint8_t)code;
    entry.elapsed_ms = elapsed_ms;
    return entry;
}

/* Desk 0 has the official clock; desk 1 is a shadow with its own, hours later; desk 2 follows the
 * official one. */
static void align__read__each_desk_on_the_clock_it_followed(void **state)
{
    (void)state;
    const int64_t later = 10000000;
    struct bout bout = test_bout();
    struct entry entries[] = {
        test_official(0, 1, 1000, CODE_CLOCK),
        clock_entry(0, 2, 2000, CODE_START, 0),
        clock_entry(0, 3, 32000, CODE_STOP, 30000),
        test_strike(0, 4, 32700, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        test_strike(2, 1, 32900, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        clock_entry(0, 5, 33000, CODE_NUDGE, 0),
        test_strike(0, 6, 34000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        test_strike(1, 1, later - 500, CORNER_RED, LIMB_KNEE, TARGET_LEG, OUTCOME_LANDED),
        clock_entry(1, 2, later, CODE_START, 0),
        clock_entry(1, 3, later + 30100, CODE_STOP, 30100),
        test_strike(1, 4, later + 30900, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
    };
    const struct {
        int root;
        size_t count;
        int32_t idle[2];
    } expected[] = {{0, 2, {700, 2000}}, {1, 2, {-500, 800}}, {2, 1, {900, 0}}};
    entries[3].elapsed_ms = entries[4].elapsed_ms = 30000;
    entries[5].value = -1000;
    entries[6].elapsed_ms = 29000;
    entries[10].elapsed_ms = 30100;
    for (size_t i = 0; i < sizeof entries / sizeof entries[0]; i++) {
        entries[i].off_clock = entries[i].kind == ENTRY_STRIKE;
    }
    for (size_t k = 0; k < 3; k++) {
        struct fold *own = fold_new(&test_plan, &bout, expected[k].root);
        struct align_strike *strikes = NULL;
        size_t count = 0;
        for (int desk = 0; desk < 3; desk++) {
            struct desk_row row = test_desk((const char *[]){"a", "b", "c"}[desk], desk);
            row.shadow = desk == 1;
            assert_int_equal(fold_desk(own, &row), 0);
        }
        assert_int_equal(fold_add_all(own, entries, sizeof entries / sizeof entries[0]), 0);
        assert_int_equal(align_read(&strikes, &count, own, expected[k].root, 3), 0);
        assert_int_equal(count, expected[k].count);
        if (k == 0) { /* the nudge put the later one before the other on the clock */
            assert_int_equal(strikes[0].idle_ms, 2000);
            assert_int_equal(strikes[1].idle_ms, 700);
        } else {
            for (size_t i = 0; i < count; i++) {
                assert_int_equal(strikes[i].idle_ms, expected[k].idle[i]);
            }
        }
        free(strikes);
        assert_int_equal(align_read(&strikes, &count, own, expected[k].root, 1 << CORNER_BLUE), 0);
        assert_int_equal(count, k == 0);
        free(strikes);
        fold_free(own);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(align__make__as_brute_force),
        cmocka_unit_test(align__make__same_pairs_when_exchanged),
        cmocka_unit_test(align__make__equal_costs_settled_always_alike),
        cmocka_unit_test(align__make__takes_out_lateness),
        cmocka_unit_test(align__make__rounds_and_window_hold),
        cmocka_unit_test(align__make__nothing_on_one_side),
        cmocka_unit_test(align__read__each_desk_on_the_clock_it_followed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
