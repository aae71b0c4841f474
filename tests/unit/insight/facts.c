/* Facts on fights small enough to count by hand. */
#include "../tally/blows.h"

#include <math.h>

#include "ringtally/insight/facts.h"

static struct facts read_facts(const struct fight *fight, int round)
{
    struct facts facts;
    struct error err = {0};
    struct stream stream = fight_stream(fight);
    assert_int_equal(facts_read(&facts, &stream, &windows_default, round, &err), 0);
    stream_release(&stream);
    return facts;
}

static void assert_count(struct count count, int landed, int attempted)
{
    assert_int_equal(count.landed, landed);
    assert_int_equal(count.attempted, attempted);
}

/* Red: jab-cross-low (1200 ms is still near), alone, jab-cross. Blue answers once in between. */
static struct fight small_fight(void)
{
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 1000, CORNER_RED, JAB, MISSED);
    fight_throw(&fight, 2200, CORNER_RED, CROSS, LANDED);
    fight_throw(&fight, 2500, CORNER_BLUE, LOW, LANDED);
    fight_throw(&fight, 2700, CORNER_RED, LOW, LANDED);
    fight_throw(&fight, 3901, CORNER_RED, JAB, MISSED); /* 1201 ms after: alone */
    fight_throw(&fight, 9000, CORNER_RED, JAB, LANDED);
    fight_throw(&fight, 9100, CORNER_RED, CROSS, MISSED);
    fight_throw(&fight, 10101, CORNER_BLUE, BODY, MISSED); /* 1001 ms after: no answer */
    return fight;
}

static void facts__combinations__lengths_sequences_and_ends(void **state)
{
    (void)state;
    struct fight fight = small_fight();
    struct facts facts = read_facts(&fight, 0);
    const struct combination_facts *red = &facts.corner[CORNER_RED].combinations;
    assert_int_equal(red->count, 2);
    assert_int_equal(red->longest, 3);
    assert_int_equal(red->length[1], 1);
    assert_int_equal(red->length[2], 1);
    assert_int_equal(red->length[3], 1);
    assert_int_equal(red->sequences[2], 2);
    assert_int_equal(red->sequence[2][0].code[0], code_of(JAB));
    assert_int_equal(red->sequence[2][0].code[1], code_of(CROSS));
    assert_count(red->sequence[2][0].count, 1, 2);
    assert_count(red->sequence[2][1].count, 1, 1);
    assert_int_equal(red->sequences[3], 1);
    assert_int_equal(red->sequence[3][0].code[2], code_of(LOW));
    assert_count(red->ends, 1, 2);
    assert_count(red->end[code_of(LOW)], 1, 1);
    assert_count(red->end[code_of(CROSS)], 0, 1);
    const struct combination_facts *blue = &facts.corner[CORNER_BLUE].combinations;
    assert_int_equal(blue->count, 0);
    assert_int_equal(blue->length[1], 2);
    fight_end(&fight);
}

static void facts__exchanges__both_corners_and_who_answers(void **state)
{
    (void)state;
    struct fight fight = small_fight();
    struct facts facts = read_facts(&fight, 1);
    /* cross, blue's low kick, low kick: the jab at 1000 is 1200 ms before */
    assert_int_equal(facts.exchanges, 1);
    const struct exchange_facts *red = &facts.corner[CORNER_RED].exchanges;
    const struct exchange_facts *blue = &facts.corner[CORNER_BLUE].exchanges;
    assert_int_equal(red->opened, 1);
    assert_int_equal(red->ended, 1);
    assert_int_equal(blue->opened + blue->ended, 0);
    assert_count(red->in, 2, 2);
    assert_count(blue->in, 1, 1);
    assert_count(red->counters, 1, 1);
    assert_count(blue->counters, 1, 1);
    fight_end(&fight);
}

static void facts__windows__are_settable(void **state)
{
    (void)state;
    struct fight fight = small_fight();
    struct facts facts;
    struct error err = {0};
    struct windows wide = {.combination_ms = 1201, .exchange_ms = 1001, .pace_ms = 1000};
    struct stream stream = fight_stream(&fight);
    assert_int_equal(facts_read(&facts, &stream, &wide, 0, &err), 0);
    assert_int_equal(facts.corner[CORNER_RED].combinations.longest, 4);
    assert_int_equal(facts.exchanges, 2);
    assert_count(facts.corner[CORNER_RED].busiest.count, 2, 2); /* 2200 and 2700 */
    assert_int_equal(facts.corner[CORNER_RED].busiest.until_ms, 2700);
    stream_release(&stream);
    fight_end(&fight);
}

static void facts__stance__output_accuracy_and_favourites(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 4; i++) {
        fight_throw(&fight, 5000 * (i + 1), CORNER_RED, JAB, i == 0 ? LANDED : MISSED);
    }
    fight_throw(&fight, 30000, CORNER_RED, LOW, LANDED);
    fight.stance[CORNER_RED] = STANCE_SOUTHPAW;
    fight_throw(&fight, 40000, CORNER_RED, BODY, LANDED);
    struct facts facts = read_facts(&fight, 0);
    const struct corner_facts *red = &facts.corner[CORNER_RED];
    assert_count(red->stance[STANCE_ORTHODOX].all, 2, 5);
    assert_int_equal(red->stance[STANCE_ORTHODOX].favourites, 2);
    assert_int_equal(red->stance[STANCE_ORTHODOX].favourite[0].code, code_of(JAB));
    assert_count(red->stance[STANCE_ORTHODOX].favourite[0].count, 1, 4);
    assert_count(red->stance[STANCE_SOUTHPAW].all, 1, 1);
    assert_int_equal(red->stance[STANCE_SQUARE].favourites, 0);
    assert_count(red->role[ROLE_LEAD], 1, 4);
    assert_count(red->role[ROLE_REAR], 2, 2);
    assert_count(red->met[ROLE_NONE], 1, 1); /* blue's stance is not known */
    fight_end(&fight);
}

static void facts__round__only_its_strikes(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 3; round++) {
        fight_round(&fight);
        for (int i = 0; i < round; i++) {
            fight_throw(&fight, 1000 + 100 * i, CORNER_BLUE, JAB, LANDED);
        }
    }
    for (int round = 1; round <= 3; round++) {
        struct facts facts = read_facts(&fight, round);
        assert_count(facts.corner[CORNER_BLUE].all, round, round);
        assert_int_equal(facts.corner[CORNER_BLUE].combinations.longest, round);
    }
    struct facts facts = read_facts(&fight, 0);
    assert_count(facts.corner[CORNER_BLUE].all, 6, 6);
    assert_int_equal(facts.corner[CORNER_BLUE].combinations.longest, 3);
    facts = read_facts(&fight, 7);
    assert_count(facts.corner[CORNER_BLUE].all, 0, 0);
    fight_end(&fight);
}

static void facts__long_combination__is_counted_with_the_longest(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 14; i++) {
        fight_throw(&fight, 200 * i, CORNER_RED, JAB, LANDED);
    }
    struct facts facts = read_facts(&fight, 0);
    assert_int_equal(facts.corner[CORNER_RED].combinations.length[COMBINATION_LONGEST], 1);
    assert_int_equal(facts.corner[CORNER_RED].combinations.longest, 14);
    assert_count(facts.corner[CORNER_RED].combinations.sequence[3][0].count, 12, 12);
    fight_end(&fight);
}

/* A nudge turned the clock back: the busiest minute goes by the clock. */
static void facts__busiest__by_the_round_clock(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    static const int32_t elapsed[] = {10000, 70000, 69999, 20000, 130000};
    for (int i = 0; i < 5; i++) {
        struct entry entry = test_strike(0, ++fight.seq, fight.start + 1000 * (i + 1), CORNER_RED,
                                         JAB, i == 1 ? LANDED : MISSED);
        entry.elapsed_ms = elapsed[i];
        fight_add(&fight, entry);
    }
    struct facts facts = read_facts(&fight, 0);
    /* (9999, 69999]: 10000, 20000, 69999; up to 70000 it is 20000, 69999, 70000 */
    assert_count(facts.corner[CORNER_RED].busiest.count, 0, 3);
    assert_int_equal(facts.corner[CORNER_RED].busiest.until_ms, 69999);
    fight_end(&fight);
}

static void facts__pace__a_minute_of_running_clock(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 30; i++) {
        fight_throw(&fight, 1000 * i, CORNER_RED, JAB, i % 2 ? LANDED : MISSED);
    }
    struct pace pace = pace_read(fight.fold, CORNER_RED, 1, fight.start + 90000, 0.95);
    assert_true(pace.thrown.defined);
    assert_true(fabs(pace.thrown.value - 20.0) < 1e-12);
    assert_true(fabs(pace.landed.value - 10.0) < 1e-12);
    assert_true(pace.thrown.low < 20.0 && pace.thrown.high > 20.0);
    struct stream stream = fight_stream(&fight);
    pace = pace_moving(&stream, CORNER_RED, 1, 70000, 60000, 0.95);
    assert_int_equal(pace.count.attempted, 19); /* 11 s .. 29 s */
    assert_int_equal(pace.ran_ms, 60000);
    pace = pace_moving(&stream, CORNER_RED, 1, 30000, 60000, 0.95);
    assert_int_equal(pace.count.attempted, 30);
    assert_true(fabs(pace.thrown.value - 60.0) < 1e-12);
    stream_release(&stream);
    fight_end(&fight);
}

/* No clock, no rate; no strike, no figure. Never a NaN. */
static void facts__degenerate__nothing_is_defined(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct facts facts = read_facts(&fight, 0);
    assert_int_equal(facts.exchanges, 0);
    assert_int_equal(facts.corner[CORNER_RED].busiest.count.attempted, 0);
    assert_int_equal(facts.corner[CORNER_RED].combinations.longest, 0);
    fight.round = 1; /* a strike before any clock */
    fight_throw(&fight, 0, CORNER_RED, JAB, LANDED);
    facts = read_facts(&fight, 1);
    assert_count(facts.corner[CORNER_RED].all, 1, 1);
    assert_int_equal(facts.corner[CORNER_RED].combinations.count, 0);
    assert_count(facts.corner[CORNER_RED].busiest.count, 1, 1);
    struct pace pace = pace_read(fight.fold, CORNER_RED, 1, fight.start + 5000, 0.95);
    assert_false(pace.thrown.defined);
    assert_true(pace.thrown.value == 0.0 && pace.thrown.high == 0.0);
    struct stream stream = fight_stream(&fight);
    pace = pace_moving(&stream, CORNER_RED, 1, 0, 60000, 0.95);
    assert_int_equal(pace.count.attempted, 1);
    assert_false(pace.landed.defined);
    pace = pace_moving(&stream, CORNER_BLUE, 1, 1000, 60000, 0.95);
    assert_true(pace.thrown.defined && pace.thrown.value == 0.0);
    stream_release(&stream);
    fight_end(&fight);
}

static void facts__taken__is_what_the_other_landed(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 1000, CORNER_RED, LOW, LANDED);
    const struct round_tally *all = &fold_tally(fight.fold)->all;
    assert_int_equal(tally_taken(all, CORNER_BLUE)->target[TARGET_LEG].landed, 1);
    assert_int_equal(tally_taken(all, CORNER_RED)->all.landed, 0);
    fight_end(&fight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(facts__combinations__lengths_sequences_and_ends),
        cmocka_unit_test(facts__exchanges__both_corners_and_who_answers),
        cmocka_unit_test(facts__windows__are_settable),
        cmocka_unit_test(facts__stance__output_accuracy_and_favourites),
        cmocka_unit_test(facts__round__only_its_strikes),
        cmocka_unit_test(facts__long_combination__is_counted_with_the_longest),
        cmocka_unit_test(facts__busiest__by_the_round_clock),
        cmocka_unit_test(facts__pace__a_minute_of_running_clock),
        cmocka_unit_test(facts__degenerate__nothing_is_defined),
        cmocka_unit_test(facts__taken__is_what_the_other_landed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
