/* Set-ups: the two sides of each pair, and which pairs are looked at. */
#include "../tally/blows.h"
#include "../stats/near.h"

#include "ringtally/insight/setups.h"

static struct setups find(const struct fight *fight, int cases, double error)
{
    struct setup_rule rule = SETUP_RULE_DEFAULT;
    struct setups setups;
    struct error err = {0};
    struct stream stream = fight_stream(fight);
    rule.cases = cases;
    assert_int_equal(setups_init(&setups, &stream, ROUND_MAX, &rule, error, &err), 0);
    stream_release(&stream);
    return setups;
}

static const struct setup *pair_of(const struct setups *setups, enum corner corner, int first,
                                   int then)
{
    for (size_t i = 0; i < setups->count; i++) {
        const struct setup *pair = &setups->pair[i];
        if (pair->corner == corner && pair->first == first && pair->then == then) {
            return pair;
        }
    }
    return NULL;
}

/* `landed` of `thrown` low kicks of red, each after a jab or not. */
static int32_t low_kicks(struct fight *fight, int32_t at_ms, int landed, int thrown, bool jab)
{
    for (int i = 0; i < thrown; i++) {
        at_ms += 4000;
        if (jab) {
            fight_throw(fight, at_ms - 1500, CORNER_RED, JAB, MISSED);
        }
        fight_throw(fight, at_ms, CORNER_RED, LOW, i < landed ? LANDED : MISSED);
    }
    return at_ms;
}

static void setups__pair__shares_and_p(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    int32_t at = low_kicks(&fight, 0, 6, 7, true);
    low_kicks(&fight, at, 2, 7, false);
    struct setups setups = find(&fight, 7, 0.05);
    assert_int_equal(setups.enough, 1); /* the jabs have no low kick within 2 s before them */
    assert_int_equal(setups.count, 1);
    const struct setup *pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_non_null(pair);
    assert_int_equal(pair->after.landed, 6);
    assert_int_equal(pair->after.attempted, 7);
    assert_int_equal(pair->otherwise.landed, 2);
    assert_int_equal(pair->otherwise.attempted, 7);
    /* of one side: (C(8,6) C(6,1) + C(8,7)) / C(14,7); at best seven of seven: C(8,7) / C(14,7) */
    assert_near(0, pair->p, 176.0 / 3432.0, 1e-12);
    assert_near(0, pair->least, 8.0 / 3432.0, 1e-12);
    assert_near(0, pair->among, pair->p, 1e-12);             /* there is no other */
    assert_near(0, setups_limit(&setups, 0.04), 0.04, 1e-9); /* its own 176 in 3432 is above it */
    setups_release(&setups);
    fight_end(&fight);
}

/* A strike that lands less after another one is no set-up. */
static void setups__opposite__no_set_up(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    int32_t at = low_kicks(&fight, 0, 3, 16, true);
    low_kicks(&fight, at, 14, 16, false);
    struct setups setups = find(&fight, 8, 0.05);
    const struct setup *pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_true(pair->p > 0.99);
    setups_release(&setups);
    fight_end(&fight);
}

/* A pair that could never hold is not looked at, and makes it no harder for the others: of eight
 * and eight kicks all but one landed, at best p is a half. */
static void setups__hopeless__not_looked_at(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    int32_t at = low_kicks(&fight, 0, 8, 8, true);
    low_kicks(&fight, at, 7, 8, false);
    struct setups setups = find(&fight, 8, 0.05);
    assert_int_equal(setups.enough, 1);
    assert_int_equal(setups.count, 0);
    setups_release(&setups);
    fight_end(&fight);
}

/* How rare the strongest is among two: each counts with the p that it could have. */
static void setups__many__the_error_is_shared(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    int32_t at = low_kicks(&fight, 0, 6, 8, true);
    at = low_kicks(&fight, at, 1, 8, false) + 4000;
    for (int i = 0; i < 8; i++) {
        fight_throw(&fight, at, CORNER_BLUE, JAB, MISSED);
        fight_throw(&fight, at + 500, CORNER_BLUE, LOW, i % 2 ? LANDED : MISSED);
        fight_throw(&fight, at + 5000, CORNER_BLUE, LOW, i % 2 ? LANDED : MISSED);
        at += 10000;
    }
    /* at best: red 7 of 8 and none of 8, C(8,7) / C(16,7); blue 8 and none, 1 / C(16,8) */
    struct setups setups = find(&fight, 8, 0.05);
    assert_int_equal(setups.count, 2);
    assert_near(0, pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW))->least, 8.0 / 11440.0,
                1e-12);
    setups_release(&setups);
    setups = find(&fight, 8, 8.0 / 11440.0 * 0.9);
    assert_int_equal(setups.enough, 2);
    assert_int_equal(setups.count, 1); /* red's could not reach it */
    setups_release(&setups);
    /* Red: 6 of 8 and 1 of 8, (C(8,6) C(8,1) + C(8,7)) / C(16,7). Blue's tables with 4 of 8 each:
     * 1 or 64 + 1 in C(16,8) and more; no more than red's p is 65 in 12870. */
    setups = find(&fight, 8, 0.05);
    const struct setup *red = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_near(0, red->p, 232.0 / 11440.0, 1e-12);
    assert_near(0, red->among, 232.0 / 11440.0 + 65.0 / 12870.0, 1e-12);
    /* 8 in 11440 and 1 in 12870 are less than a thousandth together; 65 in 12870 come next. */
    assert_near(0, setups_limit(&setups, 0.001), 0.001, 1e-9);
    assert_near(0, setups_limit(&setups, 0.005), 0.005, 1e-9);
    assert_near(0, setups_limit(&setups, 0.0055), 65.0 / 12870.0, 1e-9);
    setups_release(&setups);
    fight_end(&fight);
}

static void setups__window__ends_with_it_and_with_the_round(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 0, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 100, CORNER_RED, JAB, MISSED);    /* two jabs count once for a kick */
    fight_throw(&fight, 900, CORNER_BLUE, CROSS, LANDED); /* the other's are no set-up */
    fight_throw(&fight, 2100, CORNER_RED, LOW, LANDED);   /* 2000 ms after the second jab */
    fight_throw(&fight, 7000, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 9001, CORNER_RED, LOW, MISSED); /* 2001 ms */
    struct setups setups = find(&fight, 1, 100.0);
    const struct setup *pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_non_null(pair);
    assert_int_equal(pair->after.attempted, 1);
    assert_int_equal(pair->after.landed, 1);
    assert_int_equal(pair->otherwise.attempted, 1);
    assert_null(pair_of(&setups, CORNER_RED, code_of(CROSS), code_of(LOW)));
    pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(JAB)); /* not after itself */
    assert_int_equal(pair->after.attempted, 1);
    assert_int_equal(pair->otherwise.attempted, 2);
    setups_release(&setups);
    fight_end(&fight);
}

/* More cases, larger effect, lower z: more power; and about what a table of it says: 30 points
 * around a half, 47 and 47 cases, 5 % two-sided: .84 without the correction [secondary: R's
 * power.prop.test, tests/outside/reference.R], and with it about .80. */
static void setups__power__grows(void **state)
{
    (void)state;
    struct setup pair = {.after = {.attempted = 47, .landed = 24},
                         .otherwise = {.attempted = 47, .landed = 23}};
    double usual = setup_power(&pair, 0.3, 1.96);
    assert_near(0, usual, 0.80, 0.03);
    assert_true(setup_power(&pair, 0.5, 1.96) > usual);
    assert_true(setup_power(&pair, 0.3, 3.0) < usual);
    pair.after.attempted = 94;
    pair.after.landed = 48;
    assert_true(setup_power(&pair, 0.3, 1.96) > usual);
}

static void setups__degenerate__nothing_is_looked_at(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct setups setups = find(&fight, 0, 1.0);
    assert_int_equal(setups.count, 0);
    setups_release(&setups);
    fight_round(&fight);
    fight_throw(&fight, 0, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 100, CORNER_RED, LOW, LANDED);
    setups = find(&fight, 0, 1.0); /* nothing to compare the one case with */
    assert_int_equal(setups.count, 0);
    setups_release(&setups);
    fight_end(&fight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(setups__pair__shares_and_p),
        cmocka_unit_test(setups__opposite__no_set_up),
        cmocka_unit_test(setups__hopeless__not_looked_at),
        cmocka_unit_test(setups__many__the_error_is_shared),
        cmocka_unit_test(setups__window__ends_with_it_and_with_the_round),
        cmocka_unit_test(setups__power__grows),
        cmocka_unit_test(setups__degenerate__nothing_is_looked_at),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
