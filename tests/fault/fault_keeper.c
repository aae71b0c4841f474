/* The writer thread on a disk that is full, broken or stalled. */
#include "support.h"

#include <fcntl.h>
#include <poll.h>

#include "ringtally/log/keeper.h"

enum { COUNT = 400 };
static const int64_t patience_ms = 20000;

struct stage {
    struct log *log; /* a second connection, on a disk that is well */
    struct keeper *keeper;
    struct desk_row desk;
    int pipe[2];
    struct entry entries[COUNT];
};

static void stage_open(struct stage *stage, const struct place *place)
{
    struct error err = {0};
    stage->log = log_with_card(place);
    stage->desk = new_desk(stage->log, 1, 0);
    write_entries(stage->entries, COUNT);
    assert_int_equal(pipe(stage->pipe), 0);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(fcntl(stage->pipe[i], F_SETFL, O_NONBLOCK), 0);
    }
    assert_ok(keeper_open(&stage->keeper, place->db, SHIM_VFS, 1, &stage->desk, 1, 0,
                          stage->pipe[1], &err),
              err);
}

static void stage_close(struct stage *stage)
{
    int64_t left = 0;
    size_t count = 0;
    keeper_close(stage->keeper, &left, &count);
    assert_int_equal(count, 0);
    log_close(stage->log);
    close(stage->pipe[0]);
    close(stage->pipe[1]);
}

/* Waits until the keeper has something to say. */
static void await(const struct stage *stage)
{
    struct pollfd poll_in = {.fd = stage->pipe[0], .events = POLLIN};
    char bytes[64];
    assert_int_equal(poll(&poll_in, 1, (int)patience_ms), 1);
    while (read(stage->pipe[0], bytes, sizeof bytes) > 0) {
    }
}

/* A disk that stays ill until it is healed: the keeper says what it is, keeps all, and recovers. */
static void recover(struct place *place, enum shim_call call, int nth, int result,
                    const char *trouble)
{
    struct stage stage;
    struct saved_state at = {0};
    stage_open(&stage, place);
    assert_int_equal(keeper_give(stage.keeper, stage.entries, 10), 0);
    assert_true(keeper_flush(stage.keeper, patience_ms));
    shim_fail(call, nth, result, true);
    assert_int_equal(keeper_give(stage.keeper, stage.entries + 10, COUNT - 10), 0);
    while (!at.failing) {
        await(&stage);
        keeper_state(stage.keeper, &at);
    }
    assert_string_equal(at.trouble, trouble);
    assert_int_equal(at.given, COUNT);
    assert_true(at.saved < COUNT);
    assert_true(at.oldest_ms >= 0);
    assert_true(shim_heal());
    assert_true(keeper_flush(stage.keeper, patience_ms));
    keeper_state(stage.keeper, &at);
    assert_false(at.failing);
    assert_string_equal(at.trouble, "");
    stage_close(&stage);
    assert_int_equal(assert_kept(place->db, &stage.desk, stage.entries, COUNT, COUNT), COUNT);
}

static void keeper__ill_disk__is_named_and_outlived(void **state)
{
    (void)state;
    static const struct {
        enum shim_call call;
        int nth, result;
        const char *trouble;
    } cases[] = {
        {SHIM_WRITE, 1, SQLITE_FULL, "the disk is full"},
        {SHIM_WRITE, 3, SQLITE_FULL, "the disk is full"},
        {SHIM_WRITE, 1, SQLITE_IOERR_WRITE, "the disk reports an error"},
        {SHIM_WRITE, 2, SQLITE_READONLY, "the file or its disk is read-only"},
        {SHIM_SYNC, 1, SQLITE_IOERR_FSYNC, "the disk reports an error"},
        {SHIM_LOCK, 1, SQLITE_IOERR_LOCK, "the disk reports an error"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        void *place = NULL;
        assert_int_equal(place_set_up(&place), 0);
        recover(place, cases[i].call, cases[i].nth, cases[i].result, cases[i].trouble);
        assert_int_equal(place_tear_down(&place), 0);
    }
}

static void keeper_close__disk_still_ill__says_what_is_not_saved(void **state)
{
    struct place *place = *state;
    struct stage stage;
    int64_t left = 0;
    size_t count = 0;
    stage_open(&stage, place);
    assert_int_equal(keeper_give(stage.keeper, stage.entries, 10), 0);
    assert_true(keeper_flush(stage.keeper, patience_ms));
    shim_fail(SHIM_WRITE, 1, SQLITE_FULL, true);
    assert_int_equal(keeper_give(stage.keeper, stage.entries + 10, 40), 0);
    keeper_close(stage.keeper, &left, &count);
    assert_true(shim_heal());
    assert_int_equal(count, 40);
    assert_int_equal(left, stage.entries[10].name.seq);
    log_close(stage.log);
    close(stage.pipe[0]);
    close(stage.pipe[1]);
    assert_int_equal(assert_kept(place->db, &stage.desk, stage.entries, COUNT, 10), 10);
}

/* That keeper_give comes back at all while no sync does shows that it does not wait for one. */
static void keeper_give__stalled_disk__comes_back_and_tells_how_old(void **state)
{
    struct place *place = *state;
    struct stage stage;
    struct saved_state at = {0};
    stage_open(&stage, place);
    shim_stall(true);
    for (int i = 0; i < COUNT; i++) {
        assert_int_equal(keeper_give(stage.keeper, &stage.entries[i], 1), 0);
    }
    int64_t deadline = monotonic_ms() + patience_ms;
    while (at.oldest_ms < 30 && monotonic_ms() < deadline) {
        poll(NULL, 0, 5);
        keeper_state(stage.keeper, &at);
    }
    assert_true(at.oldest_ms >= 30);
    assert_int_equal(at.saved, 0);
    assert_int_equal(at.given, COUNT);
    assert_false(keeper_flush(stage.keeper, 20));
    shim_stall(false);
    assert_true(keeper_flush(stage.keeper, patience_ms));
    stage_close(&stage);
    assert_int_equal(assert_kept(place->db, &stage.desk, stage.entries, COUNT, COUNT), COUNT);
}

static void keeper_close__stalled_disk__does_not_hang(void **state)
{
    struct place *place = *state;
    struct stage stage;
    int64_t left = 0;
    size_t count = 0;
    stage_open(&stage, place);
    shim_stall(true);
    assert_int_equal(keeper_give(stage.keeper, stage.entries, 50), 0);
    int64_t deadline = monotonic_ms() + patience_ms;
    while (shim_stalled() == 0 && monotonic_ms() < deadline) {
        poll(NULL, 0, 5);
    }
    assert_int_equal(keeper_give(stage.keeper, stage.entries + 50, 50), 0);
    int64_t before = monotonic_ms();
    keeper_close(stage.keeper, &left, &count);
    assert_true(monotonic_ms() - before < patience_ms);
    assert_int_equal(shim_stalled(), 1); /* it came back though the disk had not */
    assert_int_equal(count, 100);
    assert_int_equal(left, stage.entries[0].name.seq);
    /* Where the disk comes back after all, the abandoned thread ends by itself. */
    shim_stall(false);
    deadline = monotonic_ms() + patience_ms;
    while (sql_number(place->db, "SELECT count(*) FROM entry") < 100 && monotonic_ms() < deadline) {
        poll(NULL, 0, 5);
    }
    log_close(stage.log);
    close(stage.pipe[0]);
    close(stage.pipe[1]);
    assert_int_equal(assert_kept(place->db, &stage.desk, stage.entries, COUNT, 100), 100);
}

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

/* One argument: only the tests that match it. */
int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keeper__ill_disk__is_named_and_outlived),
        with_place(keeper_close__disk_still_ill__says_what_is_not_saved),
        with_place(keeper_give__stalled_disk__comes_back_and_tells_how_old),
        with_place(keeper_close__stalled_disk__does_not_hang),
    };
    cmocka_set_test_filter(argc > 1 ? argv[1] : NULL);
    shim_register();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
