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

#define START       1000000
#define REPEAT_FAST 80 /* below no finger comes again */

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
        {"!q5<", "1/0/0/0 0/0/0/0"},  /* the stance, not the strike */
        {"!q5<<", "0/0/0/0 0/0/0/0"},
        {"!q`<", "1/0/0/0 0/0/0/0"},
        {"!q!<", "1/0/0/0 0/0/0/0"}, /* the clock too */
        {"!q!<<", "0/0/0/0 0/0/0/0"},
        {"!q[w<<", "0/0/0/0 0/0/0/0"},
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
        {"!q^W@e", "3/1/0/0 0/0/0/0"},  /* in the log a pad key is a strike */
        {"!q^=W@e", "2/1/0/0 0/0/0/0"}, /* it amends what the amend key opened */
        {"!q^=We", "2/1/0/0 0/0/0/0"},  /* once */
        {"!qw^=_e", "3/1/0/0 0/0/0/0"}, /* so do marks */
        {"!qw^_", "2/1/0/0 0/0/0/0"},
        {"!q^==@w", "2/0/0/0 0/0/0/0"},
        {"!q^*", "0/0/0/0 0/0/0/0"},
        {"!q^**", "1/0/0/0 0/0/0/0"},
        {"!qw^+e@", "3/0/0/0 0/0/0/0"},
        {"!q^p", "1/0/0/0 1/0/0/0"},
        {"!q^=p", "0/0/0/0 1/0/0/0"},
        {"!q^=p<", "1/0/0/0 0/0/0/0"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct desk *desk = open_desk(NULL, 0, START);
        type(desk, cases[i].keys, START);
        check(desk, 0, cases[i].expected, cases[i].keys);
        desk_free(desk);
    }
}

/* The newest of one corner is flagged behind that corner's key, whatever came since. */
static void desk__review__the_newest_of_a_corner(void **state)
{
    (void)state;
    const struct subject *subjects = NULL;
    struct desk *desk = open_desk(NULL, 0, START);
    type(desk, "!qwio['", START);
    for (size_t i = 0; i < fold_subjects(desk_fold(desk), &subjects); i++) {
        bool w = subjects[i].now.strike.limb == LIMB_LEFT_HAND && !subjects[i].now.strike.corner;
        assert_int_equal(subjects[i].now.review, w && subjects[i].now.kind == ENTRY_STRIKE);
    }
    desk_free(desk);
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
    now = type(desk, "~50000 !r_", now); /* the rest is nearly over */
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
    now = type(desk, "=g", now); /* amends q */
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

/* Time passes until the second press of a question has stood. */
static unsigned stand(struct desk *desk, int64_t now)
{
    return desk_tick(desk, now + 200);
}

static void desk__key__leaving_asks_twice_and_once_more_with_unsaved(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int32_t leave = KEY_OF_F1 + 9;
    assert_int_equal(desk_key(desk, leave, START + 1000, 0), 0);
    assert_int_equal(desk_key(desk, 'q', START + 2000, 0), 0);
    assert_int_equal(desk_key(desk, leave, START + 3000, 0), 0);
    assert_int_equal(desk_key(desk, leave, START + 4000, 0), 0);
    assert_int_equal(desk_next_change(desk, START + 4000), START + 4150);
    assert_int_equal(stand(desk, START + 4000), DESK_WANTS_LEAVE);
    check(desk, 0, "1/0/0/0 0/0/0/0", "q in between");
    assert_int_equal(desk_key(desk, 'w', START + 20000, 0), 0);
    assert_int_equal(desk_key(desk, leave, START + 21000, 5), 0);
    assert_int_equal(desk_key(desk, leave, START + 22000, 5), 0);
    assert_int_equal(stand(desk, START + 22000), 0);
    assert_int_equal(desk_key(desk, leave, START + 23000, 5), 0);
    assert_int_equal(stand(desk, START + 23000), DESK_WANTS_LEAVE);
    desk_free(desk);
}

/* A key held down as keyboards do it: the press, a wait, then even repeats. */
static int64_t hold(struct desk *desk, int32_t key, int64_t wait, int64_t period, int repeats,
                    int64_t now)
{
    unsigned wants = desk_key(desk, key, now, 0);
    now += wait;
    for (int i = 0; i < repeats; i++, now += period) {
        wants |= desk_key(desk, key, now, 0);
    }
    wants |= desk_tick(desk, now + 1000);
    assert_int_equal(wants, 0);
    return now;
}

static void desk__hold__one_stroke_and_nothing_else(void **state)
{
    (void)state;
    /* What was typed before, the key held, what must stand after. */
    static const struct {
        const char *before;
        int32_t key;
        const char *expected;
    } cases[] = {
        {"!qw", 'e', "3/0/0/0 0/0/0/0"},
        {"!qw", 'E', "3/1/0/0 0/0/0/0"},
        {"!qw", 'x', "2/0/0/0 0/0/0/0"},  /* the rules refuse it */
        {"!qw", '\\', "2/0/0/0 0/0/0/0"}, /* nothing to bring back */
        {"!qw", '#', "2/0/0/0 0/0/0/0"},  /* a mark's second key, after which none is blocked */
        {"!qw", ' ', "2/1/0/0 0/0/0/0"},
        {"!qw", KEY_OF_BACKSPACE, "1/0/0/0 0/0/0/0"},
        {"", KEY_OF_BACKSPACE, "0/0/0/0 0/0/0/0"}, /* nothing to take back */
        {"!qw<", '\\', "2/0/0/0 0/0/0/0"},
        {"!qw", KEY_OF_F1 + 9, "2/0/0/0 0/0/0/0"}, /* leaves nothing */
        {"!qw", KEY_OF_F1 + 4, "2/0/0/0 0/0/0/0"},
        {"!qw^", KEY_OF_DELETE, "1/0/0/0 0/0/0/0"},
    };
    /* Waits and periods of keyboards: usual, fast, kbdrate's slow reset. */
    static const int64_t boards[][2] = {{500, 33}, {660, 40}, {250, 30}, {150, 33}, {250, 92}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        for (size_t b = 0; b < sizeof boards / sizeof boards[0]; b++) {
            struct desk *desk = open_desk(NULL, 0, START);
            char label[64];
            bool slow = boards[b][1] > REPEAT_FAST;
            int64_t now = type(desk, cases[i].before, START) + 1000;
            hold(desk, cases[i].key, boards[b][0], boards[b][1], slow ? 14 : 20, now);
            snprintf(label, sizeof label, "%s, held key %zu, board %zu", cases[i].before, i, b);
            check(desk, 0, cases[i].key == '#' ? "2/0/1/0 0/0/0/0" : cases[i].expected, label);
            desk_free(desk);
        }
    }
}

static void desk__hold__enter_begins_no_extension(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = START;
    for (int round = 0; round < 3; round++) {
        now = type(desk, "!", now) + 239000;
        desk_tick(desk, now);
    }
    assert_int_equal(desk_clock(desk, now).state, CLOCK_OVER);
    now = hold(desk, KEY_OF_ENTER, 500, 33, 30, now + 1000);
    assert_int_equal(desk_clock(desk, now + 2000).state, CLOCK_OVER);
    assert_int_equal(desk_clock(desk, now + 2000).round, 3);
    desk_free(desk);
}

/* Hands as fast as they come are no held key: alternating flurries, and one limb thrice. */
static void desk__hold__hurried_hands_lose_nothing(void **state)
{
    (void)state;
    static const int jitter[] = {0, 7, -9, 14, -5, 11, -13, 3, 9, -8};
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "!", START) + 1000;
    int typed = 0;
    for (int i = 0; i < 60; i++) {
        const char *keys = i % 3 ? "wekl" : "wwee";
        now += 125 + jitter[i % 10];
        desk_key(desk, keys[i % 4], now, 0);
        typed++;
    }
    const struct tally *tally = fold_tally(desk_fold(desk));
    assert_int_equal(tally->all.corner[0].all.attempted + tally->all.corner[1].all.attempted,
                     typed);
    desk_free(desk);
}

/* Ten strikes after three touches of Up: all of them are strikes, and no entry is falsified. */
static void desk__log__no_live_strike_is_an_amendment(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "!~300 w~300 W~300 e~300 E~300 i~300 I~300 o~300 O", START);
    now = type(desk, "^~300 ^~300 ^", now);
    type(desk, "~333 q~333 W~333 s~333 D~333 k~333 L~333 p~333 R", now);
    check(desk, 0, "9/5/0/0 7/3/0/0", "after Up");
    assert_int_equal(fold_tally(desk_fold(desk))->all.corrections, 0);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    desk_free(desk);
}

static void desk__undo__state_is_as_it_was(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    bool urgent = false;
    int64_t now = type(desk, "!q5`", START);
    assert_int_equal(fold_stance(desk_fold(desk), CORNER_RED), STANCE_SOUTHPAW);
    now = type(desk, "<", now);
    assert_non_null(strstr(desk_notice(desk, now, &urgent), "taken back: clinch"));
    assert_int_equal(fold_position(desk_fold(desk)), POSITION_OPEN);
    now = type(desk, "<", now);
    assert_non_null(strstr(desk_notice(desk, now, &urgent), "taken back: red now southpaw"));
    assert_int_equal(fold_stance(desk_fold(desk), CORNER_RED), STANCE_ORTHODOX);
    now = type(desk, "\\", now);
    assert_int_equal(fold_stance(desk_fold(desk), CORNER_RED), STANCE_SOUTHPAW);
    now = type(desk, "<!", now); /* the clock stops */
    int32_t stood = desk_clock(desk, now).elapsed_ms;
    now = type(desk, "~5000 <", now); /* as if it never had */
    assert_int_equal(desk_clock(desk, now).state, CLOCK_RUNNING);
    assert_int_equal(desk_clock(desk, now).elapsed_ms, stood + 5000);
    now = type(desk, "<<", now); /* the strike, then the start */
    assert_int_equal(desk_clock(desk, now).state, CLOCK_READY);
    check(desk, 0, "0/0/0/0 0/0/0/0", "all taken back");
    desk_free(desk);
}

static void desk__undo__of_everything_is_the_empty_bout(void **state)
{
    (void)state;
    static const char keys[] = "!qWes_3Dk5l`7p'[w]d-i\"o!~3000 !q^*@^=w^+e@z";
    struct desk *desk = open_desk(NULL, 0, START);
    bool urgent = false;
    int64_t now = type(desk, keys, START);
    for (int i = 0; i < 60; i++) {
        now = type(desk, "<", now);
    }
    assert_string_equal(desk_notice(desk, now, &urgent), "nothing to take back");
    const struct tally *tally = fold_tally(desk_fold(desk));
    check(desk, 0, "0/0/0/0 0/0/0/0", keys);
    assert_int_equal(tally->last_round, 0);
    assert_int_equal(tally->all.corner[0].incidents[CODE_WARNING], 0);
    assert_int_equal(tally->all.corner[1].deducted, 0);
    assert_int_equal(desk_clock(desk, now).state, CLOCK_READY);
    assert_int_equal(fold_stance(desk_fold(desk), CORNER_RED), STANCE_ORTHODOX);
    assert_false(fold_hidden(desk_fold(desk), CORNER_RED));
    desk_free(desk);
}

static void desk__range__one_action_one_undo(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "!qWe`sDk`l", START);
    check(desk, 0, "5/2/0/0 2/0/0/0", "before");
    now = type(desk, "!^", now); /* clock stands, the log opens on all but nothing to look at */
    desk_key(desk, KEY_OF_END, ++now, 0);
    for (int i = 0; i < 3; i++) {
        desk_key(desk, KEY_OF_SHIFT_UP, now += 500, 0);
    }
    assert_int_equal(desk_range(desk), RANGE_HERE);
    now = type(desk, "=1", now); /* start, q, W, e: three strikes to the other corner */
    check(desk, 0, "2/1/0/0 5/1/0/0", "other corner");
    now = type(desk, "<", now);
    check(desk, 0, "5/2/0/0 2/0/0/0", "taken back at once");
    now = type(desk, "\\", now);
    check(desk, 0, "2/1/0/0 5/1/0/0", "brought back at once");
    now = type(desk, "<@^", now);
    desk_key(desk, KEY_OF_F1 + 10, ++now, 0);
    desk_key(desk, KEY_OF_F1 + 10, now += 500, 0);
    assert_int_equal(desk_range(desk), RANGE_ROUND);
    now = type(desk, "=2", now); /* the whole round belongs to the next one */
    check(desk, 1, "0/0/0/0 0/0/0/0", "round 1");
    check(desk, 2, "5/2/0/0 2/0/0/0", "round 2");
    type(desk, "<", now);
    check(desk, 1, "5/2/0/0 2/0/0/0", "round 1 again");
    desk_free(desk);
}

static void desk__view__what_was_not_seen_is_said(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    int64_t now = type(desk, "!q-", START);
    assert_true(fold_hidden(desk_fold(desk), CORNER_RED));
    assert_true(fold_hidden(desk_fold(desk), CORNER_BLUE));
    now = type(desk, "~7000 w", now);
    assert_false(fold_hidden(desk_fold(desk), CORNER_RED));
    assert_true(fold_hidden(desk_fold(desk), CORNER_BLUE));
    assert_int_equal(fold_unseen(desk_fold(desk), 1, CORNER_RED, now), 7000);
    now = type(desk, "~3000 -", now); /* both free, or another corner: blue is free again */
    assert_false(fold_hidden(desk_fold(desk), CORNER_BLUE));
    assert_int_equal(fold_unseen(desk_fold(desk), 0, CORNER_BLUE, now + 9000), 10000);
    now = type(desk, "---", now); /* both, red, blue */
    assert_false(fold_hidden(desk_fold(desk), CORNER_RED));
    assert_true(fold_hidden(desk_fold(desk), CORNER_BLUE));
    type(desk, "W\"", now);
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[CORNER_RED].unsure, 1);
    desk_free(desk);
}

static void desk__typo__caps_lock_is_noticed_and_turned_round(void **state)
{
    (void)state;
    struct desk *desk = open_desk(NULL, 0, START);
    bool urgent = false;
    int64_t now = type(desk, "!WEK", START);
    assert_non_null(strstr(desk_notice(desk, now, &urgent), "CAPS LOCK?"));
    assert_true(urgent);
    check(desk, 0, "2/2/0/0 1/1/0/0", "caps");
    desk_key(desk, KEY_OF_F1 + 11, ++now, 0);
    check(desk, 0, "2/0/0/0 1/0/0/0", "turned round");
    now = type(desk, "<", now);
    check(desk, 0, "2/2/0/0 1/1/0/0", "they were landed after all");
    type(desk, "[W", now); /* a letter answers in either case */
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].incidents[CODE_WARNING], 1);
    desk_free(desk);
}

static void desk__typo__a_foreign_layout_is_noticed_and_turned_round(void **state)
{
    (void)state;
    static const int32_t cyrillic[] = {0x0446, 0x0426, 0x0449}; /* where w, W and o are */
    struct desk *desk = open_desk(NULL, 0, START);
    bool urgent = false;
    int64_t now = type(desk, "!", START);
    for (int i = 0; i < 3; i++) {
        desk_key(desk, cyrillic[i], now += 400, 0);
    }
    assert_non_null(strstr(desk_notice(desk, now, &urgent), "WRONG KEYBOARD LAYOUT?"));
    assert_true(urgent);
    check(desk, 0, "0/0/0/0 0/0/0/0", "nothing yet");
    desk_key(desk, KEY_OF_F1 + 11, now + 5000, 0);
    check(desk, 0, "2/1/0/0 1/0/0/0", "by their place");
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(desk_fold(desk), &subjects);
    assert_int_equal(subjects[count - 1].now.at_ms, now); /* at their moments */
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desk__key__exact_meanings),
        cmocka_unit_test(desk__review__the_newest_of_a_corner),
        cmocka_unit_test(desk__key__strikes_belong_to_their_round),
        cmocka_unit_test(desk__key__a_mark_does_not_reach_the_round_before),
        cmocka_unit_test(desk__key__stance_and_position_are_copied),
        cmocka_unit_test(desk__new__a_resumed_desk_goes_on),
        cmocka_unit_test(desk__log__opens_on_what_wants_a_look),
        cmocka_unit_test(desk__log__closes_by_itself_under_a_running_clock),
        cmocka_unit_test(desk__key__a_signed_record_takes_nothing),
        cmocka_unit_test(desk__sync__notes_the_moment_of_its_key),
        cmocka_unit_test(desk__key__leaving_asks_twice_and_once_more_with_unsaved),
        cmocka_unit_test(desk__hold__one_stroke_and_nothing_else),
        cmocka_unit_test(desk__hold__enter_begins_no_extension),
        cmocka_unit_test(desk__hold__hurried_hands_lose_nothing),
        cmocka_unit_test(desk__log__no_live_strike_is_an_amendment),
        cmocka_unit_test(desk__undo__state_is_as_it_was),
        cmocka_unit_test(desk__undo__of_everything_is_the_empty_bout),
        cmocka_unit_test(desk__range__one_action_one_undo),
        cmocka_unit_test(desk__view__what_was_not_seen_is_said),
        cmocka_unit_test(desk__typo__caps_lock_is_noticed_and_turned_round),
        cmocka_unit_test(desk__typo__a_foreign_layout_is_noticed_and_turned_round),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
