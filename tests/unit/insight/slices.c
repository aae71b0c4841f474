/* Slices: which strikes fall into which, what is not seen, and when a round is over. */
#include "../tally/blows.h"

#include <math.h>

#include "ringtally/insight/slices.h"

static struct slices cut(const struct fight *fight, int64_t now_ms)
{
    struct slices slices;
    struct error err = {0};
    struct stream stream = fight_stream(fight);
    assert_int_equal(slices_init(&slices, fight->fold, &stream, NULL, now_ms, &err), 0);
    stream_release(&stream);
    return slices;
}

static void slices__cut__ten_seconds_each(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 0, CORNER_RED, JAB, LANDED);
    fight_throw(&fight, 9999, CORNER_RED, LOW, MISSED);
    fight_throw(&fight, 10000, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 179999, CORNER_BLUE, JAB, LANDED);
    fight_clock(&fight, 180000, CODE_STOP);
    fight_throw(&fight, 181000, CORNER_BLUE, JAB, LANDED); /* behind the bell: the last one's */
    struct slices slices = cut(&fight, fight.start + 182000);
    const struct slice *red = slices.slice[CORNER_RED], *blue = slices.slice[CORNER_BLUE];
    assert_int_equal(slices.from[2] - slices.from[1], 18);
    assert_int_equal(red[0].all.attempted, 2);
    assert_int_equal(red[0].all.landed, 1);
    assert_int_equal(red[0].target[TARGET_LEG].attempted, 1);
    assert_int_equal(red[1].all.attempted, 1);
    assert_int_equal(blue[17].all.landed, 2);
    assert_int_equal(slices_ran(&slices, 1, 1), 180000);
    slices_release(&slices);
    fight_end(&fight);
}

/* A round is over at its bell, with the next one, or with the end of the bout. */
static void slices__over__at_the_bell(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct slices slices = cut(&fight, 500000);
    assert_int_equal(slices.over, 0);
    slices_release(&slices);
    fight_round(&fight);
    static const struct {
        int64_t at_ms;
        int over;
    } moments[] = {{0, 0}, {179999, 0}, {180000, 1}, {500000, 1}};
    for (size_t i = 0; i < sizeof moments / sizeof *moments; i++) {
        slices = cut(&fight, fight.start + moments[i].at_ms);
        assert_int_equal(slices.over, moments[i].over);
        assert_false(slices.ended);
        slices_release(&slices);
    }
    fight_clock(&fight, 70000, CODE_STOP);
    struct entry sign = test_entry(0, ++fight.seq, fight.start + 80000, ENTRY_SIGN);
    sign.code = CODE_SIGN;
    fight_add(&fight, sign);
    slices = cut(&fight, fight.start + 90000);
    assert_int_equal(slices.over, 1);
    assert_true(slices.ended);
    slices_release(&slices);
    fight_end(&fight);
}

/* Blue's desk came a minute late: the round is not whole, and its rate is of what was seen. */
static void slices__not_seen__no_rate_over_it(void **state)
{
    (void)state;
    struct bout bout = test_bout();
    struct desk_row desk = test_desk("aaaa", 0);
    struct fight fight = {.fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL), .start = 1000};
    assert_int_equal(fold_desk(fight.fold, &desk), 0);
    fight_add(&fight, test_official(0, ++fight.seq, 1, CODE_RED));
    fight_add(&fight, test_official(0, ++fight.seq, 1, CODE_CLOCK));
    fight_round(&fight);
    fight_add(&fight, test_official(0, ++fight.seq, fight.start + 60000, CODE_BLUE));
    for (int i = 0; i < 24; i++) {
        fight_throw(&fight, 61000 + 4900 * i, CORNER_RED, JAB, LANDED);
        fight_throw(&fight, 61100 + 4900 * i, CORNER_BLUE, JAB, LANDED);
    }
    fight_clock(&fight, 180000, CODE_STOP);
    struct slices slices = cut(&fight, fight.start + 180000);
    assert_true(slices.whole[CORNER_RED][1]);
    assert_false(slices.whole[CORNER_BLUE][1]);
    assert_int_equal(slices_seen_since(&slices, CORNER_RED, 1), 1);
    assert_int_equal(slices_seen_since(&slices, CORNER_BLUE, 1), 2);
    assert_int_equal(slices_seen_since(&slices, CORNER_NONE, 1), 2);
    struct span red = {CORNER_RED, 1, 1, MEASURE_THROWN, 0};
    struct span blue = {CORNER_BLUE, 1, 1, MEASURE_THROWN, 0};
    assert_true(fabs(slices_estimate(&slices, red, 0.95).value - 8.0) < 1e-9);
    assert_true(fabs(slices_estimate(&slices, blue, 0.95).value - 12.0) < 1e-9);
    slices_release(&slices);
    fight_end(&fight);
}

/* A desk that is gone for seconds takes those seconds out of the rate, and no more: what was thrown
 * in the slice before and after counts, and the rate is the one of every other sheet. */
static void slices__gone_for_seconds__rate_of_what_was_covered(void **state)
{
    (void)state;
    static const int64_t comes[] = {4000, 6000}; /* before and after the first slice's middle */
    for (size_t i = 0; i < sizeof comes / sizeof comes[0]; i++) {
        struct bout bout = test_bout();
        struct desk_row desk = test_desk("aaaa", 0);
        struct fight fight = {.fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL), .start = 1000};
        assert_int_equal(fold_desk(fight.fold, &desk), 0);
        fight_add(&fight, test_official(0, ++fight.seq, 1, CODE_RED));
        fight_add(&fight, test_official(0, ++fight.seq, 1, CODE_CLOCK));
        fight_round(&fight);
        fight_add(&fight, test_official(0, ++fight.seq, fight.start + comes[i], CODE_BLUE));
        for (int strike = 0; strike < 20; strike++) {
            fight_throw(&fight, 7000 + 100 * strike + (strike > 9 ? 50000 : 0), CORNER_BLUE, JAB,
                        LANDED);
        }
        fight_clock(&fight, 60000, CODE_STOP);
        struct slices slices = cut(&fight, fight.start + 60000);
        struct span blue = {CORNER_BLUE, 1, 1, MEASURE_THROWN, 0};
        const struct coverage_part *part = coverage_of(&slices.coverage, 1, CORNER_BLUE);
        assert_int_equal(part->covered_ms, 60000 - comes[i]);
        double rate = 20.0 / (double)part->covered_ms * 60000.0;
        assert_true(fabs(slices_estimate(&slices, blue, 0.95).value - rate) < 1e-9);
        slices_release(&slices);
        fight_end(&fight);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slices__cut__ten_seconds_each),
        cmocka_unit_test(slices__over__at_the_bell),
        cmocka_unit_test(slices__not_seen__no_rate_over_it),
        cmocka_unit_test(slices__gone_for_seconds__rate_of_what_was_covered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
