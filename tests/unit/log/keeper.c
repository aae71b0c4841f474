/* The writer thread on a healthy disk; tests/fault has the others. */
#include "support.h"

#include <fcntl.h>
#include <poll.h>

#include "ringtally/log/keeper.h"

static const int64_t patience_ms = 10000;

struct stage {
    struct log *log;
    struct keeper *keeper;
    struct desk_row desk;
    int pipe[2];
};

static void stage_open(struct stage *stage, const struct place *place)
{
    struct error err = {0};
    int64_t mark = 0;
    stage->log = log_with_card(place);
    stage->desk = new_desk(stage->log, 1, 0);
    assert_int_equal(pipe(stage->pipe), 0);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(fcntl(stage->pipe[i], F_SETFL, O_NONBLOCK), 0);
    }
    assert_ok(keeper_open(&stage->keeper, place->db, NULL, 1, &stage->desk, 1, mark, stage->pipe[1],
                          &err),
              err);
}

static void stage_close(struct stage *stage)
{
    int64_t left = 0;
    size_t count = 0;
    keeper_close(stage->keeper, &left, &count);
    assert_int_equal(count, 0);
    assert_int_equal(left, 0);
    log_close(stage->log);
    close(stage->pipe[0]);
    close(stage->pipe[1]);
}

/* Waits for a byte in the pipe and takes all that are there. */
static bool woken(const struct stage *stage)
{
    struct pollfd poll_in = {.fd = stage->pipe[0], .events = POLLIN};
    char bytes[64];
    if (poll(&poll_in, 1, (int)patience_ms) != 1) {
        return false;
    }
    while (read(stage->pipe[0], bytes, sizeof bytes) > 0) {
    }
    return true;
}

static void keeper_give__entries__are_durable_when_it_says_so(void **state)
{
    struct place *place = *state;
    struct stage stage;
    struct saved_state at;
    stage_open(&stage, place);
    for (int i = 1; i <= 300; i++) {
        struct entry entry = entry_of(0, i, 1000 + i, ENTRY_STRIKE);
        assert_int_equal(keeper_give(stage.keeper, &entry, 1), 0);
    }
    assert_true(keeper_flush(stage.keeper, patience_ms));
    keeper_state(stage.keeper, &at);
    assert_int_equal(at.given, 300);
    assert_int_equal(at.saved, 300);
    assert_int_equal(at.oldest_ms, 0);
    assert_false(at.failing);
    assert_string_equal(at.trouble, "");
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 300);
    assert_int_equal(sql_number(place->db, "SELECT max(seq) FROM entry"), 300);
    assert_true(woken(&stage));
    stage_close(&stage);
}

static void keeper_close__entries_that_wait__are_written_first(void **state)
{
    struct place *place = *state;
    struct stage stage;
    static struct entry entries[500];
    stage_open(&stage, place);
    for (int i = 0; i < 500; i++) {
        entries[i] = entry_of(0, i + 1, 1000 + i, ENTRY_STRIKE);
    }
    assert_int_equal(keeper_give(stage.keeper, entries, 500), 0);
    stage_close(&stage);
    assert_int_equal(sql_number(place->db, "SELECT count(*) FROM entry"), 500);
}

static void keeper_news__other_desk__comes_once_with_its_row(void **state)
{
    struct place *place = *state;
    struct stage stage;
    struct error err = {0};
    struct desk_row *desks = NULL;
    struct entry *entries = NULL;
    int desk_count = 0, all_desks = 0;
    size_t count = 0, all = 0;
    stage_open(&stage, place);
    struct entry own = entry_of(0, 1, 1001, ENTRY_STRIKE);
    assert_int_equal(keeper_give(stage.keeper, &own, 1), 0);

    struct desk_row both[2] = {stage.desk, new_desk(stage.log, 1, 0)};
    struct entry others[2] = {entry_of(1, 1, 2000, ENTRY_STRIKE),
                              entry_of(1, 2, 2001, ENTRY_STRIKE)};
    others[1].act = ACT_AMEND;
    others[1].subject = others[0].name;
    assert_ok(log_append(stage.log, both, others, 2, &err), err);
    while (all < 2 && woken(&stage)) {
        assert_int_equal(keeper_news(stage.keeper, &desks, &desk_count, &entries, &count), 0);
        if (desk_count) {
            assert_string_equal(desks[0].uid, both[1].uid);
            assert_int_equal(desks[0].root, 1);
        }
        for (size_t i = 0; i < count; i++) {
            assert_true(same_entry(&entries[i], &others[all + i]));
        }
        all_desks += desk_count;
        all += count;
        free(desks);
        free(entries);
    }
    assert_int_equal(all, 2);
    assert_int_equal(all_desks, 1);
    stage_close(&stage);
}

/* All that comes until the other desk's entry with that number, and nothing else than its entries.
 */
static void expect_others(const struct stage *stage, int64_t first, int64_t last)
{
    while (first <= last) {
        struct desk_row *desks = NULL;
        struct entry *entries = NULL;
        int desk_count = 0;
        size_t count = 0;
        assert_true(woken(stage));
        assert_int_equal(keeper_news(stage->keeper, &desks, &desk_count, &entries, &count), 0);
        for (size_t i = 0; i < count; i++) {
            assert_int_equal(entries[i].name.desk, 1);
            assert_int_equal(entries[i].name.seq, first++);
        }
        free(desks);
        free(entries);
    }
    assert_int_equal(first, last + 1);
}

/* What is stored of one's own before others write is not told to oneself again, in whatever batches
 * it went, and others' entries come whatever their numbers are. */
static void keeper_news__own_entries__never_come_back(void **state)
{
    struct place *place = *state;
    struct stage stage;
    struct error err = {0};
    stage_open(&stage, place);
    struct desk_row both[2] = {stage.desk, new_desk(stage.log, 1, 0)};
    int64_t own = 0;
    for (int64_t turn = 0; turn < 3; turn++) {
        static const int batches[] = {1, 5, 1};
        struct entry mine[5];
        for (int i = 0; i < batches[turn]; i++) {
            own++;
            mine[i] = entry_of(0, own, 1000 + own, ENTRY_STRIKE);
        }
        assert_int_equal(keeper_give(stage.keeper, mine, (size_t)batches[turn]), 0);
        assert_true(keeper_flush(stage.keeper, patience_ms));
        struct entry others[2] = {entry_of(1, 2 * turn + 1, 2000 + turn, ENTRY_STRIKE),
                                  entry_of(1, 2 * turn + 2, 2000 + turn, ENTRY_STRIKE)};
        assert_ok(log_append(stage.log, both, others, 2, &err), err);
        expect_others(&stage, 2 * turn + 1, 2 * turn + 2);
    }
    stage_close(&stage);
}

/* Another desk's rescue file is loaded first, the rest of its log later. */
static void keeper_news__entries_below_those_known__come_too(void **state)
{
    struct place *place = *state;
    struct stage stage;
    struct error err = {0};
    struct desk_row *desks = NULL;
    struct entry *entries = NULL;
    int desk_count = 0;
    size_t count = 0, all = 0;
    bool seen[6] = {false};
    stage_open(&stage, place);
    struct desk_row both[2] = {stage.desk, new_desk(stage.log, 1, 0)};
    struct entry others[6];
    for (int i = 0; i < 6; i++) {
        others[i] = entry_of(1, i + 1, 2000 + i, ENTRY_STRIKE);
    }
    for (int part = 0; part < 2; part++) {
        assert_ok(log_append(stage.log, both, part ? others : others + 5, part ? 5 : 1, &err), err);
        while (all < (part ? 6 : 1) && woken(&stage)) {
            assert_int_equal(keeper_news(stage.keeper, &desks, &desk_count, &entries, &count), 0);
            for (size_t i = 0; i < count; i++) {
                assert_false(seen[entries[i].name.seq - 1]);
                seen[entries[i].name.seq - 1] = true;
            }
            all += count;
            free(desks);
            free(entries);
        }
    }
    assert_int_equal(all, 6);
    stage_close(&stage);
}

static void keeper_open__entries_behind_the_mark__are_news(void **state)
{
    struct place *place = *state;
    struct stage stage;
    struct error err = {0};
    struct desk_row *desks = NULL;
    struct entry *entries = NULL;
    struct log *log = log_with_card(place);
    struct desk_row desk = new_desk(log, 1, 0);
    struct entry old[3] = {entry_of(0, 1, 1000, ENTRY_STRIKE), entry_of(0, 2, 1001, ENTRY_STRIKE),
                           entry_of(0, 3, 1002, ENTRY_STRIKE)};
    int64_t mark = 2;
    int desk_count = 0;
    size_t count = 0;
    assert_ok(log_append(log, &desk, old, 3, &err), err);
    stage.log = log;
    assert_int_equal(pipe(stage.pipe), 0);
    assert_int_equal(fcntl(stage.pipe[0], F_SETFL, O_NONBLOCK), 0);
    assert_ok(keeper_open(&stage.keeper, place->db, NULL, 1, &desk, 1, mark, stage.pipe[1], &err),
              err);
    assert_true(woken(&stage));
    assert_int_equal(keeper_news(stage.keeper, &desks, &desk_count, &entries, &count), 0);
    assert_int_equal(desk_count, 0);
    assert_int_equal(count, 1);
    assert_true(same_entry(&entries[0], &old[2]));
    free(entries);
    free(desks);
    stage_close(&stage);
}

static void keeper__database_taken_away__says_so_and_gives_entries_back(void **state)
{
    struct place *place = *state;
    struct stage stage = {0};
    struct error err = {0};
    struct saved_state at = {0};
    struct desk_row desk = {.uid = "0123456789abcdef0123456789abcdef", .corners = 3};
    struct entry entry = entry_of(0, 1, 1000, ENTRY_STRIKE);
    int64_t left = 0;
    size_t count = 0;
    int64_t mark = 0;
    assert_int_equal(pipe(stage.pipe), 0);
    assert_int_equal(fcntl(stage.pipe[0], F_SETFL, O_NONBLOCK), 0);
    assert_ok(keeper_open(&stage.keeper, place->db, NULL, 1, &desk, 1, mark, stage.pipe[1], &err),
              err);
    assert_int_equal(keeper_give(stage.keeper, &entry, 1), 0);
    while (!at.failing && woken(&stage)) {
        keeper_state(stage.keeper, &at);
    }
    assert_true(at.failing);
    assert_string_equal(at.trouble, "there is no such database");
    assert_int_equal(at.saved, 0);
    assert_false(keeper_flush(stage.keeper, 1));
    keeper_close(stage.keeper, &left, &count);
    assert_int_equal(count, 1);
    assert_int_equal(left, entry.name.seq);
    close(stage.pipe[0]);
    close(stage.pipe[1]);
}

#define with_place(test) cmocka_unit_test_setup_teardown(test, place_set_up, place_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_place(keeper_give__entries__are_durable_when_it_says_so),
        with_place(keeper_close__entries_that_wait__are_written_first),
        with_place(keeper_news__other_desk__comes_once_with_its_row),
        with_place(keeper_news__own_entries__never_come_back),
        with_place(keeper_news__entries_below_those_known__come_too),
        with_place(keeper_open__entries_behind_the_mark__are_news),
        with_place(keeper__database_taken_away__says_so_and_gives_entries_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
