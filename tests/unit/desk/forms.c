/* What the forms show while they are typed into, and what they take: the end of the bout, the
 * clock, the time code. */
#include "clocked.h"

#include "ringtally/tally/marks.h"
#include "ringtally/tally/officials.h"

#define F7 (KEY_OF_F1 + 6)

static void end_shows(const struct desk *desk, const char *expected, int at)
{
    char words[160];
    int seen = 99;
    assert_true(desk_end_form(desk, words, sizeof words, &seen));
    assert_string_equal(words, expected);
    assert_int_equal(seen, at);
}

static void end_form__type__shows_each_part(void **state)
{
    (void)state;
    static const struct {
        int32_t key;
        const char *shown;
        int at;
    } steps[] = {
        {F4, "how? a digit   round 2 0:30", -1},
        {']', "how? a digit   blue   round 2 0:30", -1},
        {'1', "knockout: blue   round 2 0:30", 0},
        {'1', "knockout: blue   round 2 0:01_", 0},
        {'4', "knockout: blue   round 2 0:14_", 0},
        {'7', "knockout: blue   round 2 1:47_", 0},
        {BACK, "knockout: blue   round 2 0:14_", 0},
        {KEY_OF_LEFT, "knockout: blue   round 1 0:14_", 0},
        {KEY_OF_LEFT, "knockout: blue   round 1 0:14_", 0}, /* there is no round 0 */
        {KEY_OF_RIGHT, "knockout: blue   round 2 0:14_", 0},
        {KEY_OF_RIGHT, "knockout: blue   round 2 0:14_", 0}, /* round 3 has not begun */
        {'[', "knockout: red   round 2 0:14_", 0},
        {BACK, "knockout: red   round 2 0:01_", 0},
        {BACK, "knockout: red   round 2 0:00", 0},
        {BACK, "how? a digit   round 2 0:00", -1},
        {'[', "how? a digit   red   round 2 0:00", -1},
        {BACK, "how? a digit   round 2 0:00", -1},
        {BACK, "how? a digit   round 2 0:00", -1},
    };
    struct desk *desk = open_desk();
    int64_t at = 270000;
    press(desk, ENTER, 0);
    press(desk, ENTER, 240000);
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++, at += 300) {
        press(desk, steps[i].key, at);
        end_shows(desk, steps[i].shown, steps[i].at);
    }
    says(desk, at - 300, "nothing is typed");
    press(desk, F4, at += 300); /* its own key closes it, and writes nothing */
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    press(desk, KEY_OF_ESC, at += 300);
    says(desk, at, "nothing is open");
    assert_int_equal(entries_of(desk, ENTRY_RESULT, -1), 0);
    desk_free(desk);
}

/* Up and Down walk all the ways, in both directions, and round. */
static void end_form__walk__all_the_ways(void **state)
{
    (void)state;
    const char *const *names = NULL;
    char words[160];
    int at = -2, ways = desk_end_ways(&names);
    struct desk *desk = open_desk();
    assert_in_range(ways, 8, 20);
    press(desk, ENTER, 0);
    press(desk, F4, 30000);
    for (int i = 0; i <= ways; i++) {
        press(desk, KEY_OF_DOWN, 30300 + i * 300);
        assert_true(desk_end_form(desk, words, sizeof words, &at));
        assert_int_equal(at, i % ways);
        assert_non_null(strstr(words, names[at]));
    }
    press(desk, KEY_OF_UP, 40000);
    desk_end_form(desk, words, sizeof words, &at);
    assert_int_equal(at, ways - 1);
    press(desk, KEY_OF_ESC, 41000);
    press(desk, F4, 42000);
    press(desk, KEY_OF_UP, 43000);
    desk_end_form(desk, words, sizeof words, &at);
    assert_int_equal(at, ways - 1);
    press(desk, KEY_OF_ESC, 44000);
    for (int digit = 0; digit <= 9; digit++) {
        press(desk, F4, 50000 + digit * 1000);
        press(desk, '0' + digit, 50300 + digit * 1000);
        desk_end_form(desk, words, sizeof words, &at);
        assert_int_equal(at, digit == 0 ? 9 : digit - 1);
        press(desk, KEY_OF_ESC, 50600 + digit * 1000);
    }
    assert_false(desk_end_form(desk, words, sizeof words, &at)); /* closed */
    desk_free(desk);
}

/* Who does not come has no round and no time; what ended is shown so. */
static void end_form__walkover__has_no_round(void **state)
{
    (void)state;
    const char *const *names = NULL;
    char words[160];
    int at = -1, ways = desk_end_ways(&names);
    struct desk *desk = open_desk();
    press(desk, F4, 1000);
    for (int i = 0; i < ways && (at < 0 || !strstr(names[at], "walkover")); i++) {
        press(desk, KEY_OF_DOWN, 1300 + i * 300);
        desk_end_form(desk, words, sizeof words, &at);
    }
    press(desk, '[', 9000);
    press(desk, ENTER, 9300);
    assert_true(desk_ended(desk, words, sizeof words));
    assert_null(strstr(words, "round"));
    assert_non_null(strstr(words, ", red"));
    assert_non_null(strstr(words, "walkover"));
    /* The form says again what was entered; Delete takes it back, once. */
    press(desk, F4, 12000);
    assert_true(desk_end_form(desk, words, sizeof words, &at));
    assert_non_null(strstr(words, "walkover"));
    press(desk, KEY_OF_DELETE, 13000);
    assert_false(desk_ended(desk, words, sizeof words));
    assert_string_equal(words, "");
    press(desk, F4, 14000);
    press(desk, KEY_OF_DELETE, 15000);
    says(desk, 15000, "no end of the bout is entered");
    desk_free(desk);
}

static void clock_shows(const struct desk *desk, int64_t at, const char *expected)
{
    char words[96];
    assert_true(desk_clock_form(desk, START + at, words, sizeof words));
    assert_string_equal(words, expected);
}

static void clock_form__type__shows_what_would_be_set(void **state)
{
    (void)state;
    static const struct {
        int32_t key;
        const char *shown;
    } running[] = {
        {F9, "as it stands: 2:00 left in round 1"},
        {'1', "0:01 left in round 1"},
        {'3', "0:13 left in round 1"},
        {'0', "1:30 left in round 1"},
        {BACK, "0:13 left in round 1"},
        {KEY_OF_RIGHT, "0:12 left in round 1"}, /* it goes on */
        {KEY_OF_LEFT, "0:13 left in round 1"},
        {KEY_OF_SHIFT_LEFT, "0:23 left in round 1"},
        {KEY_OF_SHIFT_RIGHT, "0:13 left in round 1"},
        {KEY_OF_TAB, "round 1 was started _ seconds late"},
        {'2', "round 1 was started 2 seconds late"},
        {KEY_OF_RIGHT, "round 1 was started 3 seconds late"},
        {KEY_OF_SHIFT_LEFT, "round 1 was started 0 seconds late"},
        {KEY_OF_LEFT, "round 1 was started 0 seconds late"},
        {'+', "as it stands: 2:00 left in round 1"},
    };
    struct desk *desk = open_desk();
    char words[96];
    press(desk, F9, 100);
    clock_shows(desk, 100, "round 1 began _ seconds ago");
    press(desk, KEY_OF_TAB, 200); /* there is nothing else yet */
    says(desk, 200, "nothing else to set");
    press(desk, KEY_OF_ESC, 300);
    assert_false(desk_clock_form(desk, START + 300, words, sizeof words));
    press(desk, ENTER, 1000);
    press(desk, ENTER, 61000); /* stands at 2:00 */
    for (size_t i = 0; i < sizeof running / sizeof *running; i++) {
        press(desk, running[i].key, 62000 + (int64_t)i * 300);
        clock_shows(desk, 62000 + (int64_t)i * 300, running[i].shown);
    }
    press(desk, BACK, 67000);
    says(desk, 67000, "nothing is typed");
    press(desk, F9, 68000);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    expect(desk, 68000, CLOCK_STOPPED, 1, 120000); /* nothing was set */
    press(desk, ENTER, 70000);
    /* In the rest: what is left of it, the round before, the next one. */
    press(desk, F9, 200000);
    clock_shows(desk, 200000, "as it stands: 0:50 left of the rest");
    press(desk, KEY_OF_TAB, 200300);
    clock_shows(desk, 200300, "as it stands: 0:00 left in round 1");
    press(desk, KEY_OF_TAB, 200600);
    clock_shows(desk, 200600, "round 2 began _ seconds ago");
    press(desk, KEY_OF_TAB, 200900);
    type(desk, "45", 201000);
    press(desk, ENTER, 202000);
    says(desk, 202000, "set: 0:45 of the rest are left");
    expect(desk, 202000, CLOCK_REST, 1, 45000);
    desk_free(desk);
}

static void clock_form__enter__refuses_what_is_longer(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, F9, 10000);
    int64_t at = type(desk, "301", 10300);
    press(desk, ENTER, at);
    says(desk, at, "a round is 3:00 long");
    assert_int_equal(desk_mode(desk), DESK_CLOCK);
    press(desk, BACK, at += 300);
    press(desk, '0', at += 300); /* 3:00 is as long as it is */
    press(desk, ENTER, at += 300);
    says(desk, at, "set: 3:00 left in round 1, the clock runs");
    expect(desk, at, CLOCK_RUNNING, 1, 180000);
    press(desk, F9, at += 10000);
    at = type(desk, "12345", at + 300);
    says(desk, at - 333, "four digits at most");
    clock_shows(desk, at, "12:34 left in round 1");
    press(desk, '0', at += 300);
    clock_shows(desk, at, "12:34 left in round 1");
    press(desk, KEY_OF_TAB, at += 300);
    press(desk, ENTER, at += 300);
    says(desk, at, "how many seconds ago?");
    at = type(desk, "601", at + 300);
    press(desk, ENTER, at);
    says(desk, at, "at most 600 seconds");
    press(desk, KEY_OF_ESC, at += 300);
    /* A rest of a minute. */
    press(desk, F9, at = 240000);
    at = type(desk, "61", at + 300);
    press(desk, ENTER, at);
    says(desk, at, "is 1:00 long");
    press(desk, BACK, at += 300);
    press(desk, '0', at += 300);
    press(desk, ENTER, at += 300);
    says(desk, at, "1:00 of the rest");
    desk_free(desk);
}

static void sync_shows(const struct desk *desk, const char *expected)
{
    char words[64];
    assert_true(desk_sync(desk, words, sizeof words));
    assert_string_equal(words, expected);
}

/* Tab goes through all rates, with the semicolon of those that drop numbers; what was noted last is
 * where the next one begins. */
static void sync__type__rates_and_digits(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    struct sync_point point;
    char first[64], words[64];
    int rates = 0, dropped = 0;
    press(desk, F7, 1000);
    sync_shows(desk, "__:__:__:__ at 25");
    desk_sync(desk, first, sizeof first);
    do {
        press(desk, KEY_OF_TAB, 1300 + 300 * rates++);
        assert_true(desk_sync(desk, words, sizeof words));
        bool drops = strstr(words, "DF") != NULL || strchr(words, ';') != NULL;
        dropped += drops;
        assert_int_equal(words[8], drops ? ';' : ':');
    } while (strcmp(words, first) != 0 && rates < 20);
    assert_in_range(rates, 5, 12);
    assert_in_range(dropped, 1, 3);
    int64_t at = type(desk, "01020", 9000);
    press(desk, ENTER, at);
    says(desk, at, "eight digits are needed");
    press(desk, BACK, at += 300);
    sync_shows(desk, "01:02:__:__ at 25");
    at = type(desk, "9912", at + 300);
    press(desk, ENTER, at); /* no second 99 */
    assert_int_equal(desk_mode(desk), DESK_SYNC);
    for (int i = 0; i < 9; i++) { /* no further than nothing */
        press(desk, BACK, at += 300);
    }
    sync_shows(desk, "__:__:__:__ at 25");
    press(desk, KEY_OF_TAB, at += 300);
    desk_sync(desk, first, sizeof first);
    at = type(desk, "101112139", at + 300); /* the ninth is too many */
    press(desk, ENTER, at);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    assert_true(marks_sync(&point, desk_fold(desk)));
    assert_int_equal(point.utc_ms, START + 1000);
    press(desk, F7, at += 1000);
    desk_sync(desk, words, sizeof words);
    assert_string_equal(words, first); /* the same rate again */
    press(desk, F7, at += 1000);
    assert_false(desk_sync(desk, words, sizeof words));
    desk_free(desk);
}

/* A decision needs all rounds: after the last bell it is taken, a second before it is not. */
static void end_form__decision__after_the_last_bell(void **state)
{
    (void)state;
    for (int64_t at = 659000; at <= 661000; at += 2000) {
        struct desk *desk = open_desk();
        char words[160];
        for (int round = 0; round < 3; round++) {
            press(desk, ENTER, round * 240000);
        }
        press(desk, F4, at - 300);
        press(desk, '0', at - 200);
        press(desk, ENTER, at);
        assert_int_equal(desk_ended(desk, words, sizeof words), at > 660000);
        if (at > 660000) {
            assert_string_equal(words, "decision, round 3 3:00");
        }
        desk_free(desk);
    }
}

/* What contradicts the log is asked about: a second Enter, neither at once nor long after. */
static void end_form__odd__enter_again(void **state)
{
    (void)state;
    static const struct {
        int64_t later;
        bool taken;
    } cases[] = {{100, false}, {2000, true}, {60000, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct desk *desk = open_desk();
        char words[160];
        press(desk, ENTER, 0);
        press(desk, ENTER, 109000); /* stopped at 1:49 */
        press(desk, F4, 130000);
        int64_t at = type(desk, "1[210", 130300);
        press(desk, ENTER, at);
        says(desk, at, "by the log it stopped at 1:49; if it was ruled so, Enter again");
        assert_false(desk_ended(desk, words, sizeof words));
        press(desk, ENTER, at + cases[i].later);
        assert_int_equal(desk_ended(desk, words, sizeof words), cases[i].taken);
        if (cases[i].taken) {
            const struct subject *subjects = NULL;
            struct result_text read;
            size_t count = fold_subjects(desk_fold(desk), &subjects);
            assert_string_equal(words, "knockout, red, round 1 2:10");
            assert_true(result_read(&read, subjects[count - 1].now.text));
            assert_true(read.overridden);
        } else { /* another key begins the question anew */
            press(desk, BACK, at + cases[i].later + 300);
            press(desk, '0', at + cases[i].later + 600);
            press(desk, ENTER, at + cases[i].later + 2000);
            assert_false(desk_ended(desk, words, sizeof words));
        }
        desk_free(desk);
    }
}

/* A log left open under a running clock closes by itself; a form opened out of it does not. */
static void forms__opened_from_the_log__stay(void **state)
{
    (void)state;
    static const struct {
        int32_t key;
        enum desk_mode mode;
    } cases[] = {{F4, DESK_END}, {F7, DESK_SYNC}, {F9, DESK_CLOCK}, {KEY_OF_F1 + 1, DESK_CARDS}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct desk *desk = open_desk();
        press(desk, ENTER, 0);
        press(desk, 'w', 5000);
        press(desk, KEY_OF_UP, 6000);
        assert_int_equal(desk_mode(desk), DESK_LOG);
        press(desk, cases[i].key, 7000);
        assert_int_equal(desk_mode(desk), cases[i].mode);
        desk_tick(desk, START + 60000);
        assert_int_equal(desk_mode(desk), cases[i].mode);
        press(desk, 'e', 61000); /* and a pad key is a strike there too */
        assert_int_equal(desk_mode(desk), DESK_LIVE);
        check_strike(desk, 1, 1, 61000, false);
        desk_free(desk);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(end_form__type__shows_each_part),
        cmocka_unit_test(end_form__walk__all_the_ways),
        cmocka_unit_test(end_form__walkover__has_no_round),
        cmocka_unit_test(clock_form__type__shows_what_would_be_set),
        cmocka_unit_test(clock_form__enter__refuses_what_is_longer),
        cmocka_unit_test(sync__type__rates_and_digits),
        cmocka_unit_test(end_form__decision__after_the_last_bell),
        cmocka_unit_test(end_form__odd__enter_again),
        cmocka_unit_test(forms__opened_from_the_log__stay),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
