/* live.c: what a desk's operator sees, and what is kept, while the machine under the desk is ill:
 * disk full, failing, stalled, read-only, no descriptors, no memory, a database that another
 * program locks, a wall clock that is set, a lid that is closed. */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "faults.h"
#include "rig.h"
#include "run.h"
#include "times.h"

#define BOUT   "saltglass-4/1"
#define BEFORE "qwerasdfzvuiopjklmio" /* 20 strikes */
#define AFTER  "poiumlkjvzfdsarewqoi"

struct stage {
    struct rig rig;
    struct faults faults;
    struct times times;
    const char *env[6];
    char temporary[300];
    struct vt *vt;
    long own; /* entries of before the strikes */
};

/* `temporary`: where the program may leave files that have no other place. */
static void stage_open_in(struct stage *stage, const char *temporary)
{
    rig_init(&stage->rig, PROGRAM, CARD);
    times_open(&stage->times, stage->rig.folder);
    faults_open(&stage->faults, stage->rig.folder, strchr(stage->times.preload, '=') + 1);
    stage->env[0] = stage->faults.env[0];
    stage->env[1] = stage->faults.env[1];
    stage->env[2] = stage->times.env[1];
    snprintf(stage->temporary, sizeof stage->temporary, "TMPDIR=%s", temporary);
    stage->env[3] = stage->temporary;
    stage->env[4] = NULL;
    struct vt_setup setup = {.env = stage->env};
    stage->vt = rig_desk(&stage->rig, BOUT, NULL, &setup, RIG_READY);
    assert_non_null(stage->vt);
    stage->own = rig_settled(stage->vt);
    vt_type_every(stage->vt, BEFORE, 5);
    assert_true(rig_wait_saved(stage->vt, stage->own + 20));
}

static void stage_open(struct stage *stage)
{
    stage_open_in(stage, "/tmp");
}

static void stage_close(struct stage *stage)
{
    vt_close(stage->vt);
    faults_close(&stage->faults);
    times_close(&stage->times);
    rig_release(&stage->rig);
}

/* Only files with this in their path are ill. */
static void only(struct stage *stage, const char *part)
{
    snprintf((char *)(uintptr_t)stage->faults.control->where, sizeof stage->faults.control->where,
             "%.*s", (int)sizeof stage->faults.control->where - 1, part);
}

/* F10 until it ends, as an operator does who is asked again. */
static int leave(struct vt *vt)
{
    for (int i = 0; i < 60 && vt_pump(vt, 0); i++) {
        vt_press(vt, "F10");
        vt_watch(vt, 2 * RIG_FINGER_MS);
    }
    return vt_wait_exit(vt, RIG_WAIT_MS);
}

static long strikes(const struct rig *rig)
{
    return rig_number(rig, "SELECT count(*) FROM entry WHERE kind = 'strike' AND act = 'add'");
}

static void assert_sound(const struct rig *rig)
{
    assert_int_equal(rig_number(rig, "SELECT count(*) FROM pragma_integrity_check "
                                     "WHERE integrity_check <> 'ok'"),
                     0);
}

/* The file that the desk left behind in that folder goes into the database, and the record is whole
 * then. */
static void load_rescue(const struct rig *rig, const char *folder)
{
    static struct run done;
    char script[1500];
    snprintf(script, sizeof script,
             "set -e; ls %s/test.db-ringtally-rescue-*.jsonl; "
             "%s --db %s import-log %s/test.db-ringtally-rescue-*.jsonl; %s --db %s verify",
             folder, rig->program, rig->db, folder, rig->program, rig->db);
    const char *argv[] = {"/bin/sh", "-c", script, NULL};
    run(&done, rig->folder, argv);
    if (done.status != 0) {
        fail_msg("%s", done.out);
    }
}

/* Disks that are ill until they are healed. */
static const struct {
    const char *name;
    unsigned kinds;
    int cause;
    const char *trouble; /* what the screen says */
} disks[] = {
    {"full", FAULT_WRITE, ENOSPC, "the disk is full"},
    {"failing writes", FAULT_WRITE, EIO, "the disk reports an error"},
    {"failing syncs", FAULT_SYNC, EIO, "the disk reports an error"},
    {"read-only, as a kernel makes one after errors",
     FAULT_WRITE | FAULT_TRUNCATE | FAULT_OPEN | FAULT_RENAME | FAULT_UNLINK, EROFS, "read-only"},
    {"failing all", FAULT_WRITE | FAULT_READ | FAULT_SYNC | FAULT_OPEN | FAULT_TRUNCATE, EIO,
     "NOT SAVED"},
};
#define DISKS     (sizeof disks / sizeof *disks)
#define READ_ONLY 3

static void desk__ill_disk__is_named_and_outlived(void **state)
{
    (void)state;
    for (size_t i = 0; i < DISKS; i++) {
        struct stage stage;
        fprintf(stderr, "%s\n", disks[i].name);
        stage_open(&stage);
        only(&stage, "/test.db");
        faults_set(&stage.faults, disks[i].kinds, 1, true, disks[i].cause);
        vt_type_every(stage.vt, AFTER, 5);
        assert_true(vt_wait_text(stage.vt, "NOT SAVED", RIG_WAIT_MS));
        assert_true(vt_wait_text(stage.vt, disks[i].trouble, RIG_WAIT_MS));
        vt_type(stage.vt, "qW"); /* the keys are answered all the while */
        assert_true(rig_wait_total(stage.vt, 'r', 1, 22));
        faults_set(&stage.faults, 0, 0, false, 0);
        assert_true(rig_wait_saved(stage.vt, stage.own + 42));
        assert_true(vt_wait_gone(stage.vt, "NOT SAVED", RIG_WAIT_MS));
        assert_int_equal(rig_leave(stage.vt), 0);
        stage.vt = NULL;
        assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER "qW", 42));
        assert_sound(&stage.rig);
        stage_close(&stage);
    }
}

/* The operator leaves: all is in the database or in the file that is named. */
static void desk__left_on_an_ill_disk__what_is_not_saved_is_rescued(void **state)
{
    static const size_t cases[] = {0, READ_ONLY, DISKS - 1};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct stage stage;
        char elsewhere[256];
        bool all = cases[i] == READ_ONLY; /* the whole disk, or not the rescue file's name */
        fprintf(stderr, "%s\n", disks[cases[i]].name);
        scratch_new(elsewhere, sizeof elsewhere);
        stage_open_in(&stage, elsewhere);
        only(&stage, all ? stage.rig.folder : "test.db-wal");
        faults_set(&stage.faults, disks[cases[i]].kinds, 1, true, disks[cases[i]].cause);
        vt_type_every(stage.vt, AFTER, 5);
        assert_true(vt_wait_text(stage.vt, "NOT SAVED", RIG_WAIT_MS));
        assert_int_equal(leave(stage.vt), 1);
        /* Where nothing can be read back, all that the desk knows. */
        assert_true(vt_find(stage.vt, "entries are not in the database; they are in", NULL, NULL));
        assert_true(vt_find(stage.vt, "ringtally import-log", NULL, NULL));
        faults_set(&stage.faults, 0, 0, false, 0);
        assert_int_equal(strikes(&stage.rig), 20);
        load_rescue(&stage.rig, all ? elsewhere : stage.rig.folder);
        assert_int_equal(strikes(&stage.rig), 40);
        assert_sound(&stage.rig);
        stage_close(&stage);
        scratch_remove(elsewhere);
    }
}

/* A desk is opened where nothing can be written; it says so. */
static void open_again(struct stage *stage, const char *trouble)
{
    struct vt_setup setup = {.env = stage->env};
    stage->vt = rig_desk(&stage->rig, BOUT, NULL, &setup, RIG_READY);
    assert_non_null(stage->vt);
    assert_true(vt_wait_text(stage->vt, "NOT SAVED", RIG_WAIT_MS));
    assert_true(vt_wait_text(stage->vt, trouble, RIG_WAIT_MS));
    vt_type_every(stage->vt, AFTER, 5);
    assert_true(rig_wait_total(stage->vt, 'r', 0, 20));
    assert_true(rig_wait_total(stage->vt, 'b', 0, 20));
}

static void leave_and_fill_the_disk(struct stage *stage)
{
    assert_int_equal(rig_leave(stage->vt), 0);
    stage->vt = NULL;
    only(stage, "test.db-wal");
    faults_set(&stage->faults, FAULT_WRITE, 1, true, ENOSPC);
}

/* Opened on a full disk: the bout goes on, in memory; once there is room it is in the database. */
static void desk__opened_on_a_full_disk__tags_in_memory_and_brings_it_home(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    leave_and_fill_the_disk(&stage);
    open_again(&stage, "the disk is full");
    assert_int_equal(strikes(&stage.rig), 20);
    faults_set(&stage.faults, 0, 0, false, 0);
    assert_int_equal(leave(stage.vt), 0);
    assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER, 40));
    assert_sound(&stage.rig);
    stage_close(&stage);
}

/* And where there is none to the end, in a file that can be loaded. */
static void desk__opened_and_left_on_a_full_disk__is_rescued(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    leave_and_fill_the_disk(&stage);
    open_again(&stage, "the disk is full");
    assert_int_equal(leave(stage.vt), 1);
    faults_set(&stage.faults, 0, 0, false, 0);
    assert_int_equal(strikes(&stage.rig), 20);
    load_rescue(&stage.rig, stage.rig.folder);
    assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER, 40));
    stage_close(&stage);
}

/* No file can be opened any more: those that are open serve on. */
static void desk__no_descriptors_left__goes_on(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    faults_set(&stage.faults, FAULT_OPEN, 1, true, EMFILE);
    vt_type_every(stage.vt, AFTER, 5);
    assert_true(rig_wait_saved(stage.vt, stage.own + 40));
    faults_set(&stage.faults, 0, 0, false, 0);
    assert_int_equal(rig_leave(stage.vt), 0);
    stage.vt = NULL;
    assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER, 40));
    stage_close(&stage);
}

/* Fewer descriptors than a session needs: it is there, or it says why and nothing is half-written.
 */
static void desk__few_descriptors__done_or_refused(void **state)
{
    static const int limits[] = {4, 6, 8, 9, 12, 13, 16, 24};
    int done_with = 0, refused = 0;
    (void)state;
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        int limit = limits[i];
        struct rig rig;
        static struct run done;
        char script[1500];
        rig_init(&rig, PROGRAM, CARD);
        snprintf(script, sizeof script,
                 "cd %s; printf '0.0 Enter\\n0.2 w\\n0.4 E\\n0.6 i\\n' >some.keys; ulimit -n %d; "
                 "exec %s --db test.db desk " BOUT " --keys some.keys --speed max --headless",
                 rig.folder, limit, PROGRAM);
        const char *argv[] = {"/bin/sh", "-c", script, NULL};
        run(&done, rig.folder, argv);
        if (done.status == 127 && strstr(done.out, "while loading shared libraries")) {
            print_message("%d descriptors: not begun\n", limit); /* a sanitizer is a library more */
        } else if (done.status == 0) {
            assert_string_equal(done.out, "");
            assert_true(rig_logged(&rig, BOUT, "wEi", 3));
            done_with++;
        } else {
            const char *end = strchr(done.out, '\n');
            print_message("%d descriptors: %s", limit, done.out);
            assert_int_equal(done.status, 1);
            assert_non_null(end);
            if (strstr(done.out, "entries are not in the database; they are in ")) {
                load_rescue(&rig, rig.folder); /* opened, and then there were too few */
                assert_true(rig_logged(&rig, BOUT, "wEi", 3));
            } else {
                assert_string_equal(end, "\n");
            }
            refused++;
        }
        assert_sound(&rig);
        rig_release(&rig);
    }
    assert_true(done_with > 1 && refused > 1);
}

static bool stalled_long(struct vt *vt, void *context)
{
    (void)context;
    return vt_find(vt, "NOT SAVED", NULL, NULL);
}

/* A disk that takes 5 s for a sync. */
static void desk__stalled_disk__answers_keys_and_says_so(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    faults_set(&stage.faults, FAULT_SYNC, 0, false, 0);
    stage.faults.control->stalled = 1;
    vt_type_every(stage.vt, AFTER, 5);
    assert_true(rig_wait_total(stage.vt, 'r', 0, 20));
    times_pass(&stage.times, 5000);
    assert_true(vt_wait(stage.vt, stalled_long, NULL, RIG_WAIT_MS, "the stall is said"));
    vt_type(stage.vt, "qW");
    assert_true(rig_wait_total(stage.vt, 'r', 1, 22));
    stage.faults.control->stalled = 0;
    assert_true(rig_wait_saved(stage.vt, stage.own + 42));
    assert_true(vt_wait_gone(stage.vt, "NOT SAVED", RIG_WAIT_MS));
    assert_int_equal(rig_leave(stage.vt), 0);
    stage.vt = NULL;
    assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER "qW", 42));
    stage_close(&stage);
}

/* Told to end while the disk does not answer: within 3 s, and nothing is lost. */
static void desk__told_to_end_on_a_stalled_disk__ends_and_rescues(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    faults_set(&stage.faults, FAULT_SYNC, 0, false, 0);
    only(&stage, "test.db-wal");
    stage.faults.control->stalled = 1;
    vt_type_every(stage.vt, AFTER, 5);
    assert_true(rig_wait_total(stage.vt, 'r', 0, 20));
    assert_true(rig_wait_total(stage.vt, 'b', 0, 20));
    int64_t begun = vt_now();
    kill(vt_pid(stage.vt), SIGTERM);
    kill(vt_pid(stage.vt), SIGHUP); /* as a session that ends sends both */
    assert_int_equal(vt_wait_exit(stage.vt, RIG_WAIT_MS), 1);
    print_message("on a stalled disk it ends after %d ms\n", (int)((vt_now() - begun) / 1000000));
    assert_true(vt_now() - begun < 3 * (int64_t)1000000000 * SLOW);
    assert_true(vt_restored(stage.vt));
    load_rescue(&stage.rig, stage.rig.folder);
    assert_int_equal(strikes(&stage.rig), 40);
    stage_close(&stage);
}

/* Another program writes to the database, and does not finish. */
static sqlite3 *hold(const struct rig *rig)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(rig->db, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "BEGIN EXCLUSIVE", NULL, NULL, NULL), SQLITE_OK);
    return db;
}

static void let_go(sqlite3 *db)
{
    assert_int_equal(sqlite3_exec(db, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

/* For a minute. */
static void desk__locked_for_a_minute__is_said_and_outlived(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    sqlite3 *db = hold(&stage.rig);
    vt_type_every(stage.vt, AFTER, 5);
    assert_true(vt_wait_text(stage.vt, "NOT SAVED", RIG_WAIT_MS));
    assert_true(vt_wait_text(stage.vt, "another program is writing", RIG_WAIT_MS));
    for (int i = 0; i < 6; i++) { /* a minute */
        times_pass(&stage.times, 10000);
        vt_watch(stage.vt, 100);
    }
    assert_true(vt_find(stage.vt, "NOT SAVED", NULL, NULL));
    let_go(db);
    assert_true(rig_wait_saved(stage.vt, stage.own + 40));
    assert_int_equal(rig_leave(stage.vt), 0);
    stage.vt = NULL;
    assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER, 40));
    stage_close(&stage);
}

/* Opened while another program holds the database. */
static void desk__opened_on_a_held_database__tags_in_memory_and_brings_it_home(void **state)
{
    struct stage stage;
    (void)state;
    stage_open(&stage);
    assert_int_equal(rig_leave(stage.vt), 0);
    sqlite3 *db = hold(&stage.rig);
    open_again(&stage, "another program is writing");
    let_go(db);
    assert_int_equal(leave(stage.vt), 0);
    assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER, 40));
    assert_sound(&stage.rig);
    stage_close(&stage);
}

/* Commands beside a program that holds the database: those that write say so, in one line, before
 * anybody would think that they hang, and have done nothing; those that read do. */
static void commands__database_held__refused_in_one_line_or_read(void **state)
{
    static const char script[] =
        "at=$(dirname $DB); sed 's/saltglass-4/other/' $CARD >$at/new.ini; "
        "$PROGRAM --db $at/copy.db card load $CARD; "
        "$PROGRAM --db $DB export-log 1 -o $at/log.jsonl || exit 1; "
        "try() { said=$($PROGRAM --db $DB \"$@\" 2>&1 >/dev/null); echo \"$1: exit $?: $said\"; }; "
        "try card load $at/new.ini &  try merge $at/copy.db & try move 1 2 --yes & "
        "try sign 1 --operator A --override --yes & try import-log $at/log.jsonl & "
        "try result 1 --ended no_contest --round 1 --time 0:01 --override & wait";
    static const char *const words[] = {"card", "merge", "move", "sign", "import-log", "result"};
    struct stage stage;
    static struct run done;
    char setting[1200];
    (void)state;
    stage_open(&stage);
    assert_int_equal(rig_leave(stage.vt), 0);
    stage.vt = NULL;
    long entries = rig_number(&stage.rig, "SELECT count(*) FROM entry");
    sqlite3 *db = hold(&stage.rig);
    snprintf(setting, sizeof setting, "DB=%s; CARD=%s; PROGRAM=%s; %s", stage.rig.db, CARD, PROGRAM,
             script);
    const char *argv[] = {"/bin/sh", "-c", setting, NULL};
    int64_t begun = vt_now();
    run(&done, stage.rig.folder, argv);
    assert_int_equal(done.status, 0);
    assert_true(vt_now() - begun < 10 * (int64_t)1000000000 * SLOW);
    fputs(done.out, stderr);
    int refused = 0;
    for (const char *at = done.out; (at = strstr(at, "another program is writing")); at++) {
        refused++;
    }
    assert_int_equal(refused, sizeof words / sizeof *words);
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        char failed[64];
        snprintf(failed, sizeof failed, "%s: exit 1: ringtally: ", words[i]);
        assert_non_null(strstr(done.out, failed));
    }
    const char *counts[] = {PROGRAM, "--db", stage.rig.db, "counts", "1", NULL};
    run(&done, stage.rig.folder, counts);
    assert_int_equal(done.status, 0);
    let_go(db);
    assert_int_equal(rig_number(&stage.rig, "SELECT count(*) FROM entry"), entries);
    assert_int_equal(rig_number(&stage.rig, "SELECT count(*) FROM card"), 1);
    stage_close(&stage);
}

/* The wall clock is set, and the lid is closed: all is kept, in the order in which it was typed. */
static void desk__clock_set_and_lid_closed__keeps_all_in_order(void **state)
{
    static const struct {
        int64_t step_ms, pass_ms;
    } cases[] = {{-3600000, 0}, {3600000, 0}, {0, 1800000}, {-86400000, 1800000}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct stage stage;
        stage_open(&stage);
        kill(vt_pid(stage.vt), SIGSTOP); /* as a sleep of the machine: nothing runs meanwhile */
        times_pass(&stage.times, cases[i].pass_ms);
        times_step(&stage.times, cases[i].step_ms);
        kill(vt_pid(stage.vt), SIGCONT);
        vt_type_every(stage.vt, AFTER, 5);
        assert_true(rig_wait_total(stage.vt, 'r', 0, 20));
        assert_true(rig_wait_saved(stage.vt, stage.own + 40));
        assert_int_equal(rig_leave(stage.vt), 0);
        stage.vt = NULL;
        assert_true(rig_logged(&stage.rig, BOUT, BEFORE AFTER, 40));
        assert_int_equal(rig_number(&stage.rig, "SELECT count(*) FROM entry AS a JOIN entry AS b "
                                                "USING (desk) WHERE a.seq < b.seq AND "
                                                "a.utc_ms > b.utc_ms"),
                         0);
        stage_close(&stage);
    }
}

/* The nth request for memory fails, once: the desk goes on or ends in order, and what it showed is
 * what is logged. */
static void desk__memory_fails_once__screen_and_log_agree(void **state)
{
    const char *asked = getenv("RINGTALLY_MOMENTS");
    int moments = asked ? (int)strtol(asked, NULL, 10) : 12;
    int ended = 0, hit = 0;
    (void)state;
    for (int nth = 1; nth <= moments; nth++) {
        struct stage stage;
        stage_open(&stage);
        /* Squares, so that a few reach far; many are each in turn. */
        faults_set(&stage.faults, FAULT_MEMORY, asked ? nth : nth * nth, false, ENOMEM);
        vt_type_every(stage.vt, AFTER, 5);
        vt_press(stage.vt, "Tab");
        vt_press(stage.vt, "Tab");
        vt_watch(stage.vt, 50);
        hit += stage.faults.control->hits > 0;
        faults_set(&stage.faults, 0, 0, false, 0);
        long landed = 0, attempted = 0, kept = 0;
        if (vt_pump(stage.vt, 0)) {
            for (int i = 0; i < 10 && !rig_total(stage.vt, 'r', &landed, &attempted); i++) {
                vt_press(stage.vt, "Tab");
                vt_watch(stage.vt, 60);
            }
            long blue = 0;
            assert_true(rig_settled(stage.vt) >= 0);
            assert_true(rig_total(stage.vt, 'r', &landed, &attempted));
            assert_true(rig_total(stage.vt, 'b', &landed, &blue));
            assert_int_equal(leave(stage.vt), 0);
            kept = strikes(&stage.rig);
            assert_int_equal(kept, attempted + blue);
        } else {
            ended++;
            assert_int_equal(vt_wait_exit(stage.vt, RIG_WAIT_MS), 1);
            assert_true(vt_restored(stage.vt));
            assert_true(strikes(&stage.rig) >= 20);
        }
        assert_sound(&stage.rig);
        stage_close(&stage);
    }
    print_message("a request failed %d times, and %d times the desk ended, in order\n", hit, ended);
    assert_true(hit > moments / 2);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desk__ill_disk__is_named_and_outlived),
        cmocka_unit_test(desk__left_on_an_ill_disk__what_is_not_saved_is_rescued),
        cmocka_unit_test(desk__opened_on_a_full_disk__tags_in_memory_and_brings_it_home),
        cmocka_unit_test(desk__opened_and_left_on_a_full_disk__is_rescued),
        cmocka_unit_test(desk__no_descriptors_left__goes_on),
        cmocka_unit_test(desk__few_descriptors__done_or_refused),
        cmocka_unit_test(desk__stalled_disk__answers_keys_and_says_so),
        cmocka_unit_test(desk__told_to_end_on_a_stalled_disk__ends_and_rescues),
        cmocka_unit_test(desk__locked_for_a_minute__is_said_and_outlived),
        cmocka_unit_test(desk__opened_on_a_held_database__tags_in_memory_and_brings_it_home),
        cmocka_unit_test(commands__database_held__refused_in_one_line_or_read),
        cmocka_unit_test(desk__clock_set_and_lid_closed__keeps_all_in_order),
        cmocka_unit_test(desk__memory_fails_once__screen_and_log_agree),
    };
    cmocka_set_test_filter(argc > 1 ? argv[1] : NULL);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
