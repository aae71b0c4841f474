/* The end of the bout, counts and pauses under the keys. */
#include "clocked.h"

static void clock__end__stops_the_clock_until_it_is_taken_back(void **state)
{
    (void)state;
    char words[160];
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'q', 60000);
    press(desk, F4, 62000); /* the referee waves */
    press(desk, '1', 64000);
    press(desk, ENTER, 64500);
    says(desk, 64500, "who won?");
    press(desk, '[', 65000);
    press(desk, ENTER, 66000);
    says(desk, 66000, "the bout is over: knockout, red, round 1 1:02");
    assert_true(desk_ended(desk, words, sizeof words));
    assert_string_equal(words, "knockout, red, round 1 1:02");
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(desk_fold(desk), &subjects);
    assert_int_equal(subjects[count - 1].now.kind, ENTRY_RESULT);
    assert_false(subjects[count - 1].now.off_clock); /* an official's word, whatever the clock */
    expect(desk, 300000, CLOCK_OVER, 1, 0);
    assert_int_equal(desk_clock(desk, START + 300000).elapsed_ms, 62000);
    press(desk, ENTER, 70000);
    says(desk, 70000, "the bout is over, knockout, red, round 1 1:02");
    press(desk, KEY_OF_RIGHT, 71000);
    says(desk, 71000, "the bout is over");
    expect(desk, 300000, CLOCK_OVER, 1, 0);
    press(desk, BACK, 80000); /* he did not */
    assert_false(desk_ended(desk, words, sizeof words));
    expect(desk, 80000, CLOCK_RUNNING, 1, 100000);
    desk_free(desk);
}

static void clock__end__with_the_official_time(void **state)
{
    (void)state;
    char words[160];
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, ENTER, 109000); /* waved off */
    press(desk, F4, 130000);
    type(desk, "2147]", 130500); /* stopped by the referee, 1:47, blue */
    press(desk, ENTER, 133000);
    assert_true(desk_ended(desk, words, sizeof words));
    assert_string_equal(words, "stopped by the referee, blue, round 1 1:47");
    expect(desk, 140000, CLOCK_OVER, 1, 0);
    /* Put right in the form, and reopened there. */
    press(desk, F4, 150000);
    press(desk, '[', 151000);
    press(desk, ENTER, 152000);
    assert_true(desk_ended(desk, words, sizeof words));
    assert_string_equal(words, "stopped by the referee, red, round 1 1:47");
    press(desk, 'w', 152500); /* a strike that came late: logged, off the clock */
    check_strike(desk, 0, 1, 109000, true);
    press(desk, F4, 153000);
    press(desk, KEY_OF_DELETE, 154000);
    assert_false(desk_ended(desk, words, sizeof words));
    expect(desk, 154000, CLOCK_STOPPED, 1, 71000);
    desk_free(desk);
}

static void clock__end__what_cannot_be_is_refused(void **state)
{
    (void)state;
    char words[160];
    struct desk *desk = open_desk();
    press(desk, F4, 0);
    press(desk, ENTER, 500);
    says(desk, 500, "how did it end?");
    type(desk, "1[", 1000);
    press(desk, ENTER, 2000); /* no round has begun */
    assert_false(desk_ended(desk, words, sizeof words));
    press(desk, 'q', 2500);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    check_strike(desk, 0, 1, 0, true);
    press(desk, ENTER, 10000);
    press(desk, F4, 20000);
    press(desk, '0', 20500); /* a decision, in round 1 */
    press(desk, ENTER, 21000);
    press(desk, ENTER, 22000);
    press(desk, ENTER, 23000);
    assert_false(desk_ended(desk, words, sizeof words));
    assert_int_equal(entries_of(desk, ENTRY_RESULT, -1), 0);
    desk_free(desk);
}

static void clock__count__leaves_its_number(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    const struct subject *subjects = NULL;
    press(desk, ENTER, 0);
    press(desk, ']', 10000);
    press(desk, 'k', 10200);
    desk_tick(desk, START + 20100);
    enum corner corner = CORNER_NONE;
    assert_int_equal(desk_count(desk, START + 20150, &corner), 10);
    desk_tick(desk, START + 20300); /* nobody pressed anything */
    says(desk, 20300, "blue: 10, own count");
    assert_int_equal(desk_count(desk, START + 20300, &corner), 0);
    size_t count = fold_subjects(desk_fold(desk), &subjects);
    assert_int_equal(subjects[count - 1].now.value, 10);
    /* Up at eight, and they box on before anybody presses Enter. */
    press(desk, '[', 30000);
    press(desk, 'c', 30200);
    press(desk, 'i', 39300);
    count = fold_subjects(desk_fold(desk), &subjects);
    assert_int_equal(subjects[count - 2].now.code, CODE_COUNT);
    assert_int_equal(subjects[count - 2].now.value, 8);
    /* Enter ends it where it is. */
    press(desk, '[', 50000);
    press(desk, 'c', 50200);
    press(desk, ENTER, 53300);
    count = fold_subjects(desk_fold(desk), &subjects);
    assert_int_equal(subjects[count - 1].now.value, 4);
    expect(desk, 53300, CLOCK_RUNNING, 1, 180000 - 53300);
    char words[96];
    entry_words(words, sizeof words, &subjects[count - 1].now);
    assert_string_equal(words, "standing count, own count 4");
    desk_free(desk);
}

static void clock__injury_pause__stops_the_clock_in_one_keystroke(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, '[', 60000);
    press(desk, 'i', 60500);
    says(desk, 60500, "red: injury pause; the clock stands at 2:00 left");
    expect(desk, 90000, CLOCK_STOPPED, 1, 119500);
    press(desk, BACK, 61500);
    expect(desk, 90000, CLOCK_RUNNING, 1, 90000);
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[CORNER_RED].incidents[CODE_INJURY], 0);
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock__end__stops_the_clock_until_it_is_taken_back),
        cmocka_unit_test(clock__end__with_the_official_time),
        cmocka_unit_test(clock__end__what_cannot_be_is_refused),
        cmocka_unit_test(clock__count__leaves_its_number),
        cmocka_unit_test(clock__injury_pause__stops_the_clock_in_one_keystroke),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
