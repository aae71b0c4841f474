/* clocked.h: a desk under timed keys, for the tests of the round clock. Times in milliseconds from
 * START; three rounds of three minutes, a minute's rest, one extension of two. */
#ifndef DESK_CLOCKED_H
#define DESK_CLOCKED_H

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

#define START 1700000000000
#define ENTER KEY_OF_ENTER
#define BACK  KEY_OF_BACKSPACE
#define F4    (KEY_OF_F1 + 3)
#define F9    (KEY_OF_F1 + 8)

static struct desk_row rows[2] = {
    {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3, .root = 0},
    {.uid = "bbbb", .name = "ben", .operator_ = "ben", .corners = 3, .root = 1},
};

struct entries {
    struct entry *entry;
    size_t count;
};

static inline struct desk *open_as(int self, int desks, const struct entries *log, uint8_t claim,
                                   int64_t at)
{
    struct desk_setup setup = {.desks = rows, .desk_count = desks, .self = self, .claim = claim};
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    if (log) {
        setup.entries = log->entry;
        setup.entry_count = log->count;
    }
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    /* The times below are of three rounds of three minutes, a minute's rest, one extension. */
    setup.rules.rounds = 3;
    setup.rules.round_ms = 180000;
    setup.rules.rest_ms = 60000;
    setup.rules.extension_rounds = 1;
    setup.rules.extension_ms = 120000;
    struct desk *desk = desk_new(&setup, START + at);
    assert_non_null(desk);
    return desk;
}

static inline struct desk *open_desk(void)
{
    return open_as(0, 1, NULL, 7, 0);
}

static inline void press(struct desk *desk, int32_t key, int64_t at)
{
    desk_key(desk, key, START + at, 0);
}

/* A key in a form, each a third of a second after the one before. */
static inline int64_t type(struct desk *desk, const char *keys, int64_t at)
{
    for (; *keys; keys++, at += 333) {
        press(desk, *keys, at);
    }
    return at;
}

/* Twice, as a person answers a question; and time passes. */
static inline void press_twice(struct desk *desk, int32_t key, int64_t at)
{
    press(desk, key, at);
    press(desk, key, at + 900);
    desk_tick(desk, START + at + 1500);
}

static inline void expect(const struct desk *desk, int64_t at, enum clock_state state, int round,
                          int32_t remaining)
{
    struct clock_face face = desk_clock(desk, START + at);
    if (face.state != state || face.round != round || face.remaining_ms != remaining) {
        fail_msg("at %lld: %s, round %d, %d left; expected %s, round %d, %d left", (long long)at,
                 clock_state_names[face.state], face.round, face.remaining_ms,
                 clock_state_names[state], round, remaining);
    }
}

static inline void says(const struct desk *desk, int64_t at, const char *part)
{
    bool urgent = false;
    const char *notice = desk_notice(desk, START + at, &urgent);
    if (!strstr(notice, part)) {
        fail_msg("at %lld: \"%s\"; expected \"%s\"", (long long)at, notice, part);
    }
}

static inline size_t entries_of(const struct desk *desk, enum entry_kind kind, int code)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(desk_fold(desk), &entries), found = 0;
    for (size_t i = 0; i < count; i++) {
        found += entries[i].kind == kind && (code < 0 || entries[i].code == code);
    }
    return found;
}

/* The n-th live strike in the order of typing. */
static inline const struct entry *strike(const struct desk *desk, size_t n)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(desk_fold(desk), &subjects);
    for (size_t i = 0; i < count; i++) {
        if (subjects[i].now.kind == ENTRY_STRIKE && subjects[i].live && n-- == 0) {
            return &subjects[i].now;
        }
    }
    fail_msg("no such strike");
    return NULL;
}

static inline void check_strike(const struct desk *desk, size_t n, int round, int32_t elapsed,
                                bool off)
{
    const struct entry *entry = strike(desk, n);
    assert_int_equal(entry->round, round);
    assert_int_equal(entry->elapsed_ms, elapsed);
    assert_int_equal(entry->off_clock, off);
}

/* What the desk wrote since the last call; the caller frees. */
static inline struct entries taken(struct desk *desk)
{
    const struct entry *entries = NULL;
    struct entries out = {.count = desk_take(desk, &entries)};
    out.entry = malloc((out.count + 1) * sizeof *out.entry);
    assert_non_null(out.entry);
    memcpy(out.entry, entries, out.count * sizeof *entries);
    return out;
}

/* What the other desk wrote since the last call, learned. */
static inline void hear(struct desk *desk, struct desk *from, int64_t at)
{
    struct entries news = taken(from);
    assert_int_equal(desk_learn(desk, NULL, 0, news.entry, news.count, START + at), 0);
    free(news.entry);
}

#endif
