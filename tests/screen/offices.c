/* offices.c: who is official for what, said at both desks: a killed partner, an office that is
 * taken away, a relief, the same operator twice, a desk that only watches, and what rings. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

#include "with_rig.h"

#define BOUT    "saltglass-4/1"
#define SOON_NS INT64_C(3000000000)

static struct vt *open_desk(const struct rig *rig, const char *operator_, const char *how,
                            const char *corner)
{
    const char *more[] = {"--operator", operator_, how, corner, NULL};
    struct vt *vt = rig_desk(rig, BOUT, more, NULL, RIG_READY);
    assert_non_null(vt);
    assert_true(rig_settled(vt) >= 0); /* whoever opens next asks the database */
    return vt;
}

/* A key with a finger's pause behind it. */
static void finger(struct vt *vt, const char *key)
{
    vt_press(vt, key);
    vt_watch(vt, RIG_FINGER_MS);
}

static bool says(struct vt *vt, const char *text)
{
    return vt_wait_text(vt, text, RIG_WAIT_MS);
}

/* It rings a moment after what it rings for is on the screen. */
static bool has_rung(struct vt *vt, void *context)
{
    return vt_bells(vt) >= *(int *)context;
}

static bool rings(struct vt *vt, int bells)
{
    return vt_wait(vt, has_rung, &bells, RIG_WAIT_MS, "a bell");
}

/* The partner dies in the round; each office is taken by a key of its own; it comes back as a
 * relief, takes one back, and both are told. */
static void partner__killed__is_said_and_taken_over(void **state)
{
    struct rig *rig = *state;
    struct vt *ana = open_desk(rig, "ana", "--corner", "red");
    struct vt *ben = open_desk(rig, "ben", "--corner", "blue");
    assert_true(says(ben, "The clock is with ana"));
    finger(ana, "Enter");
    assert_true(says(ben, "RUNNING"));
    finger(ana, "q");
    assert_true(rig_settled(ana) > 0);
    int rang = vt_bells(ben);
    vt_kill(ana);
    vt_close(ana);
    int64_t begun = vt_now();
    assert_true(says(ben, "ana is LOST: nobody tags red and the clock"));
    int64_t took = vt_now() - begun;
    print_message("a killed partner is said after %d ms\n", (int)(took / 1000000));
    assert_true(took < SOON_NS);
    assert_true(says(ben, "F5, then [ red"));
    assert_true(rings(ben, rang + 1));
    finger(ben, "w"); /* not his: it is logged, in no count, and he is told */
    assert_true(says(ben, "NOT COUNTED: ana is official for red. F5 [ takes it over"));
    finger(ben, "F5");
    assert_true(says(ben, "TAKE OVER"));
    finger(ben, "[");
    assert_true(says(ben, "official: red blue"));
    finger(ben, "W");
    assert_true(rig_wait_total(ben, 'r', 1, 2)); /* hers before, his after */
    assert_true(says(ben, "ana is LOST: nobody tags the clock"));
    finger(ben, "F5");
    finger(ben, "Enter");
    assert_true(says(ben, "official: red blue clock"));

    ana = open_desk(rig, "ana", "--corner", "red");
    assert_true(says(ana, "ANOTHER DESK TAGS THIS BOUT"));
    assert_true(says(ana, "NOT OFFICIAL"));
    assert_true(rig_wait_total(ana, 'r', 1, 2)); /* what is going on, and no zeros */
    finger(ana, "F5");
    finger(ana, "[");
    assert_true(says(ana, "official: red"));
    assert_true(says(ben, "ana TOOK OVER red: your keys for it count no more"));
    assert_true(says(ben, "official: blue clock"));
    assert_int_equal(rig_leave(ana), 0);
    assert_true(says(ben, "ana LEFT: nobody tags red"));
    assert_int_equal(rig_leave(ben), 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM strike WHERE official"), 2);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM strike WHERE NOT official"), 1);
}

/* One that hangs is told from one that is quiet, and comes back. */
static void partner__hangs__is_silent_and_comes_back(void **state)
{
    struct rig *rig = *state;
    struct vt *ana = open_desk(rig, "ana", "--corner", "red");
    struct vt *ben = open_desk(rig, "ben", "--corner", "blue");
    assert_int_equal(kill(vt_pid(ana), SIGSTOP), 0);
    int64_t begun = vt_now();
    assert_true(says(ben, "ana is SILENT"));
    print_message("a desk that hangs is said after %d ms\n", (int)((vt_now() - begun) / 1000000));
    assert_int_equal(kill(vt_pid(ana), SIGCONT), 0);
    assert_true(says(ben, "ana is back"));
    assert_int_equal(rig_leave(ana), 0);
    assert_int_equal(rig_leave(ben), 0);
}

/* F5 twice takes what is wanted and what was left; held down it takes nothing. */
static void takeover__twice__takes_all_and_a_held_key_none(void **state)
{
    struct rig *rig = *state;
    struct vt *ana = open_desk(rig, "ana", "--corner", "red");
    struct vt *ben = open_desk(rig, "ben", "--corner", "blue");
    for (int i = 0; i < 12; i++) { /* after the first wait, as a keyboard repeats */
        vt_press(ben, "F5");
        vt_watch(ben, i == 0 ? 250 : 33);
    }
    vt_watch(ben, 600);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE kind = 'official'"), 3);
    finger(ben, "Esc");
    vt_kill(ana);
    vt_close(ana);
    assert_true(says(ben, "ana is LOST"));
    finger(ben, "F5");
    finger(ben, "F5");
    assert_true(says(ben, "official: red blue clock"));
    assert_int_equal(rig_leave(ben), 0);
}

/* The same operator once more: told, a copy that only watches; the next day ana is ana. */
static void twice__the_same_operator__is_told_and_stays_who_they_are(void **state)
{
    struct rig *rig = *state;
    struct vt *first = open_desk(rig, "ana", NULL, NULL);
    finger(first, "Enter");
    struct vt *second = open_desk(rig, "ana", NULL, NULL);
    assert_true(says(second, "YOU HAVE THIS BOUT OPEN ALREADY"));
    assert_true(says(second, "ana-2"));
    int rang = vt_bells(second);
    finger(second, "w");
    assert_true(says(second, "NOT COUNTED: ana is official for red"));
    assert_true(says(second, "APART"));
    assert_true(rings(second, rang + 1));
    assert_int_equal(rig_leave(second), 0);
    assert_int_equal(rig_leave(first), 0);
    first = open_desk(rig, "ana", NULL, NULL);
    assert_true(says(first, "official: red blue clock"));
    assert_false(vt_find(first, "ana-2", NULL, NULL));
    assert_int_equal(rig_leave(first), 0);
}

/* It shows what is tagged, has no row, and no key of it writes. */
static void watch__shows_and_writes_nothing(void **state)
{
    struct rig *rig = *state;
    static const char *const watch[] = {"--watch", NULL};
    struct vt *ana = open_desk(rig, "ana", NULL, NULL);
    struct vt *vt = rig_desk(rig, BOUT, watch, NULL, "WATCHING");
    assert_non_null(vt);
    finger(ana, "Enter");
    finger(ana, "W");
    assert_true(rig_wait_total(vt, 'r', 1, 1));
    long entries = rig_number(rig, "SELECT count(*) FROM entry");
    static const char *const keys[] = {"q", "Space", "Enter", "1", "Backspace", "F5", "F5",
                                       "[", "w",     "`",     "'", "Left",      "F2", "F7"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        finger(vt, keys[i]);
    }
    assert_true(says(vt, "only watches"));
    finger(ana, "w");
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM desk"), 1);
    assert_true(rig_settled(ana) > 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry"), entries + 1);
    assert_int_equal(rig_leave(ana), 0);
}

/* Strikes on a clock that stands ring at the third; a setting of one's own keeps it quiet. */
static void alarm__the_clock_stands__rings_unless_told_not_to(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", NULL, NULL);
    assert_int_equal(vt_bells(vt), 0);
    finger(vt, "q");
    finger(vt, "w");
    assert_int_equal(vt_bells(vt), 0);
    finger(vt, "e");
    assert_true(says(vt, "THE CLOCK STANDS while strikes come: Enter starts round 1"));
    assert_true(rings(vt, 1));
    finger(vt, "Enter");
    for (int i = 0; i < 4; i++) {
        finger(vt, "i");
    }
    assert_int_equal(vt_bells(vt), 1);
    assert_int_equal(rig_leave(vt), 0);

    char path[400];
    FILE *file = NULL;
    snprintf(path, sizeof path, "%s/.config", rig->folder);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/.config/ringtally", rig->folder);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/.config/ringtally/desk.ini", rig->folder);
    file = fopen(path, "w");
    assert_non_null(file);
    fputs("[alarm]\nbell = no\n", file);
    assert_int_equal(fclose(file), 0);
    vt = open_desk(rig, "ana", NULL, NULL);
    finger(vt, "Enter"); /* stops it */
    finger(vt, "q");
    finger(vt, "w");
    finger(vt, "e");
    assert_true(says(vt, "THE CLOCK STANDS"));
    assert_int_equal(vt_bells(vt), 0);
    assert_int_equal(rig_leave(vt), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(partner__killed__is_said_and_taken_over, set_up, tear_down),
        cmocka_unit_test_setup_teardown(partner__hangs__is_silent_and_comes_back, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(takeover__twice__takes_all_and_a_held_key_none, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(twice__the_same_operator__is_told_and_stays_who_they_are,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(watch__shows_and_writes_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(alarm__the_clock_stands__rings_unless_told_not_to, set_up,
                                        tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
