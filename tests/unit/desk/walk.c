/* Walking the log: where each key leads, what each filter lets through, and that what needs a look
 * is known after every key as if it had been looked for from the start. */
#include "clocked.h"

#include "ringtally/tally/review.h"

#define F8  (KEY_OF_F1 + 7)
#define F11 (KEY_OF_F1 + 10)

static const char limb_keys[] = "qwertasdfgzxcvbyuiophjkl;nm,./";

/* The strike or incident under the cursor: "2 w", its round and what it is of; "" for none. */
static const char *here(const struct desk *desk)
{
    static char out[32];
    const struct subject *subjects = NULL;
    const long *order = NULL;
    long cursor = -1;
    size_t count = desk_log(desk, &order, &cursor);
    fold_subjects(desk_fold(desk), &subjects);
    if (cursor < 0 || (size_t)cursor >= count) {
        return "";
    }
    const struct entry *now = &subjects[order[cursor]].now;
    const char *kind = now->kind == ENTRY_STRIKE ? "strike" : "other";
    for (const char *key = limb_keys; *key; key++) {
        struct meaning meaning = keymap_find(desk_keymap(desk), *key);
        if (now->kind == ENTRY_STRIKE && meaning.strike.corner == now->strike.corner &&
            meaning.strike.limb == now->strike.limb &&
            meaning.strike.target == now->strike.target) {
            snprintf(out, sizeof out, "%d %c", now->round, *key);
            return out;
        }
    }
    snprintf(out, sizeof out, "%d %s", now->round, kind);
    return out;
}

/* The strikes of the list from the top, by the keys that logged them. */
static const char *listed(const struct desk *desk)
{
    static char out[64];
    size_t used = 0;
    const struct subject *subjects = NULL;
    const long *order = NULL;
    long cursor = -1;
    size_t count = desk_log(desk, &order, &cursor);
    fold_subjects(desk_fold(desk), &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[order[i]].now;
        for (const char *key = limb_keys; *key && now->kind == ENTRY_STRIKE; key++) {
            struct meaning meaning = keymap_find(desk_keymap(desk), *key);
            if (meaning.strike.corner == now->strike.corner &&
                meaning.strike.limb == now->strike.limb &&
                meaning.strike.target == now->strike.target && used + 1 < sizeof out) {
                out[used++] = *key;
            }
        }
    }
    out[used] = '\0';
    return out;
}

/* Two rounds, and the log open in the rest after them: w and i in round 1; e, W's key, o in 2. */
static struct desk *two_rounds(int64_t *at)
{
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'w', 5000);
    press(desk, 'i', 8000);
    press(desk, ENTER, 240000);
    press(desk, 'e', 245000);
    press(desk, 'z', 246000);
    press(desk, 'o', 250000);
    *at = 425000;
    press(desk, KEY_OF_UP, *at);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    return desk;
}

static void walk__move__every_key_has_its_place(void **state)
{
    (void)state;
    static const struct {
        int32_t key;
        const char *is;
        bool stays; /* and it is said */
    } steps[] = {
        {KEY_OF_HOME, "2 o", true},          {KEY_OF_UP, "2 o", true},
        {KEY_OF_DOWN, "2 z", false},         {KEY_OF_DOWN, "2 e", false},
        {KEY_OF_PAGE_DOWN, "1 i", false},    {KEY_OF_UP, "2 other", false}, /* the round's start */
        {KEY_OF_END, "1 other", false},      {KEY_OF_DOWN, "1 other", true},
        {KEY_OF_PAGE_DOWN, "1 other", true}, {KEY_OF_PAGE_UP, "2 other", false},
        {KEY_OF_PAGE_UP, "2 o", false},      {KEY_OF_PAGE_UP, "2 o", true},
    };
    int64_t at = 0;
    struct desk *desk = two_rounds(&at);
    assert_string_equal(here(desk), "2 o");
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        bool urgent = false;
        press(desk, steps[i].key, at += 20000);
        if (strcmp(here(desk), steps[i].is) != 0) {
            fail_msg("step %zu: at %s, expected %s", i, here(desk), steps[i].is);
        }
        bool said = strstr(desk_notice(desk, START + at, &urgent), "goes no further") != NULL;
        if (said != steps[i].stays) {
            fail_msg("step %zu: %s that the log goes no further", i, said ? "said" : "not said");
        }
        assert_int_equal(desk_mode(desk), DESK_LOG);
    }
    desk_free(desk);
}

static void walk__filter__each_lets_through_what_it_names(void **state)
{
    (void)state;
    static const struct {
        const char *words, *listed, *here;
    } steps[] = {
        {"flagged", "o", "2 o"}, {"red", "zew", "2 z"},       /* o is none: on to the first */
        {"blue", "oi", "2 o"},   {"right hand", "oe", "2 o"}, /* as under the cursor */
        {"head", "oeiw", "2 o"}, {"to look at", "o", "2 o"},  /* flagged */
        {"all", "ozeiw", "2 o"}, /* behind what wants a look, on which it opens in a rest */
    };
    int64_t at = 0;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'w', 5000);
    press(desk, 'i', 8000);
    press(desk, ENTER, 240000);
    press(desk, 'e', 245000);
    press(desk, 'z', 246000);
    press(desk, 'o', 250000);
    press(desk, '\'', 251000);
    at = 260000;
    press(desk, KEY_OF_UP, at); /* under a running clock it opens on all */
    assert_int_equal(desk_filter(desk), FILTER_ALL);
    assert_string_equal(listed(desk), "ozeiw");
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        press(desk, F8, at += 1000);
        assert_string_equal(desk_filter_words(desk), steps[i].words);
        assert_string_equal(listed(desk), steps[i].listed);
        assert_string_equal(here(desk), steps[i].here);
    }
    desk_free(desk);
}

/* State stands between: the log opens on the newest strike or incident, not on a stance. */
static void walk__enter__on_what_is_put_right_most_often(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, KEY_OF_UP, 0);
    says(desk, 0, "no entries yet");
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    press(desk, ENTER, 1000);
    press(desk, 'w', 5000);
    press(desk, '5', 6000); /* red switches stance */
    press(desk, '`', 7000);
    press(desk, KEY_OF_UP, 8000);
    assert_string_equal(here(desk), "1 w");
    press(desk, KEY_OF_UP, 8500);
    assert_string_equal(here(desk), "1 other");
    /* It closes by itself ten seconds after the last key. */
    desk_tick(desk, START + 18499);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    desk_tick(desk, START + 18500);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    desk_free(desk);
}

/* While the clock stands it stays open. */
static void walk__stay__as_long_as_the_clock_stands(void **state)
{
    (void)state;
    int64_t at = 0;
    struct desk *desk = two_rounds(&at);
    press(desk, KEY_OF_DOWN, at + 1000);
    desk_tick(desk, START + at + 50000);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    press(desk, KEY_OF_ESC, at + 51000);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    desk_free(desk);
}

/* What is voided or accepted leaves the list of what needs a look, and the cursor is on the next.
 */
static void walk__put_right__the_cursor_is_on_the_next(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, 'w', 1000); /* four before the first round */
    press(desk, 'e', 2000);
    press(desk, 's', 3000);
    press(desk, 'd', 4000);
    press(desk, KEY_OF_UP, 5000);
    assert_int_equal(desk_filter(desk), FILTER_LOOK);
    assert_string_equal(listed(desk), "dsew");
    press(desk, KEY_OF_DOWN, 6000);
    press(desk, KEY_OF_DELETE, 7000); /* s */
    assert_string_equal(listed(desk), "dew");
    assert_string_equal(here(desk), "1 e");
    press(desk, '\'', 8000); /* accepted */
    assert_string_equal(listed(desk), "dw");
    assert_string_equal(here(desk), "1 w");
    press(desk, '\'', 9000); /* the last of the list: one back */
    assert_string_equal(listed(desk), "d");
    assert_string_equal(here(desk), "1 d");
    press(desk, '\'', 10000);
    assert_string_equal(listed(desk), "");
    assert_string_equal(here(desk), "");
    desk_free(desk);
}

/* After every key, and after what another desk writes, the reasons are those that a search from the
 * start finds. */
static void walk__looks__are_as_if_searched_from_the_start(void **state)
{
    (void)state;
    static const char keys[] = "wqWe4r'\\0w4e4^'=1zxcva'sdfg3$-wi-o-pQ4W4E4{}w_q_`e`u8i7o7'";
    struct desk *desk = open_as(0, 2, NULL, 7, 0), *other = open_as(1, 2, NULL, 0, 0);
    uint32_t seed = 7;
    int64_t at = 0;
    size_t most = 0;
    for (int i = 0; i < 1500; i++) {
        seed = seed * 1664525u + 1013904223u;
        uint32_t dice = seed >> 16;
        at += dice % 7 == 0 ? 20000 : dice % 3 == 0 ? 60 : 300;
        int32_t key = (unsigned char)keys[dice % (sizeof keys - 1)];
        key = key == '^'               ? KEY_OF_UP
              : key == '_'             ? KEY_OF_DELETE
              : key == '{' || dice < 9 ? BACK
              : key == '}'             ? ENTER
                                       : key;
        press(desk, key, at);
        if (dice % 11 == 0) {
            press(other, 'w', at - 10000); /* comes late */
            hear(desk, other, at);
        }
        uint8_t expected[4096];
        const struct subject *subjects = NULL;
        const uint8_t *seen = NULL;
        size_t count = fold_subjects(desk_fold(desk), &subjects);
        assert_in_range(count, 0, sizeof expected);
        size_t looks = review_reasons(expected, count, desk_fold(desk), desk_rules(desk));
        assert_int_equal(desk_looks(desk, &seen), looks);
        if (count > 0) {
            assert_memory_equal(seen, expected, count);
        }
        most = looks > most ? looks : most;
    }
    assert_in_range(most, 10, 4096); /* there was something to find */
    desk_free(desk);
    desk_free(other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(walk__move__every_key_has_its_place),
        cmocka_unit_test(walk__filter__each_lets_through_what_it_names),
        cmocka_unit_test(walk__enter__on_what_is_put_right_most_often),
        cmocka_unit_test(walk__stay__as_long_as_the_clock_stands),
        cmocka_unit_test(walk__put_right__the_cursor_is_on_the_next),
        cmocka_unit_test(walk__looks__are_as_if_searched_from_the_start),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
