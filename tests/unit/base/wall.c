/* wall.c: what a program that stamps by the wall makes of a wall clock that is set. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>

#include <time.h>

#include "ringtally/base/mono.h"
#include "ringtally/base/wall.h"

static void wall_stamp__both_run_alike__the_wall(void **state)
{
    (void)state;
    struct wall wall = {.ahead_ms = 1000000 - 500, .last_ms = 1000000};
    int64_t step = -1;
    assert_int_equal(wall_stamp(&wall, 1000000 + 77, 500 + 77, &step), 1000077);
    assert_int_equal(step, 0);
    /* A closed lid for two hours: both clocks counted it. */
    assert_int_equal(wall_stamp(&wall, 1000000 + 7200000, 500 + 7200000, &step), 8200000);
    assert_int_equal(step, 0);
}

static void wall_stamp__slewed__followed_in_silence_and_never_falls(void **state)
{
    (void)state;
    struct wall wall = {.ahead_ms = 0, .last_ms = 0};
    int64_t step = -1, last = 0;
    /* 8 % slower than time, as fast as a time server slews by default at most (chrony.conf(5),
     * maxslewrate 83333.333 ppm; from memory), looked at once a second. */
    for (int64_t mono = 1000; mono <= 60000; mono += 1000) {
        int64_t stamp = wall_stamp(&wall, mono * 92 / 100, mono, &step);
        assert_int_equal(step, 0);
        assert_true(stamp > last);
        last = stamp;
    }
    /* A jitter backwards holds the stamp. */
    assert_int_equal(wall_stamp(&wall, last - 300, 60001, &step), last);
    assert_int_equal(step, 0);
}

static void wall_stamp__stepped__told_once_and_followed(void **state)
{
    (void)state;
    static const int64_t steps[] = {
        501, -501, 60000, -3600000, INT64_C(631152000000), INT64_C(-631152000000)};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        struct wall wall = {.ahead_ms = 2000, .last_ms = 3000};
        int64_t step = 0;
        assert_int_equal(wall_stamp(&wall, 3100 + steps[i], 1100, &step), 3100 + steps[i]);
        assert_int_equal(step, steps[i]);
        assert_int_equal(wall_stamp(&wall, 3110 + steps[i], 1110, &step), 3110 + steps[i]);
        assert_int_equal(step, 0);
    }
}

static void wall_now__real_clocks__no_step(void **state)
{
    (void)state;
    struct wall wall;
    int64_t step = -1;
    int64_t before = (int64_t)time(NULL) * 1000;
    wall_init(&wall);
    int64_t stamp = wall_now(&wall, &step);
    assert_int_equal(step, 0);
    assert_true(stamp >= before - 1000 && stamp <= before + 60000);
}

static void mono_wait__moment__not_before(void **state)
{
    (void)state;
    pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
    pthread_cond_t condition;
    assert_true(mono_cond_init(&condition));
    assert_int_equal(pthread_mutex_lock(&lock), 0);
    int64_t until = mono_ms() + 30;
    int looks = 0;
    while (mono_ms() < until && ++looks < 1000) {
        mono_wait(&condition, &lock, until);
    }
    /* It slept: a wait for a moment long past, or by another clock, would spin. */
    assert_true(mono_ms() >= until && looks < 10);
    mono_wait(&condition, &lock, 0); /* past: returns */
    pthread_mutex_unlock(&lock);
    pthread_cond_destroy(&condition);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wall_stamp__both_run_alike__the_wall),
        cmocka_unit_test(wall_stamp__slewed__followed_in_silence_and_never_falls),
        cmocka_unit_test(wall_stamp__stepped__told_once_and_followed),
        cmocka_unit_test(wall_now__real_clocks__no_step),
        cmocka_unit_test(mono_wait__moment__not_before),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
