/* The scorecards under the keys: half points, named winners, seats and rounds; and the numbered
 * fouls. */
#include "clocked.h"

#include "ringtally/tally/officials.h"

#define F2 (KEY_OF_F1 + 1)

static struct desk *open_with(const char *rules_name, bool half_points, int judges)
{
    struct desk_setup setup = {.desks = rows, .desk_count = 1, .claim = 7};
    struct error err = {0};
    char file[64];
    snprintf(file, sizeof file, "rules/%s.ini", rules_name);
    const struct embedded *rules = embedded_find(file);
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, file, &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    setup.rules.scoring.half_points = half_points;
    setup.rules.round_ms = 180000;
    setup.rules.rest_ms = 60000;
    setup.bout.judges = judges;
    struct desk *desk = desk_new(&setup, START);
    assert_non_null(desk);
    return desk;
}

static struct officials read(const struct desk *desk, int64_t at)
{
    struct officials officials;
    officials_read(&officials, desk_fold(desk), desk_rules(desk), desk_bout(desk), START + at);
    return officials;
}

/* A judge's round in half points. */
static void check_score(const struct desk *desk, int seat, int round, int red, int blue)
{
    struct officials officials = read(desk, 2000000);
    assert_int_equal(officials.card.half[seat][round - 1][CORNER_RED], red);
    assert_int_equal(officials.card.half[seat][round - 1][CORNER_BLUE], blue);
}

static void at_seat(const struct desk *desk, int seat, int round)
{
    struct card_cursor cursor;
    assert_true(desk_cards(desk, &cursor));
    assert_int_equal(cursor.seat, seat);
    assert_int_equal(cursor.round, round);
}

static void cards__half__follows_the_digit_that_it_belongs_to(void **state)
{
    (void)state;
    struct desk *desk = open_with("muay-thai", true, 3);
    press(desk, ENTER, 0);
    press(desk, F2, 181000);
    int64_t at = type(desk, "09=", 182000); /* 10 to 9.5 */
    check_score(desk, 0, 1, 20, 19);
    at_seat(desk, 1, 1);
    at = type(desk, "9==0", at); /* 9.5 to 10 */
    check_score(desk, 1, 1, 19, 20);
    at_seat(desk, 2, 1);
    at = type(desk, "=", at); /* the blue score that was just typed; kept, though none can be */
    check_score(desk, 1, 1, 19, 21);
    at_seat(desk, 2, 1);
    at = type(desk, "=", at); /* once */
    check_score(desk, 1, 1, 19, 21);
    type(desk, "09", at);
    check_score(desk, 2, 1, 20, 18);
    check_score(desk, 0, 1, 20, 19);
    at_seat(desk, 0, 1); /* round the table */
    desk_free(desk);
}

static void cards__half__is_refused_where_the_rules_know_none(void **state)
{
    (void)state;
    struct desk *desk = open_with("muay-thai", false, 3);
    press(desk, ENTER, 0);
    press(desk, F2, 181000);
    int64_t at = type(desk, "09=", 182000);
    says(desk, at - 333, "knows no half points");
    check_score(desk, 0, 1, 20, 18);
    at = type(desk, "9=9", at);
    check_score(desk, 1, 1, 18, 18);
    desk_free(desk);
}

static void cards__move__seats_and_rounds_go_round(void **state)
{
    (void)state;
    struct desk *desk = open_with("kickboxing", false, 3);
    int64_t at = 241000;
    press(desk, ENTER, 0);
    press(desk, ENTER, 240000);
    press(desk, F2, at);
    at_seat(desk, 0, 2);
    static const struct {
        int32_t key;
        int seat, round;
    } steps[] = {{KEY_OF_DOWN, 1, 2}, {KEY_OF_DOWN, 2, 2},  {KEY_OF_DOWN, 0, 2},
                 {KEY_OF_UP, 2, 2},   {KEY_OF_UP, 1, 2},    {KEY_OF_LEFT, 1, 1},
                 {KEY_OF_LEFT, 1, 3}, {KEY_OF_RIGHT, 1, 1}, {KEY_OF_RIGHT, 1, 2}};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        press(desk, steps[i].key, at += 1000);
        at_seat(desk, steps[i].seat, steps[i].round);
    }
    press(desk, KEY_OF_RIGHT, at += 1000);
    type(desk, "09", at); /* of a round that is still to come */
    says(desk, at + 400, "round 3 was not boxed");
    assert_int_equal(entries_of(desk, ENTRY_SCORE, -1), 0);
    press(desk, KEY_OF_LEFT, at += 2000);
    press(desk, KEY_OF_LEFT, at += 1000);
    press(desk, '0', at += 1000);
    press(desk, KEY_OF_DOWN, at += 1000); /* half a pair is none */
    at = type(desk, "98", at);
    check_score(desk, 2, 1, 18, 16);
    assert_int_equal(entries_of(desk, ENTRY_SCORE, -1), 1);
    /* Typed again it is the same judge's, corrected. */
    press(desk, KEY_OF_UP, at += 1000);
    press(desk, KEY_OF_DOWN, at += 1000);
    press(desk, KEY_OF_DOWN, at += 1000);
    press(desk, KEY_OF_UP, at += 1000);
    press(desk, KEY_OF_UP, at += 1000);
    at_seat(desk, 2, 1);
    at = type(desk, "89", at);
    check_score(desk, 2, 1, 16, 18);
    press(desk, BACK, at += 1000); /* a live key: the form closes and takes it back */
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    check_score(desk, 2, 1, 18, 16);
    desk_free(desk);
}

/* A judge who has both even names one, where the rules want it. */
static void cards__name__is_that_judges(void **state)
{
    (void)state;
    struct desk *desk = open_with("kickboxing", false, 3);
    press(desk, ENTER, 0);
    press(desk, F2, 181000);
    press(desk, KEY_OF_DOWN, 182000);
    press(desk, ']', 183000);
    says(desk, 183000, "judge 2 names blue");
    assert_int_equal(desk_mode(desk), DESK_CARDS);
    struct officials officials = read(desk, 190000);
    assert_int_equal(officials.card.named[1], 1 << CORNER_BLUE);
    assert_int_equal(officials.card.named[0], 0);
    press(desk, '[', 184000);
    officials = read(desk, 190000);
    assert_int_equal(officials.card.named[1], 1 << CORNER_RED);
    press(desk, F2, 185000); /* its own key closes it */
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    desk_free(desk);
}

/* What the cards imply is entered by a second +, and only as long as it is remembered. */
static void cards__announce__twice_within_five_seconds(void **state)
{
    (void)state;
    struct desk *desk = open_with("kickboxing", false, 3);
    int64_t at = 0;
    for (int round = 1; round <= 3; round++, at += 240000) {
        press(desk, ENTER, at);
        press(desk, F2, at + 181000);
        if (round == 1) {
            press(desk, '+', at + 181500);
            says(desk, at + 181500, "nothing to announce yet");
        }
        type(desk, "090909", at + 182000);
        press(desk, KEY_OF_ESC, at + 200000);
    }
    press(desk, F2, at += 1000);
    press(desk, '+', at);
    says(desk, at, "unanimous decision, red: + again enters it");
    press(desk, '+', at + 5000); /* too late: asked anew */
    assert_false(read(desk, at + 5000).announced);
    press(desk, KEY_OF_UP, at + 6000); /* another key ends the question */
    press(desk, '+', at + 7000);
    assert_false(read(desk, at + 7000).announced);
    press(desk, KEY_OF_INSERT, at + 8000);
    struct officials officials = read(desk, at + 8000);
    assert_true(officials.announced);
    assert_int_equal(officials.official.kind, DECISION_UNANIMOUS);
    assert_int_equal(officials.official.winner, CORNER_RED);
    press(desk, BACK, at + 9000);
    assert_false(read(desk, at + 9000).announced);
    desk_free(desk);
}

/* The fouls of a rule set by their digits, from the first to the last; what is none is a live key.
 */
static void fouls__digit__is_the_rules_own(void **state)
{
    (void)state;
    struct desk *desk = open_with("boxing", false, 3);
    int fouls = desk_rules(desk)->fouls;
    int64_t at = 10000;
    assert_int_equal(fouls, 8);
    press(desk, ENTER, 0);
    for (int digit = 1; digit <= fouls; digit++, at += 10000) {
        press(desk, '[', at);
        press(desk, 'f', at + 300);
        assert_int_equal(desk_mode(desk), DESK_FOUL);
        press(desk, '0' + digit, at + 600);
        assert_int_equal(desk_mode(desk), DESK_LIVE);
        assert_int_equal(entries_of(desk, ENTRY_INCIDENT, CODE_FOUL), digit);
        says(desk, at + 600, desk_rules(desk)->foul[digit - 1].words);
    }
    for (int i = 0; i < 2; i++, at += 10000) { /* no foul of these numbers */
        press(desk, ']', at);
        press(desk, 'f', at + 300);
        press(desk, i ? '9' : '0', at + 600);
        assert_int_equal(desk_mode(desk), DESK_LIVE);
        assert_int_equal(entries_of(desk, ENTRY_INCIDENT, CODE_FOUL), fouls);
    }
    press(desk, ']', at);
    press(desk, 'f', at + 300);
    press(desk, KEY_OF_ESC, at + 600);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    press(desk, ']', at + 1000);
    press(desk, 'f', at + 1300);
    press(desk, 'w', at + 1600); /* a strike, whatever is open */
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 1);
    press(desk, ']', at + 2000);
    press(desk, 'f', at + 2300);
    desk_tick(desk, START + at + 2300 + DESK_PROMPT_MS - 1);
    assert_int_equal(desk_mode(desk), DESK_FOUL);
    desk_tick(desk, START + at + 2300 + DESK_PROMPT_MS);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    assert_int_equal(entries_of(desk, ENTRY_INCIDENT, CODE_FOUL), fouls);
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cards__half__follows_the_digit_that_it_belongs_to),
        cmocka_unit_test(cards__half__is_refused_where_the_rules_know_none),
        cmocka_unit_test(cards__move__seats_and_rounds_go_round),
        cmocka_unit_test(cards__name__is_that_judges),
        cmocka_unit_test(cards__announce__twice_within_five_seconds),
        cmocka_unit_test(fouls__digit__is_the_rules_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
