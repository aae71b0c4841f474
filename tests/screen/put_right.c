/* put_right.c: the log under the keys, the rest, a signed record and settling, on the real screen:
 * what is amended there is in the database as an entry of its own. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "run.h"
#include "times.h"
#include "with_rig.h"

#define BOUT   "saltglass-4/1"
#define STRIKE "SELECT count(*) FROM strike WHERE official AND "
#define ENTRY  "SELECT count(*) FROM entry WHERE "

static struct vt *open_desk(const struct rig *rig, const char *operator_, const char *ready)
{
    const char *more[] = {"--operator", operator_, NULL};
    struct vt *vt = rig_desk(rig, BOUT, more, NULL, ready);
    assert_non_null(vt);
    return vt;
}

/* Runs the program on the rig's database; its output, until the next call. */
static const char *call(const struct rig *rig, int status, const char *const *words)
{
    const char *argv[16] = {rig->program, "--db", rig->db};
    static struct run result;
    for (int i = 0; words[i] && i < 12; i++) {
        argv[3 + i] = words[i];
    }
    run(&result, rig->folder, argv);
    if (result.status != status) {
        fail_msg("%s: exit %d: %s", words[0], result.status, result.out);
    }
    return result.out;
}

static void expect(const struct rig *rig, const char *const *words, const char *text)
{
    const char *out = call(rig, 0, words);
    if (!strstr(out, text)) {
        fail_msg("no \"%s\" in what %s says:\n%s", text, words[0], out);
    }
}

/* The same, once the desk has saved what was typed last. */
static void expect_soon(const struct rig *rig, struct vt *vt, const char *const *words,
                        const char *text)
{
    int64_t deadline = vt_now() + (int64_t)RIG_WAIT_MS * 1000000;
    bool there = false;
    while (!there && vt_now() < deadline) {
        there = strstr(call(rig, 0, words), text) != NULL;
        vt_pump(vt, 20);
    }
    expect(rig, words, text);
}

struct list {
    const char *mode;
    int listed;
};

/* The log is in that mode and lists so many entries. */
static bool lists(struct vt *vt, void *context)
{
    const struct list *list = context;
    char text[512];
    int row = 0, seen = 0;
    if (!vt_find(vt, list->mode, &row, NULL)) {
        return false;
    }
    while (++row < vt_rows(vt) - 1) {
        seen += strstr(vt_row(vt, row, 0, 0, text, sizeof text), "R1 ") != NULL;
    }
    return seen == list->listed;
}

/* The row with that text is inverted over the whole width: nobody overlooks it. */
static bool is_banner(struct vt *vt, const char *text)
{
    int row = 0;
    bool inverted = vt_find(vt, text, &row, NULL);
    for (int column = 0; column < vt_columns(vt) && inverted; column++) {
        inverted = vt_cell(vt, row, column).reverse;
    }
    if (!inverted) {
        vt_print(vt, text);
    }
    return inverted;
}

/* Opens the entry under the cursor for one key. */
static void amend(struct vt *vt, const char *key)
{
    rig_finger(vt, "=");
    assert_true(vt_wait_text(vt, "OPEN", RIG_WAIT_MS));
    rig_finger(vt, key);
}

static void log__each_key__amends_the_entry_under_the_cursor(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", RIG_READY);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWeI", 40);
    rig_finger(vt, "Enter"); /* the clock stands */
    assert_true(vt_wait_text(vt, "STOPPED", RIG_WAIT_MS));
    rig_finger(vt, "Up");
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS));
    assert_true(is_banner(vt, "LOG: all"));
    assert_true(vt_wait_text(vt, "\u25ba", RIG_WAIT_MS)); /* on the newest: I */
    rig_finger(vt, "Down");                               /* e */
    amend(vt, "d");
    assert_true(vt_wait_text(vt, "amended: red right hand body", RIG_WAIT_MS));
    amend(vt, "Space");
    assert_true(vt_wait_text(vt, "amended: red right hand body, landed", RIG_WAIT_MS));
    amend(vt, "4");
    assert_true(vt_wait_text(vt, "landed, knockdown", RIG_WAIT_MS));
    amend(vt, "1");
    assert_true(vt_wait_text(vt, "knockdown, spinning", RIG_WAIT_MS));
    amend(vt, "2");
    assert_true(vt_wait_text(vt, "spinning, jumping", RIG_WAIT_MS));
    amend(vt, "5");
    assert_true(vt_wait_text(vt, "jumping, southpaw", RIG_WAIT_MS));
    amend(vt, "`");
    assert_true(vt_wait_text(vt, "jumping, clinch", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "corrected 7x", RIG_WAIT_MS));
    assert_true(rig_wait_saved(vt, 16)); /* three claims, clock, strikes, clock, amendments */
    assert_int_equal(rig_number(rig, STRIKE "seq = 7 AND limb = 'right_hand' AND target = 'body' "
                                            "AND outcome = 'landed' AND knockdown AND spinning AND "
                                            "jumping AND stance = 'southpaw' AND position = "
                                            "'clinch'"),
                     1);
    amend(vt, "3"); /* blocked: neither landed nor a knockdown any more */
    assert_true(vt_wait_text(vt, "amended: red right hand body, blocked", RIG_WAIT_MS));
    amend(vt, "i"); /* of the other corner */
    assert_true(vt_wait_text(vt, "amended: blue left hand head, blocked", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    assert_true(rig_wait_total(vt, 'b', 1, 2));
    amend(vt, "x"); /* no elbows in kickboxing, in the log neither */
    assert_true(vt_wait_text(vt, "has no left elbow", RIG_WAIT_MS));
    rig_finger(vt, "Esc");
    assert_true(vt_wait_gone(vt, "LOG: all", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    /* The entry itself never changed. */
    assert_int_equal(rig_number(rig, ENTRY "seq = 7 AND act = 'add' AND corner = 'red' AND limb = "
                                           "'right_hand' AND target = 'head'"),
                     1);
    assert_int_equal(rig_number(rig, ENTRY "act = 'amend' AND subject_seq = 7"), 9);
}

static void log__void_and_insert__and_back(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", RIG_READY);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWe", 40);
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "STOPPED", RIG_WAIT_MS));
    rig_finger(vt, "Down");
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS));
    rig_finger(vt, "Delete");
    assert_true(vt_wait_text(vt, "VOID", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 2));
    rig_finger(vt, "Delete");
    assert_true(vt_wait_text(vt, "counts again", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    rig_finger(vt, "Down");
    rig_finger(vt, "Insert");
    assert_true(vt_wait_text(vt, "INSERT", RIG_WAIT_MS));
    assert_true(is_banner(vt, "INSERT"));
    rig_finger(vt, "Esc"); /* not inserted after all: back in the log */
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS));
    rig_finger(vt, "Insert");
    rig_finger(vt, "O");
    assert_true(vt_wait_text(vt, "inserted: blue right hand head, landed", RIG_WAIT_MS));
    rig_finger(vt, "+");
    rig_finger(vt, "b");
    assert_true(vt_wait_text(vt, "inserted: red knee leg", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'b', 1, 1));
    assert_true(rig_wait_total(vt, 'r', 1, 4));
    assert_int_equal(rig_leave(vt), 0);
    /* Both stand at the moment of W, on the round clock too. */
    assert_int_equal(rig_number(rig, STRIKE "elapsed_ms = (SELECT elapsed_ms FROM strike WHERE "
                                            "limb = 'left_hand')"),
                     3);
}

static void log__filters__show_what_they_say(void **state)
{
    static struct list filters[] = {{"LOG: flagged", 1},   {"LOG: red", 2},  {"LOG: blue", 2},
                                    {"LOG: left hand", 3}, {"LOG: head", 3}, {"LOG: to look at", 2},
                                    {"LOG: all", 5}};
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", RIG_READY);
    vt_type_every(vt, "q", 40); /* off the clock */
    vt_press(vt, "Enter");
    vt_type_every(vt, "W'k", 60);
    vt_type_every(vt, "i", 60);
    assert_true(rig_wait_total(vt, 'b', 0, 2));
    rig_finger(vt, "Up");
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS)); /* under a running clock: all */
    for (size_t i = 0; i < sizeof filters / sizeof *filters; i++) {
        rig_finger(vt, "F8");
        assert_true(vt_wait(vt, lists, &filters[i], RIG_WAIT_MS, filters[i].mode));
    }
    assert_int_equal(rig_leave(vt), 0);
}

/* The row under the cursor has that text. */
static bool stands_on(struct vt *vt, void *context)
{
    char text[512];
    for (int row = 0; row < vt_rows(vt); row++) {
        vt_row(vt, row, 0, 0, text, sizeof text);
        if (strncmp(text, "\u25ba", strlen("\u25ba")) == 0 && strstr(text, context)) {
            return true;
        }
    }
    return false;
}

static bool on(struct vt *vt, const char *text)
{
    return vt_wait(vt, stands_on, (void *)text, RIG_WAIT_MS, text);
}

static void type_slowly(struct vt *vt, const char *keys)
{
    char key[2] = "";
    for (; *keys; keys++) {
        key[0] = *keys;
        rig_finger(vt, key);
    }
}

static void log__jump__by_round_time_and_pad_key(void **state)
{
    struct rig *rig = *state;
    struct times times;
    times_open(&times, rig->folder);
    struct vt *vt = rig_desk(rig, BOUT, NULL, &(struct vt_setup){.env = times.env}, RIG_READY);
    assert_non_null(vt);
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    rig_finger(vt, "q"); /* about 3:00 left */
    times_pass(&times, 60000);
    type_slowly(vt, "Wk");
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    times_pass(&times, 60000);
    type_slowly(vt, "wk");
    assert_true(rig_wait_total(vt, 'b', 0, 2));
    times_pass(&times, 61000); /* the bell */
    assert_true(vt_wait_text(vt, "REST", RIG_WAIT_MS));
    times_pass(&times, 55000);
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "ROUND 2", RIG_WAIT_MS));
    rig_finger(vt, "p");
    assert_true(rig_wait_total(vt, 'b', 0, 3));

    /* While the clock runs: digits, and the look-up key for the next one alike. */
    rig_finger(vt, "Up");
    assert_true(on(vt, "right leg"));
    rig_finger(vt, "F3");
    assert_true(vt_wait_text(vt, "JUMP", RIG_WAIT_MS));
    assert_true(is_banner(vt, "JUMP"));
    type_slowly(vt, "1");
    assert_true(vt_wait_text(vt, "round 1: Enter", RIG_WAIT_MS));
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS));
    assert_true(on(vt, "left hand body"));
    rig_finger(vt, "F3");
    type_slowly(vt, "200");
    assert_true(vt_wait_text(vt, "round 1, 2:00 left: Enter", RIG_WAIT_MS));
    rig_finger(vt, "Enter");
    assert_true(on(vt, "R1 3:00")); /* the newest at or before that moment */
    rig_finger(vt, "F3");
    type_slowly(vt, "1150");
    rig_finger(vt, "Enter");
    assert_true(on(vt, "left hand body"));
    rig_finger(vt, "F3");
    rig_finger(vt,
               "F3"); /* the next left hand of blue to the body: round 1's first, or from the top */
    assert_true(on(vt, "left hand body"));
    assert_true(vt_find(vt, "ROUND 2", NULL, NULL));
    rig_finger(vt, "r"); /* a pad key is a strike */
    assert_true(vt_wait_gone(vt, "JUMP", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'r', 1, 4));

    /* While it stands a pad key is asked for. */
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "STOPPED", RIG_WAIT_MS));
    rig_finger(vt, "Up");
    rig_finger(vt, "F3");
    rig_finger(vt, "k");
    assert_true(on(vt, "R1 1:0"));
    rig_finger(vt, "k");
    assert_true(on(vt, "R1 2:0"));
    rig_finger(vt, "k");
    assert_true(vt_wait_text(vt, "from the newest again", RIG_WAIT_MS));
    assert_true(on(vt, "R1 1:0"));
    rig_finger(vt, "W"); /* the landed one alone */
    assert_true(on(vt, "R1 2:0"));
    rig_finger(vt, "t");
    assert_true(vt_wait_text(vt, "no red knee head in this list", RIG_WAIT_MS));
    type_slowly(vt, "9");
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "round 9 has no entry in this list", RIG_WAIT_MS));
    rig_finger(vt, "Esc");
    assert_true(vt_wait_text(vt, "LOG: all", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_logged(rig, BOUT, "qWkwkpr", 7));
    assert_int_equal(rig_number(rig, ENTRY "act <> 'add'"), 0);
    times_close(&times);
}

static void log__the_clock_starts__keys_are_live_again(void **state)
{
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", RIG_READY);
    vt_type_every(vt, "qw", 60);
    rig_finger(vt, "Up");
    assert_true(vt_wait_text(vt, "LOG: to look at", RIG_WAIT_MS));
    rig_finger(vt, "Enter");
    assert_true(vt_wait_gone(vt, "LOG: to look at", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    rig_finger(vt, "d");
    assert_true(rig_wait_pad(vt, 'd', 0, 1));
    assert_true(rig_wait_total(vt, 'r', 0, 3));
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, ENTRY "act = 'amend'"), 0);
}

/* Ends the round by the keys that move its clock. */
static void to_the_bell(struct vt *vt)
{
    for (int i = 0; i < 181 && !vt_find(vt, "REST", NULL, NULL); i++) {
        vt_press(vt, "Right");
        vt_watch(vt, 2);
    }
    assert_true(vt_wait_text(vt, "REST", RIG_WAIT_MS));
}

static void rest__what_needs_a_look__is_shown_and_put_right(void **state)
{
    static const char *const sheet[] = {"sheet", BOUT, NULL};
    static const char *const round[] = {"sheet", BOUT, "--round", "1", NULL};
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", RIG_READY);
    vt_type(vt, "o"); /* off the clock */
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "RUNNING", RIG_WAIT_MS));
    vt_type(vt, "qwer"); /* both hands and both legs at once */
    assert_true(rig_wait_total(vt, 'r', 0, 4));
    vt_watch(vt, 1100);
    vt_type_every(vt, "D4", 60);
    vt_type_every(vt, "F4", 60); /* two knockdowns within a second */
    vt_watch(vt, 1100);
    vt_type_every(vt, "k'", 60); /* flagged */
    assert_true(vt_wait_text(vt, "to look at 8", RIG_WAIT_MS));
    to_the_bell(vt);
    /* By itself, with the reasons. */
    assert_true(vt_wait_text(vt, "to look at: 8", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "two knockdowns at once", RIG_WAIT_MS));
    assert_true(vt_wait_text(vt, "flagged", RIG_WAIT_MS));
    expect_soon(rig, vt, sheet, "8 not looked at yet");
    /* A late strike is a strike, not an amendment. */
    rig_finger(vt, "p");
    assert_true(vt_wait_text(vt, "to look at: 9", RIG_WAIT_MS));
    assert_true(rig_wait_total(vt, 'b', 0, 3));
    rig_finger(vt, "Up");
    assert_true(vt_wait_text(vt, "LOG: to look at", RIG_WAIT_MS));
    assert_true(is_banner(vt, "LOG: to look at"));
    assert_true(vt_wait_text(vt, "' accepts", RIG_WAIT_MS));
    rig_finger(vt, "Delete"); /* p did not count */
    assert_true(rig_wait_total(vt, 'b', 0, 2));
    amend(vt, "l"); /* k was the other hand, and stays flagged */
    assert_true(vt_wait_text(vt, "amended: blue right hand body", RIG_WAIT_MS));
    for (int i = 0; i < 3; i++) { /* F's knockdown stands, so does D's */
        long saved = rig_settled(vt);
        rig_finger(vt, "'");
        assert_true(rig_wait_saved(vt, saved + 1));
    }
    expect_soon(rig, vt, sheet, "5 not looked at yet");
    assert_true(vt_wait_text(vt, "all four limbs at once", RIG_WAIT_MS));
    amend(vt, "a"); /* r, the fourth limb, was another: no burst any more */
    rig_settled(vt);
    /* The sheet that prints before the next bell has it. */
    expect_soon(rig, vt, round, "1 not looked at yet");
    expect(rig, round, "6 corrections");
    assert_int_equal(rig_number(rig, STRIKE "limb = 'right_hand' AND target = 'body' AND corner = "
                                            "'blue'"),
                     1);
    /* In the first of the rest it is the bell, in the middle it is asked. */
    for (int i = 0; i < 15 && !vt_find(vt, "again begins round 2", NULL, NULL); i++) {
        rig_finger(vt, "Enter");
        vt_watch(vt, 1000);
    }
    rig_finger(vt, "Enter");
    assert_true(vt_wait_text(vt, "ROUND 2", RIG_WAIT_MS));
    assert_true(vt_wait_gone(vt, "LOG", RIG_WAIT_MS));
    assert_int_equal(rig_leave(vt), 0);
}

static void signed__the_desk_only_shows(void **state)
{
    static const char *const sign[] = {"sign", BOUT, "--operator", "Dora Quill", NULL};
    static const char *const reopen[] = {"reopen", BOUT, "--operator", "Dora Quill", NULL};
    static const char *const reason[] = {"reopen",   BOUT,       "--operator", "Dora Quill",
                                         "--reason", "one foul", NULL};
    static const char *const sheet[] = {"sheet", BOUT, NULL};
    static const char *const list[] = {"log", BOUT, NULL};
    struct rig *rig = *state;
    struct vt *vt = open_desk(rig, "ana", RIG_READY);
    vt_press(vt, "Enter");
    vt_type_every(vt, "qWi", 60);
    assert_true(rig_wait_total(vt, 'b', 0, 1));
    assert_true(rig_settled(vt) > 0);
    expect(rig, sheet, "provisional: not signed");
    call(rig, 1, sign); /* not while a desk is open on it */
    assert_int_equal(rig_leave(vt), 0);
    call(rig, 0, sign);
    long entries = rig_number(rig, ENTRY "1");
    expect(rig, sheet, "signed by Dora Quill, 2");
    call(rig, 1, sign); /* not twice */

    vt = open_desk(rig, "ben", "signed by Dora Quill");
    rig_finger(vt, "e");
    assert_true(vt_wait_text(vt, "nothing is logged any more", RIG_WAIT_MS));
    rig_finger(vt, "F6");
    rig_finger(vt, "Up"); /* the log may be walked, no more */
    assert_true(vt_wait_text(vt, "LOG", RIG_WAIT_MS));
    rig_finger(vt, "Delete");
    rig_finger(vt, "k");
    rig_finger(vt, "F5");
    rig_finger(vt, "F5");
    assert_int_equal(rig_leave(vt), 0);
    assert_int_equal(rig_number(rig, ENTRY "1"), entries);
    assert_int_equal(rig_number(rig, ENTRY "kind = 'sign'"), 1);

    call(rig, 2, reopen); /* a reason is needed */
    call(rig, 0, reason);
    expect(rig, sheet, "provisional: reopened by Dora Quill, 2");
    expect(rig, list, "record signed: Dora Quill");
    expect(rig, list, "record reopened: one foul");
    vt = open_desk(rig, "ana", RIG_READY);
    rig_finger(vt, "e");
    assert_true(rig_wait_total(vt, 'r', 1, 3));
    assert_int_equal(rig_leave(vt), 0);
}

/* What the head of a key script says of a corner in the whole bout: attempted, landed. */
static void head_of(const char *path, const char *corner, long out[2])
{
    char line[256], wanted[64];
    bool found = false;
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    snprintf(wanted, sizeof wanted, "# expected all %s ", corner);
    while (!found && fgets(line, sizeof line, file)) {
        found = strncmp(line, wanted, strlen(wanted)) == 0 &&
                sscanf(line + strlen(wanted), "%ld %ld", &out[0], &out[1]) == 2;
    }
    fclose(file);
    assert_true(found);
}

static void shows_head_of(struct vt *vt, const char *path)
{
    long red[2] = {0}, blue[2] = {0};
    head_of(path, "red", red);
    head_of(path, "blue", blue);
    assert_true(rig_wait_total(vt, 'r', red[1], red[0]));
    assert_true(rig_wait_total(vt, 'b', blue[1], blue[0]));
}

static void settle__every_difference__makes_the_count_the_seconds(void **state)
{
    static const char *const all[] = {"log", BOUT, "--all", NULL};
    static const char *const first[] = {
        "desk",    BOUT,  "--operator", "ana", "--keys", EXAMPLES "/bout-1.keys",
        "--speed", "max", "--headless", NULL};
    static const char *const second[] = {
        "desk",    BOUT,  "--operator", "ben", "--shadow", "--keys", EXAMPLES "/bout-1-second.keys",
        "--speed", "max", "--headless", NULL};
    struct rig *rig = *state;
    char text[64];
    long red[2] = {0};
    call(rig, 0, first);
    call(rig, 0, second);
    struct vt *vt = open_desk(rig, "cid", RIG_READY);
    assert_true(vt_wait_text(vt, "official: red blue clock", RIG_WAIT_MS));
    shows_head_of(vt, EXAMPLES "/bout-1.keys");
    rig_finger(vt, "F6");
    assert_true(vt_wait_text(vt, "SETTLE 1 of 36", RIG_WAIT_MS));
    assert_true(is_banner(vt, "SETTLE 1 of 36"));
    rig_finger(vt, "Down");
    assert_true(vt_wait_text(vt, "SETTLE 2 of 36", RIG_WAIT_MS));
    rig_finger(vt, "Up");
    for (int open = 36; open > 0; open--) {
        snprintf(text, sizeof text, "SETTLE 1 of %d", open);
        assert_true(vt_wait_text(vt, text, RIG_WAIT_MS));
        rig_finger(vt, "Right");
    }
    assert_true(vt_wait_text(vt, "every difference is settled", RIG_WAIT_MS));
    shows_head_of(vt, EXAMPLES "/bout-1-second.keys");
    assert_int_equal(rig_leave(vt), 0);
    assert_true(rig_number(rig, ENTRY "accepted AND desk = 3") >= 36);
    head_of(EXAMPLES "/bout-1-second.keys", "red", red);
    assert_int_equal(rig_number(rig, "SELECT attempted FROM (SELECT sum(attempted) AS attempted "
                                     "FROM round_total WHERE corner = 'red')"),
                     red[0]);
    /* `log --all` is long: what it says of the first settlement is looked for in its first part. */
    expect(rig, all, "accepted");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(log__each_key__amends_the_entry_under_the_cursor, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(log__void_and_insert__and_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(log__filters__show_what_they_say, set_up, tear_down),
        cmocka_unit_test_setup_teardown(log__jump__by_round_time_and_pad_key, set_up, tear_down),
        cmocka_unit_test_setup_teardown(log__the_clock_starts__keys_are_live_again, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(rest__what_needs_a_look__is_shown_and_put_right, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(signed__the_desk_only_shows, set_up, tear_down),
        cmocka_unit_test_setup_teardown(settle__every_difference__makes_the_count_the_seconds,
                                        set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
