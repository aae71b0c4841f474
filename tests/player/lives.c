/* lives.c: a real player's life: started for its owner alone, killed, closed, at its end, with what
 * is no recording, and gone once its console is. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "ringtally/base/mono.h"
#include "stage.h"

#define KILLS 8

static pid_t pid_of(struct stage *stage)
{
    return (pid_t)stage_command(stage, "[\"get_property\",\"pid\"]");
}

static void wait_gone(pid_t pid)
{
    int64_t until_ms = mono_ms() + STAGE_WAIT_MS;
    while (kill(pid, 0) == 0) {
        assert_true(mono_ms() < until_ms);
        poll(NULL, 0, 5);
    }
}

static int is_pictured(const struct player_seen *seen)
{
    return seen->picture;
}

static void player__start__for_its_owner_alone_and_leaves_nothing(void **state)
{
    struct stage stage;
    struct stat about;
    char folder[160];
    (void)state;
    stage_open(&stage, "25.mkv");
    snprintf(folder, sizeof folder, "%s", stage.socket);
    *strrchr(folder, '/') = '\0';
    assert_int_equal(stat(folder, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0700);
    pid_t pid = pid_of(&stage);
    assert_true(pid > 0);
    stage_wait(&stage, is_pictured, "it has a picture");
    assert_true(player_seen(stage.player)->paused);
    assert_int_equal(player_seen(stage.player)->duration_ms, 12000);
    assert_string_equal(player_name(stage.player), "25.mkv");
    player_free(stage.player);
    stage.player = NULL;
    assert_int_equal(kill(pid, 0), -1);
    assert_int_equal(stat(folder, &about), -1);
    stage_close(&stage);
}

/* Killed at any moment, playing or not: lost is said, and one wish brings it back to the same
 * frame. */
static void player__restart__killed_at_random_moments(void **state)
{
    struct stage stage;
    struct error err = {0};
    unsigned seed = 7;
    (void)state;
    stage_open(&stage, "25.mkv");
    for (int i = 0; i < KILLS; i++) {
        seed = seed * 1103515245u + 12345u;
        int64_t at = (int64_t)(seed >> 8) % 9000;
        bool plays = i % 2 == 1;
        stage_seek(&stage, at);
        player_pause(stage.player, !plays);
        int64_t asked_ms = mono_ms();
        int64_t before = stage_ask(&stage);
        while (!plays && player_seen(stage.player)->media_ms != before) {
            /* what it said before that may come after it: its last word is what holds */
            before = stage_wait_media(&stage, 0, 12000);
        }
        pid_t pid = pid_of(&stage);
        kill(pid, SIGKILL);
        stage_wait(&stage, stage_is_lost, "the player is lost");
        int64_t passed_ms =
            mono_ms() - asked_ms; /* it can have played no longer, but for a frame */
        assert_int_equal(player_ask(stage.player, mono_ms()), 0);
        int64_t guess = player_guess(stage.player, mono_ms());
        assert_true(guess >= before - (plays ? 41 : 1) &&
                    guess <= before + (plays ? passed_ms + 41 : 1));
        assert_int_equal(player_restart(stage.player, &err), 0);
        stage_wait(&stage, stage_is_ready, "the player is back");
        stage_connect(&stage);
        stage_settle(&stage);
        stage_wait_media(&stage, guess - 41, guess + 41); /* a frame */
        assert_true(player_seen(stage.player)->paused);
    }
    stage_close(&stage);
}

static int is_ended(const struct player_seen *seen)
{
    return seen->ended;
}

static void player__seen__the_end_of_the_recording(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage, "25.mkv");
    stage_seek(&stage, 11500);
    player_pause(stage.player, false);
    stage_wait(&stage, is_ended, "the end is told");
    stage_wait_media(&stage, 11900, 12000); /* the last frame, 299 */
    assert_true(player_guess(stage.player, mono_ms() + 60000) <= 12000);
    player_seek(stage.player, 1000); /* and it goes on from anywhere */
    stage_wait_media(&stage, 960, 1040);
    stage_close(&stage);
}

static int is_repeated(const struct player_seen *seen)
{
    return seen->media_ms > 0 && seen->media_ms < 3300;
}

static int is_past(const struct player_seen *seen)
{
    return seen->media_ms > 3700;
}

static void player__repeat__until_told_otherwise(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage, "25.mkv");
    stage_seek(&stage, 3900);
    player_pause(stage.player, false);
    player_speed(stage.player, 2);
    player_repeat(stage.player, 3000, 4000);
    for (int i = 0; i < 2; i++) {
        stage_wait(&stage, is_repeated, "it begins again");
        stage_wait(&stage, is_past, "it comes to the end of the span");
    }
    assert_true(stage_ask(&stage) <= 4100);
    player_repeat_end(stage.player);
    stage_close(&stage);
}

static void player__start__what_is_no_recording(void **state)
{
    struct stage stage;
    struct error err = {0};
    struct player *player = NULL;
    (void)state;
    stage_prepare(&stage);
    assert_int_equal(player_start(&player, CLIPS "/nothing.mkv", 0, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "nothing.mkv: No such file"));
    err = (struct error){0};
    assert_int_equal(player_start(&player, CLIPS, 0, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "a folder"));
    /* A text: the player says so, and ends. */
    assert_int_equal(player_start(&stage.player, CLIPS "/no-video.mkv", 0, &err), 0);
    stage_wait(&stage, stage_is_lost, "it is lost");
    assert_non_null(strstr(player_seen(stage.player)->trouble, "cannot be played"));
    player_free(stage.player);
    /* Sound alone: it plays, without a picture. */
    assert_int_equal(player_start(&stage.player, CLIPS "/sound.wav", 0, &err), 0);
    stage_wait(&stage, stage_is_ready, "it plays");
    assert_false(player_seen(stage.player)->picture);
    player_free(stage.player);
    stage.player = NULL;
    /* One that gives up before anybody could connect: its exit code tells. */
    char refuses[128];
    snprintf(refuses, sizeof refuses, "%s/refuses", stage.folder);
    FILE *script = fopen(refuses, "w");
    assert_non_null(script);
    fputs("#!/bin/sh\nexit 2\n", script);
    fclose(script);
    assert_int_equal(chmod(refuses, 0700), 0);
    setenv("RINGTALLY_PLAYER", refuses, 1);
    assert_int_equal(player_start(&stage.player, CLIPS "/25.mkv", 0, &err), 0);
    stage_wait(&stage, stage_is_lost, "it is lost");
    assert_string_equal(player_seen(stage.player)->trouble, "the recording cannot be played");
    player_free(stage.player);
    stage.player = NULL;
    unlink(refuses);
    /* No such program. */
    setenv("RINGTALLY_PLAYER", "no-such-player-anywhere", 1);
    err = (struct error){0};
    assert_int_equal(player_start(&player, CLIPS "/25.mkv", 0, &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "no-such-player-anywhere does not start: No such file"));
    assert_null(player);
    stage_close(&stage);
}

/* However its console ends, a player does not outlive it. */
static void player__process__ends_with_its_console(void **state)
{
    struct stage stage;
    int told[2];
    pid_t pid = 0;
    (void)state;
    assert_int_equal(pipe(told), 0);
    pid_t console = fork();
    if (console == 0) {
        stage_open(&stage, "25.mkv");
        pid = pid_of(&stage);
        _exit(write(told[1], &pid, sizeof pid) == (ssize_t)sizeof pid ? 0 : 1);
    }
    assert_int_equal(read(told[0], &pid, sizeof pid), sizeof pid);
    assert_int_equal(waitpid(console, NULL, 0), console);
    wait_gone(pid);
    close(told[0]);
    close(told[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(player__start__for_its_owner_alone_and_leaves_nothing),
        cmocka_unit_test(player__restart__killed_at_random_moments),
        cmocka_unit_test(player__seen__the_end_of_the_recording),
        cmocka_unit_test(player__repeat__until_told_otherwise),
        cmocka_unit_test(player__start__what_is_no_recording),
        cmocka_unit_test(player__process__ends_with_its_console),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
