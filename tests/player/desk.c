/* desk.c: the real console on a recording, with the real player, and with players that are none. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include "ringtally/base/mono.h"
#include "rig.h"
#include "run.h"
#include "stage.h"

#define BOUT     "saltglass-4/1"
#define FPS      (30000.0 / 1001)
#define KEYS     30
#define ANSWERED 50 /* milliseconds in which a key is answered whatever the player does */

struct hall {
    struct rig rig;
    struct stage stage; /* without a player of its own: the console has it */
    struct vt *vt;
};

static struct vt *open_desk(struct hall *hall, const char *const *more)
{
    char runtime[128];
    snprintf(runtime, sizeof runtime, "XDG_RUNTIME_DIR=%s", hall->stage.folder);
    const char *env[] = {"RINGTALLY_PLAYER=mpv --vo=null --ao=null", runtime, NULL, NULL};
    char path[4000];
    snprintf(path, sizeof path, "PATH=%s", getenv("PATH"));
    env[2] = path;
    struct vt_setup setup = {.rows = 30, .columns = 100, .env = env};
    return rig_desk(&hall->rig, BOUT, more, &setup, RIG_READY);
}

static void hall_open(struct hall *hall, const char *clip)
{
    char path[512];
    const char *more[] = {"--operator", "ana", "--recording", path, NULL};
    snprintf(path, sizeof path, "%s/%s", CLIPS, clip);
    rig_init(&hall->rig, PROGRAM, CARD);
    stage_prepare(&hall->stage);
    hall->vt = open_desk(hall, more);
    assert_non_null(hall->vt);
    assert_true(vt_wait_text(hall->vt, "tagging", RIG_WAIT_MS));
    stage_connect(&hall->stage);
}

static void hall_close(struct hall *hall)
{
    assert_int_equal(rig_leave(hall->vt), 0);
    stage_close(&hall->stage);
    rig_release(&hall->rig);
}

static long number(struct hall *hall, const char *sql)
{
    return rig_number(&hall->rig, sql);
}

/* Media time of the n-th strike, as logged. */
static long media_of(struct hall *hall, int n)
{
    char sql[400];
    snprintf(sql, sizeof sql,
             "SELECT (SELECT at_ms FROM entry WHERE kind = 'strike' AND act = 'add' ORDER BY seq "
             "LIMIT 1 OFFSET %d) - (SELECT at_ms FROM entry WHERE kind = 'note')",
             n);
    return number(hall, sql);
}

static int frame_at(long media_ms)
{
    return (int)lround((double)media_ms * FPS / 1000);
}

/* Tagged while it stands at random places, while it plays and in slow motion: the frame that an
 * entry carries is the one that the picture shows, give or take one. */
static void desk__on_recording__an_entry_has_its_frame(void **state)
{
    static const char pad[] = "qwerasdfyuiohjkl";
    struct hall hall;
    int before[KEYS], after[KEYS];
    unsigned seed = 3;
    (void)state;
    hall_open(&hall, "29.97.mkv");
    vt_press(hall.vt, "Enter");
    assert_true(vt_wait_text(hall.vt, "round 1 begins", RIG_WAIT_MS));
    for (int i = 0; i < KEYS; i++) {
        char key[2] = {pad[i % 16], '\0'};
        char command[128];
        bool plays = i >= KEYS / 3;
        if (i == KEYS / 3) { /* from here on it plays; in the last third slowly */
            stage_command(&hall.stage,
                          "[\"seek\",6,\"absolute+exact\"]"); /* nothing is there yet */
            vt_watch(hall.vt, 150);
            vt_press(hall.vt, "F5");
            assert_true(vt_wait_text(hall.vt, " x1", RIG_WAIT_MS));
        } else if (i == 2 * KEYS / 3) {
            vt_press(hall.vt, "F7");
            vt_watch(hall.vt, RIG_FINGER_MS);
            vt_press(hall.vt, "F7");
            vt_watch(hall.vt, RIG_FINGER_MS);
            vt_press(hall.vt, "F7");
            assert_true(vt_wait_text(hall.vt, " x0.25", RIG_WAIT_MS));
        }
        if (!plays) {
            seed = seed * 1103515245u + 12345u;
            snprintf(command, sizeof command, "[\"seek\",%.3f,\"absolute+exact\"]",
                     (double)((seed >> 8) % 5000) / 1000 + 0.5);
            stage_command(&hall.stage, command);
            vt_watch(hall.vt, 150); /* a hand takes longer to come back from the seek's key */
        }
        stage_shoot(&hall.stage, 2 * i);
        int64_t until_ms = mono_ms() + RIG_WAIT_MS;
        vt_type(hall.vt, key);
        while (number(&hall, "SELECT count(*) FROM entry WHERE kind = 'strike'") <= i) {
            if (mono_ms() > until_ms) {
                vt_print(hall.vt, "a key was not logged");
                fail();
            }
            vt_pump(hall.vt, 5);
        }
        stage_shoot(&hall.stage, 2 * i + 1);
    }
    int shown[2 * KEYS];
    stage_read_frames(&hall.stage, shown, 2 * KEYS);
    for (int i = 0; i < KEYS; i++) {
        before[i] = shown[2 * i];
        after[i] = shown[2 * i + 1];
        int told = frame_at(media_of(&hall, i));
        if (told < before[i] - 1 || told > after[i] + 1) {
            fail_msg("key %d: logged at frame %d, on screen from %d to %d", i, told, before[i],
                     after[i]);
        }
    }
    assert_int_equal(number(&hall, "SELECT count(*) FROM entry WHERE review"), 0);
    hall_close(&hall);
}

/* The player is killed while it is tagged from: it is said, keys are taken all the same, one key
 * brings it back to the same spot, and nothing tagged is lost. */
static void desk__on_recording__the_player_is_killed(void **state)
{
    struct hall hall;
    (void)state;
    hall_open(&hall, "25.mkv");
    vt_press(hall.vt, "Enter");
    assert_true(vt_wait_text(hall.vt, "round 1 begins", RIG_WAIT_MS));
    for (int i = 0; i < 3; i++) {
        vt_type(hall.vt, "\033[F"); /* End */
        vt_watch(hall.vt, 150);
        vt_type(hall.vt, "w");
        assert_true(rig_wait_pad(hall.vt, 'w', 0, 2 * i + 1));
        long place = media_of(&hall, 2 * i);
        pid_t pid = (pid_t)stage_command(&hall.stage, "[\"get_property\",\"pid\"]");
        kill(pid, SIGKILL);
        assert_true(vt_wait_text(hall.vt, "NO PLAYER", RIG_WAIT_MS));
        assert_true(vt_wait_text(hall.vt, "F5 starts it again", RIG_WAIT_MS));
        vt_press(hall.vt, "F5");
        assert_true(vt_wait_gone(hall.vt, "NO PLAYER", RIG_WAIT_MS));
        assert_true(vt_wait_text(hall.vt, "paused", RIG_WAIT_MS));
        stage_connect(&hall.stage);
        double back = -1;
        for (int64_t until_ms = mono_ms() + 2000; fabs(back - (double)place) > 41;) {
            back = stage_command(&hall.stage, "[\"get_property\",\"time-pos\"]") * 1000;
            if (mono_ms() > until_ms) {
                fail_msg("killed at %ld ms, back at %.0f", place, back);
            }
        }
        vt_type(hall.vt, "w"); /* the same spot, so it is pointed out, and kept */
        assert_true(vt_wait_text(hall.vt, "is there already", RIG_WAIT_MS));
        vt_press(hall.vt, "Insert");
        assert_true(rig_wait_pad(hall.vt, 'w', 0, 2 * i + 2));
    }
    assert_true(rig_settled(hall.vt) > 0);
    assert_int_equal(number(&hall, "SELECT count(*) FROM entry WHERE kind = 'strike'"), 6);
    hall_close(&hall);
}

static void desk__on_recording__what_cannot_be_played(void **state)
{
    struct hall hall;
    const char *more[] = {"--recording", CLIPS "/no-video.mkv", NULL};
    (void)state;
    rig_init(&hall.rig, PROGRAM, CARD);
    stage_prepare(&hall.stage);
    hall.vt = open_desk(&hall, more);
    assert_non_null(hall.vt);
    assert_true(vt_wait_text(hall.vt, "cannot be played", RIG_WAIT_MS));
    vt_type(hall.vt, "w");
    assert_true(vt_wait_text(hall.vt, "is not open yet: the key was not logged", RIG_WAIT_MS));
    assert_int_equal(rig_leave(hall.vt), 0);
    more[1] = CLIPS "/sound.wav";
    hall.vt = open_desk(&hall, more);
    assert_true(vt_wait_text(hall.vt, "no picture", RIG_WAIT_MS));
    assert_int_equal(rig_leave(hall.vt), 0);
    assert_int_equal(number(&hall, "SELECT count(*) FROM entry WHERE kind = 'note'"), 0);
    stage_close(&hall.stage);
    rig_release(&hall.rig);
}

/* --- a whole bout --- */

#define PLAN 36

/* The n-th strike that happens in the clip: its key and its frame. */
static char plan_key(int n)
{
    static const char keys[] = "wieodskljrqupahf";
    return keys[n * 5 % 16];
}

static int plan_frame(int n)
{
    return 12 + n * 7 + n % 3;
}

static bool is_missed(int n)
{
    return n % 12 == 7; /* three of them */
}

static char live_key(int n)
{
    return n == 16 ? 'e' : n == 13 ? 'o' : plan_key(n); /* w and i with the other hand */
}

static double number_behind(const char *text, const char *mark, const char *name)
{
    const char *at = strstr(text, mark);
    at = at ? strstr(at, name) : NULL;
    assert_non_null(at);
    return strtod(at + strlen(name), NULL);
}

/* A bout tagged live by a script, with errors that are known, then from its recording frame by
 * frame: what `agree --reference` says of the live count is what was done to it. */
static void desk__on_recording__a_whole_bout_checks_the_live_count(void **state)
{
    struct hall hall;
    struct run ran;
    char script[320];
    (void)state;
    assert_int_equal(plan_key(16), 'w');
    assert_int_equal(plan_key(13), 'i');
    rig_init(&hall.rig, PROGRAM, CARD);
    snprintf(script, sizeof script, "%s/live.keys", hall.rig.folder);
    FILE *file = fopen(script, "w");
    assert_non_null(file);
    fprintf(file, "1.000 Enter\n");
    for (int n = 0; n < PLAN; n++) {
        if (!is_missed(n)) { /* 300 ms behind the frame, more or less */
            fprintf(file, "%.3f %c\n", 1.0 + (plan_frame(n) - 5) / 25.0 + 0.3 + n % 5 * 0.02,
                    live_key(n));
        }
    }
    assert_int_equal(fclose(file), 0);
    const char *live[] = {PROGRAM,  "--db", hall.rig.db, "desk", BOUT,         "--operator", "lena",
                          "--keys", script, "--speed",   "max",  "--headless", NULL};
    run(&ran, hall.rig.folder, live);
    assert_int_equal(ran.status, 0);

    stage_prepare(&hall.stage);
    const char *more[] = {"--operator", "ana", "--recording", CLIPS "/25.mkv", NULL};
    hall.vt = open_desk(&hall, more);
    assert_non_null(hall.vt);
    assert_true(vt_wait_text(hall.vt, "tagging", RIG_WAIT_MS));
    stage_connect(&hall.stage);
    for (int n = -1; n < PLAN; n++) {
        char command[128], key[2] = {'\0', '\0'};
        int frame = n < 0 ? 5 : plan_frame(n);
        snprintf(command, sizeof command, "[\"seek\",%.3f,\"absolute+exact\"]", frame / 25.0);
        stage_command(&hall.stage, command);
        snprintf(command, sizeof command, " f%d ", frame);
        assert_true(vt_wait_text(hall.vt, command, RIG_WAIT_MS));
        if (n < 0) {
            vt_press(hall.vt, "Enter");
            assert_true(vt_wait_text(hall.vt, "round 1 begins", RIG_WAIT_MS));
        } else {
            key[0] = plan_key(n);
            vt_type(hall.vt, key);
            int64_t until_ms = mono_ms() + RIG_WAIT_MS;
            while (number(&hall, "SELECT count(*) FROM entry e JOIN desk d ON d.id = e.desk WHERE "
                                 "d.name = 'ana-rec' AND e.kind = 'strike'") <= n) {
                assert_true(mono_ms() < until_ms);
                vt_pump(hall.vt, 5);
            }
        }
    }
    assert_int_equal(rig_leave(hall.vt), 0);
    for (int n = 0; n < PLAN; n++) {
        char sql[300];
        snprintf(sql, sizeof sql,
                 "SELECT e.at_ms - n.at_ms FROM entry e JOIN desk d ON d.id = e.desk JOIN entry n "
                 "ON n.desk = e.desk AND n.kind = 'note' WHERE d.name = 'ana-rec' AND e.kind = "
                 "'strike' ORDER BY e.at_ms LIMIT 1 OFFSET %d",
                 n);
        assert_int_equal(number(&hall, sql), plan_frame(n) * 40);
    }

    const char *agree[] = {PROGRAM,       "--db",    hall.rig.db, "agree", BOUT,
                           "--reference", "ana-rec", "--format",  "json",  NULL};
    run(&ran, hall.rig.folder, agree);
    if (ran.status != 0 || !strstr(ran.out, "\"told_apart\":true")) {
        fail_msg("%s", ran.out);
    }
    assert_true(number_behind(ran.out, "\"by\":\"all\"", "\"reference\":") == PLAN);
    assert_true(fabs(number_behind(ran.out, "\"by\":\"all\"", "\"had\":") - 33) < 0.5);
    assert_true(fabs(number_behind(ran.out, "\"by\":\"all\"", "\"limb\":") - 2) < 0.5);
    assert_true(fabs(number_behind(ran.out, "\"by\":\"all\"", "\"added\":") - 0) < 0.5);
    assert_true(fabs(number_behind(ran.out, "\"lag\":", "\"median_ms\":") - 340) < 30);
    const char *sheet[] = {PROGRAM, "--db", hall.rig.db, "sheet", BOUT, NULL};
    run(&ran, hall.rig.folder, sheet);
    assert_non_null(strstr(ran.out, "live count checked against the recording: 33 of its 36"));
    stage_close(&hall.stage);
    rig_release(&hall.rig);
}

static void expect_out(struct hall *hall, const char *const *argv, const char *text)
{
    struct run ran;
    run(&ran, hall->rig.folder, argv);
    if (ran.status != 0 || !strstr(ran.out, text)) {
        fail_msg("%s", ran.out);
    }
}

/* Nobody counted live: who tags the recording is the count, in documents and in the views, also
 * once a bell was moved. Who tags it too, or says --shadow, is beside it. */
static void desk__on_recording__without_a_live_count_it_is_the_count(void **state)
{
    struct hall hall;
    (void)state;
    hall_open(&hall, "25.mkv");
    assert_true(vt_find(hall.vt, "which is the count of this bout", NULL, NULL));
    assert_true(vt_find(hall.vt, "ana-rec counts", NULL, NULL));
    vt_press(hall.vt, "Enter");
    assert_true(vt_wait_text(hall.vt, "round 1 begins", RIG_WAIT_MS));
    for (int i = 0; i < 3; i++) {
        static const char *const keys[] = {"w", "I", "s"};
        vt_type(hall.vt, "\033[F"); /* End: 2 s on */
        vt_watch(hall.vt, 150);
        vt_type(hall.vt, keys[i]);
        assert_true(rig_wait_saved(hall.vt, 6 + i)); /* three offices, the note, the bell */
    }
    rig_finger(hall.vt, "Left"); /* the round began a second later */
    assert_true(vt_wait_text(hall.vt, "begins 1.00 s later", RIG_WAIT_MS));
    assert_int_equal(rig_leave(hall.vt), 0);
    assert_int_equal(number(&hall, "SELECT sum(attempted) FROM round_total"), 3);
    assert_int_equal(number(&hall, "SELECT sum(landed) FROM round_total WHERE corner = 'blue'"), 1);
    assert_int_equal(number(&hall, "SELECT count(*) FROM strike WHERE official AND elapsed_ms "
                                   "BETWEEN 700 AND 1300"),
                     1); /* the first, now a second after the bell */
    const char *counts[] = {PROGRAM, "--db", hall.rig.db, "counts", BOUT, "--format", "json", NULL};
    expect_out(&hall, counts, "\"attempted\":2,\"landed\":0");
    const char *sheet[] = {PROGRAM, "--db", hall.rig.db, "sheet", BOUT, NULL};
    expect_out(&hall, sheet, "official for red   ana-rec");
    const char *more[] = {"--operator", "ben", "--recording", CLIPS "/25.mkv", NULL, NULL};
    static const char *const said[] = {"ben-rec apart", "ana-rec counts", "ana-rec-2 apart"};
    for (int i = 0; i < 3; i++) {
        more[1] = i == 0 ? "ben" : "ana";
        more[4] = i == 2 ? "--shadow" : NULL;
        hall.vt = open_desk(&hall, more);
        assert_non_null(hall.vt);
        assert_true(vt_wait_text(hall.vt, said[i], RIG_WAIT_MS));
        assert_int_equal(rig_leave(hall.vt), 0);
    }
    stage_close(&hall.stage);
    rig_release(&hall.rig);
}

/* --- players that are none --- */

enum manner { MANNER_SILENT, MANNER_NONSENSE, MANNER_SLOW, MANNERS };

static const char opening[] =
    "{\"event\":\"property-change\",\"id\":1,\"data\":5.0}\n"
    "{\"event\":\"property-change\",\"id\":3,\"data\":25}\n"
    "{\"event\":\"property-change\",\"id\":4,\"data\":true}\n"
    "{\"event\":\"property-change\",\"id\":7,\"data\":600}\n"
    "{\"event\":\"property-change\",\"id\":8,\"data\":\"h264\"}\n"
    "{\"event\":\"property-change\",\"id\":9,\"data\":\"/nowhere/bout.mkv\"}\n";

/* A process that listens as a player would, and behaves so. */
static void misbehave(const char *path, enum manner manner, int ready)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int listener = socket(AF_UNIX, SOCK_STREAM, 0);
    char heard[4096];
    if (strlen(path) >= sizeof address.sun_path) {
        _exit(1);
    }
    memcpy(address.sun_path, path, strlen(path));
    if (bind(listener, (struct sockaddr *)&address, sizeof address) || listen(listener, 1) ||
        write(ready, "x", 1) != 1) {
        _exit(1);
    }
    int other = accept(listener, NULL, NULL);
    send(other, opening, sizeof opening - 1, MSG_NOSIGNAL);
    for (;;) {
        struct pollfd wait = {.fd = other, .events = POLLIN};
        poll(&wait, 1, manner == MANNER_NONSENSE ? 1 : 1000);
        if (wait.revents && recv(other, heard, sizeof heard, 0) <= 0) {
            _exit(0);
        }
        if (manner == MANNER_NONSENSE) {
            memset(heard, '{', sizeof heard);
            heard[sizeof heard - 1] = '\n';
            if (send(other, heard, sizeof heard, MSG_NOSIGNAL) < 0) {
                _exit(0);
            }
        } else if (manner == MANNER_SLOW && wait.revents) {
            const char *id = strstr(heard, "request_id\":");
            char line[128];
            poll(NULL, 0, 300);
            int size = snprintf(line, sizeof line,
                                "{\"request_id\":%ld,\"error\":\"success\",\"data\":7.5}\n",
                                id ? strtol(id + 12, NULL, 10) : 0);
            send(other, line, (size_t)size, MSG_NOSIGNAL);
        }
    }
}

static void desk__on_recording__keys_are_answered_whatever_the_player_does(void **state)
{
    (void)state;
    for (int manner = 0; manner < MANNERS; manner++) {
        struct hall hall;
        char path[256], byte = 0;
        const char *more[] = {"--player", path, NULL};
        int ready[2];
        rig_init(&hall.rig, PROGRAM, CARD);
        stage_prepare(&hall.stage);
        snprintf(path, sizeof path, "%s/fake", hall.stage.folder);
        assert_int_equal(pipe(ready), 0);
        pid_t fake = fork();
        if (fake == 0) {
            misbehave(path, (enum manner)manner, ready[1]);
        }
        assert_int_equal(read(ready[0], &byte, 1), 1);
        hall.vt = open_desk(&hall, more);
        assert_non_null(hall.vt);
        assert_true(vt_wait_text(hall.vt, "tagging from bout.mkv", RIG_WAIT_MS));
        double ms = 1e9;
        int64_t before = vt_now();
        for (int i = 0; i < 9;
             i++) { /* the first answer of each of these keys is a word on screen */
            static const char *const keys[] = {"w", "s", "i", "k", "e", "d", "o", "l", "r"};
            long landed = 0, attempted = 0;
            vt_watch(hall.vt, RIG_FINGER_MS);
            before = vt_now();
            vt_type(hall.vt, keys[i]);
            while (!rig_pad(hall.vt, keys[i][0], &landed, &attempted) || attempted != 1) {
                assert_true(vt_now() - before < (int64_t)RIG_WAIT_MS * 1000000);
                vt_pump(hall.vt, 5);
            }
            double took = (double)(vt_now() - before) / 1e6;
            ms = took < ms ? took : ms;
        }
        if (ms > ANSWERED) {
            fail_msg("manner %d: a key takes %.1f ms at best", manner, ms);
        }
        if (manner == MANNER_SILENT) {
            assert_true(vt_wait_text(hall.vt, "does not answer", RIG_WAIT_MS));
        }
        assert_true(rig_wait_saved(hall.vt, 9));
        /* By its last word, and flagged. */
        assert_int_equal(number(&hall, "SELECT count(*) FROM entry WHERE kind = 'strike' AND "
                                       "review"),
                         9);
        assert_int_equal(media_of(&hall, 0), 5000);
        assert_int_equal(rig_leave(hall.vt), 0);
        kill(fake, SIGKILL);
        waitpid(fake, NULL, 0);
        close(ready[0]);
        close(ready[1]);
        stage_close(&hall.stage);
        rig_release(&hall.rig);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desk__on_recording__an_entry_has_its_frame),
        cmocka_unit_test(desk__on_recording__the_player_is_killed),
        cmocka_unit_test(desk__on_recording__what_cannot_be_played),
        cmocka_unit_test(desk__on_recording__a_whole_bout_checks_the_live_count),
        cmocka_unit_test(desk__on_recording__without_a_live_count_it_is_the_count),
        cmocka_unit_test(desk__on_recording__keys_are_answered_whatever_the_player_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
