/* The rules' limits, and the announced result against the log and what the cards imply. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "officials.h"

static void notices(const struct rules *rules, struct limit_counts counts, const char *expected)
{
    char text[256] = "";
    assert_int_equal(limit_notice(text, sizeof text, rules, &counts, B), expected[0] != '\0');
    assert_string_equal(text, expected);
}

static void limit_notice__at_the_rules_limit__names_it_and_decides_nothing(void **state)
{
    (void)state;
    /* stop-tko-counts-wmc: World Muaythai Council rules 13.3 [excerpt]: more than two counts in a
     * round, more than four in the bout. */
    struct rules rules = load_rules("muay-thai");
    notices(&rules, (struct limit_counts){.counts_round = 2, .counts_bout = 4}, "");
    notices(
        &rules, (struct limit_counts){.counts_round = 3, .counts_bout = 3},
        "blue: 3 counts in the round, the rules' limit; the officials decide (technical knockout "
        "(limit of counts), World Muaythai Council rules 13.3)");
    notices(
        &rules, (struct limit_counts){.counts_round = 1, .counts_bout = 5},
        "blue: 5 counts in the bout, the rules' limit; the officials decide (technical knockout "
        "(limit of counts), World Muaythai Council rules 13.3)");
    /* stop-dq-wako: WAKO Full Contact V17 Art. 5.6 [secondary]: the fourth warning. */
    rules = load_rules("low-kick");
    notices(&rules, (struct limit_counts){.warnings = 3}, "");
    notices(
        &rules, (struct limit_counts){.warnings = 4},
        "blue: 4 warnings in the bout, the rules' limit; the officials decide (disqualification, "
        "WAKO Rules ch. 8, Art. 5.6)");
    /* sanda-absolute and sanda-round: IWUF Art. 24.1.3 and 24.2.2 [secondary]. */
    rules = load_rules("sanda");
    notices(
        &rules, (struct limit_counts){.counts_round = 2, .counts_bout = 2},
        "blue: 2 counts in the round, the rules' limit; the officials decide (the round goes to "
        "the opponent, IWUF Art. 24.2.2)");
    notices(&rules, (struct limit_counts){.counts_round = 1, .counts_bout = 3},
            "blue: 3 counts in the bout, the rules' limit; the officials decide (absolute victory, "
            "IWUF Art. 24.1.3)");
    rules = load_rules("boxing"); /* knows none */
    notices(&rules, (struct limit_counts){9, 9, 9, 9, 9}, "");
}

/* 58 Pa. Code 27.3(b) [excerpt]: six kicks a round; Wyo. Rules 046-5 s. 5-5(f) [excerpt]: contact
 * must be attempted. */
static void kick_notice__below_the_minimum__counts_what_is_owed(void **state)
{
    (void)state;
    struct rules rules = load_rules("low-kick");
    struct strike kick = {.limb = LIMB_LEFT_LEG}, punch = {.limb = LIMB_LEFT_HAND};
    struct strike knee = {.limb = LIMB_KNEE};
    char text[128] = "";
    assert_true(kick_counts(&rules, &kick));
    assert_false(kick_counts(&rules, &punch));
    assert_false(kick_counts(&rules, &knee));
    assert_true(kick_notice(text, sizeof text, &rules, 5, R));
    assert_string_equal(text, "red: 5 of 6 kicks in the round; the officials decide (58 Pa. Code "
                              "27.3(b))");
    assert_false(kick_notice(text, sizeof text, &rules, 6, R));
    override(&rules, "kicks.counted", "landed");
    override(&rules, "kicks.limbs", "legs-and-knees");
    assert_false(kick_counts(&rules, &kick));
    kick.outcome = knee.outcome = OUTCOME_LANDED;
    assert_true(kick_counts(&rules, &kick));
    assert_true(kick_counts(&rules, &knee));
    rules = load_rules("muay-thai");
    assert_false(kick_notice(text, sizeof text, &rules, 0, R));
}

struct check {
    struct official official;
    enum official_fault fault;
    const char *text;
};

static struct official result(enum decision_kind kind, enum corner winner, int round, int seconds)
{
    return (struct official){
        (uint8_t)kind, (uint8_t)winner, round, seconds < 0 ? -1 : seconds * 1000, false, {0}};
}

static struct official with_vote(struct official official, int red, int blue, int even)
{
    official.voted = true;
    official.vote = (struct vote){red, blue, even, 0};
    return official;
}

static void check_results(const char *id, struct log_facts log, const struct check *checks,
                          size_t count)
{
    struct rules rules = load_rules(id);
    char text[256] = "";
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(official_check(text, sizeof text, &rules, &log, &checks[i].official),
                         checks[i].fault);
        assert_string_equal(text, checks[i].text);
    }
}

static void official_check__against_a_bout_stopped_in_round_two(void **state)
{
    (void)state;
    const struct log_facts log = {3, 3, 2, 74000, false};
    const struct check checks[] = {
        {result(DECISION_KNOCKOUT, R, 2, 74), OFFICIAL_FITS, ""},
        {result(DECISION_TKO_DOCTOR, B, 2, -1), OFFICIAL_FITS, ""},
        {result(DECISION_KNOCKOUT, R, 4, 60), OFFICIAL_IMPOSSIBLE, "knockout in round 4 of 3"},
        {result(DECISION_KNOCKOUT, R, 2, 181), OFFICIAL_IMPOSSIBLE,
         "3:01 is beyond round 2, which has 3:00"},
        {result(DECISION_KNOCKOUT, N, 2, 74), OFFICIAL_IMPOSSIBLE, "knockout: a winner is needed"},
        {result(DECISION_NO_CONTEST, R, 2, 74), OFFICIAL_IMPOSSIBLE,
         "no contest for red: it has no winner"},
        {result(DECISION_OPEN, N, 0, -1), OFFICIAL_IMPOSSIBLE, "open: no result of a bout"},
        {result(DECISION_NO_CONTEST, N, 0, 20), OFFICIAL_IMPOSSIBLE,
         "no contest: a time without its round"},
        {result(DECISION_KNOCKOUT, R, 3, 10), OFFICIAL_ODD,
         "knockout in round 3: by the log 2 rounds were begun"},
        {result(DECISION_KNOCKOUT, R, 1, 10), OFFICIAL_ODD,
         "knockout in round 1: by the log round 2 was begun"},
        {result(DECISION_KNOCKOUT, R, 2, 90), OFFICIAL_ODD,
         "1:30 in round 2: by the log it stopped at 1:14"},
        {result(DECISION_KNOCKOUT, R, 0, -1), OFFICIAL_ODD, "knockout: the round is missing"},
        {result(DECISION_UNANIMOUS, R, 2, 74), OFFICIAL_IMPOSSIBLE,
         "unanimous decision after round 2 of 3: the cards decide at the end"},
        {result(DECISION_UNANIMOUS, R, 0, -1), OFFICIAL_ODD,
         "unanimous decision: by the log 1 of 3 rounds are over"},
        {result(DECISION_WALKOVER, R, 0, -1), OFFICIAL_ODD,
         "walkover: by the log 2 rounds were begun"},
    };
    check_results("boxing", log, checks, sizeof checks / sizeof checks[0]);
}

static void official_check__against_a_bout_over_the_distance(void **state)
{
    (void)state;
    const struct log_facts log = {3, 3, 3, 180000, true};
    const struct check checks[] = {
        {with_vote(result(DECISION_SPLIT, R, 3, -1), 2, 1, 0), OFFICIAL_FITS, ""},
        {with_vote(result(DECISION_UNANIMOUS, R, 3, -1), 2, 1, 0), OFFICIAL_ODD,
         "unanimous decision: the vote 2-1-0 makes a split decision"},
        {with_vote(result(DECISION_SPLIT, B, 3, -1), 2, 1, 0), OFFICIAL_ODD,
         "split decision for blue: the vote 2-1-0 is none for blue"},
        /* Three of five judges counted at a games: officials can rule so. */
        {with_vote(result(DECISION_SPLIT, R, 3, -1), 3, 2, 0), OFFICIAL_ODD,
         "the vote 3-2-0 has 5 cards, the bout 3 judges"},
        {with_vote(result(DECISION_SPLIT, R, 3, -1), 0, 0, 0), OFFICIAL_IMPOSSIBLE,
         "0-0-0: no vote"},
        {result(DECISION_KNOCKOUT, R, 4, 10), OFFICIAL_ODD,
         "knockout in round 4 of 3: by the log no extension round was begun"},
        {result(DECISION_KNOCKOUT, R, 5, 10), OFFICIAL_IMPOSSIBLE, "knockout in round 5 of 4"},
    };
    check_results("kickboxing", log, checks, sizeof checks / sizeof checks[0]);
}

static enum official_compared compare(char text[256], const struct rules *rules,
                                      const struct official *official, const struct bout_end *end,
                                      const struct decision *implied)
{
    return official_compare(text, 256, rules, official, end, implied);
}

static void official_compare__with_the_cards__is_said(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {0};
    struct decision implied;
    struct bout_end end = {END_DISTANCE, N, 1, 180000, false, false};
    char text[256] = "";
    add_card(&card, &rules, "10-9");
    add_card(&card, &rules, "10-9");
    add_card(&card, &rules, "9-10");
    decision_make(&implied, &rules, 1, &card, &end, NULL);
    struct official official = with_vote(result(DECISION_SPLIT, R, 1, -1), 2, 1, 0);
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_AGREES);
    assert_string_equal(text, "");
    official.vote = (struct vote){2, 0, 1, 0};
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_DIFFERS);
    assert_string_equal(text, "announced: 2-0-1; the cards make it 2-1-0");
    official.winner = B;
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_DIFFERS);
    assert_string_equal(text,
                        "announced: split decision for blue; the cards and rules imply: split "
                        "decision for red");
}

/* What cannot be held against anything is said to be so, with the reason. */
static void official_compare__with_nothing__says_why_not(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {0};
    struct decision implied;
    struct bout_end end = {END_NOT_YET, N, 2, 0, false, false};
    struct official official = result(DECISION_TECHNICAL, B, 3, 60000);
    char text[256] = "";
    add_card(&card, &rules, "10-9");
    decision_make(&implied, &rules, 3, &card, &end, NULL);
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_NOT_COMPARED);
    assert_string_equal(text, "how it ended was not entered: not compared");
    official = result(DECISION_SPLIT, B, 0, -1);
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_NOT_COMPARED);
    assert_string_equal(text, "nothing is implied: not compared");
    end = (struct bout_end){END_KNOCKOUT, B, 2, 60000, false, true}; /* by what was announced */
    official = result(DECISION_KNOCKOUT, B, 2, 60000);
    decision_make(&implied, &rules, 3, &card, &end, NULL);
    assert_string_equal(implied.reason,
                        "as announced, red was counted out in round 2 at 1:00: the "
                        "rules call this a knockout for blue (COMAR 09.14.06.11 E)");
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_NOT_COMPARED);
    rules = load_rules("low-kick");
    end = (struct bout_end){END_ACCIDENTAL, N, 2, 60000, false, false};
    official = result(DECISION_TECHNICAL, B, 2, 60000);
    decision_make(&implied, &rules, 3, &card, &end, NULL);
    assert_int_equal(compare(text, &rules, &official, &end, &implied), OFFICIAL_NOT_COMPARED);
    assert_string_equal(text, "the rules leave it to the commission: not compared");
}

static void ending_check__against_a_bout_stopped_in_round_two(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    const struct log_facts log = {.rounds = 3, .judges = 3, .last_round = 2, .elapsed_ms = 60000};
    const struct {
        struct bout_end end;
        enum official_fault fault;
        const char *words;
    } checks[] = {
        {{END_KNOCKOUT, R, 2, 60000, false, false}, OFFICIAL_FITS, ""},
        {{END_KNOCKOUT, N, 2, 60000, false, false},
         OFFICIAL_IMPOSSIBLE,
         "knockout: a winner is needed"},
        {{END_KNOCKOUT, R, 0, -1, false, false}, OFFICIAL_ODD, "knockout: the round is missing"},
        {{END_KNOCKOUT, R, 9, 3599000, false, false},
         OFFICIAL_IMPOSSIBLE,
         "knockout in round 9 of 4"},
        {{END_DISQUALIFICATION, N, 0, -1, false, false},
         OFFICIAL_IMPOSSIBLE,
         "disqualification: a winner is needed"},
        {{END_ACCIDENTAL, N, 2, 59000, false, false}, OFFICIAL_FITS, ""},
        {{END_ACCIDENTAL, R, 2, 59000, false, false},
         OFFICIAL_IMPOSSIBLE,
         "accidental foul: it names no corner"},
        {{END_ACCIDENTAL, N, 2, -1, false, false},
         OFFICIAL_ODD,
         "accidental foul: the time in the round is missing"},
        {{END_ACCIDENTAL, N, 1, 59000, false, false},
         OFFICIAL_ODD,
         "accidental foul in round 1: by the log round 2 was begun"},
        {{END_INTENTIONAL, N, 2, 59000, false, false},
         OFFICIAL_IMPOSSIBLE,
         "intentional foul: the corner that it injured is needed"},
        {{END_DISTANCE, N, 0, -1, false, false},
         OFFICIAL_IMPOSSIBLE,
         "distance: the round is missing"},
        {{END_DISTANCE, N, 2, -1, false, false},
         OFFICIAL_IMPOSSIBLE,
         "distance after round 2 of 3"},
        {{END_NO_CONTEST, N, 2, 60000, false, false}, OFFICIAL_FITS, ""},
        {{END_NOT_YET, N, 0, -1, false, false}, OFFICIAL_FITS, ""},
    };
    for (size_t i = 0; i < sizeof checks / sizeof *checks; i++) {
        char text[256];
        enum official_fault fault = ending_check(text, sizeof text, &rules, &log, &checks[i].end);
        assert_string_equal(text, checks[i].words);
        assert_int_equal(fault, checks[i].fault);
    }
}

/* The sentences that a reader could take for the other corner. */
static void decision_make__stopped__names_who_was_stopped(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {0};
    struct decision decision;
    struct bout_end end = {END_REFEREE, B, 3, 60000, false, false};
    decision_make(&decision, &rules, 6, &card, &end, NULL);
    assert_string_equal(decision.reason,
                        "the referee stopped red in round 3 at 1:00: the rules call this a "
                        "technical knockout (referee) for blue (COMAR 09.14.06.12)");
    end.how = END_DOCTOR;
    end.elapsed_ms = -1; /* not said, so not told */
    decision_make(&decision, &rules, 6, &card, &end, NULL);
    assert_string_equal(decision.reason,
                        "red was stopped on the doctor's word in round 3: the rules call this a "
                        "technical knockout (doctor) for blue (COMAR 09.14.06.12)");
    for (int judge = 0; judge < 3; judge++) {
        add_card(&card, &rules, "10-9 10-9 10-9");
    }
    end = (struct bout_end){END_INTENTIONAL, B, 3, 60000, false, false};
    decision_make(&decision, &rules, 6, &card, &end, NULL);
    assert_int_equal(decision.kind, DECISION_TECHNICAL_DRAW);
    assert_string_equal(decision.reason,
                        "stopped by what an intentional foul did to blue before in round 3 at "
                        "1:00; 3 cards for red, none for blue: unanimous decision on the cards for "
                        "red, but blue, whom the foul injured, is behind: the rules make it a "
                        "technical draw (Utah Admin. Code R457-1-605(3))");
}

static void decision_make__no_round_to_count__is_no_even_card(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {.judges = 3};
    struct decision decision;
    struct bout_end end = {END_ACCIDENTAL, N, 1, 40000, false, false};
    override(&rules, "stops.cards_from", "round 1");
    override(&rules, "stops.partial_round", "left-out");
    decision_make(&decision, &rules, 6, &card, &end, NULL);
    assert_int_equal(decision.kind, DECISION_COMMISSION);
    assert_non_null(strstr(decision.reason, "no round to count"));
}

/* IWUF Art. 24.3.1: two rounds won are the bout, though a third is scheduled. */
static void decision_make__sanda_two_rounds_won__while_the_log_goes_on(void **state)
{
    (void)state;
    struct rules rules = load_rules("sanda");
    struct scorecard card = {0};
    struct decision decision;
    struct bout_end end = {END_NOT_YET, N, 2, 0, false, false};
    for (int judge = 0; judge < 5; judge++) {
        add_card(&card, &rules, "5-4 3-1");
    }
    decision_make(&decision, &rules, 3, &card, &end, NULL);
    assert_int_equal(decision.kind, DECISION_ROUNDS);
    assert_int_equal(decision.winner, R);
    end.round = 1;
    decision_make(&decision, &rules, 3, &card, &end, NULL);
    assert_int_equal(decision.kind, DECISION_OPEN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(limit_notice__at_the_rules_limit__names_it_and_decides_nothing),
        cmocka_unit_test(kick_notice__below_the_minimum__counts_what_is_owed),
        cmocka_unit_test(official_check__against_a_bout_stopped_in_round_two),
        cmocka_unit_test(official_check__against_a_bout_over_the_distance),
        cmocka_unit_test(official_compare__with_the_cards__is_said),
        cmocka_unit_test(official_compare__with_nothing__says_why_not),
        cmocka_unit_test(ending_check__against_a_bout_stopped_in_round_two),
        cmocka_unit_test(decision_make__stopped__names_who_was_stopped),
        cmocka_unit_test(decision_make__no_round_to_count__is_no_even_card),
        cmocka_unit_test(decision_make__sanda_two_rounds_won__while_the_log_goes_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
