/* Facts on fights small enough to count by hand. */
#include "../tally/blows.h"

#include "ringtally/insight/facts.h"

static struct facts read_facts(const struct fight *fight, int round)
{
    struct facts facts;
    struct stream stream = fight_stream(fight);
    facts_read(&facts, &stream, round);
    stream_release(&stream);
    return facts;
}

static void assert_count(struct count count, int landed, int attempted)
{
    assert_int_equal(count.landed, landed);
    assert_int_equal(count.attempted, attempted);
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
    }
    struct facts facts = read_facts(&fight, 0);
    assert_count(facts.corner[CORNER_BLUE].all, 6, 6);
    facts = read_facts(&fight, 7);
    assert_count(facts.corner[CORNER_BLUE].all, 0, 0);
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
        cmocka_unit_test(facts__stance__output_accuracy_and_favourites),
        cmocka_unit_test(facts__round__only_its_strikes),
        cmocka_unit_test(facts__taken__is_what_the_other_landed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
