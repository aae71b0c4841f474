/* moving.c: what was tagged on the wrong bout goes to the right one, from the desk itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "run.h"
#include "with_rig.h"

#define WRONG  "saltglass-4/1"
#define RIGHT  "saltglass-4/2"
#define STRIKE "SELECT count(*) FROM strike WHERE official AND bout = "

static struct vt *open_desk(const struct rig *rig, const char *bout, const char *operator_)
{
    const char *more[] = {"--operator", operator_, NULL};
    struct vt *vt = rig_desk(rig, bout, more, NULL, RIG_READY);
    assert_non_null(vt);
    return vt;
}

/* Opens the log and a range of it, and asks for another bout. */
static void ask(struct vt *vt, int ranges)
{
    rig_finger(vt, "Up");
    assert_true(vt_wait_text(vt, "LOG: ", RIG_WAIT_MS));
    while (!vt_find(vt, "LOG: all", NULL, NULL)) {
        rig_finger(vt, "F8");
        vt_watch(vt, 50);
    }
    for (int i = 0; i < ranges; i++) {
        rig_finger(vt, "F11");
    }
    assert_true(vt_wait_text(vt, "range of ", RIG_WAIT_MS));
    rig_finger(vt, "=");
    assert_true(vt_wait_text(vt, "7 bout", RIG_WAIT_MS));
    rig_finger(vt, "7");
    assert_true(vt_wait_text(vt, "to bout 0", RIG_WAIT_MS));
}

static void move__all__the_desk_closes_and_goes_on_there(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, WRONG, "ana");
    rig_finger(vt, "Enter");
    vt_type_every(vt, "qWeIo", 120);
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    ask(vt, 3);
    rig_finger(vt, "9"); /* there is none of that number */
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "not moved: ", RIG_WAIT_MS));
    rig_finger(vt, "Backspace");
    rig_finger(vt, "1");
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "this is bout 1", RIG_WAIT_MS));
    rig_finger(vt, "Backspace");
    rig_finger(vt, "2");
    assert_true(vt_wait_text(vt, "to bout 2: Enter closes this desk", RIG_WAIT_MS));
    rig_finger(vt, "Enter");
    assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
    assert_true(
        vt_find(vt, "5 strikes among them, are on " RIGHT " now, with the clock", NULL, NULL));
    assert_true(vt_find(vt, "Back again: ringtally move " WRONG " " RIGHT " --back", NULL, NULL));
    vt_close(vt);
    assert_int_equal(rig_number(rig, STRIKE "'" WRONG "'"), 0);
    assert_int_equal(rig_number(rig, STRIKE "'" RIGHT "'"), 5);

    /* There the clock runs on, and the newest keystroke is the one to take back. */
    vt = open_desk(rig, RIGHT, "ana");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    rig_finger(vt, "Backspace");
    assert_true(vt_wait_text(vt, "taken back: blue right hand head", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'b', 1, 1));
    rig_finger(vt, "r");
    assert_true(rig_wait_total(vt, 'r', 1, 4));
    assert_int_equal(rig_leave(vt), 0);

    /* And back: but for what was tagged there since. */
    const char *back[] = {rig->program, "--db",   rig->db, "move", WRONG,
                          RIGHT,        "--back", "--yes", NULL};
    struct run result;
    run(&result, rig->folder, back);
    assert_int_equal(result.status, 0);
    assert_int_equal(rig_number(rig, STRIKE "'" WRONG "'"), 5);
    assert_int_equal(rig_number(rig, STRIKE "'" RIGHT "'"), 1);
    vt = open_desk(rig, WRONG, "ana");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    assert_int_equal(rig_leave(vt), 0);
}

static void move__a_live_key__stays_a_strike(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, WRONG, "ana");
    rig_finger(vt, "Enter");
    vt_type_every(vt, "qW", 120);
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    ask(vt, 2);
    rig_finger(vt, "2");
    rig_finger(vt, "i"); /* while the clock runs */
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    assert_true(vt_wait_gone(vt, "RANGE", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, WRONG, "qWi", 3));
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE act <> 'add'"), 0);
}

static void move__from_here_to_there__no_more_than_that(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, WRONG, "ana");
    rig_finger(vt, "Enter");
    vt_type_every(vt, "qWeIo", 120);
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    rig_finger(vt, "Up"); /* on o */
    rig_finger(vt, "Down");
    rig_finger(vt, "F11"); /* from I to W */
    rig_finger(vt, "Down");
    rig_finger(vt, "Down");
    rig_finger(vt, "=");
    rig_finger(vt, "7");
    rig_finger(vt, "2");
    rig_finger(vt, "Enter");
    assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
    assert_true(vt_find(vt, "3 strikes among them", NULL, NULL));
    vt_close(vt);
    assert_int_equal(rig_number(rig, STRIKE "'" RIGHT "'"), 3);
    assert_int_equal(rig_number(rig, STRIKE "'" WRONG "' AND limb IN ('left_leg', 'right_hand')"),
                     2);
}

static void move__a_partner_is_there__says_so_and_stays(void **state)
{
    struct rig *rig = *state;
    const char *more[] = {"--operator", "ben", "--corner", "blue", NULL};
    struct vt *partner = rig_desk(rig, WRONG, more, NULL, RIG_READY);
    assert_non_null(partner);
    const char *own[] = {"--operator", "ana", "--corner", "red", NULL};
    struct vt *vt = rig_desk(rig, WRONG, own, NULL, RIG_READY);
    assert_non_null(vt);
    vt_type_every(vt, "qW", 120);
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    ask(vt, 3);
    rig_finger(vt, "2");
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "not moved: ben's desk is open on this bout", RIG_WAIT_MS));
    assert_int_equal(rig_leave(partner), 0);
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKE "'" WRONG "'"), 2);
}

int main(void)
{
#define MOVE_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        MOVE_TEST(move__all__the_desk_closes_and_goes_on_there),
        MOVE_TEST(move__a_live_key__stays_a_strike),
        MOVE_TEST(move__from_here_to_there__no_more_than_that),
        MOVE_TEST(move__a_partner_is_there__says_so_and_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
