/* Windows: the words that ask for one, where it begins, what is in it. */
#include "blows.h"

#include "ringtally/tally/window.h"

static void parses(const char *since, const char *last, bool does)
{
    struct window_ask ask;
    int code = window_parse(&ask, since, last, NULL);
    if ((code == 0) != does) {
        fail_msg("since %s, last %s: %s", since ? since : "-", last ? last : "-",
                 code ? "refused" : "taken");
    }
}

static void window_parse__words__to_the_letter(void **state)
{
    (void)state;
    static const char *const good[] = {"bell",
                                       "knockdown",
                                       "R1",
                                       "r2",
                                       "R20",
                                       "R1 0:00",
                                       "R2:1:30",
                                       "R3,59:59",
                                       "2026-12-05T20:15:30.250Z",
                                       "0123456789abcdef.1",
                                       "01234567.2147483647"};
    static const char *const bad[] = {"",           "bells",      "R",           "R0",
                                      "R21",        "R1 ",        "R1 x",        "R1 1:5",
                                      "R1 1:60",    "R1 60:00",   "R1 1:305",    "R1x",
                                      "Q1",         "2026-12-05", "0123456.1",   "01234567",
                                      "01234567.",  "01234567.0", "01234567.1x", "01234567.-1",
                                      "0123456g.1", "R1 1:3x"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        parses(good[i], NULL, true);
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        parses(bad[i], NULL, false);
    }
    parses(NULL, NULL, true);
    parses(NULL, "1", true);
    parses(NULL, "3600", true);
    parses(NULL, "3601", false);
    parses(NULL, "0", false);
    parses(NULL, "1s", false);
    parses(NULL, "", false);
    parses("bell", "60", false); /* one of them */
    struct window_ask ask;
    assert_int_equal(window_parse(&ask, "R3 1:30", NULL, NULL), 0);
    assert_int_equal(ask.from, WINDOW_CLOCK);
    assert_int_equal(ask.round, 3);
    assert_int_equal(ask.ms, 90000);
    assert_string_equal(ask.text, "since R3 1:30");
    assert_int_equal(window_parse(&ask, NULL, "90", NULL), 0);
    assert_int_equal(ask.ms, 90000);
    assert_string_equal(ask.text, "last 90 s");
    assert_int_equal(window_parse(&ask, "2026-12-05T20:15:30.250Z", NULL, NULL), 0);
    assert_int_equal(ask.ms, INT64_C(1796501730250)); /* date -u -d 2026-12-05T20:15:30Z +%s */
    assert_int_equal(window_parse(&ask, "0123456789ab.77", NULL, NULL), 0);
    assert_string_equal(ask.desk, "0123456789ab");
    assert_int_equal(ask.seq, 77);
}

/* Two rounds of strikes at 30, 60, 90 s, red's and blue's in turn; a knockdown at 1:00 of round 2.
 */
static struct fight played(void)
{
    struct fight fight = fight_new();
    for (int round = 1; round <= 2; round++) {
        fight_round(&fight);
        fight_throw(&fight, 30000, CORNER_RED, JAB, LANDED);
        if (round == 2) {
            fight_throw_as(&fight, 60000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN);
        } else {
            fight_throw(&fight, 60000, CORNER_BLUE, JAB, MISSED);
        }
        fight_throw(&fight, 90000, CORNER_RED, LOW, LANDED);
        fight_clock(&fight, 120000, CODE_STOP);
    }
    return fight;
}

static void window_find__each_way__counts_what_lies_in_it(void **state)
{
    (void)state;
    struct fight fight = played();
    int64_t now = fight.start + 130000;
    static const struct {
        const char *since, *last;
        int red, blue, downs;
        int64_t ran;
    } cases[] = {
        {"bell", NULL, 2, 1, 1, 120000},     {"R1", NULL, 4, 2, 1, 240000},
        {"R2", NULL, 2, 1, 1, 120000},       {"R1 0:30", NULL, 4, 2, 1, 210000},
        {"R1 1:00", NULL, 3, 2, 1, 180000},  {"R1 1:01", NULL, 3, 1, 1, 179000},
        {"knockdown", NULL, 1, 0, 0, 60000}, {"R3", NULL, 0, 0, 0, 0},
        {NULL, "60", 1, 1, 1, 60000},        {NULL, "59", 1, 0, 0, 59000},
        {NULL, "120", 2, 1, 1, 120000},      {NULL, "150", 3, 1, 1, 150000},
        {NULL, "180", 3, 2, 1, 180000},      {NULL, "3600", 4, 2, 1, 240000},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct window_ask ask;
        struct window window;
        struct round_tally tally;
        struct error err = {0};
        assert_int_equal(window_parse(&ask, cases[i].since, cases[i].last, &err), 0);
        assert_int_equal(window_find(&window, &ask, fight.fold, now, &err), 0);
        window_count(&tally, &window, fight.fold);
        int64_t ran = window_ran(&window, fold_clock(fight.fold), now);
        if (tally.corner[CORNER_RED].all.attempted != cases[i].red ||
            tally.corner[CORNER_BLUE].all.attempted != cases[i].blue ||
            tally.corner[CORNER_BLUE].knockdowns != cases[i].downs || ran != cases[i].ran) {
            fail_msg("%s: %d %d, %d knockdowns in %lld ms", ask.text,
                     tally.corner[CORNER_RED].all.attempted,
                     tally.corner[CORNER_BLUE].all.attempted, tally.corner[CORNER_BLUE].knockdowns,
                     (long long)ran);
        }
    }
    fight_end(&fight);
}

/* From a moment on, itself counted; from behind an entry. */
static void window_find__moment_and_entry(void **state)
{
    (void)state;
    struct fight fight = played();
    struct window window;
    struct round_tally tally;
    struct error err = {0};
    struct window_ask ask = {.from = WINDOW_MOMENT, .ms = fight.start + 60000};
    assert_int_equal(window_find(&window, &ask, fight.fold, fight.start + 130000, &err), 0);
    window_count(&tally, &window, fight.fold);
    assert_int_equal(tally.corner[CORNER_BLUE].all.attempted, 1);
    assert_int_equal(tally.corner[CORNER_RED].all.attempted, 1);
    assert_int_equal(window_ran(&window, fold_clock(fight.fold), fight.start + 130000), -1);
    ask.ms++;
    assert_int_equal(window_find(&window, &ask, fight.fold, fight.start + 130000, &err), 0);
    window_count(&tally, &window, fight.fold);
    assert_int_equal(tally.corner[CORNER_BLUE].all.attempted, 0);
    /* Three offices, a start, then round 1's first strike: number 5. */
    ask = (struct window_ask){.from = WINDOW_ENTRY, .desk = "aa", .seq = 5};
    assert_int_equal(window_find(&window, &ask, fight.fold, fight.start + 130000, &err), 0);
    window_count(&tally, &window, fight.fold);
    assert_int_equal(tally.corner[CORNER_RED].all.attempted, 3);
    assert_int_equal(tally.corner[CORNER_BLUE].all.attempted, 2);
    ask.seq = 500;
    assert_int_equal(window_find(&window, &ask, fight.fold, fight.start + 130000, &err),
                     ERROR_MISSING);
    ask = (struct window_ask){.from = WINDOW_ENTRY, .desk = "ab", .seq = 5};
    assert_int_equal(window_find(&window, &ask, fight.fold, fight.start + 130000, &err),
                     ERROR_MISSING);
    fight_end(&fight);
    fight = fight_new();
    fight_round(&fight);
    ask = (struct window_ask){.from = WINDOW_KNOCKDOWN};
    err = (struct error){0};
    assert_int_equal(window_find(&window, &ask, fight.fold, fight.start, &err), ERROR_MISSING);
    assert_string_equal(err.text, "there is no knockdown yet");
    fight_end(&fight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(window_parse__words__to_the_letter),
        cmocka_unit_test(window_find__each_way__counts_what_lies_in_it),
        cmocka_unit_test(window_find__moment_and_entry),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
