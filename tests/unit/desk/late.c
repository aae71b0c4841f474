/* A start that came late, and a wall clock that is set; on one desk and on two. */
#include "clocked.h"

static void clock__started_late__moves_the_start_and_the_strikes(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, 'q', 1000);  /* long before: gloves being tried */
    press(desk, 'w', 95000); /* the round has begun at 90 s, and Enter was forgotten */
    press(desk, ENTER, 120000);
    press(desk, 'e', 122000);
    press(desk, ENTER, 130000); /* stopped, */
    press(desk, 'r', 131000);
    press(desk, ENTER, 140000); /* and on again */
    press(desk, 'a', 141000);
    size_t before = entries_of(desk, ENTRY_STRIKE, -1);
    press(desk, F9, 142000);
    press(desk, '+', 142300);
    type(desk, "30", 142600);
    press(desk, ENTER, 143500);
    check_strike(desk, 0, 1, 0, true);
    check_strike(desk, 1, 1, 5000, false);
    check_strike(desk, 2, 1, 32000, false);
    check_strike(desk, 3, 1, 40000, true);
    check_strike(desk, 4, 1, 41000, false);
    expect(desk, 145000, CLOCK_RUNNING, 1, 180000 - 45000);
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), before + 4);
    assert_int_equal(clock_ran(fold_clock(desk_fold(desk)), 1, START + 145000), 45000);
    /* One keystroke, taken back by one and brought back by one. */
    press(desk, BACK, 146000);
    check_strike(desk, 1, 1, 0, true);
    check_strike(desk, 2, 1, 2000, false);
    check_strike(desk, 4, 1, 11000, false);
    expect(desk, 146000, CLOCK_RUNNING, 1, 180000 - 16000);
    press(desk, '\\', 147000);
    check_strike(desk, 1, 1, 5000, false);
    check_strike(desk, 4, 1, 41000, false);
    expect(desk, 147000, CLOCK_RUNNING, 1, 180000 - 47000);
    desk_free(desk);
}

static void clock__began_ago__the_next_round_and_what_was_tagged(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'q', 181000); /* after the bell */
    press(desk, 'w', 245000); /* round 2 began at 240 s */
    press(desk, 'W', 250000);
    check_strike(desk, 2, 1, 180000, true);
    press(desk, F9, 259000);
    press(desk, '+', 259300);
    type(desk, "20", 259500);
    press(desk, ENTER, 260000);
    expect(desk, 260000, CLOCK_RUNNING, 2, 160000);
    check_strike(desk, 0, 1, 180000, true);
    check_strike(desk, 1, 2, 5000, false);
    check_strike(desk, 2, 2, 10000, false);
    press(desk, BACK, 261000);
    check_strike(desk, 2, 1, 180000, true);
    expect(desk, 261000, CLOCK_REST, 1, 0);
    /* Further back than the rest is no start of this round. */
    press(desk, F9, 262000);
    press(desk, '+', 262300);
    type(desk, "100", 262500);
    press(desk, ENTER, 264000);
    says(desk, 264000, "ended only 1:24 earlier");
    expect(desk, 264000, CLOCK_REST, 1, 0);
    desk_free(desk);
}

/* A whole minute late: what was thrown in the last of the round as it was stays inside it. */
static void clock__started_late__not_beyond_the_round(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 60000);
    press(desk, 'q', 170000); /* by the right clock 2:50 */
    press(desk, 'w', 190000); /* after the bell, though this clock ran */
    press(desk, F9, 191000);
    press(desk, '+', 191300);
    type(desk, "60", 191500);
    press(desk, ENTER, 192500);
    check_strike(desk, 0, 1, 170000, false);
    check_strike(desk, 1, 1, 180000, true);
    expect(desk, 195000, CLOCK_REST, 1, 45000);
    desk_free(desk);
}

static void clock__wall_set__no_time_passes(void **state)
{
    (void)state;
    static const int64_t steps[] = {40000, -40000, 3600000, -3600000, 631152000000, -631152000000};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        struct desk *desk = open_desk();
        int64_t by = steps[i];
        press(desk, ENTER, 0);
        press(desk, 'q', 3000);
        desk_stepped(desk, by, START + by + 5000);
        says(desk, by + 5000, by > 0 ? "was set forward" : "was set back");
        expect(desk, by + 6000, CLOCK_RUNNING, 1, 174000);
        press(desk, 'w', by + 7000);
        check_strike(desk, 1, 1, 7000, false);
        assert_int_equal(strike(desk, 1)->at_ms, START + by + 7000);
        assert_int_equal(entries_of(desk, ENTRY_CLOCK, CODE_JUMP), 1);
        press(desk, BACK, by + 8000); /* the strike, not the jump */
        press(desk, BACK, by + 8500);
        press(desk, BACK, by + 9000); /* the start */
        expect(desk, by + 9500, CLOCK_READY, 1, 180000);
        press(desk, '\\', by + 10000);
        expect(desk, by + 11000, CLOCK_RUNNING, 1, 169000);
        /* Whoever reads it now sees the same. */
        assert_int_equal(fold_now(desk_fold(desk), START + by + 11000), START + by + 11000);
        desk_free(desk);
    }
}

/* A prompt, a question and a notice end when they would have. */
static void clock__wall_set_back__nothing_waits_for_an_hour(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    bool urgent = false;
    int64_t by = -3600000;
    press(desk, '[', 1000);
    desk_stepped(desk, by, START + by + 2000);
    desk_tick(desk, START + by + 4500);
    assert_int_equal(desk_mode(desk), DESK_INCIDENT);
    desk_tick(desk, START + by + 5500);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    assert_string_equal(desk_notice(desk, START + by + 30000, &urgent), "");
    desk_free(desk);
}

/* Killed while the wall was an hour ahead, opened again once it was right. */
static void clock__opened_behind_its_log__goes_on_from_there(void **state)
{
    (void)state;
    struct desk *desk = open_as(0, 1, NULL, 7, 3600000);
    press(desk, ENTER, 3600000 + 10000);
    press(desk, 'q', 3600000 + 50000); /* 0:40 */
    struct entries log = taken(desk);
    desk_free(desk);
    desk = open_as(0, 1, &log, 7, 55000);
    says(desk, 55000, "ahead of this machine's clock");
    expect(desk, 56000, CLOCK_RUNNING, 1, 180000 - 41000);
    press(desk, 'w', 57000);
    check_strike(desk, 1, 1, 42000, false);
    assert_int_equal(fold_now(desk_fold(desk), START + 58000), START + 58000);
    desk_free(desk);
    free(log.entry);
}

static void clock__started_late__the_other_desk_follows(void **state)
{
    (void)state;
    struct desk *ana = open_as(0, 2, NULL, 5, 0); /* red and the clock */
    struct entries log = taken(ana);
    struct desk *ben = open_as(1, 2, &log, 2, 0);
    hear(ana, ben, 10);
    press(ben, 'i', 25000); /* before Enter, in the round */
    press(ana, ENTER, 30000);
    hear(ben, ana, 30100);
    press(ben, 'o', 35000);
    hear(ana, ben, 35100);
    press(ana, F9, 40000);
    press(ana, '+', 40300);
    type(ana, "10", 40600);
    press(ana, ENTER, 42000);
    says(ana, 42000, "the other desk's follow by themselves");
    hear(ben, ana, 42100);
    says(ben, 42100, "of this desk 2 entries come along");
    check_strike(ben, 0, 1, 5000, false);
    check_strike(ben, 1, 1, 15000, false);
    hear(ana, ben, 42200);
    check_strike(ana, 0, 1, 5000, false);
    check_strike(ana, 1, 1, 15000, false);
    /* And back. */
    press(ana, BACK, 43000);
    hear(ben, ana, 43100);
    check_strike(ben, 0, 1, 0, true);
    check_strike(ben, 1, 1, 5000, false);
    desk_free(ana);
    desk_free(ben);
    free(log.entry);
}

static void clock__wall_set__the_desk_without_the_clock_waits_for_the_word(void **state)
{
    (void)state;
    struct desk *ana = open_as(0, 2, NULL, 5, 0);
    struct entries log = taken(ana);
    struct desk *ben = open_as(1, 2, &log, 2, 0);
    int64_t by = 3600000;
    hear(ana, ben, 10);
    press(ana, ENTER, 1000);
    hear(ben, ana, 1100);
    desk_stepped(ben, by, START + by + 5000); /* it sees it first */
    press(ben, 'i', by + 5200);
    check_strike(ben, 0, 1, 4200, false);
    desk_stepped(ana, by, START + by + 5500);
    hear(ben, ana, by + 5600);
    hear(ana, ben, by + 5600);
    press(ben, 'o', by + 6000);
    check_strike(ben, 1, 1, 5000, false);
    expect(ana, by + 6000, CLOCK_RUNNING, 1, 175000);
    expect(ben, by + 6000, CLOCK_RUNNING, 1, 175000);
    assert_int_equal(entries_of(ana, ENTRY_CLOCK, CODE_JUMP), 1);
    desk_free(ana);
    desk_free(ben);
    free(log.entry);
}

/* Signs of life are stamped by the wall: where it is set, nobody is silent for that. */
static void clock__wall_set__nobody_looks_silent(void **state)
{
    (void)state;
    struct desk *ana = open_as(0, 2, NULL, 5, 0);
    struct entries log = taken(ana);
    struct desk *ben = open_as(1, 2, &log, 2, 0);
    int64_t by = 3600000;
    struct desk_sign signs[2] = {{.seen_ms = START + 4000, .session_ms = START, .held = true},
                                 {.seen_ms = START + 4000, .session_ms = START, .held = true}};
    desk_stepped(ben, by, START + by + 5000);
    signs[0].age_ms = signs[1].age_ms = by + 1100;
    assert_int_equal(desk_hear_signs(ben, signs, 2, START + by + 5100), 0);
    says(ben, by + 5100, "was set forward");
    /* A partner that is silent by the new setting as well is; this desk never is. */
    signs[0].age_ms = signs[1].age_ms = 9000;
    assert_int_equal(desk_hear_signs(ben, signs, 2, START + by + 13000), 0);
    says(ben, by + 13000, "ana is SILENT: nobody tags red and the clock.");
    desk_free(ana);
    desk_free(ben);
    free(log.entry);
}

static void clock__shadow__follows_until_it_is_told_otherwise(void **state)
{
    (void)state;
    struct desk *ana = open_desk();
    press(ana, ENTER, 0);
    struct entries log = taken(ana);
    rows[1].shadow = true;
    struct desk *ben = open_as(1, 2, &log, 0, 10000);
    rows[1].shadow = false;
    expect(ben, 20000, CLOCK_RUNNING, 1, 160000);
    press(ben, 'q', 20000);
    check_strike(ben, 0, 1, 20000, false);
    press(ben, ENTER, 21000);
    says(ben, 21000, "this desk follows the clock of ana");
    desk_tick(ben, START + 25000);
    expect(ben, 25000, CLOCK_RUNNING, 1, 155000);
    press(ben, KEY_OF_LEFT, 30000);
    says(ben, 30000, "follows the clock of ana");
    press_twice(ben, ENTER, 40000);
    says(ben, 41500, "a clock of its own now");
    expect(ben, 41500, CLOCK_RUNNING, 1, 138500);
    press(ben, ENTER, 50000);
    expect(ben, 60000, CLOCK_STOPPED, 1, 130000);
    desk_free(ana);
    desk_free(ben);
    free(log.entry);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock__started_late__moves_the_start_and_the_strikes),
        cmocka_unit_test(clock__began_ago__the_next_round_and_what_was_tagged),
        cmocka_unit_test(clock__started_late__not_beyond_the_round),
        cmocka_unit_test(clock__wall_set__no_time_passes),
        cmocka_unit_test(clock__wall_set_back__nothing_waits_for_an_hour),
        cmocka_unit_test(clock__opened_behind_its_log__goes_on_from_there),
        cmocka_unit_test(clock__started_late__the_other_desk_follows),
        cmocka_unit_test(clock__wall_set__the_desk_without_the_clock_waits_for_the_word),
        cmocka_unit_test(clock__wall_set__nobody_looks_silent),
        cmocka_unit_test(clock__shadow__follows_until_it_is_told_otherwise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
