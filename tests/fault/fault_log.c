/* The nth call to the disk fails, for every n: what was acknowledged is stored, nothing else is. */
#include "support.h"

enum { BATCHES = 6, BATCH = 3 };

/* Every call that can fail, and how. */
static const struct {
    enum shim_call call;
    int result;
} faults[] = {
    {SHIM_OPEN, SQLITE_CANTOPEN},
    {SHIM_READ, SQLITE_IOERR_READ},
    {SHIM_WRITE, SQLITE_FULL},
    {SHIM_WRITE, SQLITE_IOERR_WRITE},
    {SHIM_WRITE, SQLITE_READONLY},
    {SHIM_SYNC, SQLITE_IOERR_FSYNC},
    {SHIM_TRUNCATE, SQLITE_IOERR_TRUNCATE},
    {SHIM_LOCK, SQLITE_IOERR_LOCK},
    {SHIM_LOCK, SQLITE_BUSY},
    {SHIM_MAP, SQLITE_IOERR_SHMMAP},
};

struct run {
    struct place *place;
    struct desk_row desk;
    struct entry entries[BATCHES * BATCH];
    size_t acknowledged;
    int refused;
};

static int reopen(struct log **log, const struct run *run, struct error *err)
{
    log_close(*log);
    *log = NULL;
    return log_open(log, run->place->db, LOG_WRITE, SHIM_VFS, err);
}

/* Appends batch after batch. A refused one is tried again, on the same connection or (the odd
 * times) on a new one; `stubborn` false: the first refusal ends it. */
static void append_all(struct run *run, bool stubborn)
{
    struct log *log = NULL;
    int tries = 0;
    for (int batch = 0; batch < BATCHES;) {
        struct error err = {0};
        int code = log ? 0 : reopen(&log, run, &err);
        if (!code) {
            code = log_append(log, &run->desk, &run->entries[batch * BATCH], BATCH, &err);
        }
        if (!code) {
            run->acknowledged += BATCH;
            batch++;
            continue;
        }
        assert_true(err.text[0]);
        assert_null(strchr(err.text, '\n'));
        run->refused++;
        if (!stubborn) {
            break;
        }
        assert_true(++tries < 10);
        if (tries % 2) {
            log_close(log);
            log = NULL;
        }
    }
    log_close(log);
}

static void fail_nth(struct run *run, size_t kind, int n, bool stubborn, bool *hit)
{
    struct log *log = log_with_card(run->place);
    run->desk = new_desk(log, 1, 0);
    log_close(log);
    write_entries(run->entries, BATCHES * BATCH);
    shim_fail(faults[kind].call, n, faults[kind].result, false);
    append_all(run, stubborn);
    *hit = shim_heal();
    size_t count =
        assert_kept(run->place->db, &run->desk, run->entries, BATCHES * BATCH, run->acknowledged);
    assert_true(!stubborn || count == BATCHES * BATCH);
    assert_int_equal(count % BATCH, 0); /* a batch is whole or not there */
}

static int fail_every(size_t kind, bool stubborn)
{
    int refused = 0;
    bool hit = true;
    for (int n = 1; hit; n++) {
        void *place = NULL;
        assert_int_equal(place_set_up(&place), 0);
        struct run run = {.place = place};
        fail_nth(&run, kind, n, stubborn, &hit);
        refused += run.refused;
        assert_int_equal(place_tear_down(&place), 0);
    }
    return refused;
}

static void log_append__nth_call_fails__acknowledged_is_stored(void **state)
{
    (void)state;
    for (size_t kind = 0; kind < sizeof faults / sizeof faults[0]; kind++) {
        int refused = fail_every(kind, false);
        /* SQLite waits and tries again where a lock is busy, and opens without what it can spare.
         */
        bool spared = faults[kind].result == SQLITE_BUSY || faults[kind].call == SHIM_TRUNCATE;
        assert_true(refused > 0 || spared);
    }
}

static void log_append__tried_again__ends_with_everything_once(void **state)
{
    (void)state;
    for (size_t kind = 0; kind < sizeof faults / sizeof faults[0]; kind++) {
        fail_every(kind, true);
    }
}

/* The whole new card, or the whole old one. */
static bool save_fails(struct place *place, size_t kind, int n)
{
    struct log *log = log_with_card(place);
    struct card card = card_of("[card]\nid = night-1\ntitle = Other\ndate = 2026-03-01\n[bout 2]\n"
                               "rules = boxing\nred.name = X\nblue.name = Y\n[bout 5]\n"
                               "rules = sanda\nred.name = Z\nblue.name = W\n");
    struct error err = {0};
    log_close(log);
    log = NULL;
    shim_fail(faults[kind].call, n, faults[kind].result, false);
    int code = log_open(&log, place->db, LOG_WRITE, SHIM_VFS, &err);
    code = code ? code : log_card_save(log, &card, &err);
    log_close(log);
    bool hit = shim_heal();
    assert_sound(place->db);
    int64_t changed = sql_number(place->db, "SELECT title = 'Other' FROM card");
    assert_int_equal(sql_number(place->db, "SELECT group_concat(number) = '2,5' FROM bout"),
                     changed);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM corner"), 4);
    assert_true(code || changed);
    card_release(&card);
    return hit;
}

static void log_card_save__nth_call_fails__is_whole_or_not_there(void **state)
{
    (void)state;
    for (size_t kind = 0; kind < sizeof faults / sizeof faults[0]; kind++) {
        bool hit = true;
        for (int n = 1; hit; n++) {
            void *place = NULL;
            assert_int_equal(place_set_up(&place), 0);
            hit = save_fails(place, kind, n);
            assert_int_equal(place_tear_down(&place), 0);
        }
    }
}

/* Making a new database: what a failure leaves behind is opened by the next try. */
static void log_open__nth_call_fails_while_making__next_try_makes_it(void **state)
{
    (void)state;
    for (size_t kind = 0; kind < sizeof faults / sizeof faults[0]; kind++) {
        bool hit = true;
        for (int n = 1; hit; n++) {
            void *place = NULL;
            struct log *log = NULL;
            assert_int_equal(place_set_up(&place), 0);
            shim_fail(faults[kind].call, n, faults[kind].result, false);
            log_open(&log, ((struct place *)place)->db, LOG_CREATE, SHIM_VFS, NULL);
            log_close(log);
            hit = shim_heal();
            log = log_with_card(place);
            assert_int_equal(find_bout(log, "2").number, 2);
            log_close(log);
            assert_sound(((struct place *)place)->db);
            assert_int_equal(place_tear_down(&place), 0);
        }
    }
}

/* A signature on a disk that fails once is there, and sealed, since it is written once more; never
 * is it there and said to have failed, nor the other way round. */
static void log_append_surely__nth_call_fails__says_whether_it_is_there(void **state)
{
    int entered = 0;
    (void)state;
    for (size_t kind = 0; kind < sizeof faults / sizeof faults[0]; kind++) {
        bool hit = true;
        for (int n = 1; hit; n++) {
            void *made = NULL;
            struct log *log = NULL;
            struct error err = {0};
            assert_int_equal(place_set_up(&made), 0);
            struct place *place = made;
            log_close(log_with_card(place));
            assert_ok(log_open(&log, place->db, LOG_WRITE, SHIM_VFS, &err), err);
            struct desk_row desk = new_desk(log, 1, 0);
            struct entry entry = entry_of(0, 1, 1700000000000, ENTRY_SIGN);
            struct log_sign sign = {1, NULL};
            entry.code = CODE_SIGN;
            strcpy(entry.text, "Ute Visor");
            shim_fail(faults[kind].call, n, faults[kind].result, false);
            int code = log_append_surely(log, &desk, 1, &entry, 1, &sign, &err);
            hit = shim_heal();
            log_close(log);
            int64_t entries = sql_number(place->db, "SELECT count(*) FROM entry");
            assert_int_equal(entries, code == 0);
            assert_int_equal(sql_number(place->db, "SELECT count(*) FROM seal"), entries);
            assert_true(code == 0 || err.text[0]);
            entered += hit && code == 0;
            assert_int_equal(place_tear_down(&made), 0);
        }
    }
    assert_true(entered > 0);
}

/* One argument: only the tests that match it. */
int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(log_append__nth_call_fails__acknowledged_is_stored),
        cmocka_unit_test(log_append__tried_again__ends_with_everything_once),
        cmocka_unit_test(log_card_save__nth_call_fails__is_whole_or_not_there),
        cmocka_unit_test(log_append_surely__nth_call_fails__says_whether_it_is_there),
        cmocka_unit_test(log_open__nth_call_fails_while_making__next_try_makes_it),
    };
    cmocka_set_test_filter(argc > 1 ? argv[1] : NULL);
    shim_register();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
