/* keyboard.c: the desk in terminals that tell a press from a repeat, that do not, that answer late,
 * and that claim more than they do. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "run.h"
#include "with_rig.h"

#define BOUT "saltglass-4/1"

/* What a terminal with the protocol sends. */
enum event { PRESS = 1, REPEAT, RELEASE };

static void event(struct vt *vt, int code, enum event what)
{
    char text[40];
    if (what == RELEASE || code < ' ' || code > 126) {
        snprintf(text, sizeof text, "\033[%d;1:%du", code, (int)what);
    } else {
        snprintf(text, sizeof text, "\033[%d;1:%d;%du", code, (int)what, code);
    }
    vt_type(vt, text);
}

static void stroke(struct vt *vt, int code)
{
    event(vt, code, PRESS);
    event(vt, code, RELEASE);
}

static bool is_taken(struct vt *vt, void *context)
{
    return vt_takes_presses(vt) == *(int *)context;
}

static bool takes(struct vt *vt, int count)
{
    return vt_wait(vt, is_taken, &count, RIG_WAIT_MS, "keys as events");
}

static struct vt *open_desk(struct rig *rig, const char *const *more, bool tells)
{
    struct vt *vt =
        rig_desk(rig, BOUT, more, &(struct vt_setup){.tells_presses = tells}, RIG_READY);
    assert_non_null(vt);
    return vt;
}

/* Leaves by F10 as events. */
static void leave(struct vt *vt)
{
    assert_true(rig_wait_saved(vt, 0));
    vt_type(vt, "\033[21~\033[21;1:3~");
    assert_true(vt_wait_text(vt, "leave", RIG_WAIT_MS));
    vt_type(vt, "\033[21~\033[21;1:3~");
    assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
    assert_int_equal(vt_takes_presses(vt), 0); /* given back */
    vt_close(vt);
}

static void events__a_repeat_is_one_whatever_its_timing(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL, true);
    assert_true(takes(vt, 1));
    stroke(vt, 13); /* Enter */
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    event(vt, 'w', PRESS);
    for (int i = 0; i < 6; i++) { /* as no keyboard and no threshold has it */
        vt_watch(vt, 90 + 70 * (i % 3));
        event(vt, 'w', REPEAT);
    }
    event(vt, 'w', RELEASE);
    assert_true(vt_wait_text(vt, "w is held down", RIG_WAIT_MS));
    stroke(vt, 'i');
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    leave(vt);
    assert_true(rig_logged(rig, BOUT, "wi", 2));
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE act <> 'add'"), 0);
}

static void events__two_presses_are_two_however_fast(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL, true);
    assert_true(takes(vt, 1));
    stroke(vt, 13);
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    for (int i = 0; i < 5; i++) { /* at once: a burst of fingers, no held key */
        stroke(vt, 'w');
        stroke(vt, 'k');
    }
    for (int i = 0; i < 4; i++) {
        stroke(vt, 'e');
    }
    vt_type(vt, "\033[119:87;2:1;87u\033[119;2:3u"); /* W */
    assert_true(rig_wait_total(vt, 'r', 1, 10));
    assert_true(rig_wait_total(vt, 'b', 0, 5));
    for (int i = 0; i < 3; i++) {
        stroke(vt, 127); /* Backspace */
    }
    assert_true(rig_wait_total(vt, 'r', 0, 7));
    leave(vt);
    assert_true(rig_logged(rig, BOUT, "wkwkwkwkwkeeeeW", 15));
}

static void events__a_held_f10__leaves_nothing(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL, true);
    assert_true(takes(vt, 1));
    stroke(vt, 'w');
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    vt_type(vt, "\033[21~");
    for (int i = 0; i < 10; i++) {
        vt_watch(vt, 60);
        vt_type(vt, "\033[21;1:2~");
    }
    vt_type(vt, "\033[21;1:3~");
    assert_true(vt_wait_text(vt, "is held down", RIG_WAIT_MS));
    stroke(vt, 'e');
    assert_true(rig_wait_total(vt, 'r', 0, 2));
    leave(vt);
}

static void events__recorded__play_the_same(void **state)
{
    struct rig *rig = *state;
    char keys[400];
    snprintf(keys, sizeof keys, "%s/typed.keys", rig->folder);
    const char *more[] = {"--record", keys, NULL};
    struct vt *vt = open_desk(rig, more, true);
    assert_true(takes(vt, 1));
    stroke(vt, 'q');
    stroke(vt, 'w');
    stroke(vt, 'w');
    stroke(vt, 'w');
    event(vt, 'e', PRESS);
    vt_watch(vt, 200);
    event(vt, 'e', REPEAT);
    vt_watch(vt, 200);
    event(vt, 'e', REPEAT);
    event(vt, 'e', RELEASE);
    assert_true(rig_wait_total(vt, 'r', 0, 5));
    leave(vt);
    assert_true(rig_logged(rig, BOUT, "qwwwe", 5));
    const char *play[] = {rig->program,    "--db",       rig->db, "desk",
                          "saltglass-4/2", "--keys",     keys,    "--speed",
                          "max",           "--headless", NULL};
    struct run result;
    run(&result, rig->folder, play);
    assert_int_equal(result.status, 0);
    assert_true(rig_logged(rig, "saltglass-4/2", "qwwwe", 5));
}

static void no_answer__all_is_as_ever(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL, false);
    vt_press(vt, "Enter");
    vt_type(vt, "wwwwwwwwwwwwwwww"); /* held, as bytes: sooner than any finger on any machine */
    assert_true(vt_wait_text(vt, "w is held down", RIG_WAIT_MS));
    vt_watch(vt, RIG_FINGER_MS);
    vt_type_every(vt, "iI", 100);
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    assert_int_equal(vt_takes_presses(vt), 0);
    assert_int_equal(rig_leave(vt), 0);
}

static void late_answer__from_then_on_by_events(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL, false);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qW", 120);
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    assert_int_equal(vt_takes_presses(vt), 0);
    vt_type(vt, "\033[?0u");
    assert_true(takes(vt, 1));
    stroke(vt, 'e');
    stroke(vt, 'e');
    event(vt, 'r', PRESS);
    vt_watch(vt, 180);
    event(vt, 'r', REPEAT);
    event(vt, 'r', RELEASE);
    assert_true(vt_wait_text(vt, "r is held down", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 5));
    leave(vt);
    assert_true(rig_logged(rig, BOUT, "qWeer", 5));
}

/* It says that it can, and goes on with bytes, or with presses that have no release. */
static void a_liar__is_judged_by_its_timing(void **state)
{
    char held[256] = "";
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL, true);
    assert_true(takes(vt, 1));
    vt_press(vt, "Enter");
    vt_type(vt, "wwwwwwwwwwwwwwww");
    assert_true(vt_wait_text(vt, "w is held down", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    vt_watch(vt, RIG_FINGER_MS);
    for (int i = 0; i < 16; i++) {
        snprintf(held + strlen(held), sizeof held - strlen(held), "\033[105;;105u");
    }
    vt_type(vt, held);
    assert_true(vt_wait_text(vt, "i is held down", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "wi", 2));
}

static void every_way_out__the_keyboard_is_given_back(void **state)
{
    static const int signals[] = {SIGTERM, SIGHUP, SIGINT};
    struct rig *rig = *state;
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
        struct vt *vt = open_desk(rig, NULL, true);
        assert_true(takes(vt, 1));
        kill(vt_pid(vt), signals[i]);
        assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
        assert_int_equal(vt_takes_presses(vt), 0);
        assert_false(vt_altscreen(vt));
        vt_close(vt);
    }
}

int main(void)
{
#define KEYBOARD_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        KEYBOARD_TEST(events__a_repeat_is_one_whatever_its_timing),
        KEYBOARD_TEST(events__two_presses_are_two_however_fast),
        KEYBOARD_TEST(events__a_held_f10__leaves_nothing),
        KEYBOARD_TEST(events__recorded__play_the_same),
        KEYBOARD_TEST(no_answer__all_is_as_ever),
        KEYBOARD_TEST(late_answer__from_then_on_by_events),
        KEYBOARD_TEST(a_liar__is_judged_by_its_timing),
        KEYBOARD_TEST(every_way_out__the_keyboard_is_given_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
