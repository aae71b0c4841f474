/* frames.c: the media time that the player tells is that of the frame on screen. What is on screen
 * is read off the picture itself: each frame of the clip carries its number. */
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
#include "stage.h"

#define SEEKS   200
#define STEPS   30
#define SAMPLES 10

static const char *clip;
static double fps;

static int frame_at(int64_t media_ms)
{
    return (int)lround((double)media_ms * fps / 1000);
}

static void check(const char *how, int i, int64_t media_ms, int shown, int least, int most)
{
    int told = frame_at(media_ms);
    if (told < shown - most || told > shown + least) {
        fail_msg("%s %d at %s: told %lld ms, frame %d, and frame %d is on screen", how, i, clip,
                 (long long)media_ms, told, shown);
    }
}

static void player__ask__after_random_seeks(void **state)
{
    struct stage stage;
    int64_t told[SEEKS];
    int shown[SEEKS];
    unsigned seed = 20260214;
    (void)state;
    stage_open(&stage, clip);
    assert_true(fabs(player_seen(stage.player)->fps - fps) < 0.01);
    for (int i = 0; i < SEEKS; i++) {
        seed = seed * 1103515245u + 12345u;
        stage_seek(&stage, (int64_t)(seed >> 8) % 11900);
        told[i] = stage_ask(&stage);
        stage_shoot(&stage, i);
    }
    stage_read_frames(&stage, shown, SEEKS);
    for (int i = 0; i < SEEKS; i++) {
        check("seek", i, told[i], shown[i], 1, 1);
    }
    stage_close(&stage);
}

static void player__ask__stepping(void **state)
{
    struct stage stage;
    int64_t told[STEPS + 10];
    int shown[STEPS + 10];
    (void)state;
    stage_open(&stage, clip);
    stage_seek(&stage, 2000);
    int64_t before = stage_ask(&stage);
    for (int i = 0; i < STEPS + 10; i++) {
        bool back = i >= STEPS;
        int64_t until_ms = mono_ms() + STAGE_WAIT_MS;
        player_step_frame(stage.player, back);
        stage_settle(&stage);
        while ((told[i] = stage_ask(&stage)) == before) { /* the step is taken in its own time */
            assert_true(mono_ms() < until_ms);
        }
        stage_settle(&stage);
        told[i] = stage_ask(&stage);
        stage_shoot(&stage, i);
        if (frame_at(told[i]) != frame_at(before) + (back ? -1 : 1)) {
            fail_msg("step %d: from %lld to %lld ms", i, (long long)before, (long long)told[i]);
        }
        before = told[i];
    }
    stage_read_frames(&stage, shown, STEPS + 10);
    for (int i = 0; i < STEPS + 10; i++) {
        check("step", i, told[i], shown[i], 1, 1);
    }
    stage_close(&stage);
}

/* What is on screen lies between what was told just before and just after. */
static void playing(double speed)
{
    struct stage stage;
    int64_t before[SAMPLES], after[SAMPLES];
    int shown[SAMPLES];
    stage_open(&stage, clip);
    player_speed(stage.player, speed);
    player_pause(stage.player, false);
    int64_t at = stage_ask(&stage);
    for (int i = 0; i < SAMPLES; i++) {
        int64_t until_ms = mono_ms() + STAGE_WAIT_MS;
        while (stage_ask(&stage) < at + (int64_t)(200 * speed)) {
            assert_true(mono_ms() < until_ms);
        }
        before[i] = stage_ask(&stage);
        stage_shoot(&stage, i);
        after[i] = at = stage_ask(&stage);
    }
    assert_true(fabs(player_seen(stage.player)->speed - speed) < 0.01);
    assert_false(player_seen(stage.player)->paused);
    stage_read_frames(&stage, shown, SAMPLES);
    for (int i = 0; i < SAMPLES; i++) {
        check("playing, before", i, before[i], shown[i], 1,
              frame_at(after[i]) - frame_at(before[i]) + 1);
        check("playing, after", i, after[i], shown[i], frame_at(after[i]) - frame_at(before[i]) + 1,
              1);
    }
    stage_close(&stage);
}

static void player__ask__playing(void **state)
{
    (void)state;
    playing(1);
}

static void player__ask__in_slow_motion(void **state)
{
    (void)state;
    playing(0.25);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(player__ask__after_random_seeks),
        cmocka_unit_test(player__ask__stepping),
        cmocka_unit_test(player__ask__playing),
        cmocka_unit_test(player__ask__in_slow_motion),
    };
    if (argc != 3) {
        fprintf(stderr, "frames CLIP FPS\n");
        return 2;
    }
    clip = argv[1];
    fps = strtod(argv[2], NULL);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
