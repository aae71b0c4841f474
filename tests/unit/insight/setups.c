/* Set-ups: the two sides of each pair, and what is held against chance. */
#include "../tally/blows.h"
#include "../stats/near.h"

#include "ringtally/insight/setups.h"

static struct setups find(const struct fight *fight, const struct setup_rule *rule)
{
    struct setups setups;
    struct error err = {0};
    struct stream stream = fight_stream(fight);
    assert_int_equal(setups_init(&setups, &stream, rule, &err), 0);
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

static void setups__pair__shares_interval_and_p(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct setup_rule rule = setup_rule_default;
    rule.cases = 7;
    fight_round(&fight);
    int32_t at = low_kicks(&fight, 0, 6, 7, true);
    low_kicks(&fight, at, 2, 7, false);
    struct setups setups = find(&fight, &rule);
    assert_int_equal(setups.count, 1); /* the jabs have no low kick within 2 s before them */
    assert_int_equal(setups.seen, 1);
    const struct setup *pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_non_null(pair);
    assert_int_equal(pair->after.landed, 6);
    assert_int_equal(pair->after.attempted, 7);
    assert_int_equal(pair->otherwise.landed, 2);
    assert_int_equal(pair->otherwise.attempted, 7);
    /* Newcombe RG 1998, Statistics in Medicine 17:873-890, Table II (c), method 10: .0582 to .8062
     * (secondary: a public test suite, name not kept; .8062496 unrounded) */
    assert_near(0, pair->difference.low, .0582, 6e-5);
    assert_near(0, pair->difference.high, .8062, 6e-5);
    /* exact: (C(8,6)C(6,1) + C(8,7)C(6,0)) / C(14,7), doubled by the mirror tables: 352 / 3432 */
    assert_near(0, pair->p, 352.0 / 3432.0, 1e-12);
    assert_near(0, pair->adjusted, pair->p, 1e-12); /* looked at alone */
    assert_false(pair->holds); /* the interval leaves 0 out, the adjusted p does not hold */
    setups_release(&setups);
    fight_end(&fight);
}

static void setups__holds__a_set_up_and_its_opposite(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    int32_t at = low_kicks(&fight, 0, 14, 16, true);
    low_kicks(&fight, at, 3, 16, false);
    struct setups setups = find(&fight, &setup_rule_default);
    const struct setup *pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_true(pair->holds && pair->difference.low > 0.0);
    setups_release(&setups);
    fight_end(&fight);

    fight = fight_new();
    fight_round(&fight);
    at = low_kicks(&fight, 0, 3, 16, true);
    low_kicks(&fight, at, 14, 16, false);
    setups = find(&fight, &setup_rule_default);
    pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
    assert_true(pair->holds && pair->difference.high < 0.0);
    setups_release(&setups);
    fight_end(&fight);
}

/* p .041 alone would do; with a second pair looked at it is .081. */
static void setups__holds__not_where_many_were_looked_at(void **state)
{
    (void)state;
    for (int others = 0; others <= 1; others++) {
        struct fight fight = fight_new();
        fight_round(&fight);
        int32_t at = low_kicks(&fight, 0, 6, 8, true);
        at = low_kicks(&fight, at, 1, 8, false) + 4000;
        for (int i = 0; i < 8 * others; i++) {
            fight_throw(&fight, at, CORNER_BLUE, JAB, MISSED);
            fight_throw(&fight, at + 500, CORNER_BLUE, LOW, i % 2 ? LANDED : MISSED);
            fight_throw(&fight, at + 5000, CORNER_BLUE, LOW, i % 2 ? LANDED : MISSED);
            at += 10000;
        }
        struct setups setups = find(&fight, &setup_rule_default);
        const struct setup *pair = pair_of(&setups, CORNER_RED, code_of(JAB), code_of(LOW));
        assert_int_equal(setups.count, 1 + others);
        assert_true(pair->p < 0.05);
        assert_int_equal(pair->holds, others == 0);
        setups_release(&setups);
        fight_end(&fight);
    }
}

static void setups__window__ends_with_it_and_with_the_round(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct setup_rule rule = {.window_ms = 2000, .cases = 1, .level = 0.95, .rate = 0.05};
    fight_round(&fight);
    fight_throw(&fight, 0, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 100, CORNER_RED, JAB, MISSED);    /* two jabs count once for a kick */
    fight_throw(&fight, 900, CORNER_BLUE, CROSS, LANDED); /* the other's are no set-up */
    fight_throw(&fight, 2100, CORNER_RED, LOW, LANDED);   /* 2000 ms after the second jab */
    fight_throw(&fight, 7000, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 9001, CORNER_RED, LOW, MISSED); /* 2001 ms */
    struct setups setups = find(&fight, &rule);
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

static void setups__degenerate__nothing_is_looked_at(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct setup_rule greedy = {.window_ms = 2000, .cases = 0, .level = 0.95, .rate = 0.05};
    struct setups setups = find(&fight, &greedy);
    assert_int_equal(setups.count, 0);
    setups_release(&setups);
    fight_round(&fight);
    fight_throw(&fight, 0, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 100, CORNER_RED, LOW, LANDED);
    setups = find(&fight, &greedy); /* nothing to compare the one case with */
    assert_int_equal(setups.count, 0);
    assert_int_equal(setups.seen, 1);
    setups_release(&setups);
    fight_end(&fight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(setups__pair__shares_interval_and_p),
        cmocka_unit_test(setups__holds__a_set_up_and_its_opposite),
        cmocka_unit_test(setups__holds__not_where_many_were_looked_at),
        cmocka_unit_test(setups__window__ends_with_it_and_with_the_round),
        cmocka_unit_test(setups__degenerate__nothing_is_looked_at),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
