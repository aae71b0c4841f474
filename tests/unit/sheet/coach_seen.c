/* What a corner's sheet says of time that nobody saw, and of numbers just large enough. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/sheet/coach_sheet.h"
#include "sample.h"

#define CASES 10 /* of each, or nothing is compared */

/* The sheet in one line, its blanks single. */
static const char *sheet_of(const struct sample *sample, int round, enum corner corner)
{
    static char flat[8192];
    struct sheet_view view = sample_view(sample, round);
    struct error err = {0};
    struct buf out = BUF_INIT;
    size_t used = 0;
    assert_int_equal(coach_sheet_write(&out, &view, corner, COACH_TEXT, &err), 0);
    for (const char *at = out.text; *at && used + 1 < sizeof flat; at++) {
        char c = *at == '\n' ? ' ' : *at;
        if (c != ' ' || (used > 0 && flat[used - 1] != ' ')) {
            flat[used++] = c;
        }
    }
    flat[used] = '\0';
    buf_release(&out);
    return flat;
}

static void says(const struct sample *sample, int round, enum corner corner, const char *part,
                 bool does)
{
    const char *flat = sheet_of(sample, round, corner);
    if ((strstr(flat, part) != NULL) != does) {
        fail_msg("%s: \"%s\" in\n%s", does ? "not there" : "there", part, flat);
    }
}

static void official(struct sample *sample)
{
    sample_official(sample, 0, CODE_RED);
    sample_official(sample, 0, CODE_CLOCK);
    sample_official(sample, 1, CODE_BLUE);
}

/* Three rounds; red is tagged from 0:30 of one of them on, or (0) from the start. */
static struct sample three_rounds(int late)
{
    struct sample sample;
    sample_init(&sample);
    sample_official(&sample, 0, CODE_CLOCK);
    sample_official(&sample, 1, CODE_BLUE);
    if (late == 0) {
        sample_official(&sample, 0, CODE_RED);
    }
    for (int round = 1; round <= 3; round++) {
        sample_round(&sample, round);
        int64_t begun = sample.now;
        if (round == late) {
            sample.now += 30000;
            sample_official(&sample, 0, CODE_RED);
        }
        sample.now = begun + 60000;
        sample_strikes(&sample, 4, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
        sample_strikes(&sample, 4, CORNER_BLUE, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
        sample.now = begun + 240000;
    }
    return sample;
}

/* The round and the one before it are compared; what was not seen of others does not matter. */
static void coach_sheet__not_seen__of_the_two_rounds(void **state)
{
    (void)state;
    static const char *const seen[] = {"Seen: ", "Seen: 8:30 of 9:00.", "Seen: 5:30 of 9:00.",
                                       "Seen: 2:30 of 9:00."};
    for (int late = 0; late <= 3; late++) {
        struct sample sample = three_rounds(late);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            says(&sample, 0, (enum corner)corner, "Not all of rounds 2 and 3 was seen.", late >= 2);
            says(&sample, 2, (enum corner)corner, "Not all of rounds 1 and 2 was seen.", late >= 1);
            says(&sample, 0, (enum corner)corner, seen[late], late > 0);
        }
        says(&sample, 2, CORNER_RED, "Seen: 2:30 of 3:00.", late == 2);
        says(&sample, 1, CORNER_RED, "Not all of rounds", false); /* there is none before it */
        sample_release(&sample);
    }
}

/* The corner that nobody tags: of it nothing is said, of the other everything. */
static void coach_sheet__untagged__one_corner(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    sample_official(&sample, 0, CODE_RED);
    sample_official(&sample, 0, CODE_CLOCK);
    sample_round(&sample, 1);
    sample_strikes(&sample, 4, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
    sample.now += 240000;
    says(&sample, 0, CORNER_RED, "LANDS MOST Left hand to the head: 4 of 4 landed.", true);
    says(&sample, 0, CORNER_RED, "Their corner was not tagged: unknown.", true);
    says(&sample, 0, CORNER_RED, "Our corner was not tagged", false);
    says(&sample, 0, CORNER_BLUE, "Our corner was not tagged: unknown.", true);
    says(&sample, 0, CORNER_BLUE, "TAKES MOST Left hand to the head: 4 of 4 landed.", true);
    sample_release(&sample);
}

/* Ten of a strike and ten of all else are just enough to be compared; nine of either are not. */
static void coach_sheet__lands_best__from_ten_on(void **state)
{
    (void)state;
    static const struct {
        int part, rest;
        bool compared;
    } cases[] = {
        {CASES, CASES, true}, {CASES - 1, CASES + 9, false}, {CASES + 9, CASES - 1, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct sample sample;
        sample_init(&sample);
        official(&sample);
        for (int round = 1; round <= 2; round++) {
            sample_round(&sample, round);
            int64_t begun = sample.now;
            int part = cases[i].part / 2 + (round == 1 ? cases[i].part % 2 : 0);
            int rest = cases[i].rest / 2 + (round == 1 ? cases[i].rest % 2 : 0);
            for (int n = 0; n < part || n < rest; n++) {
                sample.now = begun + 10000 + n * 12000;
                sample_strikes(&sample, n < part, CORNER_RED, LIMB_KNEE, TARGET_BODY,
                               OUTCOME_LANDED, 0);
                sample.now += 6000;
                sample_strikes(&sample, n < rest, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD,
                               OUTCOME_ATTEMPTED, 0);
            }
            sample.now = begun + 240000;
        }
        says(&sample, 0, CORNER_RED, "LANDS BEST Knee to the body", cases[i].compared);
        sample_release(&sample);
    }
}

/* Of several knockdowns the newest is told, by round and then by time. */
static void coach_sheet__knocked_down__the_newest(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    official(&sample);
    sample_round(&sample, 1);
    int64_t begun = sample.now;
    sample.now += 99750;
    sample_strikes(&sample, 1, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED,
                   TECHNIQUE_KNOCKDOWN);
    says(&sample, 0, CORNER_BLUE, "Knocked down once: left head kick, R1 1:40.", true);
    sample.now += 29750;
    sample_strikes(&sample, 1, CORNER_RED, LIMB_RIGHT_HAND, TARGET_HEAD, OUTCOME_LANDED,
                   TECHNIQUE_KNOCKDOWN);
    says(&sample, 0, CORNER_BLUE,
         "Knocked down 2 times, the last: right hand to the head, R1 2:10.", true);
    sample.now = begun + 240000;
    sample_round(&sample, 2);
    sample.now += 9750;
    sample_strikes(&sample, 1, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED,
                   TECHNIQUE_KNOCKDOWN);
    says(&sample, 0, CORNER_BLUE, "Knocked down 3 times, the last: knee to the body, R2 0:10.",
         true);
    says(&sample, 1, CORNER_BLUE,
         "Knocked down 2 times, the last: right hand to the head, R1 2:10.", true);
    says(&sample, 2, CORNER_BLUE, "Knocked down once: knee to the body, R2 0:10.", true);
    sample_release(&sample);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coach_sheet__not_seen__of_the_two_rounds),
        cmocka_unit_test(coach_sheet__untagged__one_corner),
        cmocka_unit_test(coach_sheet__lands_best__from_ten_on),
        cmocka_unit_test(coach_sheet__knocked_down__the_newest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
