/* clock.c: the round clock through the real program, at the bell and around it, with a wall clock
 * that is set in the middle. Time passes as after a sleep of the machine: all clocks at once. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

#include "rig.h"
#include "run.h"
#include "times.h"

#define BOUT    "saltglass-4/1"
#define SECONDS 1000
#define HOUR    3600000
#define YEARS   INT64_C(631152000000) /* twenty of them */
#define LOGGED  "SELECT count(*) FROM strike WHERE bout = '" BOUT "' AND "

struct stage {
    struct rig rig;
    struct times times;
};

static int set_up(void **state)
{
    static struct stage stage;
    rig_init(&stage.rig, PROGRAM, CARD);
    times_open(&stage.times, stage.rig.folder);
    *state = &stage;
    return 0;
}

static int tear_down(void **state)
{
    struct stage *stage = *state;
    times_close(&stage->times);
    rig_release(&stage->rig);
    return 0;
}

static struct vt *open_as(struct stage *stage, const char *operator_, const char *how,
                          const char *corner)
{
    const char *more[] = {"--operator", operator_, how, corner, NULL};
    struct vt_setup setup = {.env = stage->times.env};
    struct vt *vt = rig_desk(&stage->rig, BOUT, more, &setup, RIG_READY);
    assert_non_null(vt);
    assert_true(rig_settled(vt) >= 0);
    return vt;
}

static struct vt *open_desk(struct stage *stage)
{
    return open_as(stage, "ana", NULL, NULL);
}

/* A key, and what must then be on the screen. */
static void press(struct vt *vt, const char *key, const char *shows)
{
    vt_watch(vt, RIG_FINGER_MS);
    vt_press(vt, key);
    assert_true(vt_wait_text(vt, shows, RIG_WAIT_MS));
}

static void pass(struct stage *stage, struct vt *vt, int64_t ms, const char *shows)
{
    times_pass(&stage->times, ms);
    assert_true(vt_wait_text(vt, shows, RIG_WAIT_MS));
}

/* A number of the counts as `counts` tells them, by a process of its own under the same clocks. */
static double counts(const struct stage *stage, const char *field)
{
    static struct run result;
    const char *argv[] = {"/usr/bin/env",
                          stage->times.preload,
                          stage->times.file,
                          stage->rig.program,
                          "--db",
                          stage->rig.db,
                          "counts",
                          BOUT,
                          "--format",
                          "json",
                          NULL};
    char name[64];
    double value = -1;
    run(&result, stage->rig.folder, argv);
    assert_int_equal(result.status, 0);
    snprintf(name, sizeof name, "\"%s\":", field);
    const char *at = strstr(result.out, name);
    assert_non_null(at);
    assert_int_equal(sscanf(at + strlen(name), " %lf", &value), 1);
    return value;
}

/* What the panel's newest list says of the newest strike: not asserted to the second, since the
 * program runs while the test does; `log` has the round and the place on its clock. */
static long number(struct stage *stage, const char *sql)
{
    return rig_number(&stage->rig, sql);
}

static void leave(struct vt *vt)
{
    assert_int_equal(rig_leave(vt), 0);
}

/* (a) Enter a moment after the round has ended by itself, and Backspace behind it. */
static void clock__enter_after_the_bell__no_round_in_the_rest(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    vt_type(vt, "w");
    assert_true(rig_wait_pad(vt, 'w', 0, 1));
    pass(stage, vt, 180 * SECONDS, "REST");
    press(vt, "Enter", "the bell: round 1 is over already");
    assert_true(vt_find(vt, "REST", NULL, NULL));
    assert_int_equal(number(stage, "SELECT count(*) FROM entry WHERE code = 'start'"), 1);
    /* The next one, when the rest is nearly over. */
    times_pass(&stage->times, 52 * SECONDS);
    press(vt, "Enter", "round 2 begins");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    vt_type(vt, "e");
    assert_true(rig_wait_pad(vt, 'e', 0, 1));
    /* Backspace takes back what was pressed last, and never an older strike for it. */
    press(vt, "Backspace", "taken back");
    press(vt, "Backspace", "REST");
    leave(vt);
    assert_int_equal(number(stage, LOGGED "round = 1 AND off_clock = 0"), 1);
    assert_int_equal(number(stage, LOGGED "1"), 1);
}

/* (b) and (c): a stop with two seconds left is the bell, and the next Enter the next round. */
static void clock__stop_before_the_bell__the_next_round_is_the_next(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    times_pass(&stage->times, 176 * SECONDS);
    press(vt, "Enter", "the bell: round 1 is over");
    assert_true(vt_find(vt, "REST", NULL, NULL));
    times_pass(&stage->times, 59 * SECONDS);
    press(vt, "Enter", "round 2 begins");
    vt_type_every(vt, "qWeasi", RIG_FINGER_MS);
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    leave(vt);
    assert_int_equal(number(stage, LOGGED "round = 2 AND off_clock = 0"), 6);
}

/* (c) Enter forgotten at the start of round 2: said afterwards, the strikes follow. */
static void clock__round_forgotten__its_strikes_follow(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    pass(stage, vt, 180 * SECONDS, "REST");
    times_pass(&stage->times, 65 * SECONDS); /* five seconds of round 2 */
    vt_type_every(vt, "qWeas", RIG_FINGER_MS);
    assert_true(rig_wait_total(vt, 'r', 1, 5));
    times_pass(&stage->times, 5 * SECONDS);
    press(vt, "F9", "SET THE CLOCK");
    press(vt, "Tab", "round 2 began _ seconds ago");
    vt_type_every(vt, "12", RIG_FINGER_MS);
    press(vt, "Enter", "RUNNING");
    assert_true(vt_wait_text(vt, "5 entries moved", RIG_WAIT_MS));
    leave(vt);
    assert_int_equal(number(stage, LOGGED "round = 2 AND off_clock = 0"), 5);
}

/* A stray Enter ten minutes early: one key; and where it was not seen, three digits. */
static void clock__a_stray_start__costs_no_600_keys(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    press(vt, "Backspace", "READY");
    press(vt, "Enter", "RUNNING");
    pass(stage, vt, 600 * SECONDS, "REST");
    press(vt, "F9", "SET THE CLOCK"); /* the rest is over: the round's time is asked for */
    vt_type_every(vt, "3", RIG_FINGER_MS);
    vt_type_every(vt, "00", RIG_FINGER_MS);
    press(vt, "Enter", "RUNNING");
    assert_true(vt_find(vt, "in round 1, the clock runs", NULL, NULL));
    leave(vt);
    /* Both starts, what took the first back, and the one setting. */
    assert_int_equal(number(stage, "SELECT count(*) FROM entry WHERE kind = 'clock'"), 4);
    assert_int_equal(number(stage, "SELECT count(*) FROM entry WHERE code = 'nudge'"), 1);
}

/* A clock started thirty seconds late, strikes before and after. */
static void clock__started_late__strikes_move_with_the_start(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    vt_type_every(vt, "qW", RIG_FINGER_MS); /* the round runs, nobody has pressed Enter */
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    times_pass(&stage->times, 20 * SECONDS);
    press(vt, "Enter", "RUNNING");
    vt_type_every(vt, "ea", RIG_FINGER_MS);
    assert_true(rig_wait_total(vt, 'r', 1, 4));
    press(vt, "F9", "SET THE CLOCK");
    vt_type(vt, "+");
    assert_true(vt_wait_text(vt, "round 1 was started _ seconds late", RIG_WAIT_MS));
    vt_type_every(vt, "30", RIG_FINGER_MS);
    press(vt, "Enter", "4 entries moved");
    leave(vt);
    assert_int_equal(number(stage, LOGGED "off_clock = 1"), 0);
    assert_int_equal(number(stage, LOGGED "elapsed_ms >= 30000"), 2);
    assert_int_equal(number(stage, LOGGED "elapsed_ms BETWEEN 1 AND 15000"), 2);
}

static void clock__the_end__stands_in_the_panel_and_stops_the_clock(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    times_pass(&stage->times, 66 * SECONDS);
    press(vt, "F4", "END OF THE BOUT");
    press(vt, "1", "knockout: [ red or ] blue?");
    press(vt, "]", "knockout: blue");
    press(vt, "Enter", "the bout is over: knockout, blue, round 1 1:0");
    assert_true(vt_wait_text(vt, "ENDED", RIG_WAIT_MS));
    assert_true(vt_wait_gone(vt, "RUNNING", RIG_WAIT_MS));
    press(vt, "Enter", "the bout is over, knockout, blue");
    assert_true(rig_settled(vt) >= 0); /* a reader sees what is saved */
    times_pass(&stage->times, 500 * SECONDS);
    assert_true(counts(stage, "running_ms") < 80000);
    vt_watch(vt, 300);
    assert_true(vt_find(vt, "ENDED", NULL, NULL));
    press(vt, "Backspace", "REST"); /* as if it had not been pressed: the clock ran on */
    leave(vt);
}

/* A shadow opened in the middle shows the official clock. */
static void clock__a_shadow__follows(void **state)
{
    struct stage *stage = *state;
    struct vt *ana = open_desk(stage);
    press(ana, "Enter", "RUNNING");
    times_pass(&stage->times, 60 * SECONDS);
    struct vt *ben = open_as(stage, "ben", "--shadow", NULL);
    assert_true(vt_wait_text(ben, "RUNNING", RIG_WAIT_MS));
    press(ben, "Enter", "this desk follows the clock of ana");
    assert_true(vt_find(ben, "RUNNING", NULL, NULL));
    press(ana, "Enter", "STOPPED");
    assert_true(vt_wait_text(ben, "STOPPED", RIG_WAIT_MS));
    struct vt *cid = open_as(stage, "cid", "--shadow", "--own-clock");
    assert_true(vt_wait_text(cid, "READY", RIG_WAIT_MS));
    leave(cid);
    leave(ben);
    leave(ana);
}

/* The wall clock is set in the middle of a round: said, written down, and nothing jumps. */
static void clock__wall_set__said_and_nothing_jumps(void **state)
{
    static const int64_t steps[] = {40 * SECONDS, HOUR, -HOUR, YEARS, -YEARS};
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    times_pass(&stage->times, 20 * SECONDS);
    long strikes = 0;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        char sql[160];
        times_step(&stage->times, steps[i]);
        assert_true(
            vt_wait_text(vt, steps[i] > 0 ? "was set forward" : "was set back", RIG_WAIT_MS));
        vt_type(vt, i % 2 ? "w" : "e");
        assert_true(rig_wait_total(vt, 'r', 0, ++strikes));
        assert_true(rig_settled(vt) >= 0);
        /* The panel runs, and so does whoever reads the log. */
        assert_true(vt_find(vt, "RUNNING", NULL, NULL));
        double running = counts(stage, "running_ms");
        assert_true(running >= 20000 && running < 120000);
        assert_true(counts(stage, "newest_entry_age_ms") < 20000);
        snprintf(sql, sizeof sql, "SELECT count(*) FROM entry WHERE code = 'jump'");
        assert_int_equal(number(stage, sql), (long)i + 1);
        /* The strike has its right place on the round clock. */
        assert_int_equal(number(stage, LOGGED "round = 1 AND off_clock = 0 AND "
                                              "elapsed_ms BETWEEN 20000 AND 120000"),
                         strikes);
    }
    /* The clock still runs by time: a minute is a minute, on the panel and for a reader. */
    double before = counts(stage, "running_ms");
    times_pass(&stage->times, 30 * SECONDS);
    double after = counts(stage, "running_ms");
    assert_true(after - before >= 30000 && after - before < 60000);
    leave(vt);
}

/* kill -9 while the wall is wrong, put right, opened again: the round is where it was. */
static void clock__killed_under_a_wrong_wall__nothing_freezes(void **state)
{
    static const int64_t steps[] = {HOUR, YEARS};
    struct stage *stage = *state;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        struct vt *vt = open_desk(stage);
        if (i == 0) {
            press(vt, "Enter", "RUNNING");
        }
        times_step(&stage->times, steps[i]);
        assert_true(vt_wait_text(vt, "was set forward", RIG_WAIT_MS));
        vt_type(vt, "w");
        assert_true(rig_wait_total(vt, 'r', 0, (long)(2 * i + 1)));
        assert_true(rig_settled(vt) >= 0);
        vt_kill(vt);
        vt_close(vt);
        times_step(&stage->times, -steps[i]);
        vt = open_desk(stage);
        assert_true(vt_wait_text(vt, "ahead of this machine's clock", RIG_WAIT_MS));
        assert_true(vt_find(vt, "RUNNING", NULL, NULL));
        double before = counts(stage, "running_ms");
        times_pass(&stage->times, 10 * SECONDS);
        double after = counts(stage, "running_ms");
        assert_true(after - before >= 10000 && after - before < 40000);
        vt_type(vt, "e");
        assert_true(rig_wait_total(vt, 'r', 0, (long)(2 * i + 2)));
        leave(vt);
    }
    assert_int_equal(number(stage, LOGGED "round = 1 AND off_clock = 0"), 4);
}

/* A closed lid for half a minute: the round went on, and nobody set any clock. */
static void clock__a_closed_lid__takes_no_time_out(void **state)
{
    struct stage *stage = *state;
    struct vt *vt = open_desk(stage);
    press(vt, "Enter", "RUNNING");
    times_pass(&stage->times, 90 * SECONDS);
    vt_watch(vt, 1500); /* a look at the wall clock */
    assert_false(vt_find(vt, "was set", NULL, NULL));
    vt_type(vt, "w");
    assert_true(rig_wait_total(vt, 'r', 0, 1));
    leave(vt);
    assert_int_equal(number(stage, "SELECT count(*) FROM entry WHERE code = 'jump'"), 0);
    assert_int_equal(number(stage, LOGGED "elapsed_ms >= 90000"), 1);
}

/* Both are read all the time, as two people look at two screens. */
static void watch_both(struct vt *a, struct vt *b, int ms)
{
    int64_t end = vt_now() + (int64_t)ms * 1000000;
    while (vt_now() < end) {
        vt_pump(a, 2);
        vt_pump(b, 2);
    }
}

/* A shadow's machine is half an hour ahead, and has a strike that the official desk missed. Its
 * entries shift nothing at the official desk: strikes keep their own moments, the clock runs, and a
 * difference is settled about the strike that is shown, wherever the log's lists move meanwhile. */
static void clock__another_machine_ahead__shifts_no_strike(void **state)
{
    static const char keys[] = "qwasedzrftopjkuilgvbnmyh/;qwasedzrft";
    struct stage *stage = *state;
    struct times ahead;
    char folder[300];
    snprintf(folder, sizeof folder, "%s/ahead", stage->rig.folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    times_open(&ahead, folder);
    times_step(&ahead, 1800 * SECONDS);
    struct vt *ana = open_desk(stage);
    const char *more[] = {"--operator", "ben", "--shadow", "--own-clock", NULL};
    struct vt_setup setup = {.env = ahead.env};
    struct vt *ben = rig_desk(&stage->rig, BOUT, more, &setup, RIG_READY);
    assert_non_null(ben);
    press(ben, "Enter", "RUNNING");
    press(ana, "Enter", "RUNNING");
    for (size_t i = 0; keys[i]; i++) {
        char key[] = {keys[i], '\0'};
        if (i != 1) {
            vt_type(ana, key);
        }
        vt_type(ben, key);
        watch_both(ana, ben, 150);
    }
    assert_true(rig_wait_total(ana, 'r', 0, 22));
    assert_true(rig_wait_total(ana, 'b', 0, 13));
    assert_true(rig_settled(ben) >= 0);
    assert_true(rig_settled(ana) >= 0);
    /* What came from ahead stands in the database; the next keys of this desk have own moments. */
    int64_t strikes = (int64_t)strlen(keys) - 1;
    assert_int_equal(number(stage, LOGGED "official AND round = 1 AND off_clock = 0"), strikes);
    vt_type(ana, "q");
    watch_both(ana, ben, 300);
    vt_type(ana, "u");
    assert_true(rig_wait_total(ana, 'b', 0, 14));
    assert_true(rig_settled(ana) >= 0);
    assert_int_equal(number(stage, "SELECT count(DISTINCT at_ms) FROM entry WHERE kind = 'strike' "
                                   "AND desk = (SELECT min(desk) FROM entry)"),
                     strikes + 2);
    press(ana, "Enter", "STOPPED");
    press(ana, "Enter", "RUNNING");
    double before = counts(stage, "running_ms");
    times_pass(&stage->times, 20 * SECONDS);
    double after = counts(stage, "running_ms");
    assert_true(after - before >= 20000 && after - before < 60000);
    assert_true(vt_find(ana, "RUNNING", NULL, NULL));
    leave(ben);
    times_close(&ahead);
    /* The one strike more that the shadow has. */
    press(ana, "Enter", "STOPPED");
    press(ana, "F6", "SETTLE 1 of");
    assert_true(vt_find(ana, "right hand", NULL, NULL) || vt_find(ana, "left hand", NULL, NULL));
    press(ana, "Right", "settled");
    assert_true(rig_settled(ana) >= 0);
    assert_int_equal(number(stage, "SELECT count(*) FROM entry WHERE accepted"), 2);
    assert_true(rig_wait_total(ana, 'r', 0, 24));
    /* Two entries, one keystroke. */
    press(ana, "Esc", "newest");
    press(ana, "Backspace", "taken back");
    assert_true(rig_wait_total(ana, 'r', 0, 23));
    leave(ana);
}

int main(int argc, char **argv)
{
    cmocka_set_test_filter(argc > 1 ? argv[1] : NULL);
    const struct CMUnitTest tests[] = {
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
        TEST(clock__enter_after_the_bell__no_round_in_the_rest),
        TEST(clock__stop_before_the_bell__the_next_round_is_the_next),
        TEST(clock__round_forgotten__its_strikes_follow),
        TEST(clock__a_stray_start__costs_no_600_keys),
        TEST(clock__started_late__strikes_move_with_the_start),
        TEST(clock__the_end__stands_in_the_panel_and_stops_the_clock),
        TEST(clock__a_shadow__follows),
        TEST(clock__wall_set__said_and_nothing_jumps),
        TEST(clock__killed_under_a_wrong_wall__nothing_freezes),
        TEST(clock__a_closed_lid__takes_no_time_out),
        TEST(clock__another_machine_ahead__shifts_no_strike),
#undef TEST
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
