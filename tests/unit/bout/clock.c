/* The round clock. Times in milliseconds from an arbitrary moment. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "ringtally/bout/clock.h"

static const struct clock_plan plan = {3, 1, 180000, 120000, 60000};

static void apply(struct round_clock *clock, enum entry_code code, int round, int32_t elapsed,
                  int64_t value, int64_t utc_ms)
{
    struct entry entry = {.kind = ENTRY_CLOCK,
                          .code = (uint8_t)code,
                          .round = (uint8_t)round,
                          .elapsed_ms = elapsed,
                          .value = value,
                          .utc_ms = utc_ms,
                          .at_ms = utc_ms};
    clock_apply(clock, &entry);
}

static void check(const struct round_clock *clock, int64_t now, enum clock_state state, int round,
                  int32_t remaining)
{
    struct clock_face face = clock_read(clock, now);
    assert_int_equal(face.state, state);
    assert_int_equal(face.round, round);
    assert_int_equal(face.remaining_ms, remaining);
}

static void clock__read__a_round_ends_by_itself_and_rest_counts(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    check(&clock, 0, CLOCK_READY, 1, 180000);
    apply(&clock, CODE_START, 1, 0, 0, 1000);
    check(&clock, 1000, CLOCK_RUNNING, 1, 180000);
    check(&clock, 180999, CLOCK_RUNNING, 1, 1);
    check(&clock, 181000, CLOCK_REST, 1, 60000);
    check(&clock, 200000, CLOCK_REST, 1, 41000);
    check(&clock, 900000, CLOCK_REST, 1, 0);
    apply(&clock, CODE_START, 2, 0, 0, 900000);
    check(&clock, 900500, CLOCK_RUNNING, 2, 179500);
    assert_int_equal(clock_ran(&clock, 1, 900500), 180000);
    assert_int_equal(clock_ran(&clock, 2, 900500), 500);
    assert_int_equal(clock_ran(&clock, 0, 900500), 180500);
}

static void clock__apply__a_stop_delays_the_bell(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    apply(&clock, CODE_START, 1, 0, 0, 0);
    apply(&clock, CODE_STOP, 1, 60000, 0, 60000);
    check(&clock, 90000, CLOCK_STOPPED, 1, 120000);
    apply(&clock, CODE_START, 1, 60000, 0, 100000);
    check(&clock, 219999, CLOCK_RUNNING, 1, 1);
    check(&clock, 220000, CLOCK_REST, 1, 60000);
    assert_int_equal(clock.stops[1], 1);
}

static void clock__apply__a_nudge_back_revives_a_round(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    apply(&clock, CODE_START, 1, 0, 0, 0);
    check(&clock, 180300, CLOCK_REST, 1, 59700);
    apply(&clock, CODE_NUDGE, 1, 180000, -1000, 180300);
    check(&clock, 180300, CLOCK_RUNNING, 1, 700);
    apply(&clock, CODE_NUDGE, 1, 179300, 1000, 180300);
    check(&clock, 180300, CLOCK_REST, 1, 60000 - 300);
}

static void clock__read__over_after_the_last_round_and_extension(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    apply(&clock, CODE_START, 3, 0, 0, 0);
    check(&clock, 180000, CLOCK_OVER, 3, 0);
    apply(&clock, CODE_START, 4, 0, 0, 200000);
    check(&clock, 200000, CLOCK_RUNNING, 4, 120000);
    assert_true(clock_read(&clock, 200000).extension);
    check(&clock, 320000, CLOCK_OVER, 4, 0);
}

static void clock__next_change__is_the_next_whole_second(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    assert_true(clock_next_change(&clock, 5) == INT64_MAX);
    apply(&clock, CODE_START, 1, 0, 0, 1000);
    assert_int_equal(clock_next_change(&clock, 1000), 2000);
    assert_int_equal(clock_next_change(&clock, 1300), 2000);
    apply(&clock, CODE_STOP, 1, 300, 0, 1300);
    assert_true(clock_next_change(&clock, 1400) == INT64_MAX);
}

/* The bell a little before the desk's own: the round is over, and its rest can be moved. */
static void clock__apply__a_stop_at_the_length_ends_the_round(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    apply(&clock, CODE_START, 1, 0, 0, 0);
    apply(&clock, CODE_STOP, 1, 180000, 0, 177000);
    assert_int_equal(clock.stops[1], 0);
    check(&clock, 177000, CLOCK_REST, 1, 60000);
    check(&clock, 187000, CLOCK_REST, 1, 50000);
    assert_int_equal(clock_read(&clock, 187000).ended_ms, 177000);
    apply(&clock, CODE_NUDGE, 1, 180000, 5000, 187000); /* the rest is five seconds further */
    check(&clock, 187000, CLOCK_REST, 1, 45000);
    assert_int_equal(clock_read(&clock, 187000).ended_ms, 172000);
    apply(&clock, CODE_NUDGE, 1, 180000, -10000, 187000);
    check(&clock, 187000, CLOCK_REST, 1, 55000);
    apply(&clock, CODE_NUDGE, 1, 180000, -7000, 187000); /* back into the round, where it stands */
    check(&clock, 187000, CLOCK_STOPPED, 1, 2000);
    check(&clock, 200000, CLOCK_STOPPED, 1, 2000);
}

static void clock__apply__no_time_passes_by_a_jump_of_the_wall(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    apply(&clock, CODE_JUMP, 1, 0, 5000, 500); /* before the first round: nothing to move */
    check(&clock, 5500, CLOCK_READY, 1, 180000);
    apply(&clock, CODE_START, 1, 0, 0, 10000);
    apply(&clock, CODE_JUMP, 1, 5000, -3600000, 15000 - 3600000);
    check(&clock, 15000 - 3600000, CLOCK_RUNNING, 1, 175000);
    check(&clock, 20000 - 3600000, CLOCK_RUNNING, 1, 170000);
    apply(&clock, CODE_JUMP, 1, 180000, 7200000, 200000 + 3600000); /* in the rest */
    check(&clock, 200000 + 3600000, CLOCK_REST, 1, 50000);
}

static void clock__end__stands_for_good(void **state)
{
    (void)state;
    struct round_clock clock;
    clock_init(&clock, &plan);
    apply(&clock, CODE_START, 1, 0, 0, 0);
    clock_end(&clock, 200000); /* in the rest */
    check(&clock, 200000, CLOCK_OVER, 1, 0);
    check(&clock, 900000, CLOCK_OVER, 1, 0);
    assert_int_equal(clock_read(&clock, 900000).elapsed_ms, 180000);
    assert_int_equal(clock_read(&clock, 900000).ended_ms, 200000);
    apply(&clock, CODE_START, 2, 0, 0, 240000);
    check(&clock, 900000, CLOCK_OVER, 1, 0);
    apply(&clock, CODE_JUMP, 1, 0, 7000000, 7000000);
    assert_int_equal(clock_read(&clock, 7900000).ended_ms, 7200000);
    clock_reopen(&clock);
    check(&clock, 7210000, CLOCK_REST, 1, 30000);
}

/* A round begun anew: what was told of it and of later ones never was, to the millisecond. */
static void clock__apply__anew_forgets_later_rounds(void **state)
{
    (void)state;
    struct round_clock clock = {.plan = plan};
    apply(&clock, CODE_START, 1, 0, 0, 0);
    apply(&clock, CODE_START, 2, 0, 0, 240000);
    apply(&clock, CODE_STOP, 2, 30000, 0, 270000);
    apply(&clock, CODE_START, 3, 0, 0, 480000);
    assert_int_equal(clock_ran(&clock, 2, 481000), 30000);
    apply(&clock, CODE_START, 2, 10000, 0, 500000); /* the third was the second, gone on */
    assert_int_equal(clock_ran(&clock, 1, 501000), 180000);
    assert_int_equal(clock_ran(&clock, 2, 501000), 11000);
    assert_int_equal(clock_ran(&clock, 3, 501000), 0);
    apply(&clock, CODE_START, 1, 0, 0, 600000);
    assert_int_equal(clock_ran(&clock, 0, 601000), 1000);
    for (int round = 2; round <= ROUND_MAX; round++) {
        assert_int_equal(clock_ran(&clock, round, 601000), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock__read__a_round_ends_by_itself_and_rest_counts),
        cmocka_unit_test(clock__apply__a_stop_delays_the_bell),
        cmocka_unit_test(clock__apply__a_nudge_back_revives_a_round),
        cmocka_unit_test(clock__read__over_after_the_last_round_and_extension),
        cmocka_unit_test(clock__apply__a_stop_at_the_length_ends_the_round),
        cmocka_unit_test(clock__apply__no_time_passes_by_a_jump_of_the_wall),
        cmocka_unit_test(clock__end__stands_for_good),
        cmocka_unit_test(clock__apply__anew_forgets_later_rounds),
        cmocka_unit_test(clock__next_change__is_the_next_whole_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
