/* A bout tagged twice, and a supervisor who settles every difference one way: the official totals
 * must become those of the desk that was always right, as the heads of the key scripts list them.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/desk/desk.h"
#include "ringtally/base/embedded.h"
#include "ringtally/base/file.h"
#include "ringtally/desk/keyscript.h"

#define START 1700000000000

static struct desk_row rows[3] = {
    {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3, .root = 0},
    {.uid = "bbbb", .name = "ben", .operator_ = "ben", .corners = 3, .root = 1, .shadow = true},
    {.uid = "cccc", .name = "cid", .operator_ = "cid", .corners = 3, .root = 2},
};

struct log {
    struct entry *entry;
    size_t count;
};

static struct desk *open_desk(int self, const struct log *log, uint8_t claim, int64_t now)
{
    struct desk_setup setup = {.desks = rows,
                               .desk_count = self + 1,
                               .self = self,
                               .entries = log->entry,
                               .entry_count = log->count,
                               .claim = claim};
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    assert_int_equal(rules_parse(&setup.rules, rules->data, rules->size, "rules", &err), 0);
    assert_int_equal(keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err), 0);
    struct desk *desk = desk_new(&setup, now);
    assert_non_null(desk);
    return desk;
}

static void take(struct log *log, struct desk *desk)
{
    const struct entry *entries = NULL;
    size_t count = desk_take(desk, &entries);
    log->entry = realloc(log->entry, (log->count + count + 1) * sizeof *log->entry);
    assert_non_null(log->entry);
    memcpy(log->entry + log->count, entries, count * sizeof *entries);
    log->count += count;
}

static void play(struct desk *desk, const char *name, int64_t start)
{
    char path[1024];
    char *text = NULL;
    size_t size = 0, count = 0;
    struct script_key *keys = NULL;
    struct error err = {0};
    snprintf(path, sizeof path, "%s/examples/%s", SOURCE_DIR, name);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    assert_int_equal(keyscript_parse(&keys, &count, text, size, name, &err), 0);
    for (size_t i = 0; i < count; i++) {
        desk_key(desk, keys[i].key, start + keys[i].at_ms, 0);
    }
    free(keys);
    free(text);
}

/* What the head of a key script says of the whole bout: attempted and landed, red's and blue's. */
static void head_of(const char *name, int out[4])
{
    char path[1024];
    char *text = NULL;
    size_t size = 0;
    struct error err = {0};
    snprintf(path, sizeof path, "%s/examples/%s", SOURCE_DIR, name);
    assert_int_equal(file_read(&text, &size, path, &err), 0);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        char wanted[40];
        snprintf(wanted, sizeof wanted, "# expected all %s ", corner_names[corner]);
        const char *at = strstr(text, wanted);
        assert_non_null(at);
        assert_int_equal(
            sscanf(at + strlen(wanted), "%d %d", &out[2 * corner], &out[2 * corner + 1]), 2);
    }
    free(text);
}

static struct log tagged_twice(void)
{
    struct log log = {NULL, 0};
    struct desk *ana = open_desk(0, &log, 7, START);
    play(ana, "bout-1.keys", START);
    take(&log, ana);
    desk_free(ana);
    struct desk *ben = open_desk(1, &log, 0, START + 3600000);
    play(ben, "bout-1-second.keys", START + 3600000);
    take(&log, ben);
    desk_free(ben);
    return log;
}

static void settle_all(int32_t key, const char *script)
{
    int expected[4] = {0};
    head_of(script, expected);
    struct log log = tagged_twice();
    int64_t now = START + 7200000;
    struct desk *cid = open_desk(2, &log, 7, now);
    struct desk_difference difference;
    now += 1000;
    desk_key(cid, KEY_OF_F1 + 5, now, 0);
    assert_int_equal(desk_mode(cid), DESK_SETTLE);
    assert_int_equal(desk_settle(cid, &difference), 36);
    assert_string_equal(difference.a, "ana");
    assert_string_equal(difference.b, "ben");
    for (int i = 0; i < 36; i++) {
        assert_int_equal(desk_settle(cid, &difference), 36 - i);
        assert_true(difference.of_a || difference.of_b);
        now += 300;
        desk_key(cid, key, now, 0);
    }
    assert_int_equal(desk_settle(cid, &difference), 0);
    const struct round_tally *all = &fold_tally(desk_fold(cid))->all;
    const int seen[4] = {all->corner[0].all.attempted, all->corner[0].all.landed,
                         all->corner[1].all.attempted, all->corner[1].all.landed};
    assert_memory_equal(seen, expected, sizeof seen);
    desk_free(cid);
    free(log.entry);
}

static void settle__left__leaves_the_official_count(void **state)
{
    (void)state;
    settle_all(KEY_OF_LEFT, "bout-1.keys");
}

static void settle__right__makes_it_the_second_taggers(void **state)
{
    (void)state;
    settle_all(KEY_OF_RIGHT, "bout-1-second.keys");
}

/* Both were wrong: what the official desk had of it goes, what the other one had does not come, and
 * nothing is open any more. */
static void settle__delete__neither_counts(void **state)
{
    (void)state;
    int before[4] = {0}, gone[2] = {0};
    head_of("bout-1.keys", before);
    struct log log = tagged_twice();
    int64_t now = START + 7200000;
    struct desk *cid = open_desk(2, &log, 7, now);
    struct desk_difference difference;
    desk_key(cid, KEY_OF_F1 + 5, now += 1000, 0);
    for (int i = 0; i < 36; i++) {
        assert_int_equal(desk_settle(cid, &difference), 36 - i);
        if (difference.of_a) {
            gone[difference.of_a->now.strike.corner]++;
        }
        desk_key(cid, KEY_OF_DELETE, now += 300, 0);
    }
    assert_int_equal(desk_settle(cid, &difference), 0);
    const struct round_tally *all = &fold_tally(desk_fold(cid))->all;
    assert_true(gone[0] > 0 && gone[1] > 0);
    assert_int_equal(all->corner[0].all.attempted, before[0] - gone[0]);
    assert_int_equal(all->corner[1].all.attempted, before[2] - gone[1]);
    desk_free(cid);
    free(log.entry);
}

static void settle__refused__for_a_desk_that_is_not_official(void **state)
{
    (void)state;
    struct log log = tagged_twice();
    struct desk *cid = open_desk(2, &log, 0, START + 7200000);
    struct desk_difference difference;
    desk_key(cid, KEY_OF_F1 + 5, START + 7201000, 0);
    desk_key(cid, KEY_OF_RIGHT, START + 7202000, 0);
    assert_int_equal(desk_settle(cid, &difference), 36);
    desk_free(cid);
    free(log.entry);
}

static bool is_reds(const struct subject *subject)
{
    return !subject || subject->now.strike.corner == CORNER_RED;
}

/* Official for red alone, it settles what is red's in both desks' words, and refuses the rest. */
static void settle__official_for_one_corner__settles_that_corner(void **state)
{
    (void)state;
    struct log log = tagged_twice();
    int64_t now = START + 7200000;
    struct desk *cid = open_desk(2, &log, 1, now);
    struct desk_difference difference;
    size_t open = 36, refused = 0;
    now += 1000;
    desk_key(cid, KEY_OF_F1 + 5, now, 0);
    for (int i = 0; i < 36; i++) {
        bool urgent = false;
        assert_int_equal(desk_settle(cid, &difference), open);
        bool reds = is_reds(difference.of_a) && is_reds(difference.of_b);
        desk_key(cid, KEY_OF_RIGHT, now += 300, 0);
        if (reds) {
            open--;
        } else {
            refused++;
            assert_non_null(strstr(desk_notice(cid, now, &urgent), "official for that corner"));
            desk_key(cid, KEY_OF_DOWN, now += 300, 0);
        }
    }
    assert_int_equal(desk_settle(cid, &difference), refused);
    assert_true(open == refused && refused > 0 && refused < 36);
    desk_free(cid);
    free(log.entry);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(settle__left__leaves_the_official_count),
        cmocka_unit_test(settle__right__makes_it_the_second_taggers),
        cmocka_unit_test(settle__delete__neither_counts),
        cmocka_unit_test(settle__refused__for_a_desk_that_is_not_official),
        cmocka_unit_test(settle__official_for_one_corner__settles_that_corner),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
