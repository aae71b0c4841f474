/* The round clock under the keys: the bell on either side of Enter, settings that are one entry. */
#include "clocked.h"

static void clock__enter_after_the_bell__is_the_bell(void **state)
{
    (void)state;
    /* A hand at 0.3, 0.4, 2 and 9 seconds after the end, and a nervous one that hits twice. */
    static const int64_t late[] = {300, 400, 2000, 9900};
    for (size_t i = 0; i < sizeof late / sizeof *late; i++) {
        struct desk *desk = open_desk();
        press(desk, ENTER, 0);
        press(desk, ENTER, 180000 + late[i]);
        says(desk, 180000 + late[i], "the bell: round 1 is over already");
        press(desk, ENTER, 180000 + late[i] + 250);
        desk_tick(desk, START + 195000);
        expect(desk, 195000, CLOCK_REST, 1, 45000);
        assert_int_equal(entries_of(desk, ENTRY_CLOCK, -1), 1);
        desk_free(desk);
    }
}

static void clock__enter_before_the_bell__ends_the_round(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'q', 177000);
    press(desk, ENTER, 178000); /* two seconds left by this clock */
    says(desk, 178000, "the bell: round 1 is over");
    expect(desk, 178000, CLOCK_REST, 1, 60000);
    press(desk, ENTER, 178300); /* and again, since nothing seemed to happen */
    expect(desk, 178300, CLOCK_REST, 1, 59700);
    press(desk, ENTER, 238000);
    says(desk, 238000, "round 2 begins");
    press(desk, 'w', 240000);
    check_strike(desk, 0, 1, 177000, false);
    check_strike(desk, 1, 2, 2000, false);
    /* Taken back by one key each, as if it had not been pressed. */
    press(desk, BACK, 241000);
    press(desk, BACK, 241500);
    expect(desk, 241500, CLOCK_REST, 1, 0);
    press(desk, BACK, 242000);
    expect(desk, 242000, CLOCK_REST, 1, 60000 - (242000 - 180000) < 0 ? 0 : 0);
    desk_free(desk);
}

static void clock__stop_with_more_left__stands(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, ENTER, 174000);
    expect(desk, 180000, CLOCK_STOPPED, 1, 6000);
    press(desk, ENTER, 190000); /* a time-out of sixteen seconds */
    expect(desk, 190000, CLOCK_RUNNING, 1, 6000);
    desk_free(desk);
}

static void clock__stop_near_the_end_for_a_whole_rest__was_the_bell(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, ENTER, 172000); /* eight seconds left: the clock was started late */
    press(desk, ENTER, 232000);
    says(desk, 232000, "round 2 begins");
    expect(desk, 232000, CLOCK_RUNNING, 2, 180000);
    /* It was a long time-out after all. */
    press(desk, BACK, 233000);
    expect(desk, 233000, CLOCK_STOPPED, 1, 8000);
    press(desk, ENTER, 234000);
    expect(desk, 234000, CLOCK_RUNNING, 1, 8000);
    desk_free(desk);
}

static void clock__in_the_rest__begins_early_on_a_second_press(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, ENTER, 200000);
    says(desk, 200000, "0:40 of the rest are left");
    desk_tick(desk, START + 201000);
    expect(desk, 201000, CLOCK_REST, 1, 39000);
    press(desk, ENTER, 206000); /* too late for an answer: asked anew */
    desk_tick(desk, START + 207000);
    expect(desk, 207000, CLOCK_REST, 1, 33000);
    press_twice(desk, ENTER, 215000);
    says(desk, 216500, "round 2 begins");
    expect(desk, 216500, CLOCK_RUNNING, 2, 180000 - 1500); /* since the first press */
    desk_free(desk);
}

static void clock__near_the_end_of_the_rest__one_press(void **state)
{
    (void)state;
    static const int64_t at[] = {231000, 239900, 240000, 260000, 900000};
    for (size_t i = 0; i < sizeof at / sizeof *at; i++) {
        struct desk *desk = open_desk();
        press(desk, ENTER, 0);
        press(desk, ENTER, at[i]);
        expect(desk, at[i], CLOCK_RUNNING, 2, 180000);
        desk_free(desk);
    }
}

/* The keyboard repeats after a quarter of a second, every 33 or 92 ms. */
static void clock__a_held_enter__answers_nothing(void **state)
{
    (void)state;
    static const int64_t gaps[] = {33, 92};
    static const int64_t at[] = {200000, 3 * 180000 + 2 * 60000 + 20000}; /* rest, all over */
    for (size_t g = 0; g < 2; g++) {
        for (size_t a = 0; a < 2; a++) {
            struct desk *desk = open_desk();
            press(desk, ENTER, 0);
            if (a == 1) {
                press(desk, ENTER, 240000);
                press(desk, ENTER, 480000);
            }
            struct clock_face before = desk_clock(desk, START + at[a]);
            int64_t now = at[a];
            press(desk, ENTER, now);
            now += 250;
            for (int i = 0; i < 40; i++, now += gaps[g]) {
                press(desk, ENTER, now);
                desk_tick(desk, START + now + 5);
            }
            desk_tick(desk, START + now + 1000);
            struct clock_face after = desk_clock(desk, START + now + 1000);
            assert_int_equal(after.state, before.state);
            assert_int_equal(after.round, before.round);
            desk_free(desk);
        }
    }
}

static void clock__all_rounds_over__extension_asks_twice(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, ENTER, 240000);
    press(desk, ENTER, 480000);
    press(desk, ENTER, 660500);
    says(desk, 660500, "the last round is over already");
    press(desk, ENTER, 690000);
    says(desk, 690000, "begins an extension round");
    expect(desk, 690000, CLOCK_OVER, 3, 0);
    press_twice(desk, ENTER, 700000);
    expect(desk, 701500, CLOCK_RUNNING, 4, 120000 - 1500);
    press(desk, ENTER, 900000);
    says(desk, 900000, "all rounds are over");
    expect(desk, 900000, CLOCK_OVER, 4, 0);
    desk_free(desk);
}

static void clock__a_stray_start__is_undone_by_one_key(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, BACK, 3000);
    expect(desk, 600000, CLOCK_READY, 1, 180000);
    press(desk, ENTER, 600000);
    expect(desk, 600000, CLOCK_RUNNING, 1, 180000);
    desk_free(desk);
}

static void clock__arrows__are_one_entry_and_one_undo(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    for (int i = 0; i < 7; i++) {
        press(desk, KEY_OF_LEFT, 60000 + 40 * i); /* held */
    }
    press(desk, KEY_OF_SHIFT_LEFT, 60400);
    expect(desk, 60400, CLOCK_RUNNING, 1, 180000 - 60400 + 17000); /* shown at once */
    says(desk, 60400, "round 1: 17 s back, 2:17 left");
    assert_int_equal(entries_of(desk, ENTRY_CLOCK, CODE_NUDGE), 0);
    desk_tick(desk, START + 61500);
    assert_int_equal(entries_of(desk, ENTRY_CLOCK, CODE_NUDGE), 1);
    expect(desk, 61500, CLOCK_RUNNING, 1, 180000 - 61500 + 17000);
    /* A strike behind an arrow has the time as set; and the setting is a keystroke of its own. */
    press(desk, KEY_OF_SHIFT_RIGHT, 62000);
    press(desk, 'q', 62200);
    check_strike(desk, 0, 1, 62200 - 17000 + 10000, false);
    press(desk, BACK, 63000);
    expect(desk, 63000, CLOCK_RUNNING, 1, 180000 - 63000 + 7000);
    press(desk, BACK, 64000);
    expect(desk, 64000, CLOCK_RUNNING, 1, 180000 - 64000 + 17000);
    press(desk, BACK, 65000);
    expect(desk, 65000, CLOCK_RUNNING, 1, 180000 - 65000);
    desk_free(desk);
}

/* "One second less: 0:50 left in round 1" was the rest's clock under the round's name. */
static void clock__in_a_rest__the_notice_speaks_of_the_rest(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, KEY_OF_LEFT, 190000);
    says(desk, 190000, "the rest: 1 s back, 0:51 of it left");
    press(desk, KEY_OF_SHIFT_LEFT, 190300);
    says(desk, 190300, "round 1: 11 s back, 0:01 left"); /* it is a round again */
    press(desk, KEY_OF_SHIFT_RIGHT, 190400);             /* to its end, not beyond */
    says(desk, 190400, "the rest: 10 s back, 1:00 of it left");
    press(desk, KEY_OF_RIGHT, 190500);
    says(desk, 190500, "the rest: 9 s back, 0:59 of it left");
    desk_free(desk);
}

static void clock__set__by_typing_is_one_entry(void **state)
{
    (void)state;
    static const struct {
        int64_t at;
        const char *keys;
        enum clock_state state;
        int32_t remaining;
    } cases[] = {
        {30000, "147", CLOCK_RUNNING, 107000},  {30000, "0147", CLOCK_RUNNING, 107000},
        {30000, "90", CLOCK_RUNNING, 90000},    {30000, "300", CLOCK_RUNNING, 180000},
        {30000, "5", CLOCK_RUNNING, 5000},      {210000, "45", CLOCK_REST, 45000},
        {210000, "\t20", CLOCK_RUNNING, 20000},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct desk *desk = open_desk();
        press(desk, ENTER, 0);
        int64_t at = cases[i].at;
        press(desk, F9, at);
        at += 300;
        for (const char *key = cases[i].keys; *key; key++, at += 300) {
            press(desk, *key == '\t' ? KEY_OF_TAB : *key, at);
        }
        press(desk, ENTER, at);
        expect(desk, at, cases[i].state, 1, cases[i].remaining);
        assert_int_equal(entries_of(desk, ENTRY_CLOCK, CODE_NUDGE), 1);
        assert_int_equal(desk_mode(desk), DESK_LIVE);
        press(desk, BACK, at + 400);
        struct clock_face face = desk_clock(desk, START + 40000);
        assert_int_equal(face.elapsed_ms, 40000);
        desk_free(desk);
    }
}

static void clock__set__refused_and_left(void **state)
{
    (void)state;
    char words[96];
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, F9, 30000);
    type(desk, "301", 30300);
    assert_true(desk_clock_form(desk, START + 31500, words, sizeof words));
    assert_string_equal(words, "3:01 left in round 1");
    press(desk, ENTER, 31500);
    says(desk, 31500, "a round is 3:00 long");
    assert_int_equal(desk_mode(desk), DESK_CLOCK);
    press(desk, BACK, 32000); /* a digit, nothing else */
    assert_true(desk_clock_form(desk, START + 32000, words, sizeof words));
    assert_string_equal(words, "0:30 left in round 1");
    press(desk, 'q', 32500); /* a strike is a strike */
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    check_strike(desk, 0, 1, 32500, false);
    assert_int_equal(entries_of(desk, ENTRY_CLOCK, CODE_NUDGE), 0);
    press(desk, F9, 33000);
    press(desk, ENTER, 33500); /* nothing typed */
    press(desk, F9, 34000);
    press(desk, KEY_OF_ESC, 34500);
    assert_int_equal(entries_of(desk, ENTRY_CLOCK, -1), 1);
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock__enter_after_the_bell__is_the_bell),
        cmocka_unit_test(clock__enter_before_the_bell__ends_the_round),
        cmocka_unit_test(clock__stop_with_more_left__stands),
        cmocka_unit_test(clock__stop_near_the_end_for_a_whole_rest__was_the_bell),
        cmocka_unit_test(clock__in_the_rest__begins_early_on_a_second_press),
        cmocka_unit_test(clock__near_the_end_of_the_rest__one_press),
        cmocka_unit_test(clock__a_held_enter__answers_nothing),
        cmocka_unit_test(clock__all_rounds_over__extension_asks_twice),
        cmocka_unit_test(clock__a_stray_start__is_undone_by_one_key),
        cmocka_unit_test(clock__arrows__are_one_entry_and_one_undo),
        cmocka_unit_test(clock__in_a_rest__the_notice_speaks_of_the_rest),
        cmocka_unit_test(clock__set__by_typing_is_one_entry),
        cmocka_unit_test(clock__set__refused_and_left),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
