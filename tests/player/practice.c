/* practice.c: practice as a trainee sees it: strikes called on a terminal, and a recording that the
 * real player plays. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/mono.h"
#include "rig.h"
#include "run.h"
#include "stage.h"

#define BOUT    "saltglass-4/1"
#define LATE_MS 300 /* of the trainee's keys, behind the frame */
#define BELL_MS 150 /* and of the bell's */

static double figure(const char *text, const char *name)
{
    char mark[64];
    snprintf(mark, sizeof mark, "\"%s\":", name);
    const char *at = strstr(text, mark);
    if (!at) {
        fail_msg("no %s in %s", name, text);
        return 0;
    }
    return strtod(at + strlen(mark), NULL);
}

static void report(struct run *ran, const struct rig *rig, const char *who)
{
    const char *argv[] = {rig->program, "--db",     rig->db, "practice", "--report",
                          who,          "--format", "json",  NULL};
    run(ran, rig->folder, argv);
    assert_int_equal(ran->status, 0);
}

/* The terminal view: each strike is typed when it stands on the screen. */
static void practice__fingers__what_is_called_is_typed(void **state)
{
    static const char *const limbs[] = {"left leg", "left hand", "right hand", "right leg", "knee"};
    static const char *const rows[3] = {"qwertyuiop", "asdfghjkl;", "zxcvbnm,./"};
    static const char *const targets[3] = {"head", "body", "leg"};
    struct rig rig;
    struct run ran;
    int called = 0;
    (void)state;
    rig_init(&rig, PROGRAM, CARD);
    const char *words[] = {PROGRAM,     "--db", rig.db,   "practice", "--level", "slow",
                           "--seconds", "10",   "--seed", "4",        "--calls", NULL};
    run(&ran, rig.folder, words);
    assert_int_equal(ran.status, 0);
    const char *argv[] = {PROGRAM, "--db",   rig.db, "practice",   "--level", "slow", "--seconds",
                          "10",    "--seed", "4",    "--operator", "tess",    NULL};
    struct vt_setup setup = {.argv = argv, .home = rig.folder};
    struct vt *vt = vt_open(&setup);
    assert_true(vt_wait_text(vt, "type what is called", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "rehearsal: nothing is saved", RIG_WAIT_MS));
    for (const char *line = ran.out; *line; line = strchr(line, '\n') + 1) {
        const char *key = strchr(line, ' ') + 1;
        char lower = (char)(*key >= 'A' && *key <= 'Z' ? *key - 'A' + 'a' : *key);
        char text[80], press[2] = {*key, '\0'};
        for (int row = 0; row < 3; row++) {
            const char *at = strchr(rows[row], lower);
            if (at) {
                int column = (int)(at - rows[row]); /* blue's knee is its first column */
                int limb = column < 5 ? column : column == 5 ? 4 : column - 6;
                snprintf(text, sizeof text, "%s  %s %s%s", column < 5 ? "RED " : "BLUE",
                         limbs[limb], targets[row], *key == lower ? "" : "  LANDED");
            }
        }
        assert_true(vt_wait_text(vt, text, RIG_WAIT_MS));
        vt_watch(vt, 200); /* a hand */
        vt_type(vt, press);
        assert_true(rig_wait_pad(vt, lower, *key != lower, 1));
        called++;
    }
    assert_true(called >= 3);
    assert_int_equal(vt_wait_exit(vt, RIG_WAIT_MS), 0);
    assert_true(vt_restored(vt));
    vt_close(vt);
    report(&ran, &rig, "tess");
    assert_true(figure(ran.out, "called") == called);
    assert_true(fabs(figure(ran.out, "answered") - called) < 0.2);
    assert_true(fabs(figure(ran.out, "right_first") - called) < 0.2);
    assert_true(figure(ran.out, "reaction_ms") >= 190);
    rig_release(&rig);
}

/* --- eyes --- */

static const struct {
    int frame;
    const char *key;
} plan[] = {{50, "w"}, {66, "I"}, {81, "f"}, {97, "o"}, {112, "E"}, {129, "k"}};
#define PLAN     ((int)(sizeof plan / sizeof *plan))
#define BELL     25 /* its frame */
#define MISSED   3
#define FRAME_MS 40

static struct vt *open_vt(const struct rig *rig, const struct stage *stage, const char *const *argv)
{
    static char runtime[128], path[4000];
    snprintf(runtime, sizeof runtime, "XDG_RUNTIME_DIR=%s", stage->folder);
    snprintf(path, sizeof path, "PATH=%s", getenv("PATH"));
    const char *env[] = {"RINGTALLY_PLAYER=mpv --vo=null --ao=null", runtime, path, NULL};
    struct vt_setup setup = {
        .argv = argv, .home = rig->folder, .rows = 30, .columns = 100, .env = env};
    struct vt *vt = vt_open(&setup);
    assert_non_null(vt);
    return vt;
}

/* The reference: to the frame, as in desk.c. */
static void tag(struct rig *rig, struct stage *stage)
{
    const char *argv[] = {PROGRAM,      "--db", rig->db,       "desk",          BOUT,
                          "--operator", "ana",  "--recording", CLIPS "/25.mkv", NULL};
    struct vt *vt = open_vt(rig, stage, argv);
    assert_true(vt_wait_text(vt, "tagging", RIG_WAIT_MS));
    stage_connect(stage);
    for (int n = -1; n < PLAN; n++) {
        char command[128];
        int frame = n < 0 ? BELL : plan[n].frame;
        snprintf(command, sizeof command, "[\"seek\",%.3f,\"absolute+exact\"]", frame / 25.0);
        stage_command(stage, command);
        snprintf(command, sizeof command, " f%d ", frame);
        assert_true(vt_wait_text(vt, command, RIG_WAIT_MS));
        vt_press(vt, n < 0 ? "Enter" : plan[n].key);
        assert_true(rig_wait_saved(vt, 6 + n)); /* three offices, the note, the bell */
    }
    assert_int_equal(rig_leave(vt), 0);
}

static void wait_media(struct stage *stage, struct vt *vt, double media_ms)
{
    int64_t until_ms = mono_ms() + RIG_WAIT_MS;
    while (stage_command(stage, "[\"get_property\",\"time-pos\"]") * 1000 < media_ms) {
        assert_true(mono_ms() < until_ms);
        vt_pump(vt, 2);
    }
}

/* The recording plays by itself; the trainee is late at the bell and at each strike, has one of
 * another hand and misses one. What comes back is that; the reaction is from the frame to the key,
 * however late the bell's was. */
static void practice__eyes__tagged_while_it_plays(void **state)
{
    struct rig rig;
    struct stage stage;
    struct run ran;
    (void)state;
    rig_init(&rig, PROGRAM, CARD);
    stage_prepare(&stage);
    tag(&rig, &stage);
    const char *argv[] = {PROGRAM,      "--db",        rig.db,    "practice",    "eyes",
                          BOUT,         "--reference", "ana-rec", "--recording", CLIPS "/25.mkv",
                          "--operator", "eva",         NULL};
    struct vt *vt = open_vt(&rig, &stage, argv);
    assert_true(vt_wait_text(vt, "rehearsal: nothing is saved", RIG_WAIT_MS));
    stage_wait_connect(&stage);
    for (int n = -1; n < PLAN; n++) {
        int frame = n < 0 ? BELL : plan[n].frame;
        wait_media(&stage, vt, frame * FRAME_MS + (n < 0 ? BELL_MS : LATE_MS));
        if (n != MISSED) {
            vt_press(vt, n < 0 ? "Enter" : n == 1 ? "U" : plan[n].key);
        }
    }
    assert_int_equal(rig_leave(vt), 0);
    report(&ran, &rig, "eva");
    double reaction_ms = figure(ran.out, "reaction_ms");
    printf("reaction %.0f ms\n", reaction_ms);
    if (figure(ran.out, "called") != PLAN || fabs(figure(ran.out, "answered") - (PLAN - 1)) > 0.3 ||
        fabs(figure(ran.out, "limb") - 1) > 0.3 || reaction_ms < LATE_MS - 80 ||
        reaction_ms > LATE_MS + 600) { /* a machine may be slow */
        fail_msg("%s", ran.out);
    }
    assert_non_null(strstr(ran.out, "\"kind\":\"eyes\""));
    assert_int_equal(rig_number(&rig, "SELECT count(*) FROM entry WHERE kind = 'strike'"), PLAN);
    stage_close(&stage);
    rig_release(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(practice__fingers__what_is_called_is_typed),
        cmocka_unit_test(practice__eyes__tagged_while_it_plays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
