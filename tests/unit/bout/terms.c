/* A bout's own terms, told and set: every key that there is, what it says, and what it takes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "officials.h"
#include "ringtally/bout/card.h"

static const char *const sets[] = {"boxing", "kickboxing", "low-kick", "muay-thai", "sanda"};

/* The value that the rules tell for a key; "" where they tell no such key. */
static const char *told(const struct rules *rules, const char *key)
{
    static struct rules_key row;
    for (size_t i = 0; rules_key(&row, rules, i); i++) {
        if (strcmp(row.key, key) == 0) {
            return row.value;
        }
    }
    return "";
}

static void takes(const struct rules *rules, const char *key, const char *value, bool does)
{
    struct rules changed = *rules;
    int code = rules_override(&changed, key, value, NULL);
    if ((code == 0) != does) {
        fail_msg("%s = %s: %s", key, value, code ? "refused" : "taken");
    }
    if (does && strcmp(told(&changed, key), value) != 0) {
        fail_msg("%s = %s: told as \"%s\"", key, value, told(&changed, key));
    }
}

/* Each key of each shipped rule set: what is told can be set and is told again, each word that is
 * offered, and the ends of each range; nothing beyond. */
static void rules_key__every_key__takes_what_it_offers(void **state)
{
    (void)state;
    for (size_t s = 0; s < sizeof sets / sizeof *sets; s++) {
        struct rules rules = load_rules(sets[s]);
        struct rules_key row;
        size_t count = 0, numbers = 0, words = 0;
        for (; rules_key(&row, &rules, count); count++) {
            int low = 0, high = 0;
            char number[16];
            sscanf(row.allowed, "%d to %d", &low, &high);
            bool unsaid = low > 0 && strcmp(row.value, "0") == 0; /* none: no number says that */
            takes(&rules, row.key, row.value, !unsaid);
            if (strcmp(row.key, "stops.cards_from") == 0) {
                assert_string_equal(row.allowed, "after N, round N, half, majority, commission");
            } else if (high > 0) {
                numbers++;
                assert_true(low < high);
                const int values[] = {low, high, low - 1, high + 1};
                for (int i = 0; i < 4; i++) {
                    snprintf(number, sizeof number, "%d", values[i]);
                    takes(&rules, row.key, number, i < 2);
                }
            } else {
                char *rest = row.allowed;
                assert_non_null(strstr(row.allowed, row.value));
                for (char *word = strtok_r(rest, ", ", &rest); word;
                     word = strtok_r(NULL, ", ", &rest), words++) {
                    takes(&rules, row.key, word, true);
                }
                takes(&rules, row.key, "perhaps", false);
            }
        }
        assert_in_range(numbers, 5, 60);
        assert_in_range(words, 10, 99);
        memset(&row, 7, sizeof row);
        assert_false(rules_key(&row, &rules, count + 1)); /* nothing behind the last */
        assert_string_equal(row.key, "");
    }
}

static void rules_key__known_rules__tell_their_values(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    assert_string_equal(told(&rules, "round_seconds"), "180");
    assert_string_equal(told(&rules, "scoring.system"), "points");
    assert_string_equal(told(&rules, "scoring.lowest"), "6");
    assert_string_equal(told(&rules, "scoring.half_points"), "no");
    assert_string_equal(told(&rules, "scoring.even_rounds"), "yes");
    assert_string_equal(told(&rules, "stops.cards_from"), "half");
    assert_string_equal(told(&rules, "rounds"), ""); /* a bout's own line says it */
    rules = load_rules("low-kick");
    assert_string_equal(told(&rules, "kicks.minimum"), "6");
    assert_int_equal(rules_override(&rules, "stops.cards_from", "after 3", NULL), 0);
    assert_string_equal(told(&rules, "stops.cards_from"), "after 3");
}

static void rules_terms__blanks__are_no_part_of_a_value(void **state)
{
    (void)state;
    struct rules rules = load_rules("kickboxing");
    assert_int_equal(rules_terms(&rules, "scoring.open = yes  , scoring.tie=draw ,", NULL), 0);
    assert_int_equal(rules.scoring.open, 1);
    assert_int_equal(rules.scoring.tie, TIE_DRAW);
    assert_int_equal(rules_terms(&rules, "clauses.tie = two words  ", NULL), 0);
    assert_string_equal(rules.clause[CLAUSE_TIE], "two words");
}

/* An extension is as long as a round where nothing else is said. */
static void rules__extension__is_as_long_as_a_round(void **state)
{
    (void)state;
    static const char head[] = "[rules]\nid = own\ntitle = Own\nrounds = 3\nround_seconds = 120\n"
                               "judges = 3\n%s[strikes]\nleft_hand = head\n";
    static const struct {
        const char *lines;
        int32_t length;
    } cases[] = {{"", 0},
                 {"extension_rounds = 1\n", 120000},
                 {"extension_rounds = 1\nextension_seconds = 90\n", 90000}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct rules rules;
        char text[256];
        snprintf(text, sizeof text, head, cases[i].lines);
        assert_int_equal(rules_parse(&rules, text, strlen(text), "r.ini", NULL), 0);
        assert_int_equal(rules.extension_ms, cases[i].length);
        assert_int_equal(rules_override(&rules, "extension_rounds", "2", NULL), 0);
        assert_int_equal(rules.extension_ms, cases[i].length ? cases[i].length : 120000);
    }
}

/* Each field alone makes another bout of it. */
static void bout_same__one_field__makes_another(void **state)
{
    (void)state;
    static const char *const values[] = {"+91 kg",   "sanda",   "5",      "scoring.open = yes",
                                         "Ana Lume", "Lume",    "square", "Quay",
                                         "1-2-3",    "Bo Reef", "Reef",   "southpaw",
                                         "Cape",     "0-0-0",   "Ref",    "A, B, C"};
    struct bout bout = {.id = 4, .number = 2, .card = "quay-1"}, other;
    size_t fields = 0;
    for (; bout_fields[fields]; fields++) {
        assert_in_range(fields, 0, sizeof values / sizeof *values - 1);
        other = bout;
        assert_int_equal(bout_set(&other, bout_fields[fields], values[fields], NULL), 0);
        assert_false(bout_same(&bout, &other));
        assert_true(bout_same(&other, &other));
    }
    assert_int_equal(fields, sizeof values / sizeof *values);
    other = bout;
    assert_true(bout_same(&bout, &other));
    other.id = 5;
    assert_false(bout_same(&bout, &other));
    other = bout;
    other.number = 3;
    assert_false(bout_same(&bout, &other));
    other = bout;
    memcpy(other.card, "quay-2", sizeof "quay-2");
    assert_false(bout_same(&bout, &other));
}

/* Twenty rounds are the most that there are, and the twentieth is one of them. */
static void scorecard_set__edges__first_and_last(void **state)
{
    (void)state;
    struct rules rules = load_rules("boxing");
    struct scorecard card = {.judges = 3};
    char warning[160];
    static const struct {
        int judge, round, boxed, red, blue;
        bool taken;
    } cases[] = {
        {1, 1, 1, 20, 18, true},  {3, 1, 1, 20, 18, true},    {4, 1, 1, 20, 18, false},
        {0, 1, 1, 20, 18, false}, {1, 0, 1, 20, 18, false},   {1, 2, 1, 20, 18, false},
        {2, 20, 20, 0, 20, true}, {2, 21, 21, 20, 18, false}, {1, 1, 1, 21, 18, false},
        {1, 1, 1, 18, 21, false}, {1, 1, 1, -1, 18, false},   {1, 2, 2, 20, 0, true},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int code = scorecard_set(&card, &rules, cases[i].boxed, cases[i].judge, cases[i].round,
                                 cases[i].red, cases[i].blue, warning, sizeof warning, NULL);
        if ((code == 0) != cases[i].taken) {
            fail_msg("case %zu: %s", i, code ? "refused" : "taken");
        }
        if (cases[i].taken) {
            assert_true(card.given[cases[i].judge - 1][cases[i].round - 1]);
            assert_int_equal(card.half[cases[i].judge - 1][cases[i].round - 1][CORNER_RED],
                             cases[i].red);
            assert_int_equal(card.half[cases[i].judge - 1][cases[i].round - 1][CORNER_BLUE],
                             cases[i].blue);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_key__every_key__takes_what_it_offers),
        cmocka_unit_test(rules_key__known_rules__tell_their_values),
        cmocka_unit_test(rules_terms__blanks__are_no_part_of_a_value),
        cmocka_unit_test(rules__extension__is_as_long_as_a_round),
        cmocka_unit_test(bout_same__one_field__makes_another),
        cmocka_unit_test(scorecard_set__edges__first_and_last),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
