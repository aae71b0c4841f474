/* The exact meanings of the keys, one table of key strings and the counts they must lead to. A
 * second apart each unless a digit group `~N ` says how many milliseconds pass before the next key.
 */
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
#include "ringtally/tally/marks.h"

#define START 1000000

static struct desk_row row = {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3};

static struct desk *open_desk(const struct entry *entries, size_t count, int64_t now)
{
    struct desk_setup setup = {.desks = &row, .desk_count = 1, .claim = 7};
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    setup.entries = entries;
    setup.entry_count = count;
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    setup.bout.fighter[CORNER_BLUE].stance = STANCE_SOUTHPAW;
    struct desk *desk = desk_new(&setup, now);
    assert_non_null(desk);
    return desk;
}

/* Types `keys`: '~N ' waits N ms before the next key instead of a second, '<' is Backspace, '!'
 * Enter, '_' Space,
 * '{' and '}' Left and Right, '^' Up, '*' Delete, '@' Esc. Returns the time of the last key. */
static int64_t type(struct desk *desk, const char *keys, int64_t now)
{
    for (const char *at = keys; *at; at++) {
        int64_t wait = 1000;
        if (*at == '~') {
            char *end = NULL;
            wait = strtol(at + 1, &end, 10);
            at = end + 1;
        }
        now += wait;
        int32_t key = *at == '<'   ? KEY_OF_BACKSPACE
                      : *at == '!' ? KEY_OF_ENTER
                      : *at == '_' ? ' '
                      : *at == '{' ? KEY_OF_LEFT
                      : *at == '}' ? KEY_OF_RIGHT
                      : *at == '^' ? KEY_OF_UP
                      : *at == '*' ? KEY_OF_DELETE
                      : *at == '@' ? KEY_OF_ESC
                                   : *at;
        desk_key(desk, key, now, 0);
    }
    return now;
}

/* "attempted/landed/blocked/knockdowns" of red, then of blue; for a round, or 0. */
static void check(const struct desk *desk, int round, const char *expected, const char *keys)
{
    char seen[96] = "";
    const struct tally *tally = fold_tally(desk_fold(desk));
    const struct round_tally *of = round ? &tally->round[round] : &tally->all;
    for (int corner = 0; corner < 2; corner++) {
        const struct corner_tally *c = &of->corner[corner];
        snprintf(seen + strlen(seen), sizeof seen - strlen(seen), "%s%d/%d/%d/%d",
                 corner ? " " : "", c->all.attempted, c->all.landed, c->blocked, c->knockdowns);
    }
    if (strcmp(seen, expected) != 0) {
        fail_msg("keys %s: expected %s, seen %s", keys, expected, seen);
    }
}

static void desk__key__exact_meanings(void **state)
{
    (void)state;
    static const struct {
        const char *keys, *expected;
    } cases[] = {
        {"!q", "1/0/0/0 0/0/0/0"},
        {"!Q", "1/1/0/0 0/0/0/0"},
        {"!q_", "1/1/0/0 0/0/0/0"},
        {"!q__", "1/0/0/0 0/0/0/0"},
        {"!:;?/", "0/0/0/0 4/2/0/0"},
        {"!q3", "1/0/1/0 0/0/0/0"},
        {"!q33", "1/0/0/0 0/0/0/0"},
        {"!Q3", "1/0/1/0 0/0/0/0"},  /* blocked takes landed away */
        {"!q3_", "1/1/0/0 0/0/0/0"}, /* landed takes blocked away */
        {"!q4", "1/1/0/1 0/0/0/0"},  /* a knockdown lands */
        {"!q44", "1/1/0/0 0/0/0/0"}, /* taken back it stays landed */
        {"!q4_", "1/0/0/0 0/0/0/0"}, /* landed off takes the knockdown along */
        {"!q43", "1/0/1/0 0/0/0/0"}, /* so does blocked */
        {"!qp7", "1/0/0/0 1/1/0/1"},
        {"!qp4", "1/1/0/1 1/0/0/0"}, /* digits go to their corner */
        {"!qp_", "1/0/0/0 1/1/0/0"}, /* Space to the newest of this desk */
        {"!qw<", "1/0/0/0 0/0/0/0"},
        {"!qw<<", "0/0/0/0 0/0/0/0"},
        {"!qw<<\\", "1/0/0/0 0/0/0/0"},
        {"!qw<<\\\\", "2/0/0/0 0/0/0/0"},
        {"!qw<e\\", "2/0/0/0 0/0/0/0"}, /* something new ends it */
        {"!q4<", "1/0/0/0 0/0/0/0"},    /* the mark, not the strike */
        {"!q4<<", "0/0/0/0 0/0/0/0"},
        {"!q4<\\", "1/1/0/1 0/0/0/0"},
        {"!q_3<", "1/1/0/0 0/0/0/0"}, /* back to landed */
        {"!q5<", "0/0/0/0 0/0/0/0"},  /* stance is passed over */
        {"!q<`<", "0/0/0/0 0/0/0/0"},
        {"!q!<", "0/0/0/0 0/0/0/0"}, /* so is the clock */
        {"!1", "0/0/0/0 0/0/0/0"},
        {"!x", "0/0/0/0 0/0/0/0"},   /* no elbows in kickboxing */
        {"q", "1/0/0/0 0/0/0/0"},    /* before the first round: logged */
        {"![wq", "1/0/0/0 0/0/0/0"}, /* w answers the prompt, q is a strike */
        {"![qw", "2/0/0/0 0/0/0/0"}, /* q is no incident: a strike */
        {"![w<q", "1/0/0/0 0/0/0/0"},
        {"!q~30 q~30 q~30 q", "1/0/0/0 0/0/0/0"},       /* held */
        {"!q~400 q~30 q~30 q~30 q", "1/0/0/0 0/0/0/0"}, /* held, with its first wait */
        {"!q~100 q", "2/0/0/0 0/0/0/0"},
        {"!q~5 w~5 q~5 w", "4/0/0/0 0/0/0/0"}, /* two fingers */
        {"!q~400 q~30 q", "2/0/0/0 0/0/0/0"},
        {"!q^W@e", "2/1/0/0 0/0/0/0"}, /* in the log a pad key amends */
        {"!q^*", "0/0/0/0 0/0/0/0"},
        {"!q^**", "1/0/0/0 0/0/0/0"},
        {"!qw^+e@", "3/0/0/0 0/0/0/0"},
        {"!q^p", "0/0/0/0 1/0/0/0"},
        {"!q^p<", "1/0/0/0 0/0/0/0"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct desk *desk = open_desk(NULL, 0, START);
        type(desk, cases[i].keys, START);
        check(desk, 0, cases[i].expected, cases[i].keys);
        desk_free(desk);
    }
}

static void desk__key__strikes_belong_to_their_round(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "q!w", START); /* one before, one in round 1 */
    now = type(desk, "~185000 e", now);     /* after the bell: still round 1 */
    check(desk, 1, "3/0/0/0 0/0/0/0", "round 1");
    assert_int_equal(fold_tally(desk_fold(desk))->all.off_clock, 2);
    now = type(desk, "_", now); /* the current round is still 1 */
    check(desk, 1, "3/1/0/0 0/0/0/0", "late landed");
    now = type(desk, "!r_", now);
    check(desk, 2, "1/1/0/0 0/0/0/0", "round 2");
    check(desk, 0, "4/2/0/0 0/0/0/0", "bout");
    desk_free(desk);
}

static void desk__key__a_mark_does_not_reach_the_round_before(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "!q", START);
    type(desk, "~240000 !_4", now);
    check(desk, 0, "1/0/0/0 0/0/0/0", "Space in round 2");
    desk_free(desk);
}

static void desk__key__stance_and_position_are_copied(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    type(desk, "!q5w`e6p", START);
    const struct tally *tally = fold_tally(desk_fold(desk));
    const struct corner_tally *red = &tally->all.corner[CORNER_RED];
    const struct corner_tally *blue = &tally->all.corner[CORNER_BLUE];
    assert_int_equal(red->stance[STANCE_ORTHODOX].attempted, 1);
    assert_int_equal(red->stance[STANCE_SOUTHPAW].attempted, 2);
    assert_int_equal(red->position[POSITION_CLINCH].attempted, 1);
    assert_int_equal(blue->stance[STANCE_ORTHODOX].attempted, 1);
    desk_free(desk);
}

static void desk__new__a_resumed_desk_goes_on(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    struct entry kept[32];
    const struct entry *entries = NULL;
    int64_t now = type(desk, "!qQ4w<", START);
    size_t count = desk_take(desk, &entries);
    assert_in_range(count, 1, 32);
    memcpy(kept, entries, count * sizeof *kept);
    desk_free(desk);

    desk = open_desk(kept, count, now + 60000);
    bool urgent = false;
    assert_non_null(strstr(desk_notice(desk, now + 60000, &urgent), "kept running"));
    assert_true(urgent);
    check(desk, 0, "2/1/0/1 0/0/0/0", "resumed");
    now = type(desk, "\\", now + 60000); /* brings w back */
    check(desk, 0, "3/1/0/1 0/0/0/0", "resumed, brought back");
    type(desk, "<<", now); /* w, then the knockdown mark */
    check(desk, 0, "2/1/0/0 0/0/0/0", "resumed, taken back");
    count = desk_take(desk, &entries);
    assert_int_equal(entries[count - 1].name.seq, (int64_t)(kept[0].name.seq + 8 + 3));
    desk_free(desk);
}

static void desk__log__opens_on_what_wants_a_look(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    const uint8_t *reasons = NULL;
    const long *order = NULL;
    long cursor = -1;
    int64_t now = type(desk, "q!w'e~200000 r", START); /* two off the clock, one flagged */
    assert_int_equal(desk_looks(desk, &reasons), 3);
    now = type(desk, "^", now);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    assert_int_equal(desk_filter(desk), FILTER_LOOK);
    assert_int_equal(desk_log(desk, &order, &cursor), 3);
    now = type(desk, "'", now); /* accepts r */
    assert_int_equal(desk_looks(desk, &reasons), 2);
    assert_int_equal(desk_log(desk, &order, &cursor), 2);
    assert_int_equal(cursor, 0);
    now = type(desk, "*", now); /* voids w */
    assert_int_equal(desk_looks(desk, &reasons), 1);
    now = type(desk, "g", now); /* amends q */
    check(desk, 0, "3/0/0/0 0/0/0/0", "after the look");
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].limb[LIMB_KNEE].attempted, 1);
    type(desk, "!", now); /* the clock starts: live again */
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    desk_free(desk);
}

static void desk__log__closes_by_itself_under_a_running_clock(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "!q^", START);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    type(desk, "~20000 w", now);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    check(desk, 0, "2/0/0/0 0/0/0/0", "live again");
    desk_free(desk);
}

static void desk__key__a_signed_record_takes_nothing(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    const struct entry *entries = NULL;
    struct entry kept[16];
    int64_t now = type(desk, "!qw", START);
    size_t count = desk_take(desk, &entries);
    memcpy(kept, entries, count * sizeof *kept);
    desk_free(desk);
    struct entry sign = kept[count - 1];
    sign.kind = ENTRY_SIGN;
    sign.code = CODE_SIGN;
    sign.name.seq = sign.subject.seq = kept[count - 1].name.seq + 1;
    sign.utc_ms = ++now;
    memset(&sign.strike, 0, sizeof sign.strike);
    snprintf(sign.text, sizeof sign.text, "ana");
    assert_null(entry_fault(&sign, 1));
    kept[count++] = sign;
    desk = open_desk(kept, count, now + 1000);
    assert_true(desk_is_read_only(desk));
    type(desk, "e<!5`", now + 2000);
    check(desk, 0, "2/0/0/0 0/0/0/0", "signed");
    assert_int_equal(desk_take(desk, &entries), 0);
    desk_free(desk);
}

static void desk__sync__notes_the_moment_of_its_key(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    struct sync_point point;
    char words[64];
    int64_t now = type(desk, "!q", START);
    desk_key(desk, KEY_OF_F1 + 6, ++now, 0);
    type(desk, "0102030", now);
    assert_true(desk_sync(desk, words, sizeof words));
    assert_string_equal(words, "01:02:03:0_ at 25");
    assert_false(marks_sync(&point, desk_fold(desk)));
    type(desk, "4!", now + 7000);
    assert_true(marks_sync(&point, desk_fold(desk)));
    assert_int_equal(point.utc_ms, now);
    assert_int_equal(point.frame, ((1 * 60 + 2) * 60 + 3) * 25 + 4);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    /* a live key closes it and is a strike */
    desk_key(desk, KEY_OF_F1 + 6, now + 20000, 0);
    type(desk, "0w", now + 20000);
    check(desk, 0, "2/0/0/0 0/0/0/0", "after the time code");
    desk_free(desk);
}

static void desk__key__leaving_asks_twice_and_once_more_with_unsaved(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int32_t leave = KEY_OF_F1 + 9;
    assert_int_equal(desk_key(desk, leave, START + 1000, 0), 0);
    assert_int_equal(desk_key(desk, 'q', START + 2000, 0), 0);
    assert_int_equal(desk_key(desk, leave, START + 3000, 0), 0);
    assert_int_equal(desk_key(desk, leave, START + 4000, 0), DESK_WANTS_LEAVE);
    check(desk, 0, "1/0/0/0 0/0/0/0", "q in between");
    assert_int_equal(desk_key(desk, 'w', START + 20000, 0), 0);
    assert_int_equal(desk_key(desk, leave, START + 21000, 5), 0);
    assert_int_equal(desk_key(desk, leave, START + 22000, 5), 0);
    assert_int_equal(desk_key(desk, leave, START + 23000, 5), DESK_WANTS_LEAVE);
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desk__key__exact_meanings),
        cmocka_unit_test(desk__key__strikes_belong_to_their_round),
        cmocka_unit_test(desk__key__a_mark_does_not_reach_the_round_before),
        cmocka_unit_test(desk__key__stance_and_position_are_copied),
        cmocka_unit_test(desk__new__a_resumed_desk_goes_on),
        cmocka_unit_test(desk__log__opens_on_what_wants_a_look),
        cmocka_unit_test(desk__log__closes_by_itself_under_a_running_clock),
        cmocka_unit_test(desk__key__a_signed_record_takes_nothing),
        cmocka_unit_test(desk__sync__notes_the_moment_of_its_key),
        cmocka_unit_test(desk__key__leaving_asks_twice_and_once_more_with_unsaved),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
