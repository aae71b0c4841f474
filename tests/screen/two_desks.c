/* two_desks.c: two terminals on one bout: who counts what, how soon each sees the other, what
 * neither feels of the other's writing, a handover, a crash. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "run.h"
#include "with_rig.h"

#define BOUT      "saltglass-4/1"
#define SECOND_NS 1000000000
#define STRIKE    "SELECT count(*) FROM strike WHERE "

static struct vt *open_desk(const struct rig *rig, const char *operator_, const char *how,
                            const char *corner)
{
    const char *more[] = {"--operator", operator_, how, corner, NULL};
    struct vt *vt = rig_desk(rig, BOUT, more, NULL, RIG_READY);
    assert_non_null(vt);
    /* Whoever opens next asks the database what is taken. */
    assert_true(rig_settled(vt) >= 0);
    return vt;
}

/* Two terminals, of which neither may be left unread for long. */
struct pair {
    struct vt *a, *b;
};

static void pair_watch(struct pair *pair, int ms)
{
    int64_t end = vt_now() + (int64_t)ms * 1000000;
    while (vt_now() < end) {
        vt_pump(pair->a, 2);
        vt_pump(pair->b, 2);
    }
}

/* Until the screen shows these totals; how long it took, in nanoseconds. */
static int64_t pair_until(struct pair *pair, struct vt *vt, char corner, long landed,
                          long attempted)
{
    int64_t begun = vt_now();
    long l = -1, a = -1;
    for (;;) {
        if (rig_total(vt, corner, &l, &a) && l == landed && a == attempted) {
            return vt_now() - begun;
        }
        if (vt_now() - begun > (int64_t)RIG_WAIT_MS * 1000000) {
            vt_print(pair->a, "first desk");
            vt_print(pair->b, "second desk");
            fail_msg("%c: %ld/%ld awaited, %ld/%ld shown", corner, landed, attempted, l, a);
        }
        vt_pump(pair->a, 1);
        vt_pump(pair->b, 1);
    }
}

/* The figures of a corner as `counts` tells them. */
static void check_counts(const struct rig *rig, const char *corner, long landed, long attempted)
{
    static struct run result;
    const char *argv[] = {rig->program, "--db", rig->db, "counts", BOUT, "--format", "json", NULL};
    char head[16];
    long seen[2] = {-1, -1};
    run(&result, rig->folder, argv);
    assert_int_equal(result.status, 0);
    snprintf(head, sizeof head, "\"%s\":", corner);
    const char *at = strstr(result.out, head);
    for (int i = 0; i < 2; i++) {
        static const char *const names[] = {"\"landed\":", "\"attempted\":"};
        const char *found = at ? strstr(at, names[i]) : NULL;
        assert_non_null(found);
        assert_int_equal(sscanf(found + strlen(names[i]), "%ld", &seen[i]), 1);
    }
    assert_int_equal(seen[0], landed);
    assert_int_equal(seen[1], attempted);
}

/* The views add up to what the screens show and `counts` tells. */
static void check_sums(const struct rig *rig, long red_landed, long red, long blue_landed,
                       long blue)
{
    static const char *const sums[] = {
        "SELECT sum(landed) FROM round_total WHERE corner = 'red'",
        "SELECT sum(attempted) FROM round_total WHERE corner = 'red'",
        "SELECT sum(landed) FROM round_total WHERE corner = 'blue'",
        "SELECT sum(attempted) FROM round_total WHERE corner = 'blue'"};
    const long expected[] = {red_landed, red, blue_landed, blue};
    for (int i = 0; i < 4; i++) {
        assert_int_equal(rig_number(rig, sums[i]), expected[i]);
    }
    check_counts(rig, "red", red_landed, red);
    check_counts(rig, "blue", blue_landed, blue);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM (SELECT 1 FROM entry GROUP BY desk, seq "
                                     "HAVING count(*) > 1)"),
                     0);
}

static void two__a_corner_each__see_each_other_within_a_second(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", "--corner", "red"),
                        open_desk(rig, "ben", "--corner", "blue")};
    int64_t slowest = 0;
    assert_true(vt_wait_text(pair.a, "official: red clock", RIG_WAIT_MS));
    assert_true(vt_wait_text(pair.b, "official: blue", RIG_WAIT_MS));
    assert_false(vt_find(pair.b, "official: blue clock", NULL, NULL));
    vt_press(pair.a, "Enter"); /* the one clock of the bout */
    assert_true(vt_wait_text(pair.b, "RUNNING", RIG_WAIT_MS));
    for (int i = 1; i <= 15; i++) {
        static const char red[] = "qwert", blue[] = "yuiop";
        char key[2] = {red[i % 5], '\0'};
        vt_type(pair.a, key);
        int64_t took = pair_until(&pair, pair.b, 'r', 0, i);
        slowest = took > slowest ? took : slowest;
        key[0] = blue[i % 5];
        vt_type(pair.b, key);
        took = pair_until(&pair, pair.a, 'b', 0, i);
        slowest = took > slowest ? took : slowest;
        pair_watch(&pair, 37 * (i % 7)); /* at any moment of the other's looks */
    }
    print_message("slowest of 30 to be seen by the other desk: %d ms\n", (int)(slowest / 1000000));
    assert_true(slowest < SECOND_NS);
    assert_int_equal(rig_leave(pair.a), 0);
    assert_int_equal(rig_leave(pair.b), 0);
    check_sums(rig, 0, 15, 0, 15);
}

/* Typing at one desk while the other writes as fast as keys come, and while a third program holds
 * SQLite's only lock: the screen answers, everything is saved at the end. */
static void two__writing__is_never_felt_by_the_other(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", "--corner", "red"),
                        open_desk(rig, "ben", "--corner", "blue")};
    int64_t slowest = 0;
    sqlite3 *db = NULL;
    vt_press(pair.a, "Enter");
    assert_true(vt_wait_text(pair.b, "RUNNING", RIG_WAIT_MS));
    for (int i = 1; i <= 40; i++) {
        static const char blue[] = "yuiop";
        char key[2] = {blue[i % 5], '\0'};
        vt_type(pair.a, "qwertasdfg");
        vt_type(pair.b, key);
        int64_t took = pair_until(&pair, pair.b, 'b', 0, i);
        slowest = took > slowest ? took : slowest;
        pair_until(&pair, pair.a, 'r', 0, 10 * i); /* more at once would be held back */
    }
    pair_until(&pair, pair.b, 'r', 0, 400);
    assert_true(rig_settled(pair.a) > 400);
    long saved = rig_settled(pair.b);

    assert_int_equal(sqlite3_open(rig->db, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    for (int i = 1; i <= 10; i++) {
        static const char red[] = "QWERT", blue[] = "YUIOP";
        char key[2] = {red[i % 5], '\0'};
        vt_type(pair.a, key);
        key[0] = blue[i % 5];
        vt_type(pair.b, key);
        int64_t took = pair_until(&pair, pair.b, 'b', i, 40 + i);
        slowest = took > slowest ? took : slowest;
        took = pair_until(&pair, pair.a, 'r', i, 400 + i);
        slowest = took > slowest ? took : slowest;
    }
    long waiting = 0, now = 0;
    assert_true(rig_saved(pair.b, &now, &waiting));
    assert_int_equal(now, saved); /* the lock was held all the while */
    assert_int_equal(waiting, 10);
    assert_int_equal(sqlite3_exec(db, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    pair_until(&pair, pair.b, 'r', 10, 410);
    pair_until(&pair, pair.a, 'b', 10, 50);
    print_message("slowest of 60 to be shown by the own desk: %d ms\n", (int)(slowest / 1000000));
    assert_true(slowest < SECOND_NS);
    assert_int_equal(rig_leave(pair.a), 0);
    assert_int_equal(rig_leave(pair.b), 0);
    check_sums(rig, 10, 410, 10, 50);
}

static void two__official_and_shadow__count_apart(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", NULL, NULL), open_desk(rig, "ben", "--shadow", NULL)};
    assert_true(vt_wait_text(pair.a, "official: red blue clock", RIG_WAIT_MS));
    assert_true(vt_wait_text(pair.b, "SHADOW: counted apart", RIG_WAIT_MS));
    vt_press(pair.a, "Enter");
    vt_press(pair.b, "Enter"); /* a clock of its own */
    vt_type_every(pair.a, "qWe", 30);
    vt_type_every(pair.b, "qWErI", 30);
    pair_until(&pair, pair.a, 'r', 1, 3);
    pair_until(&pair, pair.b, 'r', 2, 4);
    pair_until(&pair, pair.b, 'b', 1, 1);
    /* The official desk's log does not list them twice. */
    vt_press(pair.a, "Up");
    assert_true(vt_wait_text(pair.a, "LOG: all", RIG_WAIT_MS));
    pair_watch(&pair, 700);
    assert_false(vt_find(pair.a, "another desk's", NULL, NULL));
    assert_int_equal(rig_leave(pair.b), 0);
    assert_int_equal(rig_leave(pair.a), 0);
    check_sums(rig, 1, 3, 0, 0);
    assert_int_equal(rig_number(rig, STRIKE "NOT official"), 5);
}

/* The other desk starts the clock: what is typed next is a strike, and no amendment. */
static void two__the_other_starts_the_clock__keys_are_live(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", "--corner", "red"),
                        open_desk(rig, "ben", "--corner", "blue")};
    vt_type(pair.b, "i");
    pair_until(&pair, pair.b, 'b', 0, 1);
    vt_press(pair.b, "Up");
    assert_true(vt_wait_text(pair.b, "LOG: to look at", RIG_WAIT_MS));
    vt_press(pair.b, "Insert");
    assert_true(vt_wait_text(pair.b, "INSERT", RIG_WAIT_MS));
    vt_press(pair.a, "Enter");
    int64_t begun = vt_now();
    assert_true(vt_wait_gone(pair.b, "INSERT", RIG_WAIT_MS));
    assert_true(vt_now() - begun < SECOND_NS);
    assert_true(vt_wait_text(pair.b, "RUNNING", RIG_WAIT_MS));
    vt_type(pair.b, "o");
    pair_until(&pair, pair.b, 'b', 0, 2);
    assert_int_equal(rig_leave(pair.a), 0);
    assert_int_equal(rig_leave(pair.b), 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE act = 'amend'"), 0);
    assert_int_equal(rig_number(rig, STRIKE "official AND NOT off_clock AND limb = 'right_hand'"),
                     1);
}

/* An amendment of the other desk's entry is an entry of one's own. */
static void two__amending_anothers_entry__leaves_its_log_alone(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", NULL, NULL), NULL};
    vt_press(pair.a, "Enter");
    vt_type_every(pair.a, "qw", 60);
    assert_true(rig_settled(pair.a) > 0);
    pair.b = open_desk(rig, "ben", NULL, NULL);
    /* ana is there, and stays official: a relief is told so, and what it can do. */
    assert_true(vt_wait_text(pair.b, "ANOTHER DESK TAGS THIS BOUT", RIG_WAIT_MS));
    assert_true(vt_wait_text(pair.b, "NOT OFFICIAL", RIG_WAIT_MS));
    vt_press(pair.b, "F5");
    assert_true(vt_wait_text(pair.b, "TAKE OVER", RIG_WAIT_MS));
    pair_watch(&pair, RIG_FINGER_MS);
    vt_press(pair.b, "F5");
    assert_true(vt_wait_text(pair.b, "official: red blue clock", RIG_WAIT_MS));
    assert_true(vt_wait_text(pair.a, "NOT OFFICIAL", 1000));
    vt_press(pair.b, "Up");
    assert_true(vt_wait_text(pair.b, "another desk's", RIG_WAIT_MS));
    vt_type(pair.b, "=D");
    assert_true(vt_wait_text(pair.b, "amended: red right hand body, landed", RIG_WAIT_MS));
    pair_until(&pair, pair.a, 'r', 1, 2); /* ana sees it too */
    assert_int_equal(rig_leave(pair.b), 0);
    assert_int_equal(rig_leave(pair.a), 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE desk = 1 AND act <> 'add'"),
                     0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE desk = 2 AND act = 'amend' "
                                     "AND subject_desk = 1"),
                     1);
    check_sums(rig, 1, 2, 0, 0);
}

/* Both type on while the second takes over. What each desk wrote is in the log; what counts is the
 * first's up to a moment and the second's from then on. */
static void handover__in_mid_bout__nothing_lost_nothing_twice(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", NULL, NULL), open_desk(rig, "ben", "--shadow", NULL)};
    static const char keys[] = "qwertasdfg";
    long first_typed = 0, second_typed = 0;
    vt_press(pair.a, "Enter");
    for (int i = 0; i < 120; i++) {
        char key[2] = {keys[i % 10], '\0'};
        vt_type(pair.a, key);
        vt_type(pair.b, key);
        first_typed++;
        second_typed++;
        if (i == 50) { /* twice in a row, while the first types on */
            vt_press(pair.b, "F5");
            for (int j = 0; j < 10; j++) {
                key[0] = keys[(j + 5) % 10];
                vt_type(pair.a, key);
                first_typed++;
                pair_watch(&pair, 15);
            }
            vt_press(pair.b, "F5");
        }
        pair_watch(&pair, 15);
    }
    assert_true(vt_wait_text(pair.b, "official: red blue clock", RIG_WAIT_MS));
    assert_true(vt_wait_text(pair.a, "NOT OFFICIAL", RIG_WAIT_MS));
    assert_true(rig_settled(pair.a) > 0 && rig_settled(pair.b) > 0);
    long first = rig_number(rig, STRIKE "official AND desk_name = 'ana'");
    long second = rig_number(rig, STRIKE "official AND desk_name = 'ben'");
    assert_true(first > 0 && second > 0);
    assert_int_equal(rig_number(rig, STRIKE "desk_name = 'ana'"), first_typed);
    assert_int_equal(rig_number(rig, STRIKE "desk_name = 'ben'"), second_typed);
    /* No strike of ana's counts behind one of ben's. */
    assert_true(
        rig_number(rig, "SELECT max(at_ms) FROM strike WHERE official AND desk_name = 'ana'") <=
        rig_number(rig, "SELECT min(at_ms) FROM strike WHERE official AND desk_name = 'ben'"));
    pair_until(&pair, pair.a, 'r', 0, first + second);
    pair_until(&pair, pair.b, 'r', 0, first + second);
    /* The clock goes along. */
    assert_true(vt_wait_text(pair.b, "RUNNING", RIG_WAIT_MS));
    vt_press(pair.b, "Enter");
    assert_true(vt_wait_text(pair.a, "STOPPED", 1000));
    assert_int_equal(rig_leave(pair.a), 0);
    assert_int_equal(rig_leave(pair.b), 0);
    check_sums(rig, 0, first + second, 0, 0);
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM entry WHERE kind = 'official'"), 6);
}

/* One crashes, another operator sits down in its place. */
static void crash__another_operator_takes_its_place__the_tables_add_up(void **state)
{
    struct rig *rig = *state;
    struct pair pair = {open_desk(rig, "ana", "--corner", "red"),
                        open_desk(rig, "ben", "--corner", "blue")};
    vt_press(pair.a, "Enter");
    assert_true(vt_wait_text(pair.b, "RUNNING", RIG_WAIT_MS));
    for (int i = 0; i < 20; i++) {
        vt_type(pair.a, i % 2 ? "W" : "q");
        vt_type(pair.b, i % 2 ? "I" : "o");
        pair_watch(&pair, 20);
    }
    pair_until(&pair, pair.b, 'r', 10, 20);
    pair_until(&pair, pair.a, 'b', 10, 20); /* ana knows all of ben's: an office, and these */
    vt_type(pair.a, "ertasdf");             /* under way when it dies */
    vt_kill(pair.a);
    long shown = 0, waiting = 0;
    assert_true(rig_saved(pair.a, &shown, &waiting));
    vt_close(pair.a);
    vt_type(pair.b, "P"); /* the other goes on meanwhile */
    pair_until(&(struct pair){pair.b, pair.b}, pair.b, 'b', 11, 21);
    pair.a = open_desk(rig, "cid", "--corner", "red");
    assert_true(vt_wait_text(pair.a, "official: red clock", RIG_WAIT_MS));
    assert_true(vt_wait_text(pair.a, "RUNNING", RIG_WAIT_MS)); /* time did not stop */
    long kept = rig_number(rig, "SELECT count(*) FROM strike WHERE corner = 'red'");
    assert_true(kept >= 20 && kept <= 27);
    /* What was shown as saved is there: of ana's entries three are no strikes. */
    assert_true(rig_number(rig, "SELECT count(*) FROM entry WHERE desk = 1") >= shown - 21);
    pair_until(&pair, pair.a, 'r', 10, kept);
    pair_until(&pair, pair.a, 'b', 11, 21);
    for (int i = 0; i < 10; i++) {
        vt_type(pair.a, i % 2 ? "w" : "Q");
        vt_type(pair.b, i % 2 ? "i" : "o");
        pair_watch(&pair, 20);
    }
    pair_until(&pair, pair.b, 'r', 15, kept + 10);
    pair_until(&pair, pair.a, 'b', 11, 31);
    assert_int_equal(rig_leave(pair.a), 0);
    assert_int_equal(rig_leave(pair.b), 0);
    check_sums(rig, 15, kept + 10, 11, 31);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(two__a_corner_each__see_each_other_within_a_second, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(two__writing__is_never_felt_by_the_other, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(two__official_and_shadow__count_apart, set_up, tear_down),
        cmocka_unit_test_setup_teardown(two__the_other_starts_the_clock__keys_are_live, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(two__amending_anothers_entry__leaves_its_log_alone, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(handover__in_mid_bout__nothing_lost_nothing_twice, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(crash__another_operator_takes_its_place__the_tables_add_up,
                                        set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
