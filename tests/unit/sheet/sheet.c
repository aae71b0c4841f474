#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ringtally/base/text.h"
#include "expected.h"
#include "ringtally/sheet/coach_sheet.h"
#include "sample.h"

static void print(struct buf *out, const struct sample *sample, int round, enum sheet_format format)
{
    struct sheet_view view = sample_view(sample, round);
    struct error err = {0};
    assert_int_equal(sheet_write(out, &view, format, &err), 0);
}

/* Every line fits the page, ends without blanks, and has nothing undefined in it. */
static void check_page(const char *text)
{
    char line[400];
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "inf"));
    assert_true(text_is_utf8(text, strlen(text)));
    while (*text) {
        size_t size = strcspn(text, "\n");
        assert_int_equal(text[size], '\n');
        assert_true(size < sizeof line);
        memcpy(line, text, size);
        line[size] = '\0';
        assert_true(text_width(line) <= 80);
        assert_true(size == 0 || line[size - 1] != ' ');
        assert_null(strpbrk(line, "\x1b\r\t"));
        text += size + 1;
    }
}

static bool has(const struct sample *sample, int round, enum sheet_format format, const char *text)
{
    struct buf out = BUF_INIT;
    print(&out, sample, round, format);
    bool found = strstr(out.text, text) != NULL;
    buf_release(&out);
    return found;
}

/* Tagged again from a recording: the whole bout's sheet has a section in every form, a round's
 * sheet the line; who reads it off finds the same figures. */
static void sheet_write__checked__a_section_in_every_form(void **state)
{
    (void)state;
    struct sample sample;
    struct buf out = BUF_INIT;
    sample_init(&sample);
    sample_checked(&sample);
    print(&out, &sample, 0, SHEET_TEXT);
    check_page(out.text);
    check_golden(&out, "checked.txt");
    buf_release(&out);
    print(&out, &sample, 0, SHEET_MARKDOWN);
    check_golden(&out, "checked.md");
    buf_release(&out);
    assert_true(has(&sample, 0, SHEET_HTML, "<h2>Checked against the recording</h2>"));
    assert_true(has(&sample, 0, SHEET_HTML, "<th class=\"left\">3 or 4 a second</th>"));
    assert_true(has(&sample, 0, SHEET_JSON, "\"check\": {"));
    assert_true(has(&sample, 0, SHEET_JSON, "\"by\": \"burst\""));
    for (int format = 0; format < SHEET_FORMATS; format++) {
        if (format != SHEET_CSV) {
            assert_true(
                has(&sample, 0, (enum sheet_format)format, "checked against the recording: "));
            assert_true(
                has(&sample, 2, (enum sheet_format)format, "checked against the recording: "));
        }
    }
    assert_false(has(&sample, 2, SHEET_TEXT, "right first"));
    sample_release(&sample);
    /* Nothing of it where nobody tagged a recording. */
    sample_init(&sample);
    sample_play(&sample);
    assert_false(has(&sample, 0, SHEET_TEXT, "recording"));
    assert_true(has(&sample, 0, SHEET_JSON, "\"check\": null"));
    sample_release(&sample);
}

static void sheet_write__played__as_expected(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int round;
        enum sheet_format format;
    } cases[] = {{"played.txt", 0, SHEET_TEXT},
                 {"played-round-2.txt", 2, SHEET_TEXT},
                 {"played.md", 0, SHEET_MARKDOWN},
                 {"played-round-1.md", 1, SHEET_MARKDOWN}};
    struct sample sample;
    sample_init(&sample);
    sample_play(&sample);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct buf out = BUF_INIT;
        print(&out, &sample, cases[i].round, cases[i].format);
        check_golden(&out, cases[i].name);
        buf_release(&out);
    }
    sample_release(&sample);
}

static void sheet_write__empty_bout__dashes(void **state)
{
    (void)state;
    struct sample sample;
    struct buf out = BUF_INIT;
    sample_init(&sample);
    print(&out, &sample, 0, SHEET_TEXT);
    check_golden(&out, "empty.txt");
    check_page(out.text);
    sample_release(&sample);
    buf_release(&out);
}

static void sheet_write__every_round_and_format__printed(void **state)
{
    (void)state;
    for (int hostile = 0; hostile < 2; hostile++) {
        struct sample sample;
        sample_init(&sample);
        if (hostile) {
            sample_hostile(&sample);
        }
        sample_play(&sample);
        for (int round = 0; round <= ROUND_MAX; round++) {
            for (int format = 0; format < SHEET_FORMATS; format++) {
                struct buf out = BUF_INIT;
                print(&out, &sample, round, (enum sheet_format)format);
                if (format == SHEET_TEXT) {
                    check_page(out.text);
                }
                assert_null(memchr(out.text, '\x1b', out.size));
                buf_release(&out);
            }
        }
        sample_release(&sample);
    }
}

/* Where a count has no room beside another, what was thrown is cut: all digits that stand are of
 * whole numbers, and no two counts touch. */
static void sheet_write__thousands_of_strikes__no_digit_is_cut(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    sample_official(&sample, 0, CODE_RED);
    sample_official(&sample, 1, CODE_BLUE);
    sample_official(&sample, 0, CODE_CLOCK);
    sample_round(&sample, 1);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int target = 0; target < TARGET_COUNT; target++) {
            sample_strikes(&sample, 836, (enum corner)corner, LIMB_RIGHT_LEG, (enum target)target,
                           OUTCOME_LANDED, 0);
            sample_strikes(&sample, 1549, (enum corner)corner, LIMB_RIGHT_LEG, (enum target)target,
                           OUTCOME_ATTEMPTED, 0);
        }
    }
    for (int form = 0; form < 3; form++) {
        struct buf out = BUF_INIT;
        struct error err = {0};
        struct sheet_view view = sample_view(&sample, 0);
        if (form == 0) {
            print(&out, &sample, 0, SHEET_TEXT);
        } else {
            assert_int_equal(coach_sheet_write(&out, &view, form == 1 ? CORNER_RED : CORNER_BLUE,
                                               COACH_TEXT, &err),
                             0);
        }
        check_page(out.text);
        assert_non_null(strstr(out.text, "rest after round 1, 0:00 left")); /* whole */
        int counts = 0;
        for (const char *at = strchr(out.text, '/'); at; at = strchr(at + 1, '/')) {
            if (at[-1] < '0' || at[-1] > '9' || strncmp(at - 6, "quay-1", 6) == 0) {
                continue;
            }
            const char *from = at;
            while (from > out.text && from[-1] >= '0' && from[-1] <= '9') {
                from--;
            }
            size_t digits = strspn(at + 1, "0123456789");
            long landed = strtol(from, NULL, 10), thrown = strtol(at + 1, NULL, 10);
            assert_true(landed == 836 || landed == 2508);
            assert_true(digits == 0 || thrown == landed / 836 * 2385);
            counts++;
        }
        assert_true(counts > 10);
        buf_release(&out);
    }
    /* On the page three digits are drawn closer than their cell is wide, four as well. */
    struct buf page = BUF_INIT;
    print(&page, &sample, 0, SHEET_HTML);
    assert_non_null(
        strstr(page.text, "lengthAdjust=\"spacingAndGlyphs\" textLength=\"45.6\">836<"));
    assert_non_null(strstr(page.text, "textLength=\"45.6\">/2385<"));
    buf_release(&page);
    sample_release(&sample);
}

static void sheet_write__no_card__bout_named(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    struct sheet_view view = sample_view(&sample, 0);
    view.card = NULL;
    for (int format = 0; format < SHEET_FORMATS; format++) {
        struct buf out = BUF_INIT;
        struct error err = {0};
        assert_int_equal(sheet_write(&out, &view, (enum sheet_format)format, &err), 0);
        assert_non_null(strstr(out.text, "quay-1/3"));
        buf_release(&out);
    }
    sample_release(&sample);
}

static void sheet_write__one_corner__other_undefined(void **state)
{
    (void)state;
    struct sample sample;
    struct buf out = BUF_INIT;
    sample_init(&sample);
    sample_official(&sample, 0, CODE_RED);
    sample_round(&sample, 1); /* nobody holds the clock: it does not run */
    sample_strikes(&sample, 3, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
    sample_strikes(&sample, 5, CORNER_BLUE, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
    print(&out, &sample, 0, SHEET_TEXT);
    check_page(out.text);
    assert_non_null(strstr(out.text, " 3/3   landed/attempted   not tagged\n"));
    assert_non_null(strstr(out.text, "   100%       accuracy       ?\n"));
    assert_non_null(strstr(out.text, " -   output a minute    ?\n"));
    assert_non_null(strstr(out.text, "\nNOT COVERED  blue: not tagged\n"));
    assert_non_null(strstr(out.text, "official for blue  nobody\n"));
    sample_release(&sample);
    buf_release(&out);
}

/* Whole per cents, half up: 1/3, 2/3, 1/8 (12.5), 1/16, 0/5, 5/5. All but one of many is not all.
 */
static void sheet_write__accuracy__rounded_half_up(void **state)
{
    (void)state;
    static const struct {
        int landed, missed;
        const char *text;
    } cases[] = {{1, 2, " 33% "}, {2, 1, " 67% "},  {1, 7, " 13% "},   {1, 15, " 6% "},
                 {0, 5, " 0% "},  {5, 0, " 100% "}, {249, 1, " 99% "}, {1, 249, " 1% "}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct sample sample;
        struct buf out = BUF_INIT;
        sample_init(&sample);
        sample_official(&sample, 0, CODE_RED);
        sample_strikes(&sample, cases[i].landed, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED,
                       0);
        sample_strikes(&sample, cases[i].missed, CORNER_RED, LIMB_KNEE, TARGET_BODY,
                       OUTCOME_ATTEMPTED, 0);
        print(&out, &sample, 0, SHEET_TEXT);
        assert_non_null(strstr(out.text, cases[i].text));
        sample_release(&sample);
        buf_release(&out);
    }
}

static void sheet_write__signed_and_reopened__said(void **state)
{
    (void)state;
    struct sample sample;
    sample_init(&sample);
    static const char *const heads[] = {"quay-1/3, provisional\n", "quay-1/3, signed\n",
                                        "quay-1/3, provisional\n"};
    static const char *const feet[] = {
        "  provisional: not signed\n", "  signed by Iris Palm, 2026-12-05T20:15:31.250Z\n",
        "  provisional: reopened by Odd Kvam, 2026-12-05T20:15:32.250Z\n"};
    for (int i = 0; i < 3; i++) {
        struct buf out = BUF_INIT;
        print(&out, &sample, 0, SHEET_TEXT);
        assert_non_null(strstr(out.text, heads[i]));
        assert_non_null(strstr(out.text, feet[i]));
        buf_release(&out);
        sample.now += 1000;
        if (i < 2) {
            enum entry_code code = i == 0 ? CODE_SIGN : CODE_REOPEN;
            sample_add(&sample, i, (struct entry){.kind = ENTRY_SIGN, .code = (uint8_t)code});
        }
    }
    sample_release(&sample);
}

static void sheet_write__long_bout__columns_stand(void **state)
{
    (void)state;
    struct sample sample;
    struct buf out = BUF_INIT;
    sample_init(&sample);
    sample_official(&sample, 0, CODE_RED);
    sample_official(&sample, 1, CODE_BLUE);
    sample_official(&sample, 0, CODE_CLOCK);
    for (int round = 1; round <= 12; round++) {
        sample_round(&sample, round);
        sample_strikes(&sample, 100, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
        sample_strikes(&sample, 100, CORNER_BLUE, LIMB_RIGHT_HAND, TARGET_HEAD, OUTCOME_LANDED, 0);
        sample.now += 240000;
    }
    print(&out, &sample, 0, SHEET_TEXT);
    check_page(out.text);
    assert_non_null(strstr(out.text, "1200/1200  left hand "));
    assert_non_null(strstr(out.text, "   1200/1200  BOUT     1200/1200    100%"));
    sample_release(&sample);
    buf_release(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sheet_write__checked__a_section_in_every_form),
        cmocka_unit_test(sheet_write__played__as_expected),
        cmocka_unit_test(sheet_write__empty_bout__dashes),
        cmocka_unit_test(sheet_write__every_round_and_format__printed),
        cmocka_unit_test(sheet_write__thousands_of_strikes__no_digit_is_cut),
        cmocka_unit_test(sheet_write__no_card__bout_named),
        cmocka_unit_test(sheet_write__one_corner__other_undefined),
        cmocka_unit_test(sheet_write__accuracy__rounded_half_up),
        cmocka_unit_test(sheet_write__signed_and_reopened__said),
        cmocka_unit_test(sheet_write__long_bout__columns_stand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
