/* A random evening with several desks on one bout: an official for each corner, killed and opened
 * again, taken over by the partner or by a relief, with news that come late. Typed into the real
 * desks and held against a plain model of who counted what, and against what the screens said.
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

#define BOUTS  600
#define STEPS  120
#define START  1000000
#define LOG    8192
#define ROWS   64
#define PEOPLE 3
#define TYPED  16384

enum { RED, BLUE, CLOCK, OFFICES };

/* What a keystroke did, as the model has it. */
struct stroke {
    int root;
    int strike; /* index; -1: another key that writes */
    bool mark;  /* Space on that strike, instead of the strike itself */
    bool undone;
};

struct told {
    int corner;
    bool landed, live;
    bool counts; /* its desk was official for the corner then */
};

struct person {
    const char *name;
    uint8_t corners;
    struct desk *desk; /* NULL: nobody is at it */
    int row, root;     /* root -1: never opened */
    bool left;         /* closed in order */
    size_t heard;      /* entries; */
    int heard_rows;
    int32_t last; /* key */
};

struct hall {
    uint64_t seed;
    int64_t now;
    struct person person[PEOPLE];
    struct desk_row row[ROWS];
    int rows;
    struct entry log[LOG];
    size_t count;
    int office[OFFICES]; /* root; -1: nobody */
    struct told strike[LOG];
    int strikes;
    struct stroke stroke[LOG];
    int strokes;
    char typed[TYPED];
};

static struct desk_setup setup;

static uint32_t roll(struct hall *hall, uint32_t sides)
{
    hall->seed = hall->seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(hall->seed >> 33) % sides;
}

#define REQUIRE(hall, condition, what)                                                             \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fail_msg("%s; typed:%s", what, (hall)->typed);                                         \
        }                                                                                          \
    } while (0)

static void note(struct hall *hall, const struct person *who, const char *what)
{
    size_t used = strlen(hall->typed);
    snprintf(hall->typed + used, TYPED - used, " %s:%s", who->name, what);
}

static void take(struct hall *hall, struct person *who)
{
    const struct entry *entries = NULL;
    size_t count = desk_take(who->desk, &entries);
    assert_true(hall->count + count <= LOG);
    if (count) {
        memcpy(hall->log + hall->count, entries, count * sizeof *entries);
    }
    hall->count += count;
}

static const char *said(const struct hall *hall, const struct person *who)
{
    bool urgent = false;
    return desk_notice(who->desk, hall->now, &urgent);
}

static const struct person *at(const struct hall *hall, int root)
{
    for (int i = 0; i < PEOPLE; i++) {
        if (hall->person[i].root == root && root >= 0) {
            return &hall->person[i];
        }
    }
    return NULL;
}

static bool is_there(const struct hall *hall, int root)
{
    const struct person *who = at(hall, root);
    return who && who->desk;
}

/* All that the others wrote, and who of them is alive. */
static void hear(struct hall *hall, struct person *who)
{
    struct desk_sign signs[ROWS];
    uint8_t before = 0, now = 0;
    for (int i = 0; i < OFFICES; i++) {
        static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
        before |= desk_is_official(who->desk, codes[i]) ? (uint8_t)(1u << i) : 0;
        now |= hall->office[i] == who->root ? (uint8_t)(1u << i) : 0;
    }
    desk_alarms(who->desk);
    assert_int_equal(desk_learn(who->desk, hall->row + who->heard_rows,
                                hall->rows - who->heard_rows, hall->log + who->heard,
                                hall->count - who->heard, hall->now),
                     0);
    who->heard = hall->count;
    who->heard_rows = hall->rows;
    desk_tick(who->desk, hall->now);
    if (before & ~now) {
        REQUIRE(hall, strstr(said(hall, who), "TOOK OVER"), "who loses an office is told");
        REQUIRE(hall, desk_alarms(who->desk) & ALARM_OFFICE, "and it rings");
    }
    for (int i = 0; i < hall->rows; i++) {
        const struct person *other = at(hall, hall->row[i].root);
        signs[i] = (struct desk_sign){
            .held = other->desk, .left = !other->desk && other->left, .seen_ms = hall->now};
    }
    assert_int_equal(desk_hear_signs(who->desk, signs, hall->rows, hall->now), 0);
    take(hall, who);
}

static void press(struct hall *hall, struct person *who, int32_t key, int64_t wait)
{
    char word[16];
    hall->now += wait;
    note(hall, who, key_word(word, key));
    desk_key(who->desk, key, hall->now, 0);
    who->last = key;
    take(hall, who);
}

/* As the console opens a desk: it takes what no other live desk has. */
static void open_desk(struct hall *hall, struct person *who)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    assert_true(hall->rows < ROWS);
    note(hall, who, "(opens)");
    struct desk_row *row = &hall->row[hall->rows];
    *row = (struct desk_row){.corners = who->corners, .opened_ms = hall->now};
    snprintf(row->uid, sizeof row->uid, "%04d",
             (int)((roll(hall, 9000) + 1000) * ROWS) + hall->rows);
    snprintf(row->name, sizeof row->name, "%s", who->name);
    snprintf(row->operator_, sizeof row->operator_, "%s", who->name);
    who->row = hall->rows++;
    who->root = row->root = who->root < 0 ? who->row : who->root;
    uint8_t claim = 0;
    for (int i = 0; i < OFFICES; i++) {
        bool wanted = i == CLOCK || who->corners >> i & 1;
        bool others =
            hall->office[i] >= 0 && hall->office[i] != who->root && is_there(hall, hall->office[i]);
        claim |= wanted && !others ? (uint8_t)(1u << i) : 0;
        hall->office[i] = wanted && !others ? who->root : hall->office[i];
    }
    setup.desks = hall->row;
    setup.desk_count = hall->rows;
    setup.self = who->row;
    setup.entries = hall->log;
    setup.entry_count = hall->count;
    setup.claim = claim;
    who->desk = desk_new(&setup, hall->now);
    assert_non_null(who->desk);
    take(hall, who);
    who->heard = hall->count;
    who->heard_rows = hall->rows;
    for (int i = 0; i < OFFICES; i++) {
        REQUIRE(hall, desk_is_official(who->desk, codes[i]) == (hall->office[i] == who->root),
                "it holds what nobody else is there for");
    }
}

static void gone(struct hall *hall, struct person *who, bool left)
{
    note(hall, who, left ? "(leaves)" : "(killed)");
    desk_finish(who->desk, hall->now);
    take(hall, who);
    desk_free(who->desk);
    who->desk = NULL;
    who->left = left;
}

static void did(struct hall *hall, int root, int strike, bool mark)
{
    int kept = 0; /* something new: what was taken back is gone for good */
    for (int i = 0; i < hall->strokes; i++) {
        if (hall->stroke[i].root != root || !hall->stroke[i].undone) {
            hall->stroke[kept++] = hall->stroke[i];
        }
    }
    hall->strokes = kept;
    assert_true(hall->strokes < LOG);
    hall->stroke[hall->strokes++] = (struct stroke){root, strike, mark, false};
}

static void strike(struct hall *hall, struct person *who)
{
    static const char pad[] = "qwerasdfzvuiopjkl;m/";
    int32_t key = pad[roll(hall, sizeof pad - 1)];
    bool landed = roll(hall, 3) == 0, knows = roll(hall, 2);
    bool red = memchr("qwerasdfzv", key, 10);
    if (landed) {
        key = key == ';' ? ':' : key == '/' ? '?' : key - 'a' + 'A';
    }
    if (knows) {
        hall->now += 6000; /* nothing older is on the screen */
        hear(hall, who);
    }
    press(hall, who, key, 400 + roll(hall, 400));
    bool counts = hall->office[red ? RED : BLUE] == who->root;
    assert_true(hall->strikes < LOG);
    hall->strike[hall->strikes] = (struct told){red ? RED : BLUE, landed, true, counts};
    did(hall, who->root, hall->strikes++, false);
    if (knows) {
        REQUIRE(hall, !strncmp(said(hall, who), "NOT COUNTED", 11) == !counts,
                "a strike that does not count is named, and no other");
    }
}

/* Space: the newest of this desk, where it is in this round and its own. */
static void land(struct hall *hall, struct person *who)
{
    int newest = -1;
    for (int i = 0; i < hall->strokes; i++) {
        const struct stroke *stroke = &hall->stroke[i];
        if (stroke->root == who->root && !stroke->undone && stroke->strike >= 0 && !stroke->mark &&
            hall->strike[stroke->strike].live) {
            newest = stroke->strike;
        }
    }
    size_t from = hall->count;
    press(hall, who, ' ', 500);
    if (hall->count != from) {
        REQUIRE(hall, newest >= 0, "there was a strike to mark");
        hall->strike[newest].landed = !hall->strike[newest].landed;
        did(hall, who->root, newest, true);
    } else {
        REQUIRE(hall, said(hall, who)[0], "a key that writes nothing says so");
    }
}

static void apply(struct hall *hall, struct stroke *stroke, bool undo)
{
    stroke->undone = undo;
    if (stroke->strike >= 0 && stroke->mark) {
        hall->strike[stroke->strike].landed = !hall->strike[stroke->strike].landed;
    } else if (stroke->strike >= 0) {
        hall->strike[stroke->strike].live = !undo;
    }
}

static void undo(struct hall *hall, struct person *who)
{
    struct stroke *newest = NULL;
    for (int i = 0; i < hall->strokes; i++) {
        if (hall->stroke[i].root == who->root && !hall->stroke[i].undone) {
            newest = &hall->stroke[i];
        }
    }
    size_t from = hall->count;
    press(hall, who, KEY_OF_BACKSPACE, 500);
    REQUIRE(hall, (hall->count != from) == (newest != NULL), "the newest keystroke is taken back");
    if (newest) {
        apply(hall, newest, true);
    }
}

static void redo(struct hall *hall, struct person *who)
{
    struct stroke *oldest = NULL;
    for (int i = hall->strokes; i-- > 0;) {
        if (hall->stroke[i].root == who->root && hall->stroke[i].undone) {
            oldest = &hall->stroke[i];
        }
    }
    size_t from = hall->count;
    press(hall, who, '\\', 500);
    REQUIRE(hall, (hall->count != from) == (oldest != NULL), "and brought back");
    if (oldest) {
        apply(hall, oldest, false);
    }
}

static void take_over(struct hall *hall, struct person *who)
{
    static const int32_t keys[] = {'[', ']', KEY_OF_ENTER};
    int what = (int)roll(hall, 4);
    press(hall, who, KEY_OF_ESC, 6000);
    hear(hall, who);
    press(hall, who, KEY_OF_F1 + 4, 400);
    if (what < OFFICES) {
        press(hall, who, keys[what], 400);
        hall->office[what] = who->root;
    } else {
        press(hall, who, KEY_OF_F1 + 4, 400);
        hall->now += 400;
        desk_tick(who->desk, hall->now);
        take(hall, who);
        for (int i = 0; i < OFFICES; i++) { /* its own, and what nobody is there for */
            bool own = i == CLOCK || who->corners >> i & 1;
            if (own || (hall->office[i] >= 0 && !is_there(hall, hall->office[i]))) {
                hall->office[i] = who->root;
            }
        }
    }
    REQUIRE(hall, strstr(said(hall, who), "this desk is official now"), "what was taken is told");
}

/* A partner that is not there is on the screen, with the keys. */
static void look(struct hall *hall, struct person *who)
{
    bool untended = false;
    hall->now += 7000;
    desk_tick(who->desk, hall->now);
    hear(hall, who);
    hall->now += 7000;
    hear(hall, who);
    for (int i = 0; i < OFFICES; i++) {
        untended = untended || (hall->office[i] >= 0 && hall->office[i] != who->root &&
                                !is_there(hall, hall->office[i]));
    }
    REQUIRE(hall, !strstr(said(hall, who), "nobody tags") == !untended,
            "an office that nobody is there for stays on the screen");
    REQUIRE(hall, !untended || strstr(said(hall, who), "Take it over: F5"), "with the key");
}

static void do_something(struct hall *hall)
{
    struct person *who = &hall->person[roll(hall, PEOPLE)];
    if (!who->desk) {
        if (roll(hall, 4) == 0) {
            open_desk(hall, who);
        }
        return;
    }
    switch (roll(hall, 24)) {
    case 0:
        gone(hall, who, roll(hall, 2));
        hall->now += 1 + roll(hall, 5000);
        break;
    case 1:
        take_over(hall, who);
        break;
    case 2:
    case 3:
        undo(hall, who);
        break;
    case 4:
        redo(hall, who);
        break;
    case 5:
        land(hall, who);
        break;
    case 6:
        look(hall, who);
        break;
    case 7:
    case 8:
        hear(hall, who);
        break;
    default:
        strike(hall, who);
        break;
    }
}

static void check(struct hall *hall, const struct tally *tally, const char *what)
{
    for (int corner = RED; corner <= BLUE; corner++) {
        int attempted = 0, landed = 0;
        for (int i = 0; i < hall->strikes; i++) {
            const struct told *strike = &hall->strike[i];
            if (strike->corner == corner && strike->live && strike->counts) {
                attempted++;
                landed += strike->landed;
            }
        }
        REQUIRE(hall, tally->all.corner[corner].all.attempted == attempted, what);
        REQUIRE(hall, tally->all.corner[corner].all.landed == landed, what);
    }
}

/* The log in an order of its own: what a third database makes of it. */
static void merged(struct hall *hall)
{
    struct clock_plan plan = clock_plan(&setup.rules, setup.bout.rounds);
    struct fold *fold = fold_new(&plan, &setup.bout, FOLD_OFFICIAL);
    assert_non_null(fold);
    for (int i = 0; i < hall->rows; i++) {
        assert_int_equal(fold_desk(fold, &hall->row[i]), 0);
    }
    for (size_t i = hall->count; i > 0; i--) {
        assert_int_equal(fold_add(fold, &hall->log[i - 1]), 0);
    }
    check(hall, fold_tally(fold), "the log folds to what was meant");
    fold_free(fold);
}

static void play(struct hall *hall, uint64_t seed)
{
    *hall = (struct hall){.seed = seed * 2654435761u + 1,
                          .now = START,
                          .office = {-1, -1, -1},
                          .person = {{.name = "ana", .corners = 1, .root = -1},
                                     {.name = "ben", .corners = 2, .root = -1},
                                     {.name = "cid", .corners = 3, .root = -1}}};
    snprintf(hall->typed, TYPED, " seed %llu:", (unsigned long long)seed);
    open_desk(hall, &hall->person[0]);
    hall->now += 1000;
    open_desk(hall, &hall->person[1]);
    press(hall, &hall->person[0], KEY_OF_ENTER, 2000);
    did(hall, hall->person[0].root, -1, false);
    for (int steps = (int)roll(hall, STEPS); steps > 0 && hall->rows < ROWS - PEOPLE; steps--) {
        hall->now += 1 + roll(hall, 300);
        do_something(hall);
    }
    for (int i = 0; i < PEOPLE; i++) {
        struct person *who = &hall->person[i];
        if (!who->desk) {
            continue;
        }
        hall->now += 7000;
        hear(hall, who);
        check(hall, fold_tally(desk_fold(who->desk)), "every desk shows what was meant");
    }
    merged(hall);
    for (int i = 0; i < PEOPLE; i++) { /* and each takes all of theirs back */
        struct person *who = &hall->person[i];
        if (who->root >= 0 && !who->desk) {
            open_desk(hall, who);
        }
        for (int n = 0; who->desk && n <= hall->strokes; n++) {
            undo(hall, who);
        }
    }
    merged(hall);
    for (int i = 0; i < PEOPLE; i++) {
        desk_free(hall->person[i].desk);
    }
}

static long from_environment(const char *name, long otherwise)
{
    const char *text = getenv(name);
    return text ? strtol(text, NULL, 10) : otherwise;
}

static void desks__random_evenings__count_what_was_official(void **state)
{
    (void)state;
    static struct hall hall;
    long bouts = from_environment("RINGTALLY_BOUTS", BOUTS);
    long first = from_environment("RINGTALLY_SEED", 1);
    for (long seed = first; seed < first + bouts; seed++) {
        play(&hall, (uint64_t)seed);
    }
}

int main(void)
{
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    if (rules_parse(&setup.rules, rules->data, rules->size, "rules", &err) ||
        keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err)) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desks__random_evenings__count_what_was_official),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
