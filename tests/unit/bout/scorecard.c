/* The judges' cards: checks, totals, deductions, open scoring, CSV. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "officials.h"

static void score_parse__half_points__are_exact(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    char words[SCORE_BYTES];
    int half = -1;
    assert_int_equal(score_parse(&half, &rules, "9.5", NULL), 0);
    assert_int_equal(half, 19);
    assert_string_equal(score_words(words, half), "9.5");
    assert_int_equal(score_parse(&half, &rules, "9,5", NULL), 0);
    assert_int_equal(half, 19);
    assert_int_equal(score_parse(&half, &rules, "10", NULL), 0);
    assert_string_equal(score_words(words, half), "10");
    assert_int_equal(score_parse(&half, &rules, "8.0", NULL), 0);
    assert_int_equal(half, 16);
}

static void score_parse__no_score__is_refused(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    static const char *const bad[] = {"",    "x",  "-1", "9.25", "9.", ".5",        "9.7",
                                      "1e1", " 9", "9 ", "10.5", "11", "9999999999"};
    struct error err = {0};
    int half = 7;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        assert_int_equal(score_parse(&half, &rules, bad[i], NULL), ERROR_FAILED);
        assert_int_equal(half, 7);
    }
    assert_int_equal(score_parse(&half, &rules, "10.5", &err), ERROR_FAILED);
    assert_string_equal(err.text, "10.5: more than 10 points");
}

static void warns(const struct rules *rules, int red, int blue, int off_red, const char *expected)
{
    char text[256] = "";
    const uint8_t deducted[CORNER_COUNT] = {(uint8_t)off_red, 0};
    int warnings = score_check(text, sizeof text, rules, red, blue, deducted);
    assert_string_equal(text, expected);
    assert_int_equal(warnings > 0, expected[0] != '\0');
}

static void score_check__unusual_scores__are_warned_of(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    warns(&rules, 20, 18, 0, "");
    warns(&rules, 20, 20, 0, "");
    warns(&rules, 20, 12, 0, "");
    warns(&rules, 20, 10, 0, "5 is below 6, the lowest score that the rules name");
    warns(&rules, 18, 18, 0, "10-point must: one of them has 10");
    warns(&rules, 20, 19, 0, "the rules know no half points");
    warns(&rules, 18, 19, 0, "the rules know no half points; 10-point must: one of them has 10");
    /* A point taken from red: 9-9 was 10-9; 10-9 cannot have had it off yet. */
    warns(&rules, 18, 18, 2, "");
    warns(&rules, 20, 18, 2, "red had 1 taken off: is it off this score?");
    override(&rules, "scoring.deductions", "officials");
    warns(&rules, 20, 18, 2, "");
    override(&rules, "scoring.half_points", "yes"); /* N.M. Admin. Code 15.6.12.17: 10-9.5 */
    warns(&rules, 20, 19, 0, "");
    override(&rules, "scoring.even_rounds", "no"); /* AIBA: every round has a winner */
    warns(&rules, 20, 20, 0, "the rules know no even round");
}

static void scorecard_set__impossible__is_refused_and_nothing_changes(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {.judges = 3}, before = card;
    char warning[256];
    static const struct {
        int judge, round, red, blue;
        const char *message;
    } bad[] = {
        {4, 1, 20, 18, "judge 4: the bout has 3"},
        {0, 1, 20, 18, "judge 0: the bout has 3"},
        {1, 4, 20, 18, "round 4 was not boxed: 3 were"},
        {1, 0, 20, 18, "round 0 was not boxed: 3 were"},
        {1, 1, 21, 18, "red: a score from 0 to 10 points is needed"},
        {1, 1, 20, -1, "blue: a score from 0 to 10 points is needed"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error err = {0};
        assert_int_equal(scorecard_set(&card, &rules, 3, bad[i].judge, bad[i].round, bad[i].red,
                                       bad[i].blue, warning, sizeof warning, &err),
                         ERROR_FAILED);
        assert_string_equal(err.text, bad[i].message);
        assert_memory_equal(&card, &before, sizeof card);
    }
}

static void scorecard_total__deductions__come_off_once(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {0};
    add_card(&card, &rules, "10-9 9-9 10-9");
    card.deducted[1][R] = 2;
    struct card_total total = scorecard_total(&card, &rules, 1, 1, 3, false);
    assert_int_equal(total.half[R], 58); /* the judge took it off */
    assert_int_equal(total.half[B], 54);
    assert_int_equal(total.vote, R);
    override(&rules, "scoring.deductions", "officials");
    struct scorecard whole = {0};
    add_card(&whole, &rules, "10-9 10-9 10-9");
    whole.deducted[1][R] = 2;
    total = scorecard_total(&whole, &rules, 1, 1, 3, false);
    assert_int_equal(total.half[R], 58);
    assert_int_equal(total.half[B], 54);
    /* Never below 0 in a round: N.M. Admin. Code 15.6.12.22 D. */
    whole.deducted[1][R] = 60;
    assert_int_equal(scorecard_total(&whole, &rules, 1, 2, 2, false).half[R], 0);
}

static void scorecard_lead__after_each_round__counts_cards(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    struct scorecard card = {0};
    char words[16];
    add_card(&card, &rules, "10-9 9-10");
    add_card(&card, &rules, "9-10 9-10");
    add_card(&card, &rules, "10-10");
    struct vote vote = scorecard_lead(&card, &rules, 1);
    assert_string_equal(vote_words(words, &vote), "1-1-1");
    vote = scorecard_lead(&card, &rules, 2);
    assert_string_equal(vote_words(words, &vote), "0-1-1");
    assert_int_equal(vote.missing, 1);
}

static const struct bout three_judges = {.judges = 3,
                                         .judge = {"Ana Lume", "Bo \"Ox\" Reef", "Cy, Dune"}};

static void scorecard_dump__and_load__give_the_same_cards(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    struct scorecard card = {0}, back = {.judges = 3};
    struct buf csv = BUF_INIT, warnings = BUF_INIT;
    add_card(&card, &rules, "10-9 9.5-10 10-8");
    add_card(&card, &rules, "10-9 10-10");
    add_card(&card, &rules, "9-10");
    card.named[1] = 1 << B;
    scorecard_dump(&csv, &card, &three_judges);
    assert_false(csv.failed);
    /* RFC 4180 [from memory]: CRLF, quotes around commas and quotes, quotes doubled. */
    assert_string_equal(csv.text, "judge,round,red,blue,names\r\n"
                                  "Ana Lume,1,10,9,\r\nAna Lume,2,9.5,10,\r\nAna Lume,3,10,8,\r\n"
                                  "\"Bo \"\"Ox\"\" Reef\",1,10,9,blue\r\n"
                                  "\"Bo \"\"Ox\"\" Reef\",2,10,10,blue\r\n"
                                  "\"Cy, Dune\",1,9,10,\r\n");
    assert_int_equal(scorecard_load(&back, &warnings, &rules, &three_judges, 3, csv.text, csv.size,
                                    "s.csv", NULL),
                     0);
    assert_memory_equal(&back, &card, sizeof card);
    assert_string_equal(warnings.text, "s.csv:3: the rules know no half points\n");
    buf_release(&csv);
    buf_release(&warnings);
}

static void load_fails(const char *text, const char *message)
{
    struct rules rules = load_rules("kickboxing");
    struct scorecard card = {.judges = 3}, before = card;
    struct error err = {0};
    assert_int_equal(
        scorecard_load(&card, NULL, &rules, &three_judges, 3, text, strlen(text), "s.csv", &err),
        ERROR_FAILED);
    assert_string_equal(err.text, message);
    assert_memory_equal(&card, &before, sizeof card);
}

static void scorecard_load__bad_rows__name_file_and_line(void **state)
{
    (void)state;
    load_fails("", "s.csv:1: no scores: a first row judge,round,red,blue is needed");
    load_fails("judge,round,red\n", "s.csv:1: the columns judge, round, red and blue are needed");
    load_fails("judge,round,red,green\n",
               "s.csv:1: the first row names the columns: judge,round,red,blue,names");
    load_fails("judge,judge\n", "s.csv:1: a column is there twice");
    load_fails("judge,round,red,blue\n1,1,10,9\n4,1,10,9\n", "s.csv:3: no such judge on the bout");
    load_fails("judge,round,red,blue\nDi Fjord,1,10,9\n", "s.csv:2: no such judge on the bout");
    load_fails("judge,round,red,blue\n1st,1,10,9\n", "s.csv:2: no such judge on the bout");
    load_fails("judge,round,red,blue\n0001,1,10,9\n", "s.csv:2: no such judge on the bout");
    load_fails("judge,round,red,blue\n1,2nd,10,9\n",
               "s.csv:2: round: a whole number from 1 is needed");
    load_fails("judge,round,red,blue\n1,4,10,9\n", "s.csv:2: round 4 was not boxed: 3 were");
    load_fails("judge,round,red,blue\n1,one,10,9\n",
               "s.csv:2: round: a whole number from 1 is needed");
    load_fails("judge,round,red,blue\n1,1,ten,9\n",
               "s.csv:2: ten: no score: points or half points are needed");
    load_fails("judge,round,red,blue\n1,1,11,9\n", "s.csv:2: 11: more than 10 points");
    load_fails("judge,round,red,blue\n1,1,10\n",
               "s.csv:2: not as many fields as the first row has");
    load_fails("judge,round,red,blue\n1,1,10,9\n\nAna Lume,1,9,10",
               "s.csv:4: this judge's score of this round is there twice");
    load_fails("judge,round,red,blue,names\n1,1,10,10,red\n1,2,10,10,blue\n",
               "s.csv:3: names: the judge named the other corner in a row before");
    load_fails("judge,round,red,blue,names\n1,1,10,10,both\n",
               "s.csv:2: names: red, blue or nothing is needed");
    load_fails("judge,round,red,blue\n1,1,\"1\"0,9\n", "s.csv:2: no CSV: a quote out of place");
    load_fails("judge,round,red,blue\n\"1,1,10,9\n", "s.csv:2: no CSV: a quote out of place");
    load_fails("judge,round,red,blue,names,more\n",
               "s.csv:1: more than 5 columns: judge, round, red, blue and names are known");
}

static void scorecard_load__other_column_order_and_bom__are_read(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    struct scorecard card = {.judges = 3};
    const char *text = "\xef\xbb\xbf"
                       "blue,red,round,judge\n9,10,2,\"Cy, Dune\"";
    assert_int_equal(
        scorecard_load(&card, NULL, &rules, &three_judges, 3, text, strlen(text), "s.csv", NULL),
        0);
    assert_true(card.given[2][1]);
    assert_int_equal(card.half[2][1][R], 20);
    assert_int_equal(card.half[2][1][B], 18);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(score_parse__half_points__are_exact),
        cmocka_unit_test(score_parse__no_score__is_refused),
        cmocka_unit_test(score_check__unusual_scores__are_warned_of),
        cmocka_unit_test(scorecard_set__impossible__is_refused_and_nothing_changes),
        cmocka_unit_test(scorecard_total__deductions__come_off_once),
        cmocka_unit_test(scorecard_lead__after_each_round__counts_cards),
        cmocka_unit_test(scorecard_dump__and_load__give_the_same_cards),
        cmocka_unit_test(scorecard_load__bad_rows__name_file_and_line),
        cmocka_unit_test(scorecard_load__other_column_order_and_bom__are_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
