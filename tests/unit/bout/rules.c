/* Rule sets as data: the strict parser, the shipped files, what a bout may override. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "officials.h"
#include "ringtally/base/embedded.h"

#define HEAD                                                                                       \
    "[rules]\nid = own\ntitle = Own\nrounds = 3\nround_seconds = 120\njudges = 3\n"                \
    "[strikes]\nleft_hand = head\n"

static void parse_fails(const char *text, const char *message)
{
    struct rules rules;
    struct error err = {0};
    assert_int_equal(rules_parse(&rules, text, strlen(text), "r.ini", &err), ERROR_FAILED);
    assert_string_equal(err.text, message);
}

static void rules_parse__bad_text__names_file_line_and_reason(void **state)
{
    (void)state;
    parse_fails(HEAD "[scoring]\ncolour = red\n", "r.ini:10: [scoring] knows no colour");
    parse_fails(HEAD "[judging]\ntie = draw\n", "r.ini:10: no such section: [judging]");
    parse_fails(HEAD "[scoring]\ntie = rematch\n",
                "r.ini:10: tie = rematch: draw or extension or judges is needed");
    parse_fails(HEAD "[scoring]\nopen = maybe\n", "r.ini:10: open = maybe: no or yes is needed");
    parse_fails(HEAD "[scoring]\nlowest = 10\n",
                "r.ini:10: lowest = 10: a whole number from 1 to 9 is needed");
    parse_fails(HEAD "[scoring]\nopen = no\nopen = no\n", "r.ini:11: open is there twice");
    parse_fails(HEAD "[rules]\nrounds = 3\n", "r.ini:10: rounds is there twice");
    parse_fails(HEAD "[stops]\ncards_from = later\n",
                "r.ini:10: cards_from = later: after N, round N, half, majority or commission is "
                "needed");
    parse_fails(HEAD "[stops]\ncards_from = after 0\n",
                "r.ini:10: cards_from = 0: a whole number from 1 to 20 is needed");
    parse_fails(HEAD "[clauses]\nbeer = x\n", "r.ini:10: [clauses] knows no beer");
    parse_fails(HEAD "[names]\nwin = x\n", "r.ini:10: [names] knows no win");
    parse_fails(HEAD "[clauses]\ntie = a\ntie = b\n", "r.ini:11: tie is there twice");
    parse_fails(HEAD "[scoring]\ntie = extension\n",
                "r.ini: tie = extension needs extension_rounds");
    parse_fails(HEAD "[limits]\nround_limit_ends = round\n",
                "r.ini: round_limit_ends = round needs system = rounds");
    parse_fails("[rules]\nid = own\n",
                "r.ini: a rule set needs title, rounds, round_seconds, judges, "
                "any strike in [strikes]");
}

static void rules_parse__nothing_said_of_officials__leaves_it_to_the_commission(void **state)
{
    (void)state;
    struct rules rules;
    assert_int_equal(rules_parse(&rules, HEAD, strlen(HEAD), "r.ini", NULL), 0);
    assert_int_equal(rules.scoring.system, SYSTEM_POINTS);
    assert_int_equal(rules.scoring.even_rounds, 1);
    assert_int_equal(rules.scoring.tie, TIE_DRAW);
    assert_int_equal(rules.stops.cards_kind, CARDS_COMMISSION);
    assert_int_equal(rules.kicks.minimum, 0);
    assert_string_equal(rules.clause[CLAUSE_TIE], "");
}

/* What the clauses in the files say, read back. */
static void rules_parse__shipped_files__say_what_their_clauses_say(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    assert_int_equal(rules.stops.cards_kind, CARDS_HALF); /* S.D. Admin. R. 20:81:04:22 */
    assert_int_equal(rules.stops.early, EARLY_NO_DECISION);
    assert_string_equal(rules.clause[CLAUSE_ACCIDENTAL], "S.D. Admin. R. 20:81:04:22");
    rules = load_rules("kickboxing");
    assert_int_equal(rules.stops.cards_kind, CARDS_MAJORITY); /* Wis. SPS 192.59(6) */
    assert_int_equal(rules.stops.early, EARLY_NO_CONTEST);
    assert_int_equal(rules.scoring.tie, TIE_EXTENSION);
    assert_int_equal(rules.scoring.lowest, 6); /* Wis. SPS 192.58 */
    rules = load_rules("low-kick");
    assert_int_equal(rules.kicks.minimum, 6);   /* 58 Pa. Code 27.3(b) */
    assert_int_equal(rules.limits.warnings, 4); /* WAKO Rules ch. 8, Art. 5.6 */
    rules = load_rules("muay-thai");
    assert_int_equal(rules.limits.counts_round, 3); /* World Muaythai Council rules 13.3 */
    assert_int_equal(rules.limits.counts_bout, 5);
    assert_int_equal(rules.scoring.lowest, 7); /* IFMA rule 17.5.1 */
    rules = load_rules("sanda");
    assert_int_equal(rules.scoring.system, SYSTEM_ROUNDS); /* IWUF Art. 24.3.1 */
    assert_int_equal(rules.limits.counts_round, 2);        /* IWUF Art. 24.2.2 */
    assert_int_equal(rules.limits.round_limit, ROUND_LIMIT_ROUND);
    assert_string_equal(decision_name(&rules, DECISION_TKO_LIMIT), "absolute victory");
}

static void rules_override__a_value__is_cited_as_the_bouts_own(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    override(&rules, "scoring.tie", "draw");
    assert_int_equal(rules.scoring.tie, TIE_DRAW);
    assert_string_equal(rules.clause[CLAUSE_TIE], "this bout's own terms");
    override(&rules, "clauses.tie", "Cal. Code Regs. tit. 4 s. 520");
    assert_string_equal(rules.clause[CLAUSE_TIE], "Cal. Code Regs. tit. 4 s. 520");
    override(&rules, "round_seconds", "120");
    assert_int_equal(rules.round_ms, 120000);
    override(&rules, "stops.cards_from", "round 4");
    assert_int_equal(rules.stops.cards_kind, CARDS_ROUND);
    assert_int_equal(rules.stops.cards_from, 4);
    override(&rules, "names.majority_decision", "win by majority");
    assert_string_equal(decision_name(&rules, DECISION_MAJORITY), "win by majority");
    override(&rules, "scoring.open", "yes");
    assert_int_equal(rules_check(&rules, NULL), 0);
}

static void rules_override__what_does_not_fit__is_found_by_the_check(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct error err = {0};
    override(&rules, "scoring.tie", "extension");
    assert_int_equal(rules_check(&rules, &err), ERROR_FAILED);
    assert_string_equal(err.text, "tie = extension needs extension_rounds");
    override(&rules, "extension_rounds", "1");
    assert_int_equal(rules_check(&rules, NULL), 0);
}

static void rules_override__bad_value__leaves_the_rules_alone(void **state)
{
    (void)state;
    static const struct {
        const char *key, *value, *message;
    } bad[] = {
        {"scoring.tie", "rematch", "tie = rematch: draw or extension or judges is needed"},
        {"kicks.minimum", "many", "minimum = many: a whole number from 0 to 99 is needed"},
        {"stops.cards_from", "x",
         "cards_from = x: after N, round N, half, majority or commission is needed"},
        {"clauses.beer", "x", "[clauses] knows no beer"},
        {"beer", "x", "the rules know no beer that a bout can set"},
        {"strikes.knee", "head", "the rules know no strikes.knee that a bout can set"},
        {"id", "x", "the rules know no id that a bout can set"},
        {"rounds", "5", "the bout's own rounds = 5 says that"},
        {"judges", "5", "the bout's own list of judges says that"},
        {"names.split_draw", "", "split_draw: empty"},
    };
    struct rules rules = load_rules("kickboxing"), before = rules;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error err = {0};
        assert_int_equal(rules_override(&rules, bad[i].key, bad[i].value, &err), ERROR_FAILED);
        assert_string_equal(err.text, bad[i].message);
        assert_memory_equal(&rules, &before, sizeof rules);
    }
}

static void rules_terms__several__all_or_none(void **state)
{
    (void)state;
    const struct embedded *file = embedded_find("rules/kickboxing.ini");
    struct rules rules, before;
    struct error err = {0};
    assert_int_equal(rules_parse(&rules, file->data, file->size, "k", &err), 0);
    before = rules;
    assert_int_equal(rules_terms(&rules, "", &err), 0);
    assert_int_equal(rules_terms(&rules, "scoring.open = yes, round_seconds=120", &err), 0);
    assert_int_equal(rules.scoring.open, 1);
    assert_int_equal(rules.round_ms, 120000);
    rules = before;
    assert_int_equal(rules_terms(&rules, "round_seconds = 120, scoring.nothing = 1", &err),
                     ERROR_FAILED);
    assert_memory_equal(&rules, &before, sizeof rules);
    err = (struct error){0};
    assert_int_equal(rules_terms(&rules, "round_seconds", &err), ERROR_FAILED);
    assert_non_null(strstr(err.text, "KEY = VALUE"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_terms__several__all_or_none),
        cmocka_unit_test(rules_parse__bad_text__names_file_line_and_reason),
        cmocka_unit_test(rules_parse__nothing_said_of_officials__leaves_it_to_the_commission),
        cmocka_unit_test(rules_parse__shipped_files__say_what_their_clauses_say),
        cmocka_unit_test(rules_override__a_value__is_cited_as_the_bouts_own),
        cmocka_unit_test(rules_override__what_does_not_fit__is_found_by_the_check),
        cmocka_unit_test(rules_override__bad_value__leaves_the_rules_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
