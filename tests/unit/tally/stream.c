/* The order of the strikes, and what stance makes of a side. */
#include "blows.h"

static void stream__role__side_and_stance(void **state)
{
    (void)state;
    /* Common practice: an orthodox fighter leads with the left, a southpaw with the right. */
    assert_int_equal(limb_role(LIMB_LEFT_HAND, STANCE_ORTHODOX), ROLE_LEAD);
    assert_int_equal(limb_role(LIMB_RIGHT_LEG, STANCE_ORTHODOX), ROLE_REAR);
    assert_int_equal(limb_role(LIMB_LEFT_ELBOW, STANCE_SOUTHPAW), ROLE_REAR);
    assert_int_equal(limb_role(LIMB_RIGHT_KNEE, STANCE_SOUTHPAW), ROLE_LEAD);
    for (int stance = 0; stance < STANCE_COUNT; stance++) {
        assert_int_equal(limb_role(LIMB_KNEE, stance), ROLE_NONE);
    }
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        assert_int_equal(limb_role(limb, STANCE_SQUARE), ROLE_NONE);
    }
}

static enum limb_role met(enum limb limb, enum stance own, enum stance other, uint8_t technique)
{
    struct strike kick = {.limb = (uint8_t)limb,
                          .target = TARGET_LEG,
                          .stance = (uint8_t)own,
                          .technique = technique};
    return leg_met(&kick, other);
}

static void stream__met__the_leg_on_the_kicks_side(void **state)
{
    (void)state;
    for (enum stance own = STANCE_ORTHODOX; own <= STANCE_SOUTHPAW; own++) {
        assert_int_equal(met(LIMB_RIGHT_LEG, own, STANCE_ORTHODOX, 0), ROLE_LEAD);
        assert_int_equal(met(LIMB_LEFT_LEG, own, STANCE_ORTHODOX, 0), ROLE_REAR);
        assert_int_equal(met(LIMB_RIGHT_LEG, own, STANCE_SOUTHPAW, 0), ROLE_REAR);
        assert_int_equal(met(LIMB_LEFT_LEG, own, STANCE_SOUTHPAW, 0), ROLE_LEAD);
        assert_int_equal(met(LIMB_LEFT_LEG, own, STANCE_SQUARE, 0), ROLE_NONE);
        assert_int_equal(met(LIMB_LEFT_LEG, own, STANCE_SOUTHPAW, TECHNIQUE_SPINNING), ROLE_NONE);
    }
    assert_int_equal(met(LIMB_LEFT_LEG, STANCE_SQUARE, STANCE_SOUTHPAW, 0), ROLE_NONE);
    assert_int_equal(met(LIMB_KNEE, STANCE_ORTHODOX, STANCE_SOUTHPAW, 0), ROLE_NONE);
    struct strike body = {.limb = LIMB_LEFT_LEG, .target = TARGET_BODY};
    assert_int_equal(leg_met(&body, STANCE_ORTHODOX), ROLE_NONE);
}

static void stream__met__unknown_until_the_other_has_thrown(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 1000, CORNER_RED, LOW, LANDED);
    fight.stance[CORNER_BLUE] = STANCE_SOUTHPAW;
    fight_throw(&fight, 2000, CORNER_BLUE, JAB, MISSED);
    fight_throw(&fight, 3000, CORNER_RED, LOW, LANDED);
    fight.stance[CORNER_BLUE] = STANCE_ORTHODOX;
    fight_throw(&fight, 4000, CORNER_BLUE, JAB, MISSED);
    fight_throw(&fight, 5000, CORNER_RED, LOW, LANDED);
    fight.stance[CORNER_BLUE] = STANCE_SQUARE;
    fight_throw(&fight, 6000, CORNER_BLUE, JAB, MISSED);
    fight_throw(&fight, 7000, CORNER_RED, LOW, LANDED);
    struct stream stream = fight_stream(&fight);
    assert_int_equal(stream.count, 7);
    assert_int_equal(stream.blow[6].met, ROLE_NONE);
    assert_int_equal(stream.blow[0].met, ROLE_NONE);
    assert_int_equal(stream.blow[2].met, ROLE_REAR);
    assert_int_equal(stream.blow[4].met, ROLE_LEAD);
    assert_int_equal(stream.blow[1].role, ROLE_REAR); /* a southpaw's left */
    assert_int_equal(stream.blow[3].role, ROLE_LEAD);
    stream_release(&stream);
    fight_end(&fight);
}

/* Round, moment, desk uid, number: whatever the order of writing. */
static void stream__order__moment_then_desk_then_number(void **state)
{
    (void)state;
    struct bout bout = test_bout();
    struct fold *fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
    struct desk_row late = test_desk("bbbb", 0), early = test_desk("aaaa", 1);
    struct error err = {0};
    fold_desk(fold, &late);
    fold_desk(fold, &early);
    struct entry entries[] = {
        test_official(0, 1, 1, CODE_RED),
        test_official(1, 1, 1, CODE_BLUE),
        test_strike(0, 2, 50, CORNER_RED, JAB, MISSED),   /* inserted: speaks of 20 */
        test_strike(1, 2, 20, CORNER_BLUE, JAB, MISSED),  /* the same moment, lower uid */
        test_strike(0, 3, 10, CORNER_RED, CROSS, MISSED), /* of round 2 */
        test_strike(0, 4, 50, CORNER_RED, LOW, MISSED),   /* speaks of 20 too */
        test_strike(0, 5, 60, CORNER_BLUE, LOW, MISSED),  /* not official for blue */
    };
    entries[2].at_ms = entries[5].at_ms = 20;
    entries[4].round = 2;
    assert_int_equal(fold_add_all(fold, entries, sizeof entries / sizeof entries[0]), 0);
    struct stream stream = {NULL, 0};
    assert_int_equal(stream_init(&stream, fold, &err), 0);
    assert_int_equal(stream.count, 4);
    static const struct entry_name wanted[] = {{1, 2}, {0, 2}, {0, 4}, {0, 3}};
    for (size_t i = 0; i < 4; i++) {
        assert_true(entry_same(stream.blow[i].name, wanted[i]));
    }
    stream_release(&stream);
    fold_free(fold);
}

static void stream__count__voided_strikes_are_out(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct stream stream = fight_stream(&fight);
    assert_int_equal(stream.count, 0);
    stream_release(&stream);
    fight_round(&fight);
    fight_throw(&fight, 1000, CORNER_RED, JAB, LANDED);
    struct entry strike = test_strike(0, fight.seq, 0, CORNER_RED, JAB, LANDED);
    fight_add(&fight, test_change(strike, 0, fight.seq + 1, fight.start + 1500, ACT_VOID));
    stream = fight_stream(&fight);
    assert_int_equal(stream.count, 0);
    stream_release(&stream);
    fight_end(&fight);
}

/* At one moment the desk decides, not the number, whichever desk is listed first. */
static void stream__order__desks_before_numbers(void **state)
{
    (void)state;
    for (int first = 0; first < 2; first++) {
        struct bout bout = test_bout();
        struct fold *fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
        struct desk_row a = test_desk("aaaa", first), b = test_desk("bbbb", 1 - first);
        struct error err = {0};
        struct stream stream = {NULL, 0};
        fold_desk(fold, first ? &b : &a);
        fold_desk(fold, first ? &a : &b);
        struct entry entries[] = {
            test_official(first, 1, 1, CODE_RED),
            test_official(1 - first, 1, 1, CODE_BLUE),
            test_strike(1 - first, 2, 50, CORNER_BLUE, JAB, MISSED),
            test_strike(first, 9, 50, CORNER_RED, JAB, MISSED),
        };
        assert_int_equal(fold_add_all(fold, entries, 4), 0);
        assert_int_equal(stream_init(&stream, fold, &err), 0);
        assert_int_equal(stream.count, 2);
        assert_int_equal(stream.blow[0].strike.corner, CORNER_RED);
        assert_int_equal(stream.blow[1].strike.corner, CORNER_BLUE);
        stream_release(&stream);
        fold_free(fold);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stream__role__side_and_stance),
        cmocka_unit_test(stream__met__the_leg_on_the_kicks_side),
        cmocka_unit_test(stream__met__unknown_until_the_other_has_thrown),
        cmocka_unit_test(stream__order__moment_then_desk_then_number),
        cmocka_unit_test(stream__count__voided_strikes_are_out),
        cmocka_unit_test(stream__order__desks_before_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
