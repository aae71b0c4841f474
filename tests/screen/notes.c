/* notes.c: what is said of a corner in words, and who threw whom, on the real screen and in what is
 * printed afterwards. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "run.h"
#include "with_rig.h"

#define BOUT  "saltglass-4/1"
#define SANDA "saltglass-4/6"
#define NOTES "SELECT count(*) FROM entry WHERE code = 'note' AND "

static void says(const struct rig *rig, const char *command, const char *bout, const char *text)
{
    static struct run result;
    const char *argv[] = {rig->program, "--db", rig->db, command, bout, NULL};
    run(&result, rig->folder, argv);
    assert_int_equal(result.status, 0);
    if (!strstr(result.out, text)) {
        fail_msg("no \"%s\" in what %s says:\n%s", text, command, result.out);
    }
}

/* While the clock runs the note has its moment, and every key goes on meaning what it means; its
 * words are typed while it stands. */
static void note__in_the_round__gets_its_words_in_the_rest(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = rig_desk(rig, BOUT, NULL, NULL, RIG_READY);
    assert_non_null(vt);
    rig_finger(vt, "Enter");
    rig_finger(vt, "w");
    rig_finger(vt, "[");
    rig_finger(vt, "n");
    assert_true(vt_wait_text(
        vt, "red: a note. Its words while the clock stands: in the log, by =", RIG_WAIT_MS));
    rig_finger(vt, "u"); /* a strike */
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "STOPPED", RIG_WAIT_MS));
    rig_finger(vt, "Up");
    assert_true(vt_wait_text(vt, "LOG: to look at", RIG_WAIT_MS));
    rig_finger(vt, "=");
    assert_true(vt_wait_text(vt, "RED NOTE", RIG_WAIT_MS));
    vt_type_every(vt, "cut over the left eye, 2 cm \u00e9x", 5);
    rig_finger(vt, "Backspace");
    rig_finger(vt, "Backspace");
    assert_true(vt_wait_text(vt, "cut over the left eye, 2 cm _", RIG_WAIT_MS));
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "red: note: cut over the left eye, 2 cm", RIG_WAIT_MS));
    rig_finger(vt, "Backspace"); /* the words go first, then the note */
    assert_true(vt_wait_text(vt, "taken back: red note: cut over", RIG_WAIT_MS));
    rig_finger(vt, "\\");
    assert_true(vt_wait_text(vt, "back again: red note: cut over", RIG_WAIT_MS));
    rig_finger(vt, "Enter"); /* the clock again, as ever */
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "wu", 2));
    assert_int_equal(rig_number(rig, NOTES "act = 'add' AND corner = 'red' AND NOT off_clock"), 1);
    says(rig, "log", BOUT, "red note: cut over the left eye, 2 cm");
    says(rig, "sheet", BOUT, "note: cut over the left eye, 2 cm");
}

static void note__while_the_clock_stands__is_typed_at_once(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = rig_desk(rig, BOUT, NULL, NULL, RIG_READY);
    assert_non_null(vt);
    rig_finger(vt, "]");
    rig_finger(vt, "n");
    assert_true(vt_wait_text(vt, "BLUE NOTE", RIG_WAIT_MS));
    vt_type_every(vt, "gloves taped [again]", 5);
    assert_true(vt_wait_text(vt, "gloves taped [again]_", RIG_WAIT_MS));
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "blue: note: gloves taped [again]", RIG_WAIT_MS));
    rig_finger(vt, "]");
    rig_finger(vt, "n");
    assert_true(vt_wait_text(vt, "BLUE NOTE", RIG_WAIT_MS));
    vt_type_every(vt, "quit", 5);
    rig_finger(vt, "Esc"); /* it stays, without words */
    assert_true(vt_wait_gone(vt, "BLUE NOTE", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "to look at 1", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "", 0));
    assert_int_equal(rig_number(rig, NOTES "act = 'add'"), 2);
    assert_int_equal(rig_number(rig, NOTES "text = 'gloves taped [again]' AND NOT review"), 1);
}

static void throw__says_who_threw_whom(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = rig_desk(rig, SANDA, NULL, NULL, RIG_READY);
    assert_non_null(vt);
    rig_finger(vt, "Enter");
    rig_finger(vt, "[");
    assert_true(vt_wait_text(vt, "threw the other", RIG_WAIT_MS));
    rig_finger(vt, "t");
    assert_true(vt_wait_text(vt, "red: threw blue", RIG_WAIT_MS));
    rig_finger(vt, "]");
    rig_finger(vt, "t");
    assert_true(vt_wait_text(vt, "blue: threw red", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    says(rig, "log", SANDA, "red threw blue");
}

int main(void)
{
#define NOTE_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        NOTE_TEST(note__in_the_round__gets_its_words_in_the_rest),
        NOTE_TEST(note__while_the_clock_stands__is_typed_at_once),
        NOTE_TEST(throw__says_who_threw_whom),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
