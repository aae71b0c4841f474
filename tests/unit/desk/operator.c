/* A random operator: plausible evenings, with slips, bursts, wrong modes, bells missed, runs of
 * undo, held keys, desks killed and opened again, typed into the real desk and held against what
 * the operator meant and what the screen said.
 *
 * RINGTALLY_BOUTS=N plays so many bouts instead of the suite's; RINGTALLY_SEED=N begins there.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/desk/desk.h"

#define BOUTS 2000
#define KEYS  90 /* a bout, at the most */
#define START 1000000
#define LOG   4096

static struct desk_setup setup;
static struct desk_row row = {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3};

struct evening {
    struct desk *desk;
    uint64_t seed;
    int64_t now;
    struct entry log[LOG]; /* all that the desk wrote, as the database would have it */
    size_t count;
    char typed[64 * KEYS]; /* for whoever looks into a failure */
    int32_t before;        /* the key before, and when */
    int64_t before_ms;
};

static uint32_t roll(struct evening *evening, uint32_t sides)
{
    evening->seed = evening->seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(evening->seed >> 33) % sides;
}

#define REQUIRE(evening, condition, what)                                                          \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fail_msg("%s; typed:%s", what, (evening)->typed);                                      \
        }                                                                                          \
    } while (0)

static void note(struct evening *evening, const char *what)
{
    size_t used = strlen(evening->typed);
    snprintf(evening->typed + used, sizeof evening->typed - used, " %s", what);
}

static void take(struct evening *evening)
{
    const struct entry *entries = NULL;
    size_t count = desk_take(evening->desk, &entries);
    assert_true(evening->count + count <= LOG);
    if (count) {
        memcpy(evening->log + evening->count, entries, count * sizeof *entries);
    }
    evening->count += count;
}

/* What the screen shows besides the counts; a key without effect must at least change this. */
struct seen {
    enum desk_mode mode;
    enum desk_page page;
    enum desk_filter filter;
    enum log_range range;
    bool help, amends, asked;
    long cursor;
    char notice[160], typing[64], jump[64], repair[128], note[TEXT_BYTES], clock[96], end[160];
    int way;
    enum corner noted;
    struct card_cursor card;
    struct strike cell;
};

static void look(struct seen *out, const struct evening *evening)
{
    const struct desk *desk = evening->desk;
    const long *order = NULL;
    bool urgent = false;
    memset(out, 0, sizeof *out);
    out->mode = desk_mode(desk);
    out->page = desk_page(desk);
    out->filter = desk_filter(desk);
    out->range = desk_range(desk);
    out->help = desk_help(desk);
    out->amends = desk_amends(desk);
    out->asked = desk_lookup(desk, &out->cell);
    desk_log(desk, &order, &out->cursor);
    snprintf(out->notice, sizeof out->notice, "%s", desk_notice(desk, evening->now, &urgent));
    desk_sync(desk, out->typing, sizeof out->typing);
    desk_jump(desk, out->jump, sizeof out->jump);
    desk_note(desk, &out->noted, out->note, sizeof out->note);
    desk_repair(desk, out->repair, sizeof out->repair);
    desk_cards(desk, &out->card);
    desk_clock_form(desk, evening->now, out->clock, sizeof out->clock);
    desk_end_form(desk, out->end, sizeof out->end, &out->way);
}

/* Strikes added since `from`, of that content; *others = those of another. */
static int added(const struct evening *evening, size_t from, const struct strike *strike,
                 int *others)
{
    int found = 0;
    *others = 0;
    for (size_t i = from; i < evening->count; i++) {
        const struct entry *entry = &evening->log[i];
        if (entry->kind == ENTRY_STRIKE && entry->act == ACT_ADD) {
            bool same = entry->strike.corner == strike->corner &&
                        entry->strike.limb == strike->limb &&
                        entry->strike.target == strike->target &&
                        entry->strike.outcome == strike->outcome && entry->at_ms == evening->now &&
                        entry->value == 0;
            found += same;
            *others += !same;
        }
    }
    return found;
}

/* What another key had left to be written: what arrows added up to, the number of a count, the
 * round that an answered question begins. */
static size_t due(const struct evening *evening, size_t from)
{
    size_t found = 0;
    for (size_t i = from; i < evening->count; i++) {
        const struct entry *entry = &evening->log[i];
        found += entry->kind == ENTRY_CLOCK && entry->code != CODE_STOP;
        found += entry->kind == ENTRY_INCIDENT && entry->act == ACT_REFINE && entry->value > 0;
    }
    return found;
}

/* What a key meant, decided from what the screen said before it. */
static void press(struct evening *evening, int32_t key, int64_t wait)
{
    char word[16], told[40];
    struct seen before, after;
    evening->now += wait;
    desk_tick(evening->desk, evening->now);
    take(evening);
    look(&before, evening);
    struct meaning meaning = keymap_find(&setup.keymap, key);
    enum clock_state state = desk_clock(evening->desk, evening->now).state;
    size_t from = evening->count;
    bool repeat = key == evening->before && evening->now - evening->before_ms < 160;
    snprintf(told, sizeof told, "%s", key_word(word, key));
    note(evening, told);
    desk_key(evening->desk, key, evening->now, 0);
    evening->before = key;
    evening->before_ms = evening->now;
    take(evening);
    look(&after, evening);
    bool wrote = evening->count != from;
    bool announced = before.amends || before.mode == DESK_INSERT;
    bool letter = (before.mode == DESK_INCIDENT && strchr("wdcktifanWDCKTIFAN", (int)key)) ||
                  before.mode == DESK_FOUL;
    if (meaning.action == ACTION_STRIKE && !announced && !letter && !repeat &&
        !((before.mode == DESK_LOOKUP || before.mode == DESK_JUMP || before.mode == DESK_NOTE) &&
          state != CLOCK_RUNNING)) {
        int others = 0;
        bool allowed = rules_allow(&setup.rules, meaning.strike.limb, meaning.strike.target);
        int found = added(evening, from, &meaning.strike, &others);
        REQUIRE(evening, found == allowed && others == 0, "a strike is logged once, as it is");
        REQUIRE(evening, evening->count - from - due(evening, from) == (size_t)allowed,
                "and nothing else is written");
    }
    if (announced && meaning.action == ACTION_STRIKE) {
        REQUIRE(evening, !after.amends && after.mode != DESK_INSERT, "one key, and it closes");
    }
    REQUIRE(evening, wrote || after.notice[0] || memcmp(&before, &after, sizeof before) != 0,
            "a key wrote an entry, or was named, or showed something");
}

static void type(struct evening *evening, const char *keys, int64_t wait)
{
    for (const char *at = keys; *at; at++) {
        press(evening, *at, wait + roll(evening, 60));
    }
}

/* A key held down as a keyboard does it. */
static void hold(struct evening *evening, int32_t key)
{
    static const int boards[][2] = {{500, 33}, {250, 30}, {660, 40}, {250, 92}};
    const int *board = boards[roll(evening, 4)];
    int repeats = 5 + (int)roll(evening, 12);
    press(evening, key, 700);
    for (int i = 0; i < repeats; i++) {
        press(evening, key, i ? board[1] : board[0]);
    }
    evening->now += 400;
    note(evening, "(held)");
}

/* The desk is killed, and opened again on what it had written. */
static void killed(struct evening *evening)
{
    note(evening, "(killed)");
    take(evening);
    struct tally before = *fold_tally(desk_fold(evening->desk));
    desk_free(evening->desk);
    setup.entries = evening->log;
    setup.entry_count = evening->count;
    evening->now += 1 + roll(evening, 20000);
    evening->desk = desk_new(&setup, evening->now);
    assert_non_null(evening->desk);
    take(evening);
    assert_memory_equal(&before, fold_tally(desk_fold(evening->desk)), sizeof before);
}

/* A run of undo and the same of redo leads back to the same count. */
static void back_and_forth(struct evening *evening)
{
    int steps = 1 + (int)roll(evening, 6);
    press(evening, KEY_OF_ESC, 900);
    press(evening, KEY_OF_ESC, 900);
    struct tally before = *fold_tally(desk_fold(evening->desk));
    int written = 0;
    for (int i = 0; i < steps; i++) {
        size_t from = evening->count;
        press(evening, KEY_OF_BACKSPACE, 400);
        written += evening->count != from;
    }
    for (int i = 0; i < written; i++) {
        press(evening, '\\', 400);
    }
    struct tally after = *fold_tally(desk_fold(evening->desk));
    for (int round = 0; round <= ROUND_MAX; round++) { /* those rise, which is as it should be */
        before.round[round].corrections = after.round[round].corrections = 0;
    }
    before.all.corrections = after.all.corrections = 0;
    REQUIRE(evening, memcmp(&before, &after, sizeof before) == 0,
            "redo brings back what undo took");
}

static void strikes(struct evening *evening)
{
    static const char pad[] = "qwertasdfgzvbyuiophjkl;nm/";
    int count = 1 + (int)roll(evening, 6);
    int32_t last = 0;
    for (int i = 0; i < count; i++) {
        int32_t key = pad[roll(evening, sizeof pad - 1)];
        if (roll(evening, 5) < 2) {
            key = key == ';' ? ':' : key == '/' ? '?' : key - 'a' + 'A';
        }
        int64_t wait = 90 + roll(evening, 700);
        press(evening, key, key == last ? wait + 170 : wait);
        last = key;
    }
}

static void do_something(struct evening *evening)
{
    static const char *const marks[] = {" ", "3", "1", "2", "4",  "5", "6", "0", "9",
                                        "8", "7", "`", "'", "\"", "-", "!", "&"};
    static const int32_t shows[] = {KEY_OF_TAB, KEY_OF_BACKTAB, KEY_OF_F1,
                                    KEY_OF_ESC, KEY_OF_HOME,    KEY_OF_F1 + 7};
    switch (roll(evening, 30)) {
    case 0:
    case 1:
        type(evening, marks[roll(evening, sizeof marks / sizeof *marks)], 300);
        break;
    case 2:
        press(evening, KEY_OF_ENTER, 400);
        break;
    case 3:
        evening->now += roll(evening, 200000); /* a bell missed, or a long look */
        break;
    case 4: /* the log, and what hands do in it */
        press(evening, roll(evening, 2) ? KEY_OF_UP : KEY_OF_DOWN, 400);
        for (uint32_t i = roll(evening, 6); i > 0; i--) {
            press(evening, roll(evening, 3) ? KEY_OF_DOWN : KEY_OF_UP, 150);
        }
        break;
    case 5: /* an entry opened, and not always used */
        press(evening, KEY_OF_UP, 400);
        press(evening, '=', 400);
        break;
    case 6:
        press(evening, roll(evening, 2) ? KEY_OF_DELETE : KEY_OF_INSERT, 400);
        break;
    case 7:
        type(evening, roll(evening, 2) ? "[" : "]", 300);
        type(evening, (const char *[]){"w", "d", "c", "k", "t", "i", "q", "P"}[roll(evening, 8)],
             250);
        break;
    case 8:
        press(evening, shows[roll(evening, sizeof shows / sizeof *shows)], 300);
        break;
    case 9: { /* a key held */
        static const int32_t held[] = {'q', 'W', KEY_OF_BACKSPACE, '\\', ' ', KEY_OF_F1 + 9, '`'};
        press(evening, KEY_OF_ESC, 900);
        hold(evening, held[roll(evening, sizeof held / sizeof *held)]);
        break;
    }
    case 10:
        killed(evening);
        break;
    case 11:
        back_and_forth(evening);
        break;
    case 12: /* a range put right */
        press(evening, KEY_OF_UP, 400);
        press(evening, KEY_OF_F1 + 10, 300);
        press(evening, KEY_OF_F1 + 10, 300);
        press(evening, '=', 300);
        type(evening, (const char *[]){"1", "2", "3", "5", "6", "w", "72"}[roll(evening, 7)], 300);
        press(evening, KEY_OF_ESC, 600);
        break;
    case 13: /* look-up, or in the log a jump */
        press(evening, KEY_OF_F1 + 2, 300);
        type(evening, (const char *[]){"", "1", "130", "w", "1200"}[roll(evening, 5)], 200);
        break;
    case 14:
        press(evening, KEY_OF_F1 + 1, 300); /* scorecards */
        type(evening, "09", 200);
        break;
    case 15:
        press(evening, KEY_OF_F1 + 6, 300); /* a time code */
        type(evening, "0101", 200);
        break;
    case 16:
        for (uint32_t i = roll(evening, 5); i > 0; i--) {
            press(evening, roll(evening, 2) ? KEY_OF_LEFT : KEY_OF_RIGHT, 120);
        }
        break;
    case 18: /* the clock set, or a start that was late */
        press(evening, KEY_OF_F1 + 8, 300);
        type(evening, roll(evening, 2) ? "+" : "1", 200);
        type(evening, (const char *[]){"30", "5", "", "130", "q", "["}[roll(evening, 6)], 250);
        press(evening, KEY_OF_ENTER, 400);
        break;
    case 19: /* the bout ended, or not */
        press(evening, KEY_OF_F1 + 3, 300);
        type(evening, (const char *[]){"1", "2", "9", "0", "", "8"}[roll(evening, 6)], 250);
        type(evening, (const char *[]){"[", "]", "", "w"}[roll(evening, 4)], 250);
        press(evening, roll(evening, 3) ? KEY_OF_ENTER : KEY_OF_DELETE, 400);
        press(evening, roll(evening, 2) ? KEY_OF_ENTER : KEY_OF_BACKSPACE, 1200);
        break;
    case 21: /* a note, and its words where the clock lets them be typed */
        type(evening, roll(evening, 2) ? "[n" : "]n", 300);
        type(evening, (const char *[]){"cut", "w8 ", "", "Qq["}[roll(evening, 4)], 250);
        press(evening, roll(evening, 3) ? KEY_OF_ENTER : KEY_OF_ESC, 400);
        break;
    case 20:
        press(evening, roll(evening, 2) ? KEY_OF_SHIFT_LEFT : KEY_OF_SHIFT_RIGHT, 300);
        break;
    case 17:
        press(evening, roll(evening, 2) ? 0x0446 : 'x', 400); /* means nothing here */
        break;
    default:
        strikes(evening);
        break;
    }
}

static void everything_taken_back(struct evening *evening)
{
    const struct fold *fold = NULL;
    bool urgent = false;
    note(evening, "(undo all)");
    press(evening, KEY_OF_ESC, 5000);
    press(evening, KEY_OF_ESC, 1000);
    press(evening, KEY_OF_ESC, 1000);
    for (int i = 0; i < 20 * KEYS; i++) {
        desk_key(evening->desk, KEY_OF_BACKSPACE, evening->now += 400, 0);
        take(evening);
        if (strcmp(desk_notice(evening->desk, evening->now, &urgent), "nothing to take back") ==
            0) {
            break;
        }
    }
    fold = desk_fold(evening->desk);
    struct tally empty = {0};
    struct tally left = *fold_tally(fold);
    for (int round = 0; round <= ROUND_MAX; round++) {
        left.round[round].corrections = 0;
    }
    left.all.corrections = 0;
    REQUIRE(evening, memcmp(&left, &empty, sizeof empty) == 0, "undo of all is the empty bout");
    REQUIRE(evening, desk_clock(evening->desk, evening->now).state == CLOCK_READY,
            "and the clock never ran");
    REQUIRE(evening,
            fold_stance(fold, CORNER_RED) == STANCE_ORTHODOX &&
                fold_stance(fold, CORNER_BLUE) == STANCE_SOUTHPAW &&
                fold_position(fold) == POSITION_OPEN && !fold_hidden(fold, CORNER_RED) &&
                !fold_hidden(fold, CORNER_BLUE),
            "and everybody stands as at the start");
}

/* Entries in an order of their own lead to the same count: what a merge brings. */
static void same_in_any_order(struct evening *evening)
{
    struct clock_plan plan = clock_plan(&setup.rules, setup.bout.rounds);
    struct fold *fold = fold_new(&plan, &setup.bout, FOLD_OFFICIAL);
    assert_non_null(fold);
    assert_int_equal(fold_desk(fold, &row), 0);
    for (size_t i = evening->count; i > 0; i--) {
        assert_int_equal(fold_add(fold, &evening->log[i - 1]), 0);
    }
    REQUIRE(evening,
            memcmp(fold_tally(fold), fold_tally(desk_fold(evening->desk)), sizeof(struct tally)) ==
                0,
            "the log folds to what the desk shows");
    fold_free(fold);
}

static void play(struct evening *evening, uint64_t seed)
{
    setup.entries = NULL;
    setup.entry_count = 0;
    *evening = (struct evening){.seed = seed * 2654435761u + 1, .now = START};
    snprintf(evening->typed, sizeof evening->typed, " seed %llu:", (unsigned long long)seed);
    evening->desk = desk_new(&setup, evening->now);
    assert_non_null(evening->desk);
    take(evening);
    press(evening, KEY_OF_ENTER, 2000);
    for (int keys = (int)roll(evening, KEYS / 3); keys > 0; keys--) {
        do_something(evening);
    }
    same_in_any_order(evening);
    everything_taken_back(evening);
    desk_free(evening->desk);
}

static long from_environment(const char *name, long otherwise)
{
    const char *text = getenv(name);
    return text ? strtol(text, NULL, 10) : otherwise;
}

static void operator__random_evenings__mean_what_was_meant(void **state)
{
    (void)state;
    static struct evening evening;
    long bouts = from_environment("RINGTALLY_BOUTS", BOUTS);
    long first = from_environment("RINGTALLY_SEED", 1);
    for (long seed = first; seed < first + bouts; seed++) {
        play(&evening, (uint64_t)seed);
    }
}

int main(void)
{
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    setup = (struct desk_setup){.desks = &row, .desk_count = 1, .claim = 7};
    setup.bout.fighter[CORNER_BLUE].stance = STANCE_SOUTHPAW;
    if (rules_parse(&setup.rules, rules->data, rules->size, "rules", &err) ||
        keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err)) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(operator__random_evenings__mean_what_was_meant),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
