/* harness.c: the harness itself, against a bare ncurses program whose behaviour is known. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "run.h"
#include "vt.h"

static struct vt *open_floor(const char *what, const char *term)
{
    const char *argv[] = {FLOOR, what, NULL};
    struct vt *vt = vt_open(&(struct vt_setup){.argv = argv, .term = term});
    assert_true(vt_wait_text(vt, "ready", 10000));
    return vt;
}

static void vt__type__keys_are_counted_on_screen(void **state)
{
    (void)state;
    char row[256];
    struct vt *vt = open_floor("counter", NULL);
    vt_type(vt, "abcdefghij");
    assert_true(vt_wait_text(vt, "keys: 10", 10000));
    assert_string_equal(vt_row(vt, 0, 0, 0, row, sizeof row), "ready, keys: 10");
    assert_string_equal(vt_row(vt, 0, 7, 4, row, sizeof row), "keys");
    assert_true(vt_altscreen(vt));
    assert_true(vt_bytes(vt) > 10);
    vt_press(vt, "Esc");
    assert_int_equal(vt_wait_exit(vt, 10000), 0);
    assert_false(vt_altscreen(vt));
    vt_close(vt);
}

static void vt__resize__the_program_is_told(void **state)
{
    (void)state;
    struct vt *vt = open_floor("panel", NULL);
    vt_resize(vt, 60, 200);
    vt_type(vt, "ab");
    assert_true(vt_wait_text(vt, "row 23", 10000));
    vt_close(vt);
}

static void vt__press__function_keys_follow_the_terminal(void **state)
{
    (void)state;
    static const char *const terms[] = {"xterm-256color", "vt100", "linux", "screen", "tmux"};
    for (size_t i = 0; i < sizeof terms / sizeof *terms; i++) {
        struct vt *vt = open_floor("echo", terms[i]);
        vt_press(vt, "F10"); /* begins with Escape in each of them */
        assert_int_equal(vt_wait_exit(vt, 10000), 0);
        vt_close(vt);
    }
}

static void vt__kill__what_was_shown_stays_readable(void **state)
{
    (void)state;
    struct vt *vt = open_floor("counter", NULL);
    vt_type(vt, "abc");
    assert_true(vt_wait_text(vt, "keys: 3", 10000));
    vt_kill(vt);
    assert_true(vt_find(vt, "keys: 3", NULL, NULL));
    assert_int_equal(vt_wait_exit(vt, 10000), 128 + 9);
    vt_close(vt);
}

static void run__program__output_and_status_are_caught(void **state)
{
    (void)state;
    char home[128];
    struct run *result = test_malloc(sizeof *result);
    const char *argv[] = {FLOOR, "nonsense", NULL};
    scratch_new(home, sizeof home);
    run(result, home, argv);
    assert_int_equal(result->status, 2);
    assert_string_equal(result->out, "usage: floor echo|counter|panel\n");
    scratch_remove(home);
    test_free(result);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(vt__type__keys_are_counted_on_screen),
        cmocka_unit_test(vt__resize__the_program_is_told),
        cmocka_unit_test(vt__press__function_keys_follow_the_terminal),
        cmocka_unit_test(vt__kill__what_was_shown_stays_readable),
        cmocka_unit_test(run__program__output_and_status_are_caught),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
