/* practice.c: what a level of practice asks, and who is ready for it. The bars below are own
 * choice, as those of the program are. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/insight/practice.h"

static const char bars_text[] = "[slow]\nhad = 97\nfirst = 90\nreaction_ms = 1500\nsessions = 1\n"
                                "[bout]\nhad = 95\nfirst = 88\nreaction_ms = 1200\nsessions = 2\n"
                                "[burst]\nhad = 90\nfirst = 80\nreaction_ms = 1200\nsessions = 2\n";

static void read_bars(struct practice_bar bars[LEVELS])
{
    struct error err = {0};
    assert_int_equal(practice_bars(bars, bars_text, strlen(bars_text), "practice.ini", &err), 0);
}

/* A session of fingers that is just good enough for `bout`. */
static struct practice_session just(enum practice_level level)
{
    return (struct practice_session){.kind = PRACTICE_FINGERS,
                                     .level = (uint8_t)level,
                                     .called = 100,
                                     .had = 95,
                                     .first = 88,
                                     .reaction_ms = 1200};
}

static void practice_holds__just_so_much__is_enough_and_less_is_not(void **state)
{
    (void)state;
    struct practice_bar bars[LEVELS];
    read_bars(bars);
    struct practice_session session = just(LEVEL_BOUT);
    assert_true(practice_holds(&session, &bars[LEVEL_BOUT]));
    session.had = 94;
    assert_false(practice_holds(&session, &bars[LEVEL_BOUT]));
    session = just(LEVEL_BOUT);
    session.first = 87;
    assert_false(practice_holds(&session, &bars[LEVEL_BOUT]));
    session = just(LEVEL_BOUT);
    session.reaction_ms = 1201;
    assert_false(practice_holds(&session, &bars[LEVEL_BOUT]));
    session.reaction_ms = -1; /* not known */
    assert_false(practice_holds(&session, &bars[LEVEL_BOUT]));
    session = just(LEVEL_BOUT);
    session.called = 0;
    session.had = session.first = 0;
    assert_false(practice_holds(&session, &bars[LEVEL_BOUT]));
}

/* The hardest level of which the newest sessions, or harder ones, all hold the bar. */
static void practice_ready__newest_sessions_of_a_level_or_harder__say_so(void **state)
{
    (void)state;
    struct practice_bar bars[LEVELS];
    read_bars(bars);
    struct practice_session good = just(LEVEL_BOUT), bad = just(LEVEL_BOUT);
    struct practice_session burst = just(LEVEL_BURST), eyes = just(LEVEL_BOUT);
    struct practice_session slow = just(LEVEL_SLOW);
    bad.had = 50;
    eyes.kind = PRACTICE_EYES;
    slow.had = 97;
    slow.first = 90;
    const struct {
        struct practice_session session[3]; /* newest first */
        size_t count;
        int ready;
    } cases[] = {
        {{good}, 0, -1},
        {{good}, 1, -1}, /* one of two, and no 97 in 100 for slow */
        {{good, good}, 2, LEVEL_BOUT},
        {{good, burst}, 2, LEVEL_BOUT},
        {{burst, burst}, 2, LEVEL_BURST},
        {{bad, good, good}, 3, -1},
        {{good, good, bad}, 3, LEVEL_BOUT}, /* the oldest is past */
        {{good, bad, good}, 3, -1},
        {{good, eyes, good}, 3, LEVEL_BOUT},
        {{eyes, eyes}, 2, -1},
        {{slow}, 1, LEVEL_SLOW},
        {{slow, good, good}, 3, LEVEL_BOUT},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int ready = practice_ready(cases[i].session, cases[i].count, bars);
        if (ready != cases[i].ready) {
            fail_msg("case %zu: %d, expected %d", i, ready, cases[i].ready);
        }
    }
}

static void practice_bars__what_is_no_bar__is_refused(void **state)
{
    (void)state;
    static const char *const more[] = {
        "[slow]\nhad = 101\n",      "[slow]\nfirst = 101\n", "[slow]\nsessions = 0\n",
        "[slow]\nsessions = 101\n", "[slow]\nhad = none\n",  "[slow]\nhad = -1\n",
        "[quick]\nhad = 90\n",      "[slow]\nlast = 1\n",    "[bout]\nreaction_ms = 0\n"};
    for (size_t i = 0; i < sizeof more / sizeof *more; i++) {
        char text[sizeof bars_text + 64];
        struct practice_bar bars[LEVELS];
        struct error err = {0};
        strcpy(text, bars_text);
        strcat(text, more[i]);
        assert_true(practice_bars(bars, text, strlen(text), "own.ini", &err) < 0);
        assert_non_null(strstr(err.text, "own.ini"));
    }
    struct practice_bar bars[LEVELS];
    struct error err = {0};
    assert_true(practice_bars(bars, "", 0, "own.ini", &err) < 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(practice_holds__just_so_much__is_enough_and_less_is_not),
        cmocka_unit_test(practice_ready__newest_sessions_of_a_level_or_harder__say_so),
        cmocka_unit_test(practice_bars__what_is_no_bar__is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
