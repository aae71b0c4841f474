/* tagging.c: a tagger at the keys: what is typed is on the screen and in the database. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "with_rig.h"

#define BOUT    "saltglass-4/1"
#define STRIKES "SELECT count(*) FROM strike WHERE bout = '" BOUT "'"

static struct vt *open_desk(struct rig *rig)
{
    struct vt *vt = rig_desk(rig, BOUT, NULL, NULL, RIG_READY);
    assert_non_null(vt);
    return vt;
}

static void desk__ten_strikes__pad_and_totals_count(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    long own = rig_settled(vt);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qQwWeasZiI", 40);
    assert_true(rig_wait_pad(vt, 'i', 1, 2));
    assert_true(rig_wait_pad(vt, 'q', 1, 2));
    assert_true(rig_wait_pad(vt, 'w', 1, 2));
    assert_true(rig_wait_pad(vt, 'e', 0, 1));
    assert_true(rig_wait_pad(vt, 'a', 0, 1));
    assert_true(rig_wait_pad(vt, 's', 0, 1));
    assert_true(rig_wait_pad(vt, 'z', 1, 1));
    assert_true(rig_wait_pad(vt, 'o', 0, 0));
    assert_true(rig_wait_total(vt, 'r', 3, 8));
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    assert_true(rig_wait_saved(vt, own + 11));
    assert_true(rig_logged(rig, BOUT, "qQwWeasZiI", 10));
    assert_int_equal(rig_number(rig, "SELECT attempted FROM round_total WHERE corner = 'red'"), 8);
    assert_int_equal(rig_leave(vt), 0);
}

static void desk__every_pad_key__counts_in_its_cell(void **state)
{
    static const char plain[] = "qwertasdfgzvbyuiophjkl;nm/";
    static const char shifted[] = "QWERTASDFGZVBYUIOPHJKL:NM?";
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    vt_type_every(vt, plain, 5);
    vt_type_every(vt, shifted, 5);
    for (size_t i = 0; i < strlen(plain); i++) {
        assert_true(rig_wait_pad(vt, plain[i], 1, 2));
    }
    assert_int_equal(rig_leave(vt), 0);
    char keys[64];
    strcpy(keys, plain);
    strcat(keys, shifted);
    assert_true(rig_logged(rig, BOUT, keys, strlen(keys)));
}

static void desk__undo_and_redo__go_back_and_forth(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWe", 40);
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    vt_press(vt, "Backspace");
    assert_true(rig_wait_pad(vt, 'e', 0, 0));
    vt_watch(vt, RIG_FINGER_MS);
    vt_press(vt, "Backspace");
    assert_true(rig_wait_pad(vt, 'w', 0, 0));
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    vt_type(vt, "\\");
    assert_true(rig_wait_pad(vt, 'w', 1, 1));
    vt_watch(vt, RIG_FINGER_MS);
    vt_type(vt, "\\");
    assert_true(rig_wait_pad(vt, 'e', 0, 1));
    vt_press(vt, "Backspace");
    vt_type_every(vt, "R\\", 100); /* something new: nothing is left to bring back */
    assert_true(rig_wait_pad(vt, 'r', 1, 1));
    assert_true(rig_wait_pad(vt, 'e', 0, 0));
    assert_true(rig_wait_total(vt, 'r', 2, 3));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKES), 3);
}

static void desk__space__lands_the_newest_and_back(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    vt_type(vt, "qi ");
    assert_true(rig_wait_pad(vt, 'i', 1, 1));
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    vt_watch(vt, RIG_FINGER_MS);
    vt_type(vt, " ");
    assert_true(rig_wait_pad(vt, 'i', 0, 1));
    assert_int_equal(rig_leave(vt), 0);
}

static void desk__digits__refine_the_newest_of_their_corner(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    vt_type_every(vt, "Qi1", 40); /* 1 is red's, though blue's is newer */
    vt_type_every(vt, "7", 40);   /* blue's knocks down, so it landed */
    assert_true(rig_wait_pad(vt, 'i', 1, 1));
    assert_true(rig_wait_pad(vt, 'q', 1, 1));
    vt_type_every(vt, "3", 40); /* blocked: no longer landed */
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKES " AND corner = 'red' AND spinning AND NOT jumping "
                                             "AND outcome = 'blocked'"),
                     1);
    assert_int_equal(rig_number(rig, STRIKES " AND corner = 'blue' AND knockdown"), 1);
    assert_int_equal(rig_number(rig, "SELECT knockdowns FROM round_total WHERE corner = 'blue'"),
                     1);
}

static void desk__burst_in_one_write__none_lost_none_out_of_order(void **state)
{
    static const char part[] = "qWerTasDfgzVbuiOpyHjn";
    char keys[4 * sizeof part] = "";
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    long own = rig_settled(vt);
    vt_press(vt, "Enter");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    for (int i = 0; i < 4; i++) { /* as many at once as the console takes for typed */
        strcat(keys, part);
        vt_type(vt, part);
        assert_true(rig_wait_pad(vt, 'n', 0, i + 1));
    }
    assert_true(rig_wait_pad(vt, 'j', 0, 4));
    assert_true(rig_wait_total(vt, 'r', 16, 52));
    assert_true(rig_wait_total(vt, 'b', 8, 32));
    assert_true(rig_wait_saved(vt, own + 85));
    assert_true(rig_logged(rig, BOUT, keys, 84));
    assert_int_equal(rig_leave(vt), 0);
}

/* A paste without its marks, as the Linux console gives it: held back, and asked about. */
static void desk__unbracketed_paste__is_held_back(void **state)
{
    static const char pasted[] = "the quick brown fox jumps over the lazy dog";
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    vt_type(vt, pasted);
    assert_true(vt_wait_text(vt, "came at once", RIG_WAIT_MS));
    vt_type(vt, "q"); /* a strike meanwhile is one */
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    vt_press(vt, "Esc");
    assert_true(vt_wait_text(vt, "dropped", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKES), 1);
}

static void desk__held_key__is_one_strike(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    /* In one write: on a loaded machine repeats typed 30 ms apart may arrive as far apart as
     * strokes. */
    vt_type(vt, "qqqqqqqqqqqqqqqqqqqqqqqqqqqqqq");
    assert_true(vt_wait_text(vt, "held", RIG_WAIT_MS));
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    /* As a keyboard does it: first a pause, then the repeats. */
    vt_type(vt, "W");
    vt_watch(vt, 400);
    vt_type(vt, "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWW");
    assert_true(rig_wait_pad(vt, 'w', 1, 1));
    vt_type(vt, "e");
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKES), 3);
}

static void desk__pasted_block__is_refused_and_not_logged(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    vt_paste(vt, "qwerQWER \r7\033[21~ more of it, and \\ and [f");
    assert_true(vt_wait_text(vt, "pasted block", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 0, 0));
    vt_type(vt, "q");
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    assert_true(rig_wait_total(vt, 'b', 0, 0));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKES), 1);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE kind = 'incident'"), 0);
}

static void desk__control_keys__are_dead(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    long own = rig_settled(vt);
    vt_press(vt, "Enter");
    /* Ctrl-C, Ctrl-Z, Ctrl-S (and no Ctrl-Q), Ctrl-\, Ctrl-D, Ctrl-V, Ctrl-O */
    vt_type(vt, "\003\032\023\034\004\026\017");
    vt_type(vt, "q");
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    vt_type(vt, "\021W\003\003\032");
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    assert_true(rig_wait_saved(vt, own + 3));
    assert_int_equal(rig_leave(vt), 0);
}

static void desk__leave__asks_twice_and_gives_the_terminal_back(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    assert_true(vt_altscreen(vt));
    vt_press(vt, "F10");
    assert_true(vt_wait_text(vt, "leave", RIG_WAIT_MS));
    vt_type(vt, "q"); /* live meanwhile, and it calls the leaving off */
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    vt_press(vt, "F10");
    assert_true(vt_wait_text(vt, "leave", RIG_WAIT_MS));
    vt_watch(vt, RIG_FINGER_MS);
    vt_press(vt, "F10");
    assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
    assert_false(vt_altscreen(vt));
    vt_close(vt);
    assert_int_equal(rig_number(rig, STRIKES), 1);
}

static void desk__clock_stopped__strikes_are_logged_off_the_clock(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_type(vt, "q");
    assert_true(rig_wait_pad(vt, 'q', 0, 1));
    vt_press(vt, "Enter");
    vt_type(vt, "W");
    vt_press(vt, "Enter");
    vt_type(vt, "e");
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, STRIKES " AND off_clock"), 2);
}

static void desk__opened_again__shows_the_same_totals(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig);
    vt_press(vt, "Enter");
    vt_type(vt, "qWeIop");
    assert_true(rig_wait_total(vt, 'b', 1, 3));
    assert_int_equal(rig_leave(vt), 0);
    vt = open_desk(rig);
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    assert_true(rig_wait_total(vt, 'b', 1, 3));
    assert_true(rig_wait_pad(vt, 'w', 1, 1));
    vt_press(vt, "Backspace"); /* the former session's newest is still in reach */
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    assert_int_equal(rig_leave(vt), 0);
}

int main(void)
{
#define DESK_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        DESK_TEST(desk__ten_strikes__pad_and_totals_count),
        DESK_TEST(desk__every_pad_key__counts_in_its_cell),
        DESK_TEST(desk__undo_and_redo__go_back_and_forth),
        DESK_TEST(desk__space__lands_the_newest_and_back),
        DESK_TEST(desk__digits__refine_the_newest_of_their_corner),
        DESK_TEST(desk__burst_in_one_write__none_lost_none_out_of_order),
        DESK_TEST(desk__unbracketed_paste__is_held_back),
        DESK_TEST(desk__held_key__is_one_strike),
        DESK_TEST(desk__pasted_block__is_refused_and_not_logged),
        DESK_TEST(desk__control_keys__are_dead),
        DESK_TEST(desk__leave__asks_twice_and_gives_the_terminal_back),
        DESK_TEST(desk__clock_stopped__strikes_are_logged_off_the_clock),
        DESK_TEST(desk__opened_again__shows_the_same_totals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
