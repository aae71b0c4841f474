/* taken_away.c: the database is deleted, moved, replaced or cut under a running desk: it says so
 * before anything more is called saved, and every strike can be had back. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "rig.h"
#include "run.h"

#define BOUT   "saltglass-4/1"
#define BEFORE "qwerasdfzvuiopjklmio" /* each once, 20 strikes */
#define AFTER  "poiumlkjvzfdsarewqoi"

/* What the scripts know: $DB, $PROGRAM, $CARD; and $DB.spare, a database of another evening,
 * $DB.old, a backup of before the session. */
static const struct {
    const char *name, *act;
    const char *trouble; /* what the screen says; NULL: it is left before it can */
    bool typed;          /* strikes are typed after it too */
    bool killed;         /* ends by kill -9 */
    bool kept;           /* what was logged before is in place: the rescue file has the rest */
    const char *check;   /* succeeds where what lies about afterwards is as it should be, or NULL */
} cases[] = {
    {"all deleted", "rm $DB $DB-wal $DB-shm", "the database is gone", .typed = true},
    {"the file deleted", "rm $DB", "the database is gone", .typed = true},
    {"deleted, and left at once", "rm $DB $DB-wal $DB-shm", NULL},
    {"the newest entries' file deleted", "rm $DB-wal", "is gone", .typed = true, .kept = true,
     .check = "test $(sqlite3 $DB 'SELECT count(*) FROM strike') -ge 20"},
    {"the newest entries' file deleted, then killed", "rm $DB-wal", "is gone", .killed = true,
     .check = "test $(sqlite3 $DB 'SELECT count(*) FROM strike') -ge 20"},
    {"moved", "mv $DB $DB.moved", "the database is gone", .typed = true,
     .check = "test $(sqlite3 $DB.moved 'SELECT count(*) FROM strike') -ge 20 && "
              "test $(sqlite3 $DB.moved 'PRAGMA integrity_check') = ok"},
    {"moved, and a card loaded anew", "mv $DB $DB.moved; $PROGRAM --db $DB card load $CARD",
     "the database was replaced", .typed = true,
     .check = "test $(sqlite3 $DB 'SELECT count(*) FROM entry') = 0 && "
              "test $(sqlite3 $DB 'PRAGMA integrity_check') = ok"},
    {"a backup restored", "cp $DB.old $DB.next; mv $DB.next $DB; rm -f $DB-wal $DB-shm",
     "the database was replaced", .typed = true,
     .check = "test $(sqlite3 $DB 'PRAGMA integrity_check') = ok"},
    {"a backup restored, and left at once",
     "cp $DB.old $DB.next; mv $DB.next $DB; rm -f $DB-wal $DB-shm", NULL},
    {"cut to nothing", ": > $DB", "the database was cut short", .typed = true},
    {"another evening's put in its place", "cp $DB.spare $DB.next; mv $DB.next $DB",
     "the database was replaced", .typed = true,
     .check = "test $(sqlite3 $DB 'PRAGMA integrity_check') = ok && "
              "test $(sqlite3 $DB 'SELECT count(*) FROM strike') = 0"},
};

/* Runs a script; what it wrote is shown where it fails. */
static bool shell(const struct rig *rig, const char *script)
{
    static struct run done;
    char text[2048];
    snprintf(text, sizeof text, "set -e; DB=%s; PROGRAM=%s; CARD=%s; cd %s; %s", rig->db,
             rig->program, CARD, rig->folder, script);
    const char *argv[] = {"/bin/sh", "-c", text, NULL};
    run(&done, rig->folder, argv);
    if (done.status != 0) {
        fprintf(stderr, "%s\n%s\n", script, done.out);
    }
    return done.status == 0;
}

static bool nothing_saved(struct vt *vt, void *context)
{
    long saved = 0, waiting = 0;
    (void)context;
    return rig_saved(vt, &saved, &waiting) && saved == 0 && waiting > 0;
}

/* F10 until it ends, as an operator does who is asked again. */
static int leave(struct vt *vt)
{
    for (int i = 0; i < 40 && vt_pump(vt, 0); i++) {
        vt_press(vt, "F10");
        vt_watch(vt, 2 * RIG_FINGER_MS);
    }
    return vt_wait_exit(vt, RIG_WAIT_MS);
}

static void lose(size_t i)
{
    struct rig rig;
    rig_init(&rig, PROGRAM, CARD);
    fprintf(stderr, "%s\n", cases[i].name);
    assert_true(shell(&rig, "cp $DB $DB.spare; cp $DB $DB.old"));
    struct vt *vt = rig_desk(&rig, BOUT, NULL, NULL, RIG_READY);
    assert_non_null(vt);
    long own = rig_settled(vt);
    vt_type_every(vt, BEFORE, 5);
    assert_true(rig_wait_saved(vt, own + 20));
    assert_true(shell(&rig, cases[i].act));
    if (cases[i].typed) {
        vt_type_every(vt, AFTER, 5);
    }
    if (cases[i].trouble) {
        assert_true(vt_wait_text(vt, "NOT SAVED", RIG_WAIT_MS));
        assert_true(vt_wait_text(vt, cases[i].trouble, RIG_WAIT_MS));
        assert_true(vt_wait(vt, nothing_saved, NULL, RIG_WAIT_MS, "nothing saved"));
    }
    if (cases[i].killed) {
        vt_kill(vt);
    } else {
        assert_int_equal(leave(vt), 1);
    }
    vt_close(vt);
    assert_true(!cases[i].check || shell(&rig, cases[i].check));
    if (!cases[i].killed) {
        char script[256];
        snprintf(script, sizeof script,
                 "%s; $PROGRAM --db $DB.back import-log $(ls $DB-ringtally-rescue-*.jsonl); "
                 "test $(sqlite3 $DB.back 'SELECT count(*) FROM strike') = %d; "
                 "test $(stat -c %%a $DB-ringtally-rescue-*.jsonl) = 600",
                 cases[i].kept ? "cp $DB $DB.back" : ":", cases[i].typed ? 40 : 20);
        assert_true(shell(&rig, script));
    }
    rig_release(&rig);
}

static void desk__database_taken_away__said_and_rescued(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        lose(i);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desk__database_taken_away__said_and_rescued),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
