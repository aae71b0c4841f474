/* The officials' side under the keys: a whole bout with open scoring, a knockdown, a deduction and
 * a majority decision. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/desk/desk.h"
#include "ringtally/base/embedded.h"
#include "ringtally/tally/officials.h"

#define START 1000000

static struct desk *open_desk(const char *rules_name, int judges)
{
    static struct desk_row row = {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3};
    struct desk_setup setup = {.desks = &row, .desk_count = 1, .claim = 7};
    struct error err = {0};
    char file[64];
    snprintf(file, sizeof file, "rules/%s.ini", rules_name);
    const struct embedded *rules = embedded_find(file);
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, file, &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    setup.bout.judges = judges;
    struct desk *desk = desk_new(&setup, START);
    assert_non_null(desk);
    return desk;
}

/* One key every 200 ms; '!' Enter, '2' stays 2, '#' F2, '^' Up, 'v' is v, '}' Right, '@' Esc. */
static int64_t type(struct desk *desk, const char *keys, int64_t now)
{
    for (const char *at = keys; *at; at++) {
        now += 200;
        int32_t key = *at == '!'   ? KEY_OF_ENTER
                      : *at == '#' ? KEY_OF_F1 + 1
                      : *at == '^' ? KEY_OF_UP
                      : *at == '{' ? KEY_OF_LEFT
                      : *at == '@' ? KEY_OF_ESC
                                   : *at;
        desk_key(desk, key, now, 0);
    }
    return now;
}

static struct officials read(const struct desk *desk, int64_t now)
{
    struct officials officials;
    officials_read(&officials, desk_fold(desk), desk_rules(desk), desk_bout(desk), now);
    return officials;
}

static void officials__type__a_majority_decision_from_the_keyboard(void **state)
{
    (void)state;
    struct desk *desk = open_desk("kickboxing", 3);
    char words[16];
    int64_t now = type(desk, "!qP7", START);    /* blue scores a knockdown */
    now = type(desk, "#808090@", now + 181000); /* 8-10 8-10 9-10 */
    struct officials officials = read(desk, now);
    struct vote lead = scorecard_lead(&officials.card, desk_rules(desk), 1);
    assert_string_equal(vote_words(words, &lead), "0-3-0");
    now = type(desk, "![d", now + 58000); /* after the rest red loses a point in round 2 */
    assert_int_equal(fold_tally(desk_fold(desk))->round[2].corner[CORNER_RED].deducted, 1);
    now = type(desk, "#999999@", now + 181000); /* the judges took it off: 9-9 */
    now = type(desk, "!q", now + 58000);
    now = type(desk, "#09090@", now + 181000); /* the third card is not there yet */
    officials = read(desk, now);
    assert_int_equal(officials.end.how, END_DISTANCE);
    assert_int_equal(officials.implied.kind, DECISION_OPEN);
    now = type(desk, "#^09", now); /* from the first seat one up: the last */
    officials = read(desk, now);
    assert_int_equal(officials.implied.kind, DECISION_MAJORITY); /* 27-28 27-28 28-28 */
    assert_int_equal(officials.implied.winner, CORNER_BLUE);
    assert_non_null(strstr(officials.implied.reason, "card"));
    now = type(desk, "++@", now);
    officials = read(desk, now);
    assert_true(officials.announced);
    assert_int_equal(officials.official.kind, officials.implied.kind);
    assert_int_equal(officials.official.winner, officials.implied.winner);
    desk_free(desk);
}

static void officials__type__five_judges_in_under_fifteen_keys(void **state)
{
    (void)state;
    struct desk *desk = open_desk("kickboxing", 5);
    int64_t now = type(desk, "!", START);
    const char *keys = "#0909900009@";
    assert_in_range(strlen(keys), 1, 14);
    now = type(desk, keys, now + 181000);
    struct officials officials = read(desk, now);
    struct vote lead = scorecard_lead(&officials.card, desk_rules(desk), 1);
    assert_int_equal(lead.red, 3);
    assert_int_equal(lead.blue, 1);
    assert_int_equal(lead.even, 1);
    desk_free(desk);
}

static void officials__type__a_score_is_corrected_and_a_live_key_closes_the_form(void **state)
{
    (void)state;
    struct desk *desk = open_desk("kickboxing", 3);
    struct card_cursor cursor;
    int64_t now = type(desk, "!", START);
    now = type(desk, "#09^90", now + 181000);
    struct officials officials = read(desk, now);
    assert_int_equal(officials.card.half[0][0][CORNER_RED], 18);
    assert_int_equal(officials.card.half[0][0][CORNER_BLUE], 20);
    assert_true(desk_cards(desk, &cursor));
    type(desk, "q", now);
    assert_false(desk_cards(desk, &cursor));
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[CORNER_RED].all.attempted, 1);
    desk_free(desk);
}

static void officials__count__runs_to_ten_and_enter_ends_it(void **state)
{
    (void)state;
    struct desk *desk = open_desk("kickboxing", 3);
    enum corner corner = CORNER_NONE;
    int64_t now = type(desk, "![c", START);
    assert_int_equal(desk_count(desk, now, &corner), 1);
    assert_int_equal(corner, CORNER_RED);
    assert_int_equal(desk_count(desk, now + 7500, &corner), 8);
    now = type(desk, "!", now + 7300);
    assert_int_equal(desk_count(desk, now, &corner), 0);
    assert_int_equal(desk_clock(desk, now).state, CLOCK_RUNNING); /* Enter was the count's */
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(desk_fold(desk), &subjects);
    assert_int_equal(subjects[count - 1].now.value, 8);
    desk_free(desk);
}

static void officials__limits__are_told_and_decide_nothing(void **state)
{
    (void)state;
    struct desk *desk = open_desk("kickboxing", 3);
    bool urgent = false;
    int64_t now = type(desk, "!Q4", START);
    now = type(desk, "Q4", now + 20000);
    now = type(desk, "Q4", now + 20000);
    const char *notice = desk_notice(desk, now, &urgent);
    assert_true(urgent);
    assert_non_null(strstr(notice, "decide"));
    assert_int_equal(desk_clock(desk, now).state, CLOCK_RUNNING);
    desk_free(desk);
}

/* A knockdown is one, though its strike was marked and its count was started: two of them are no
 * limit of three, and the third is. */
static void officials__limits__count_a_knockdown_and_its_count_once(void **state)
{
    (void)state;
    struct desk *desk = open_desk("kickboxing", 3);
    bool urgent = false;
    int64_t now = type(desk, "!Q4]k", START);
    now = type(desk, "Q4]c", now + 30000);
    assert_int_equal(officials_limits(desk_fold(desk), CORNER_BLUE, 1).knockdowns_round, 2);
    assert_int_equal(officials_limits(desk_fold(desk), CORNER_BLUE, 1).counts_round, 2);
    const char *notice = desk_notice(desk, now, &urgent);
    assert_true(!notice || !strstr(notice, "limit"));
    now = type(desk, "]k", now + 30000);
    notice = desk_notice(desk, now, &urgent);
    assert_non_null(strstr(notice, "blue: 3 knockdowns in the round, the rules' limit; the "
                                   "officials decide"));
    desk_free(desk);
    desk = open_desk("sanda", 5); /* two forced counts end a round; this is one */
    now = type(desk, "!Q4]c", START);
    notice = desk_notice(desk, now, &urgent);
    assert_true(!notice || !strstr(notice, "limit"));
    desk_free(desk);
}

/* Low kick: six kicks a round are owed (58 Pa. Code 27.3(b)); the desk says so in the last half
 * minute, once. */
static void officials__kicks__owed_are_told_in_the_last_half_minute(void **state)
{
    (void)state;
    struct desk *desk = open_desk("low-kick", 3);
    bool urgent = false;
    int64_t now = type(desk, "!qqqqqqw", START); /* 200 ms apart: six kicks of red, none of blue */
    desk_tick(desk, START + 85000);              /* rounds of two minutes */
    assert_null(strstr(desk_notice(desk, START + 85000, &urgent), "kick"));
    now = START + 95000;
    desk_tick(desk, now);
    const char *notice = desk_notice(desk, now, &urgent);
    assert_true(urgent);
    assert_non_null(strstr(notice, "blue"));
    assert_null(strstr(notice, "red"));
    assert_int_equal(strncmp(notice, "blue: 0 of 6 kicks", 18), 0);
    assert_int_equal(desk_clock(desk, now).state, CLOCK_RUNNING);
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(officials__type__a_majority_decision_from_the_keyboard),
        cmocka_unit_test(officials__type__five_judges_in_under_fifteen_keys),
        cmocka_unit_test(officials__type__a_score_is_corrected_and_a_live_key_closes_the_form),
        cmocka_unit_test(officials__count__runs_to_ten_and_enter_ends_it),
        cmocka_unit_test(officials__kicks__owed_are_told_in_the_last_half_minute),
        cmocka_unit_test(officials__limits__are_told_and_decide_nothing),
        cmocka_unit_test(officials__limits__count_a_knockdown_and_its_count_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
