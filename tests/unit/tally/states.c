/* The state that entries leave: whose clock a shadow shows, the end of the bout, what time it is.
 */
#include "support.h"

static struct fold *desks(int whose)
{
    struct bout bout = test_bout();
    struct fold *fold = fold_new(&test_plan, &bout, whose);
    struct desk_row a = test_desk("aaaa", 0);
    struct desk_row b = test_desk("bbbb", 1);
    assert_non_null(fold);
    assert_int_equal(fold_desk(fold, &a), 0);
    assert_int_equal(fold_desk(fold, &b), 0);
    return fold;
}

static struct entry clocked(int desk, int64_t seq, int64_t at_ms, enum entry_code code, int round,
                            int32_t elapsed_ms)
{
    struct entry entry = test_entry(desk, seq, at_ms, ENTRY_CLOCK);
    entry.code = (uint8_t)code;
    entry.round = (uint8_t)round;
    entry.elapsed_ms = elapsed_ms;
    return entry;
}

static void add(struct fold *fold, struct entry entry)
{
    assert_null(entry_fault(&entry, 2));
    assert_int_equal(fold_add(fold, &entry), 0);
}

static void expect(const struct fold *fold, int64_t now, enum clock_state state, int round,
                   int32_t elapsed)
{
    struct clock_face face = clock_read(fold_clock(fold), now);
    assert_int_equal(face.state, state);
    assert_int_equal(face.round, round);
    assert_int_equal(face.elapsed_ms, elapsed);
}

static void fold__shadow__follows_the_official_clock_until_it_has_its_own(void **state)
{
    (void)state;
    struct fold *shadow = desks(1);
    assert_int_equal(fold_official(shadow, CODE_CLOCK), 1); /* nobody's: its own */
    add(shadow, test_official(0, 1, 1, CODE_CLOCK));
    assert_int_equal(fold_official(shadow, CODE_CLOCK), 0);
    assert_int_equal(fold_official(shadow, CODE_RED), 1);
    add(shadow, clocked(0, 2, 1000, CODE_START, 1, 0));
    expect(shadow, 31000, CLOCK_RUNNING, 1, 30000);
    /* It takes the clock into its own hand: the official one says nothing more. */
    struct entry own = clocked(1, 1, 31000, CODE_STOP, 1, 30000);
    add(shadow, own);
    assert_int_equal(fold_official(shadow, CODE_CLOCK), 1);
    add(shadow, clocked(0, 3, 40000, CODE_STOP, 1, 39000));
    expect(shadow, 50000, CLOCK_STOPPED, 1, 30000);
    /* Taken back, as if it had not been pressed; and brought back. */
    add(shadow, test_change(own, 1, 2, 51000, ACT_VOID));
    expect(shadow, 60000, CLOCK_STOPPED, 1, 39000);
    add(shadow, test_change(own, 1, 3, 61000, ACT_RESTORE));
    expect(shadow, 60000, CLOCK_STOPPED, 1, 30000);
    fold_free(shadow);
}

static void fold__shadow__keeps_its_own_clock_where_told(void **state)
{
    (void)state;
    struct fold *shadow = desks(1);
    add(shadow, test_official(0, 1, 1, CODE_CLOCK));
    add(shadow, clocked(0, 2, 1000, CODE_START, 1, 0));
    fold_keep_clock(shadow);
    assert_int_equal(fold_official(shadow, CODE_CLOCK), 1);
    expect(shadow, 31000, CLOCK_READY, 1, 0);
    add(shadow, clocked(1, 1, 40000, CODE_START, 1, 0));
    expect(shadow, 41000, CLOCK_RUNNING, 1, 1000);
    fold_free(shadow);
}

/* The next morning, with the recording: its rounds are not the official ones. */
static void fold__shadow__begins_the_bout_anew(void **state)
{
    (void)state;
    struct fold *shadow = desks(1);
    add(shadow, test_official(0, 1, 1, CODE_CLOCK));
    for (int round = 1; round <= 3; round++) {
        add(shadow, clocked(0, 2 * round, round * 240000, CODE_START, round, 0));
        add(shadow, clocked(0, 2 * round + 1, round * 240000 + 60000, CODE_STOP, round, 60000));
    }
    add(shadow, clocked(1, 1, 90000000, CODE_START, 1, 0));
    expect(shadow, 90010000, CLOCK_RUNNING, 1, 10000);
    assert_int_equal(clock_ran(fold_clock(shadow), 0, 90010000), 10000);
    for (int round = 1; round <= 3; round++) {
        assert_int_equal(fold_clock(shadow)->stops[round], 0);
    }
    fold_free(shadow);
}

static void fold__shadow__order_of_arrival_does_not_matter(void **state)
{
    (void)state;
    struct entry own = clocked(1, 1, 31000, CODE_STOP, 1, 30000);
    const struct entry entries[] = {
        test_official(0, 1, 1, CODE_CLOCK),        clocked(0, 2, 1000, CODE_START, 1, 0),   own,
        clocked(0, 3, 40000, CODE_STOP, 1, 39000), test_change(own, 1, 2, 51000, ACT_VOID),
    };
    enum { COUNT = sizeof entries / sizeof *entries };
    for (int first = 0; first < COUNT; first++) { /* every entry late by as much as can be */
        for (int taken = 1; taken <= COUNT; taken++) {
            struct fold *late = desks(1), *due = desks(1);
            for (int i = 0; i < taken; i++) {
                add(late, entries[(first + i) % taken]);
                add(due, entries[i]);
            }
            struct clock_face a = clock_read(fold_clock(late), 55000);
            struct clock_face b = clock_read(fold_clock(due), 55000);
            assert_int_equal(a.state, b.state);
            assert_int_equal(a.elapsed_ms, b.elapsed_ms);
            fold_free(late);
            fold_free(due);
        }
    }
}

static void fold__result__stops_the_clock_for_good(void **state)
{
    (void)state;
    struct fold *fold = desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_CLOCK));
    add(fold, clocked(0, 2, 1000, CODE_START, 1, 0));
    struct entry ended = test_entry(1, 1, 91000, ENTRY_RESULT); /* from a desk without an office */
    ended.code = CODE_ENDED;
    snprintf(ended.text, sizeof ended.text, "knockout red - 1 1:30 - -");
    add(fold, ended);
    expect(fold, 91000, CLOCK_OVER, 1, 90000);
    expect(fold, 200000, CLOCK_OVER, 1, 90000);
    assert_int_equal(clock_ran(fold_clock(fold), 0, 200000), 90000);
    assert_true(clock_next_change(fold_clock(fold), 95000) == INT64_MAX);
    /* Whatever else the clock is told is told to nobody. */
    add(fold, clocked(0, 3, 95000, CODE_START, 2, 0));
    expect(fold, 96000, CLOCK_OVER, 1, 90000);
    add(fold, test_change(clocked(0, 3, 95000, CODE_START, 2, 0), 0, 4, 96000, ACT_VOID));
    struct entry not_yet = test_entry(1, 3, 96500, ENTRY_RESULT);
    not_yet.code = CODE_ENDED;
    snprintf(not_yet.text, sizeof not_yet.text, "not_yet - - 0 - - -");
    add(fold, not_yet);
    expect(fold, 101000, CLOCK_RUNNING, 1, 100000);
    add(fold, test_change(not_yet, 1, 4, 96600, ACT_VOID));
    expect(fold, 101000, CLOCK_OVER, 1, 90000);
    /* Reopened: as if nothing had been said. */
    add(fold, test_change(ended, 1, 5, 97000, ACT_VOID));
    expect(fold, 101000, CLOCK_RUNNING, 1, 100000);
    fold_free(fold);
}

static void fold__result__of_a_bout_that_never_began(void **state)
{
    (void)state;
    struct fold *fold = desks(FOLD_OFFICIAL);
    struct entry ended = test_entry(0, 1, 5000, ENTRY_RESULT);
    ended.code = CODE_ENDED;
    snprintf(ended.text, sizeof ended.text, "walkover red - 0 - - -");
    add(fold, ended);
    expect(fold, 6000, CLOCK_OVER, 1, 0);
    fold_free(fold);
}

static void fold__now__a_wall_put_right_is_now(void **state)
{
    (void)state;
    const int64_t hour = 3600000;
    struct fold *fold = desks(FOLD_OFFICIAL);
    assert_int_equal(fold_now(fold, 77), 77);
    assert_int_equal(fold_heard(fold, 77), 0);
    /* An hour ahead, round 1 runs, and a strike at 0:10. */
    add(fold, test_official(0, 1, hour, CODE_CLOCK));
    add(fold, test_official(0, 2, hour, CODE_RED));
    add(fold, clocked(0, 3, hour + 1000, CODE_START, 1, 0));
    add(fold, test_strike(0, 4, hour + 11000, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, 0));
    assert_int_equal(fold_now(fold, 11000), hour + 11000); /* as with a script played ahead */
    /* Put right at 0:20; its place in the order stays behind all that is there. */
    struct entry jump = clocked(0, 5, hour + 11001, CODE_JUMP, 1, 20000);
    jump.at_ms = 21000;
    jump.value = -hour;
    add(fold, jump);
    assert_int_equal(fold_now(fold, 22000), 22000);
    assert_int_equal(fold_heard(fold, 22000), 21000);
    expect(fold, 22000, CLOCK_RUNNING, 1, 21000);
    struct entry strike =
        test_strike(0, 6, hour + 11002, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, 0);
    strike.at_ms = 23000;
    add(fold, strike);
    assert_int_equal(fold_now(fold, 24000), 24000);
    assert_int_equal(fold_heard(fold, 24000), 23000);
    /* A desk without the clock that is ahead moves nothing. */
    add(fold, test_strike(1, 1, 2 * hour, CORNER_BLUE, LIMB_LEFT_HAND, TARGET_HEAD, 0));
    assert_int_equal(fold_now(fold, 24000), 24000);
    fold_free(fold);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fold__shadow__follows_the_official_clock_until_it_has_its_own),
        cmocka_unit_test(fold__shadow__keeps_its_own_clock_where_told),
        cmocka_unit_test(fold__shadow__begins_the_bout_anew),
        cmocka_unit_test(fold__shadow__order_of_arrival_does_not_matter),
        cmocka_unit_test(fold__result__stops_the_clock_for_good),
        cmocka_unit_test(fold__result__of_a_bout_that_never_began),
        cmocka_unit_test(fold__now__a_wall_put_right_is_now),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
