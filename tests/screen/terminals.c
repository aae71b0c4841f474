/* terminals.c: the desk on every kind of terminal: sizes, descriptions, without colour, in ASCII,
 * on none at all. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "run.h"
#include "with_rig.h"

#define BOUT "saltglass-4/1"

static struct vt *open_desk(struct rig *rig, const struct vt_setup *setup)
{
    struct vt *vt = rig_desk(rig, BOUT, NULL, setup, RIG_READY);
    assert_non_null(vt);
    return vt;
}

static void desk__resized_while_striking__keeps_everything(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL);
    vt_press(vt, "Enter");
    for (int i = 0; i < 10; i++) {
        vt_type_every(vt, "qWiO", 10);
        vt_resize(vt, 60, 200);
        vt_type_every(vt, "eRuP", 10);
        vt_resize(vt, 24, 80);
    }
    assert_true(rig_wait_total(vt, 'r', 20, 40));
    assert_true(rig_wait_total(vt, 'b', 20, 40));
    assert_true(rig_wait_pad(vt, 'q', 0, 10));
    assert_true(rig_wait_pad(vt, 'p', 10, 10));
    vt_resize(vt, 60, 200);
    assert_true(rig_wait_total(vt, 'b', 20, 40));
    assert_true(rig_wait_pad(vt, 'w', 10, 10));
    assert_true(rig_wait_pad(vt, 'u', 0, 10));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "qWiOeRuPqWiOeRuP", 80));
}

static void desk__narrow__says_so_and_keeps_logging(void **state)
{
    struct rig *rig = *state;
    struct vt *vt =
        rig_desk(rig, BOUT, NULL, &(struct vt_setup){.rows = 20, .columns = 60}, "80x24");
    assert_non_null(vt);
    long own = rig_settled(vt);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWiO", 40);
    assert_true(rig_wait_saved(vt, own + 5));
    assert_true(rig_logged(rig, BOUT, "qWiO", 4));
    vt_resize(vt, 24, 80);
    assert_true(rig_wait_pad(vt, 'o', 1, 1));
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    vt_resize(vt, 3, 10);
    vt_type_every(vt, "ap", 40);
    vt_resize(vt, 1, 1);
    vt_type_every(vt, "sl", 40);
    vt_resize(vt, 24, 80);
    assert_true(rig_wait_total(vt, 'r', 1, 4));
    assert_true(rig_wait_total(vt, 'b', 1, 4));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "qWiOapsl", 8));
}

/* Tags, undoes, leaves: all that a terminal description can get in the way of. */
static void tag_with(struct rig *rig, const struct vt_setup *setup)
{
    struct vt *vt = open_desk(rig, setup);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWeasZiIoP", 20);
    assert_true(rig_wait_pad(vt, 'p', 1, 1));
    vt_press(vt, "Backspace");
    assert_true(rig_wait_pad(vt, 'p', 0, 0));
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    assert_true(rig_wait_pad(vt, 'i', 1, 2));
    assert_true(rig_wait_total(vt, 'r', 2, 6));
    assert_true(rig_wait_total(vt, 'b', 1, 3));
    assert_true(vt_find(vt, "RED", NULL, NULL));
    assert_true(vt_find(vt, "BLUE", NULL, NULL));
    vt_resize(vt, 30, 100);
    vt_resize(vt, 24, 80);
    assert_true(rig_wait_pad(vt, 'z', 1, 1));
    assert_int_equal(rig_leave(vt), 0);
}

static void desk__xterm_256color__tags(void **state)
{
    tag_with(*state, &(struct vt_setup){.term = "xterm-256color"});
}

static void desk__tmux__tags(void **state)
{
    tag_with(*state, &(struct vt_setup){.term = "tmux"});
}

static void desk__screen__tags(void **state)
{
    tag_with(*state, &(struct vt_setup){.term = "screen"});
}

static void desk__linux__tags(void **state)
{
    tag_with(*state, &(struct vt_setup){.term = "linux"});
}

static void desk__vt100__tags(void **state)
{
    tag_with(*state, &(struct vt_setup){.term = "vt100"});
}

static bool is_coloured(struct vt *vt)
{
    for (int row = 0; row < vt_rows(vt); row++) {
        for (int column = 0; column < vt_columns(vt); column++) {
            if (vt_cell(vt, row, column).coloured) {
                return true;
            }
        }
    }
    return false;
}

/* The count of a cell just hit is reversed for a moment. */
static bool is_marked(struct vt *vt, void *context)
{
    (void)context;
    int row = 0, column = 0;
    return rig_pad_place(vt, 'q', &row, &column) && vt_cell(vt, row, column).reverse;
}

/* The corners are told apart without colour: by side, word and attribute. */
static void corners_differ(struct rig *rig, const struct vt_setup *setup, bool coloured)
{
    struct vt *vt = open_desk(rig, setup);
    int red = 0, blue = 0, row = 0;
    vt_press(vt, "Enter");
    vt_type(vt, "q");
    assert_true(vt_wait(vt, is_marked, NULL, RIG_WAIT_MS, "the cell just hit is to be marked"));
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    assert_int_equal(is_coloured(vt), coloured);
    assert_true(vt_find(vt, "RED", &row, &red));
    struct vt_cell red_word = vt_cell(vt, row, red);
    assert_true(vt_find(vt, "BLUE", &row, &blue));
    struct vt_cell blue_word = vt_cell(vt, row, blue);
    assert_true(red < vt_columns(vt) / 2 && blue > vt_columns(vt) / 2);
    assert_true(red_word.bold != blue_word.bold || red_word.underline != blue_word.underline ||
                red_word.reverse != blue_word.reverse);
    assert_int_equal(rig_leave(vt), 0);
}

static void desk__colour_terminal__uses_colour_and_more(void **state)
{
    corners_differ(*state, NULL, true);
}

static void desk__monochrome_terminal__loses_nothing(void **state)
{
    corners_differ(*state, &(struct vt_setup){.term = "xterm-mono"}, false);
}

static void desk__no_color__loses_nothing(void **state)
{
    static const char *const env[] = {"NO_COLOR=1", NULL};
    corners_differ(*state, &(struct vt_setup){.env = env}, false);
}

static void desk__ascii_locale__writes_ascii_only(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, &(struct vt_setup){.locale = "C"});
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWeasZiIoP", 20);
    assert_true(rig_wait_pad(vt, 'p', 1, 1));
    assert_true(rig_wait_total(vt, 'b', 2, 4));
    for (int row = 0; row < vt_rows(vt); row++) {
        for (int column = 0; column < vt_columns(vt); column++) {
            unsigned char first = (unsigned char)vt_cell(vt, row, column).text[0];
            if (first < ' ' || first > '~') {
                vt_print(vt, "a cell is not ASCII");
                fail();
            }
        }
    }
    assert_int_equal(rig_leave(vt), 0);
}

static void desk__no_terminal__one_line_and_exit_1(void **state)
{
    struct rig *rig = *state;
    struct run *result = test_malloc(sizeof *result);
    const char *argv[] = {rig->program, "--db", rig->db, "desk", BOUT, NULL};
    run(result, rig->folder, argv);
    assert_int_equal(result->status, 1);
    assert_non_null(strstr(result->out, "terminal"));
    char *end = strchr(result->out, '\n');
    assert_non_null(end);
    assert_string_equal(end, "\n");
    test_free(result);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM desk"), 0);
}

static void desk__unknown_terminal__one_line_and_exit_1(void **state)
{
    struct rig *rig = *state;
    const char *argv[] = {rig->program, "--db", rig->db, "desk", BOUT, NULL};
    /* The library's newterm (6.4) leaks what it had made when it knows no such terminal. */
    static const char *const env[] = {"ASAN_OPTIONS=exitcode=99:detect_leaks=0", NULL};
    struct vt *vt = vt_open(&(struct vt_setup){
        .argv = argv, .home = rig->folder, .term = "no-such-terminal", .env = env});
    assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 1);
    char row[256];
    assert_non_null(strstr(vt_row(vt, 0, 0, 0, row, sizeof row), "no-such-terminal"));
    assert_string_equal(vt_row(vt, 1, 0, 0, row, sizeof row), "");
    vt_close(vt);
}

int main(void)
{
#define DESK_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        DESK_TEST(desk__resized_while_striking__keeps_everything),
        DESK_TEST(desk__narrow__says_so_and_keeps_logging),
        DESK_TEST(desk__xterm_256color__tags),
        DESK_TEST(desk__tmux__tags),
        DESK_TEST(desk__screen__tags),
        DESK_TEST(desk__linux__tags),
        DESK_TEST(desk__vt100__tags),
        DESK_TEST(desk__colour_terminal__uses_colour_and_more),
        DESK_TEST(desk__monochrome_terminal__loses_nothing),
        DESK_TEST(desk__no_color__loses_nothing),
        DESK_TEST(desk__ascii_locale__writes_ascii_only),
        DESK_TEST(desk__no_terminal__one_line_and_exit_1),
        DESK_TEST(desk__unknown_terminal__one_line_and_exit_1),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
