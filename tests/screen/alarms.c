/* alarms.c: what must not be missed, through the real program: the bell and the flash, each turned
 * off; Caps Lock and a wrong layout, turned round by one key; what `saved` says after a crash and
 * while arrows are still pressed. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "with_rig.h"

#define BOUT     "saltglass-4/1"
#define ENTRIES  "SELECT count(*) FROM entry"
#define FLASH_MS 2000 /* that it lasts */

static struct vt *open_desk(const struct rig *rig, const char *option)
{
    const char *more[] = {option, NULL};
    struct vt *vt = rig_desk(rig, BOUT, more, NULL, RIG_READY);
    assert_non_null(vt);
    assert_true(rig_settled(vt) >= 0);
    vt_press(vt, "Enter");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    return vt;
}

/* The clock's round is inverted: at no other time than in a flash. */
static bool is_inverted(struct vt *vt, void *context)
{
    int row = 0, column = 0;
    return vt_find(vt, "ROUND 1", &row, &column) &&
           vt_cell(vt, row, column).reverse == (context == NULL);
}

static bool flashes(struct vt *vt)
{
    return vt_wait(vt, is_inverted, NULL, RIG_WAIT_MS, "a flash") &&
           vt_wait(vt, is_inverted, vt, RIG_WAIT_MS, "its end");
}

/* Three landed letters in a row, as Caps Lock types them. */
static void raise_alarm(struct vt *vt)
{
    vt_type_every(vt, "WEK", RIG_FINGER_MS);
    assert_true(
        vt_wait_text(vt, "CAPS LOCK? Every key lands: F12 makes this run attempted", RIG_WAIT_MS));
}

static void alarm__by_itself__rings_and_flashes(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL);
    assert_true(is_inverted(vt, vt));
    raise_alarm(vt);
    assert_true(flashes(vt));
    assert_int_equal(vt_bells(vt), 1);
    assert_int_equal(rig_leave(vt), 0);
}

static void alarm__no_bell__flashes_alone(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "--no-bell");
    raise_alarm(vt);
    assert_true(flashes(vt));
    assert_int_equal(vt_bells(vt), 0);
    assert_int_equal(rig_leave(vt), 0);
}

static void alarm__no_flash__rings_alone(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "--no-flash");
    raise_alarm(vt);
    for (int64_t end = vt_now() + (int64_t)FLASH_MS * 1000000; vt_now() < end;) {
        vt_pump(vt, 20);
        assert_true(is_inverted(vt, vt));
    }
    assert_int_equal(vt_bells(vt), 1);
    assert_int_equal(rig_leave(vt), 0);
}

static void caps_lock__one_key__turns_it_round(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL);
    raise_alarm(vt);
    assert_true(rig_wait_total(vt, 'r', 2, 2));
    vt_press(vt, "F12");
    assert_true(vt_wait_text(vt, "3 strikes are attempted now; is Caps Lock off?", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 0, 2));
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    vt_press(vt, "Backspace"); /* one keystroke, so one undo */
    assert_true(rig_wait_total(vt, 'r', 2, 2));
    assert_int_equal(rig_leave(vt), 0);
}

static void wrong_layout__one_key__logs_what_was_meant(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, NULL);
    vt_type_every(vt, "q", 40);
    vt_watch(vt, RIG_FINGER_MS);
    vt_type(vt, "\u0446"); /* w, on a Russian keyboard */
    vt_watch(vt, RIG_FINGER_MS);
    vt_type(vt, "\u0423"); /* E */
    vt_watch(vt, RIG_FINGER_MS);
    assert_int_equal(vt_bells(vt), 0);
    vt_type(vt, "\u043b"); /* k */
    assert_true(vt_wait_text(
        vt, "WRONG KEYBOARD LAYOUT? 3 keys meant nothing: switch it, then F12 logs them",
        RIG_WAIT_MS));
    assert_true(flashes(vt));
    assert_int_equal(vt_bells(vt), 1);
    vt_press(vt, "F12");
    assert_true(vt_wait_text(vt, "3 of 3 keys logged by their place", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "qwEk", 4));
}

static void saved__after_a_crash__is_the_bouts(void **state)
{
    struct rig *rig = *state;
    char line[512], wanted[64];
    struct vt *vt = open_desk(rig, NULL);
    vt_type_every(vt, "qWeIol", 40);
    assert_true(rig_wait_total(vt, 'b', 1, 3));
    assert_true(rig_settled(vt) > 0);
    long entries = rig_number(rig, ENTRIES);
    vt_kill(vt);
    vt_close(vt);
    const char *more[] = {NULL};
    vt = rig_desk(rig, BOUT, more, NULL, RIG_READY);
    assert_non_null(vt);
    long saved = rig_settled(vt);
    assert_true(saved >= entries);
    assert_int_equal(rig_number(rig, ENTRIES), saved);
    snprintf(wanted, sizeof wanted, "strikes 6  saved %ld  not yet 0", saved);
    assert_non_null(strstr(vt_row(vt, vt_rows(vt) - 1, 0, 0, line, sizeof line), wanted));
    assert_int_equal(rig_leave(vt), 0);
}

/* What arrows add up to is one entry, written when they rest: until then it is not saved, and is
 * said not to be; and no way out but a kill loses it. */
static bool waits(struct vt *vt, void *context)
{
    long saved = 0, waiting = 0;
    return rig_saved(vt, &saved, &waiting) && waiting == *(long *)context;
}

static void saved__arrows_under_way__are_not_yet(void **state)
{
    static const int signals[] = {0, SIGTERM};
    long one = 1;
    char told[32];
    struct rig *rig = *state;
    for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
        struct vt *vt = open_desk(rig, NULL);
        long before = rig_settled(vt);
        assert_true(before > 0);
        for (int press = 0; press < 6; press++) {
            vt_press(vt, "Right");
            snprintf(told, sizeof told, "round 1: %d s on", press + 1);
            assert_true(vt_wait_text(vt, told, RIG_WAIT_MS));
            assert_true(vt_wait(vt, waits, &one, RIG_WAIT_MS, "one entry is not saved yet"));
        }
        if (signals[i]) {
            kill(vt_pid(vt), signals[i]);
            assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
            vt_close(vt);
        } else {
            assert_true(rig_wait_saved(vt, before + 1));
            vt_press(vt, "Enter"); /* the next one starts it again */
            assert_true(vt_wait_text(vt, "STOPPED", RIG_WAIT_MS));
            assert_int_equal(rig_leave(vt), 0);
        }
        /* On a machine that dawdles they may have rested in between: then they are more than one.
         */
        assert_int_equal(rig_number(rig, "SELECT sum(value) FROM entry WHERE code = 'nudge'"),
                         6000 * ((long)i + 1));
    }
}

int main(void)
{
#define ALARM_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        ALARM_TEST(alarm__by_itself__rings_and_flashes),
        ALARM_TEST(alarm__no_bell__flashes_alone),
        ALARM_TEST(alarm__no_flash__rings_alone),
        ALARM_TEST(caps_lock__one_key__turns_it_round),
        ALARM_TEST(wrong_layout__one_key__logs_what_was_meant),
        ALARM_TEST(saved__after_a_crash__is_the_bouts),
        ALARM_TEST(saved__arrows_under_way__are_not_yet),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
