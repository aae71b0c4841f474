#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/sheet/coach_sheet.h"
#include "ringtally/base/text.h"
#include "expected.h"
#include "sample.h"

static void print(struct buf *out, const struct sample *sample, int round, enum corner corner,
                  enum coach_format format)
{
    struct sheet_view view = sample_view(sample, round);
    struct error err = {0};
    assert_int_equal(coach_sheet_write(out, &view, corner, format, &err), 0);
}

/* Fits 80 columns and a page; nothing undefined in it. */
static void check_page(const char *text)
{
    char line[400];
    int lines = 0;
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "inf"));
    for (; *text; lines++) {
        size_t size = strcspn(text, "\n");
        assert_true(size < sizeof line);
        memcpy(line, text, size);
        line[size] = '\0';
        assert_true(text_width(line) <= 80);
        text += size + 1;
    }
    assert_true(lines <= 60);
}

static void official(struct sample *sample)
{
    sample_official(sample, 0, CODE_RED);
    sample_official(sample, 0, CODE_CLOCK);
    sample_official(sample, 1, CODE_BLUE);
}

static void expect(const struct sample *sample, int round, enum corner corner, const char *part)
{
    struct buf out = BUF_INIT;
    print(&out, sample, round, corner, COACH_TEXT);
    check_page(out.text);
    if (!strstr(out.text, part)) {
        fail_msg("not there: %s\n%s", part, out.text);
    }
    buf_release(&out);
}

static void expect_none(const struct sample *sample, int round, enum corner corner,
                        const char *part)
{
    struct buf out = BUF_INIT;
    print(&out, sample, round, corner, COACH_TEXT);
    assert_null(strstr(out.text, part));
    buf_release(&out);
}

static void coach_sheet_write__played__as_expected(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int round;
        enum corner corner;
    } cases[] = {{"coach-red.txt", 0, CORNER_RED}, {"coach-blue-round-2.txt", 2, CORNER_BLUE}};
    struct sample sample;
    sample_init(&sample);
    sample_play(&sample);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct buf out = BUF_INIT;
        print(&out, &sample, cases[i].round, cases[i].corner, COACH_TEXT);
        check_page(out.text);
        check_golden(&out, cases[i].name);
        buf_release(&out);
    }
    sample_release(&sample);
}

static void coach_sheet_write__nothing_or_little__says_no_more(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    expect(&sample, 0, CORNER_RED, "LANDS MOST  Nothing thrown yet.\n");
    expect(&sample, 0, CORNER_RED, "TAKES MOST  Nothing thrown at us yet.\n");
    expect(&sample, 0, CORNER_RED, "CHANGED     No round before to compare with.\n");
    official(&sample); /* one strike on a clock that never ran */
    sample_strikes(&sample, 1, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_ATTEMPTED, 0);
    expect(&sample, 0, CORNER_RED, "LANDS MOST  Nothing landed, of 1 thrown.\n");
    sample_strikes(&sample, 1, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED, 0);
    expect(&sample, 0, CORNER_RED, "LANDS MOST  1 of 2 landed, no strike more than once.\n");
    expect(&sample, 0, CORNER_BLUE, "TAKES MOST  1 of 2 landed, no strike more than once.\n");
    expect(&sample, 0, CORNER_RED, "      1/2.      1/2."); /* one that landed is no hot spot */
    expect(&sample, 0, CORNER_RED,
           "\nR1       1/2    50% 9-91                -       -           -                -\n");
    sample_release(&sample);
}

/* `count` strikes, `landed` of them, evenly over the round that began. */
static void spread(struct sample *sample, enum corner corner, enum limb limb, enum target target,
                   int landed, int count)
{
    int64_t begun = sample->now;
    for (int i = 0; i < count; i++) {
        bool hit = (i + 1) * landed / count > i * landed / count;
        sample->now = begun + 170000 / count * (i + 1);
        sample_strikes(sample, 1, corner, limb, target, hit ? OUTCOME_LANDED : OUTCOME_ATTEMPTED,
                       0);
    }
    sample->now = begun;
}

/* Blue's knee lands 24 of 24, all else 30 of 80, by the bell of round 2. With 12 of 24 there is no
 * difference to speak of; and after one round nothing is compared yet. */
static void coach_sheet_write__one_lands_better__only_when_it_holds(void **state)
{
    (void)state;
    for (int holds = 0; holds < 2; holds++) {
        struct sample sample;
        sample_init(&sample);
        official(&sample);
        for (int round = 1; round <= 2; round++) {
            sample_round(&sample, round);
            spread(&sample, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, holds ? 12 : 6, 12);
            spread(&sample, CORNER_BLUE, LIMB_LEFT_HAND, TARGET_HEAD, 15, 40);
            sample.now += 240000;
            if (round == 1) {
                expect(&sample, 0, CORNER_BLUE, "LANDS MOST  Left hand to the head: 15 of 40 ");
            }
        }
        expect(&sample, 0, CORNER_BLUE,
               holds
                   ? "LANDS BEST  Knee to the body: 24 of 24 landed.\n"
                     "            All else 30 of 80. 63 points better, interval 45 to 72; through\n"
                     "            round 2.\n"
                   : "LANDS MOST  Left hand to the head: 30 of 80 landed.\n");
        expect(&sample, 1, CORNER_RED, "TAKES MOST  Left hand to the head: 15 of 40 landed.\n");
        sample_release(&sample);
    }
}

static void coach_sheet_write__a_change__only_when_it_holds(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    official(&sample);
    for (int round = 1; round <= 3; round++) { /* red lands 10, 11, 34 of 40 */
        static const int landed[] = {0, 10, 11, 34};
        sample_round(&sample, round);
        spread(&sample, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, landed[round], 40);
        int64_t begun = sample.now;
        sample.now += 179000; /* before the bell nothing is compared */
        if (round == 2) {
            expect(&sample, 2, CORNER_RED,
                   "CHANGED     Round 2 is compared when it is over.\n"
                   "            We landed 11 of 40 in round 2, 10 of 40 ");
        } else if (round == 3) {
            expect(&sample, 3, CORNER_RED, "CHANGED     Nothing in round 2 that the numbers ");
        }
        sample.now = begun;
        sample.now += 240000;
    }
    expect(&sample, 2, CORNER_RED,
           "CHANGED     Nothing in round 2 that the numbers carry.\n"
           "            We landed 11 of 40 in round 2, 10 of 40 in round 1; ");
    expect(&sample, 3, CORNER_RED,
           "CHANGED     We land better: 34 of 40, 21 of 80 in the rounds before.\n");
    expect(&sample, 0, CORNER_BLUE,
           "CHANGED     They land better: 34 of 40, 21 of 80 in the rounds before.\n");
    expect(&sample, 0, CORNER_RED, "\nbout ");
    expect(&sample, 3, CORNER_RED, "\nbout ");
    expect_none(&sample, 2, CORNER_RED, "\nbout "); /* later rounds belong to it */
    sample_release(&sample);
}

static void coach_sheet_write__knocked_down__comes_first(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    official(&sample);
    sample_round(&sample, 1);
    sample_strikes(&sample, 4, CORNER_RED, LIMB_RIGHT_LEG, TARGET_LEG, OUTCOME_LANDED, 0);
    sample_strikes(&sample, 1, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED,
                   TECHNIQUE_KNOCKDOWN);
    expect(&sample, 1, CORNER_BLUE,
           "TAKES MOST  Knocked down once: left head kick, R1 0:01. Right low kick: 4 of 4");
    expect_none(&sample, 1, CORNER_RED, "Knocked down");
    /* Also where nobody saw with what; what is entered for the marked strike is no second one. */
    sample_incident(&sample, CORNER_BLUE, CODE_KNOCKED_DOWN, 0, "");
    expect(&sample, 1, CORNER_BLUE, "TAKES MOST  Knocked down once: left head kick, R1 0:01.");
    sample.now += 60000;
    sample_incident(&sample, CORNER_BLUE, CODE_KNOCKED_DOWN, 0, "");
    expect(&sample, 1, CORNER_BLUE, "TAKES MOST  Knocked down 2 times, the last: R1 1:01.");
    sample_incident(&sample, CORNER_RED, CODE_KNOCKED_DOWN, 0, "");
    expect(&sample, 1, CORNER_RED, "TAKES MOST  Knocked down once: R1 1:0");
    sample_release(&sample);
}

static void coach_sheet_write__hostile_names__escaped(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    sample_hostile(&sample);
    sample_play(&sample);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct buf out = BUF_INIT;
        print(&out, &sample, 0, (enum corner)corner, COACH_HTML);
        assert_non_null(strstr(out.text, "=HYPERLINK(&quot;x&quot;),|a *b* &lt;i&gt;"));
        assert_null(strstr(out.text, "<i>"));
        buf_release(&out);
        print(&out, &sample, 0, (enum corner)corner, COACH_TEXT);
        check_page(out.text);
        buf_release(&out);
    }
    sample_release(&sample);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coach_sheet_write__played__as_expected),
        cmocka_unit_test(coach_sheet_write__nothing_or_little__says_no_more),
        cmocka_unit_test(coach_sheet_write__one_lands_better__only_when_it_holds),
        cmocka_unit_test(coach_sheet_write__a_change__only_when_it_holds),
        cmocka_unit_test(coach_sheet_write__knocked_down__comes_first),
        cmocka_unit_test(coach_sheet_write__hostile_names__escaped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
