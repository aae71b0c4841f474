/* What a frame does with text: clipping, wide and combining characters, ASCII. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "ringtally/screen/frame.h"

static struct frame frame;

static int wide_open(void **state)
{
    (void)state;
    struct error err;
    return frame_init(&frame, 3, 10, false, &err);
}

static int ascii_open(void **state)
{
    (void)state;
    struct error err;
    return frame_init(&frame, 3, 10, true, &err);
}

static int all_close(void **state)
{
    (void)state;
    frame_release(&frame);
    return 0;
}

static void check_text(const char *expected)
{
    char *text = frame_text(&frame);
    assert_non_null(text);
    assert_string_equal(text, expected);
    free(text);
}

static void frame_put__width__pads_cuts_and_clips(void **state)
{
    (void)state;
    assert_int_equal(frame_put(&frame, 0, 1, 4, STYLE_STRONG, "ab"), 5);
    assert_int_equal(frame_put(&frame, 0, 6, 3, STYLE_PLAIN, "abcd"), 9);
    assert_int_equal(frame_put(&frame, 1, 7, 0, STYLE_PLAIN, "abcdef"), 10);
    assert_int_equal(frame_put(&frame, 2, 8, 5, STYLE_PLAIN, "a"), 10);
    assert_int_equal(frame_put(&frame, 3, 0, 0, STYLE_PLAIN, "outside"), 0);
    assert_int_equal(frame_put(&frame, -1, 0, 0, STYLE_PLAIN, "outside"), 0);
    assert_int_equal(frame_put(&frame, 0, -2, 0, STYLE_PLAIN, "outside"), -2);
    check_text(" ab   ab\u2026\n       abc\n        a\n");
    assert_int_equal(frame.cell[4].style, STYLE_STRONG);
    assert_int_equal(frame.cell[5].style, STYLE_PLAIN);
}

static void frame_put__wide_characters__take_two_columns(void **state)
{
    (void)state;
    assert_int_equal(frame_put(&frame, 0, 0, 0, STYLE_PLAIN, "\u9d5c\u4e45a"), 5);
    assert_int_equal(frame.cell[0].width, 2);
    assert_int_equal(frame.cell[1].width, 0);
    assert_int_equal(frame.cell[1].point[0], 0);
    /* The second half does not fit. */
    assert_int_equal(frame_put(&frame, 1, 7, 0, STYLE_PLAIN, "\u9d5c\u4e45"), 9);
    assert_int_equal(frame_put(&frame, 2, 0, 4, STYLE_PLAIN, "\u9d5c\u4e45\u68ee"), 4);
    check_text("\u9d5c\u4e45a\n       \u9d5c\n\u9d5c\u2026\n");
}

static void frame_put__over_half_of_a_wide_one__blanks_the_other_half(void **state)
{
    (void)state;
    frame_put(&frame, 0, 0, 0, STYLE_PLAIN, "\u9d5c\u9d5c\u9d5c");
    frame_put(&frame, 0, 1, 0, STYLE_PLAIN, "xx");
    check_text(" xx \u9d5c\n\n\n");
    frame_put(&frame, 0, 3, 0, STYLE_PLAIN, "\u4e45");
    check_text(" xx\u4e45\n\n\n");
}

static void frame_put__combining_marks__share_the_cell(void **state)
{
    (void)state;
    assert_int_equal(frame_put(&frame, 0, 0, 0, STYLE_PLAIN, "e\u0301x"), 2);
    assert_int_equal(frame.cell[0].point[1], 0x301);
    /* Thai: three columns for four code points. */
    assert_int_equal(frame_put(&frame, 1, 0, 0, STYLE_PLAIN, "\u0e14\u0e27\u0e07\u0e34"), 3);
    /* A mark with nothing to stand on is dropped. */
    assert_int_equal(frame_put(&frame, 2, 0, 0, STYLE_PLAIN, "\u0301"), 0);
    check_text("e\u0301x\n\u0e14\u0e27\u0e07\u0e34\n\n");
}

static void frame_put__controls__never_get_in(void **state)
{
    (void)state;
    frame_put(&frame, 0, 0, 0, STYLE_PLAIN, "a\033[2Jb\x7f\tc");
    frame_put(&frame, 1, 0, 0, STYLE_PLAIN, "\xc2\x9b\u00e9");
    check_text("a?[2Jb??c\n?\u00e9\n\n");
}

static void frame_put__ascii__stand_ins(void **state)
{
    (void)state;
    assert_int_equal(
        frame_put(&frame, 0, 0, 0, STYLE_PLAIN, "\u00c9\u0219\u1ed9\u00f8\u2581\u2588"), 6);
    assert_int_equal(frame_put(&frame, 1, 0, 0, STYLE_PLAIN, "\u2500\u00b7\u25ba\u2013\u9d5c"), 6);
    assert_int_equal(frame_put(&frame, 2, 0, 4, STYLE_PLAIN, "abcde"), 4);
    check_text("Esoo18\n-.>-??\nabc~\n");
}

static void frame_init__bad_sizes__give_one_cell(void **state)
{
    (void)state;
    struct frame tiny;
    struct error err = {0};
    assert_int_equal(frame_init(&tiny, 0, -3, false, &err), 0);
    assert_int_equal(tiny.rows, 1);
    assert_int_equal(tiny.columns, 1);
    frame_put(&tiny, 0, 0, 0, STYLE_PLAIN, "\u9d5c");
    frame_put(&tiny, 0, 0, 9, STYLE_PLAIN, "x");
    assert_int_equal(tiny.cell[0].point[0], 'x');
    frame_release(&tiny);
    frame_release(&tiny);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(frame_put__width__pads_cuts_and_clips, wide_open,
                                        all_close),
        cmocka_unit_test_setup_teardown(frame_put__wide_characters__take_two_columns, wide_open,
                                        all_close),
        cmocka_unit_test_setup_teardown(frame_put__over_half_of_a_wide_one__blanks_the_other_half,
                                        wide_open, all_close),
        cmocka_unit_test_setup_teardown(frame_put__combining_marks__share_the_cell, wide_open,
                                        all_close),
        cmocka_unit_test_setup_teardown(frame_put__controls__never_get_in, wide_open, all_close),
        cmocka_unit_test_setup_teardown(frame_put__ascii__stand_ins, ascii_open, all_close),
        cmocka_unit_test(frame_init__bad_sizes__give_one_cell),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
