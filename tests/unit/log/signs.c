/* Signs of life beside the database, and the keeper that leaves them. */
#include "support.h"

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <stdlib.h>
#include <sys/wait.h>

#include "ringtally/log/keeper.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/when.h"

static const int64_t patience_ms = 10000;

static void signs_leave__two_desks__each_reads_its_own(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct desk_row desks[3];
    struct desk_sign signs[3];
    struct log *log = log_with_card(place);
    for (int i = 0; i < 3; i++) {
        desks[i] = new_desk(log, 1, 0);
        desks[i].root = i;
    }
    desks[2].root = 1;
    signs_read(log, desks, 3, 5000, signs); /* no file yet */
    assert_int_equal(sign_state(&signs[0]), SIGN_UNKNOWN);
    assert_ok(signs_leave(log, desks[0].id, 1796501730250, false, &err), err);
    assert_ok(signs_leave(log, desks[1].id, 1796501730500, true, &err), err);
    signs_read(log, desks, 3, 1796501731000, signs);
    assert_int_equal(signs[0].seen_ms, 1796501730250);
    assert_int_equal(signs[0].age_ms, 750);
    assert_int_equal(sign_state(&signs[0]), SIGN_LOST);
    assert_int_equal(sign_state(&signs[1]), SIGN_LEFT);
    assert_int_equal(signs[2].seen_ms, signs[1].seen_ms);
    assert_int_equal(signs[2].session_ms, 0);
    /* The session that goes on from it leaves its own; the former one's last stays known. */
    assert_ok(signs_leave(log, desks[2].id, 1796501730900, false, &err), err);
    signs_read(log, desks, 3, 1796501731000, signs);
    for (int i = 1; i < 3; i++) {
        assert_int_equal(signs[i].seen_ms, 1796501730900);
        assert_int_equal(sign_state(&signs[i]), SIGN_LOST);
    }
    assert_int_equal(signs[1].session_ms, 1796501730500);
    assert_int_equal(signs[2].session_ms, 1796501730900);
    signs_read(log, desks, 1, 1000, signs); /* a clock set back */
    assert_int_equal(signs[0].age_ms, 0);
    log_close(log);
}

/* The first sign comes from another thread: until then the desk does not hang. */
static void signs_read__desk_just_opened__is_live(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct desk_row desks[2];
    struct desk_sign signs[2];
    struct log *log = log_with_card(place);
    for (int i = 0; i < 2; i++) {
        desks[i] = new_desk(log, 1, 0);
        desks[i].opened_ms = 100000 * (i + 1);
        desks[i].root = 0;
    }
    assert_ok(log_desk_claim(log, desks[0].id, &err), err);
    signs_read(log, desks, 1, 100000 + SIGN_STALE_MS - 1, signs);
    assert_int_equal(sign_state(&signs[0]), SIGN_LIVE);
    signs_read(log, desks, 1, 100000 + SIGN_STALE_MS, signs);
    assert_int_equal(sign_state(&signs[0]), SIGN_SILENT);
    /* Opened again, after a farewell. */
    assert_ok(signs_leave(log, desks[0].id, 150000, true, &err), err);
    signs_read(log, desks, 2, 200500, signs);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(sign_state(&signs[i]), SIGN_LIVE);
        assert_int_equal(signs[i].age_ms, 500);
    }
    signs_read(log, desks, 2, 199999, signs); /* a clock set back */
    assert_int_equal(sign_state(&signs[1]), SIGN_SILENT);
    log_close(log);
}

static void signs_read__file_that_is_none__knows_nothing(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct desk_sign sign;
    char path[112];
    struct log *log = log_with_card(place);
    struct desk_row desk = new_desk(log, 1, 0);
    desk.root = 0;
    snprintf(path, sizeof path, "%s.signs", place->db);
    char text[64] = "";
    memset(text, 'z', sizeof text - 1);
    assert_ok(file_write(path, text, sizeof text, &err), err);
    signs_read(log, &desk, 1, 5000, &sign);
    assert_int_equal(sign_state(&sign), SIGN_UNKNOWN);
    log_close(log);
}

/* What the feed sees of a desk that another process has open. */
static int state_seen(const char *db, int64_t id)
{
    struct error err = {0};
    struct log *log = NULL;
    struct desk_sign sign;
    struct desk_row desk = {.id = id};
    if (log_open(&log, db, LOG_READ, NULL, &err)) {
        return 99;
    }
    signs_read(log, &desk, 1, when_now(), &sign);
    log_close(log);
    return (int)sign_state(&sign);
}

/* This program once more, as that other process: a fork of a program with threads may hang, an exec
 * does not. */
static const char *own_path;

static enum sign_state state_from_outside(const char *db, const struct desk_row *desk)
{
    extern char **environ;
    char id[24];
    int status = 0;
    pid_t child = 0;
    snprintf(id, sizeof id, "%lld", (long long)desk->id);
    char *words[] = {(char *)own_path, (char *)db, id, NULL};
    assert_int_equal(posix_spawn(&child, own_path, NULL, NULL, words, environ), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    return (enum sign_state)WEXITSTATUS(status);
}

static enum sign_state await(const char *db, const struct desk_row *desk, enum sign_state wanted,
                             struct keeper *asked)
{
    int64_t until = when_now() + patience_ms;
    enum sign_state state = state_from_outside(db, desk);
    while (state != wanted && when_now() < until) {
        struct saved_state ignored;
        if (asked) {
            keeper_state(asked, &ignored);
        }
        poll(NULL, 0, 20);
        state = state_from_outside(db, desk);
    }
    return state;
}

static void keeper_sign__caller_hangs__desk_falls_silent(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct keeper *keeper = NULL;
    int64_t left = 0;
    size_t count = 0;
    int ends[2];
    struct log *log = log_with_card(place);
    struct desk_row desk = new_desk(log, 1, 0);
    desk.root = 0;
    assert_int_equal(pipe(ends), 0);
    assert_int_equal(fcntl(ends[1], F_SETFL, O_NONBLOCK), 0);
    assert_ok(log_desk_claim(log, desk.id, &err), err);
    assert_ok(keeper_open(&keeper, place->db, NULL, 1, &desk, 1, 0, ends[1], &err), err);
    keeper_sign(keeper, desk.id);
    assert_int_equal(await(place->db, &desk, SIGN_LIVE, keeper), SIGN_LIVE);
    /* The thread lives on, but the loop that reads keys does not. */
    assert_int_equal(await(place->db, &desk, SIGN_SILENT, NULL), SIGN_SILENT);
    struct pollfd reminder = {.fd = ends[0], .events = POLLIN};
    assert_int_equal(poll(&reminder, 1, 0), 1);
    assert_int_equal(await(place->db, &desk, SIGN_LIVE, keeper), SIGN_LIVE);
    keeper_close(keeper, &left, &count);
    assert_int_equal(count, 0);
    log_close(log);
    assert_int_equal(state_from_outside(place->db, &desk), SIGN_LEFT);
    close(ends[0]);
    close(ends[1]);
}

static void keeper_state__feed_beside_it__shown_while_it_lives(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    struct keeper *keeper = NULL;
    struct saved_state seen = {0};
    int64_t left = 0;
    size_t count = 0;
    struct log *log = log_with_card(place);
    struct desk_row desk = new_desk(log, 1, 0);
    struct feed_note note = {.clients = 3, .read_ms = when_now(), .written_ms = when_now()};
    struct hub_note hub = {7, when_now() - 5000, true, when_now() + 2LL * patience_ms};
    assert_ok(keeper_open(&keeper, place->db, NULL, 1, &desk, 1, 0, -1, &err), err);
    keeper_state(keeper, &seen);
    assert_false(seen.feed);
    assert_false(seen.hub);
    assert_ok(hub_note_write(place->db, &hub, &err), err);
    assert_ok(feed_note_write(place->db, &note, &err), err);
    for (int64_t until = when_now() + patience_ms;
         !(seen.feed && seen.hub) && when_now() < until;) {
        poll(NULL, 0, 10);
        keeper_state(keeper, &seen);
    }
    assert_true(seen.feed);
    assert_int_equal(seen.feed_clients, 3);
    assert_true(seen.hub_away);
    assert_int_equal(seen.hub_waiting, 7);
    assert_int_equal(seen.hub_since_ms, hub.oldest_ms);
    assert_false(seen.hub_lost);
    /* It was to say more by now. */
    hub.until_ms = when_now() - 1;
    assert_ok(hub_note_write(place->db, &hub, &err), err);
    for (int64_t until = when_now() + patience_ms; !seen.hub_lost && when_now() < until;) {
        poll(NULL, 0, 10);
        keeper_state(keeper, &seen);
    }
    assert_true(seen.hub && seen.hub_lost);
    /* Another evening's. */
    hub.until_ms = when_now() - HUB_NOTE_KEPT_MS;
    assert_ok(hub_note_write(place->db, &hub, &err), err);
    for (int64_t until = when_now() + patience_ms; seen.hub && when_now() < until;) {
        poll(NULL, 0, 10);
        keeper_state(keeper, &seen);
    }
    assert_false(seen.hub || seen.hub_lost);
    hub_note_clear(place->db);
    assert_int_equal(seen.feed_read_ms, note.read_ms);
    /* No newer word of it: it is gone. */
    for (int64_t until = when_now() + patience_ms; seen.feed && when_now() < until;) {
        poll(NULL, 0, 10);
        keeper_state(keeper, &seen);
    }
    assert_false(seen.feed);
    keeper_close(keeper, &left, &count);
    feed_note_clear(place->db);
    log_close(log);
}

static void log_check__file_replaced_or_gone__says_which(void **state)
{
    struct place *place = *state;
    struct error err = {0};
    char path[112];
    struct log *log = log_with_card(place);
    assert_ok(log_check(log, &err), err);
    snprintf(path, sizeof path, "%s.signs", place->db);
    assert_ok(file_write(path, "other", 5, &err), err);
    char aside[112];
    snprintf(aside, sizeof aside, "%s.feed", place->db);
    assert_int_equal(rename(place->db, aside), 0);
    assert_int_equal(log_check(log, &err), ERROR_LOST);
    assert_non_null(strstr(err.text, "gone"));
    assert_int_equal(rename(path, place->db), 0);
    err = (struct error){0};
    assert_int_equal(log_check(log, &err), ERROR_LOST);
    assert_non_null(strstr(err.text, "replaced"));
    log_close(log);
}

int main(int argc, char **argv)
{
    if (argc == 3) {
        return state_seen(argv[1], strtoll(argv[2], NULL, 10));
    }
    own_path = argv[0];
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(signs_leave__two_desks__each_reads_its_own, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(signs_read__desk_just_opened__is_live, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(signs_read__file_that_is_none__knows_nothing, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(keeper_sign__caller_hangs__desk_falls_silent, place_set_up,
                                        place_tear_down),
        cmocka_unit_test_setup_teardown(keeper_state__feed_beside_it__shown_while_it_lives,
                                        place_set_up, place_tear_down),
        cmocka_unit_test_setup_teardown(log_check__file_replaced_or_gone__says_which, place_set_up,
                                        place_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
