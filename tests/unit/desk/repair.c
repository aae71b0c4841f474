/* A range of the log put right by one action: what it reaches, what each repair does to each kind
 * of entry, and that one undo takes all of it back. */
#include "clocked.h"

#define F11 (KEY_OF_F1 + 10)

/* Two rounds with a stance, an incident and five strikes; the log open in the rest after them, the
 * cursor on the newest strike. Returns the moment. */
static int64_t play(struct desk *desk)
{
    press(desk, ENTER, 0);
    press(desk, 'w', 5000);
    press(desk, '5', 6000); /* red is southpaw from here */
    press(desk, 'I', 8000);
    press(desk, ENTER, 240000);
    press(desk, 'e', 245000);
    press(desk, '[', 246000);
    press(desk, 'w', 246300); /* a warning */
    press(desk, 'o', 250000);
    press(desk, 'w', 251000);
    press(desk, KEY_OF_UP, 425000);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    return 426000;
}

static void range_is(const struct desk *desk, enum log_range range, size_t count)
{
    const long *order = NULL;
    long cursor = 0;
    size_t within = 0, all = desk_log(desk, &order, &cursor);
    for (size_t i = 0; i < all + 3; i++) {
        within += desk_in_range(desk, i);
    }
    assert_int_equal(desk_range(desk), range);
    assert_int_equal(within, count);
}

static void repair_shows(const struct desk *desk, const char *expected)
{
    char words[160];
    assert_int_equal(desk_repair(desk, words, sizeof words), expected[0] != '\0');
    assert_string_equal(words, expected);
}

/* Eight entries: two starts, a stance, five strikes, of them three in round 2; an incident. */
static void repair__range__reaches_what_it_names(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    int64_t at = play(desk);
    range_is(desk, RANGE_NONE, 0);
    press(desk, F11, at += 1000);
    says(desk, at, "range of 1: from here on, as the cursor moves");
    range_is(desk, RANGE_HERE, 1);
    press(desk, KEY_OF_DOWN, at += 1000);
    press(desk, KEY_OF_DOWN, at += 1000);
    range_is(desk, RANGE_HERE, 3);
    press(desk, KEY_OF_SHIFT_DOWN, at += 1000);
    says(desk, at, "range of 4");
    range_is(desk, RANGE_HERE, 4);
    press(desk, KEY_OF_SHIFT_UP, at += 1000);
    range_is(desk, RANGE_HERE, 3);
    press(desk, F11, at += 1000);
    says(desk, at, "range of 5: this round");
    range_is(desk, RANGE_ROUND, 5);
    press(desk, KEY_OF_END, at += 1000);
    range_is(desk, RANGE_ROUND, 4);
    press(desk, F11, at += 1000);
    says(desk, at, "range of 9: all that is listed");
    range_is(desk, RANGE_ALL, 9);
    press(desk, F11, at += 1000);
    says(desk, at, "no range");
    range_is(desk, RANGE_NONE, 0);
    press(desk, KEY_OF_SHIFT_UP, at += 1000); /* upwards it begins anew, from here */
    range_is(desk, RANGE_HERE, 2);
    press(desk, KEY_OF_ESC, at += 1000); /* the range first, then the log */
    range_is(desk, RANGE_NONE, 0);
    assert_int_equal(desk_mode(desk), DESK_LOG);
    press(desk, KEY_OF_ESC, at += 1000);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    desk_free(desk);
}

/* "w1+5000" and so on for each live strike in the order of typing: corner, round, elapsed. */
static const char *strikes(const struct desk *desk)
{
    static char out[256];
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(desk_fold(desk), &subjects), used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (now->kind == ENTRY_STRIKE && subjects[i].live) {
            used += (size_t)snprintf(out + used, sizeof out - used, "%s%s%d+%d%s%s",
                                     used ? " " : "", now->strike.corner == CORNER_RED ? "r" : "b",
                                     now->round, now->elapsed_ms / 1000,
                                     now->off_clock ? " off" : "", now->review ? "?" : "");
        }
    }
    return out;
}

#define AS_TYPED "r1+5 b1+8 r2+5 b2+10 r2+11"

static void repair__each__does_its_own_and_one_undo_takes_it_back(void **state)
{
    (void)state;
    static const struct {
        const char *keys, *strikes, *said;
    } cases[] = {
        {"1", "b1+5 r1+8 b2+5 r2+10 b2+11", "6 of 9 entries put right"},
        {"2", "r2+0 b2+0 r3+0 b3+0 r3+0", "6 of 9 entries put right"},
        {"3", "r1+5 b1+8 r1+180 off b1+180 off r1+180 off", "4 of 9 entries put right"},
        {"6", "r1+5? b1+8? r2+5? b2+10? r2+11?", "6 of 9 entries put right"},
        {"4>>>!", "r1+8 b1+11 r2+8 b2+13 r2+14", "6 of 9 entries put right"},
        {"4}<!", "r1+14 b1+17 r2+14 b2+19 r2+20", "6 of 9 entries put right"},
        {"4{>>!", "r1+0 b1+0 r2+0 b2+2 r2+3", "6 of 9 entries put right"}, /* no earlier than 0 */
        {"4!", AS_TYPED, "0 of 9 entries put right"},
        {"5", "", "9 of 9 entries put right"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct desk *desk = open_desk();
        int64_t at = play(desk);
        assert_string_equal(strikes(desk), AS_TYPED);
        for (int k = 0; k < 3; k++) {
            press(desk, F11, at += 1000);
        }
        repair_shows(desk, "");
        press(desk, '=', at += 1000);
        repair_shows(desk,
                     "1 corner  2 next round  3 round before  4 shift  5 void  6 flag  7 bout");
        for (const char *key = cases[i].keys; *key; key++) {
            press(desk,
                  *key == '>'   ? KEY_OF_RIGHT
                  : *key == '<' ? KEY_OF_LEFT
                  : *key == '}' ? KEY_OF_SHIFT_RIGHT
                  : *key == '{' ? KEY_OF_SHIFT_LEFT
                  : *key == '!' ? ENTER
                                : *key,
                  at += 1000);
        }
        says(desk, at, cases[i].said);
        if (strcmp(strikes(desk), cases[i].strikes) != 0) {
            fail_msg("%s: %s, expected %s", cases[i].keys, strikes(desk), cases[i].strikes);
        }
        repair_shows(desk, "");
        range_is(desk, RANGE_NONE, 0);
        press(desk, KEY_OF_ESC, at += 1000);
        if (strncmp(cases[i].said, "0 of", 4) != 0) {
            press(desk, BACK, at += 1000);
        }
        assert_string_equal(strikes(desk), AS_TYPED);
        desk_free(desk);
    }
}

/* A round too far and back again: each strike is where it was on that round's own clock. */
static void repair__round__there_and_back(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    int64_t at = play(desk);
    for (int way = 0; way < 2; way++) {
        press(desk, F11, at += 1000);
        press(desk, F11, at += 1000);
        press(desk, '=', at += 1000);
        press(desk, way ? '3' : '2', at += 1000);
        assert_string_equal(strikes(desk), way ? AS_TYPED : "r1+5 b1+8 r3+0 b3+0 r3+0");
    }
    desk_free(desk);
}

/* A strike of the other corner stands as that corner stands. */
static void repair__corner__brings_the_stance_along(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    int64_t at = play(desk);
    assert_int_equal(strike(desk, 3)->strike.stance, STANCE_ORTHODOX); /* blue's */
    press(desk, F11, at += 1000);
    press(desk, KEY_OF_DOWN, at += 1000);
    press(desk, '=', at += 1000);
    press(desk, '1', at += 1000);
    assert_int_equal(strike(desk, 3)->strike.corner, CORNER_RED);
    assert_int_equal(strike(desk, 3)->strike.stance, STANCE_SOUTHPAW);
    assert_int_equal(strike(desk, 4)->strike.corner, CORNER_BLUE);
    assert_int_equal(strike(desk, 4)->strike.stance, STANCE_ORTHODOX);
    desk_free(desk);
}

static void repair__shift__is_told_while_it_is_chosen(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    int64_t at = play(desk);
    press(desk, F11, at += 1000);
    press(desk, '=', at += 1000);
    press(desk, '4', at += 1000);
    says(desk, at, "by how much?");
    repair_shows(desk, "shift by +0 s: Left, Right, with Shift ten; Enter does it; Esc: none");
    press(desk, KEY_OF_SHIFT_LEFT, at += 1000);
    press(desk, KEY_OF_RIGHT, at += 1000);
    repair_shows(desk, "shift by -9 s: Left, Right, with Shift ten; Enter does it; Esc: none");
    press(desk, KEY_OF_ESC, at += 1000);
    repair_shows(desk, "");
    assert_string_equal(strikes(desk), AS_TYPED);
    press(desk, F11, at += 1000);
    press(desk, '=', at += 1000);
    press(desk, '4', at += 1000);
    press(desk, KEY_OF_SHIFT_LEFT, at += 1000);
    press(desk, ENTER, at += 1000);
    check_strike(desk, 4, 2, 1000, false); /* its moment goes with its time */
    assert_int_equal(strike(desk, 4)->at_ms, START + 241000);
    press(desk, BACK, at += 1000);
    press(desk, KEY_OF_UP, at += 1000);
    /* Left where it was opened: a pad key closes it and is a strike. */
    press(desk, F11, at += 1000);
    press(desk, '=', at += 1000);
    press(desk, 'w', at += 1000);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    repair_shows(desk, "");
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 8); /* a shift and its undo are two */
    desk_free(desk);
}

/* No strike goes to a round that there cannot be. */
static void repair__round__not_before_the_first(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'w', 5000);
    press(desk, ENTER, 10000);
    press(desk, KEY_OF_UP, 11000);
    press(desk, F11, 12000);
    press(desk, '=', 13000);
    press(desk, '3', 14000);
    says(desk, 14000, "0 of 1 entries put right");
    assert_string_equal(strikes(desk), "r1+5");
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(repair__range__reaches_what_it_names),
        cmocka_unit_test(repair__each__does_its_own_and_one_undo_takes_it_back),
        cmocka_unit_test(repair__round__there_and_back),
        cmocka_unit_test(repair__corner__brings_the_stance_along),
        cmocka_unit_test(repair__shift__is_told_while_it_is_chosen),
        cmocka_unit_test(repair__round__not_before_the_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
