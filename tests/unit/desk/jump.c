/* jump.c: F3 in the log: to a round, to a time of the round clock, to the next strike like one. */
#include "clocked.h"

#define F3 (KEY_OF_F1 + 2)

/* Round 1: w at 5 s, w at 65 s, S at 125 s; round 2: i at 10 s, w at 70 s; then the clock stops at
 * 1:30, and the log is open at its newest entry, a stop. */
static struct desk *open_log_of_two_rounds(void)
{
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'w', 5000);
    press(desk, 'w', 65000);
    press(desk, 'S', 125000);
    press(desk, ENTER, 240000);
    desk_tick(desk, START + 240500);
    press(desk, 'i', 250000);
    press(desk, 'w', 310000);
    press(desk, ENTER, 330000);
    press(desk, KEY_OF_UP, 332000);
    return desk;
}

static void jump(struct desk *desk, const char *digits, int64_t at)
{
    press(desk, F3, at);
    press(desk, ENTER, type(desk, digits, at + 400) + 400);
}

/* The cursor is on the strike of that round and running time. */
static void at_strike(const struct desk *desk, int round, int32_t elapsed_ms)
{
    const struct subject *subjects = NULL;
    const long *list = NULL;
    long cursor = -1;
    size_t count = desk_log(desk, &list, &cursor);
    fold_subjects(desk_fold(desk), &subjects);
    assert_in_range(cursor, 0, (long)count - 1);
    const struct entry *now = &subjects[list[cursor]].now;
    if (now->kind != ENTRY_STRIKE || now->round != round || now->elapsed_ms != elapsed_ms) {
        fail_msg("%s, round %d, %d ms; expected a strike, round %d, %d ms",
                 entry_kind_names[now->kind], now->round, now->elapsed_ms, round, elapsed_ms);
    }
}

static void jump__digits__are_a_round_a_time_or_both(void **state)
{
    (void)state;
    struct desk *desk = open_log_of_two_rounds();
    jump(desk, "1", 340000);
    says(desk, 342000, "round 1: entry ");
    at_strike(desk, 1, 125000);
    jump(desk, "155", 345000); /* 1:55 left of three minutes: 1:05 run. Nothing of "1" is left */
    says(desk, 347000, "round 1, 1:55 left: entry ");
    at_strike(desk, 1, 65000);
    jump(desk, "2150", 350000);
    says(desk, 352000, "round 2, 1:50 left: entry ");
    at_strike(desk, 2, 70000);
    jump(desk, "1200", 355000); /* the newest at or before that time */
    at_strike(desk, 1, 5000);
    jump(desk, "3", 360000);
    says(desk, 362000, "round 3 has no entry");
    at_strike(desk, 1, 5000);
    desk_free(desk);
}

/* What was typed and left, or taken back, is in no jump that follows. */
static void jump__left_or_taken_back__begins_anew(void **state)
{
    (void)state;
    struct desk *desk = open_log_of_two_rounds();
    char shown[64];
    press(desk, F3, 340000);
    press(desk, '2', 340400);
    assert_true(desk_jump(desk, shown, sizeof shown));
    assert_string_equal(shown, "round 2");
    press(desk, KEY_OF_ESC, 340800);
    press(desk, F3, 342000);
    assert_false(desk_jump(desk, shown, sizeof shown));
    press(desk, KEY_OF_ESC, 342400);
    jump(desk, "155", 345000);
    says(desk, 347000, "round 2, 1:55 left"); /* of the round under the cursor */
    press(desk, F3, 350000);
    type(desk, "13", 350400);
    press(desk, BACK, 351400);
    press(desk, BACK, 351800);
    press(desk, '2', 352200);
    press(desk, ENTER, 352600);
    says(desk, 352600, "round 2: entry ");
    press(desk, F3, 355000);
    type(desk, "215000", 355400);
    says(desk, 357400, "five digits at most");
    desk_free(desk);
}

/* F3 once more goes from strike to strike of that kind, and says when it is at the newest again; a
 * pad key does, while the clock stands. */
static void jump__to_the_next_like_it__goes_around(void **state)
{
    (void)state;
    struct desk *desk = open_log_of_two_rounds();
    jump(desk, "2150", 340000);
    press(desk, F3, 343000);
    press(desk, F3, 345000);
    at_strike(desk, 1, 65000);
    press(desk, F3, 347000);
    at_strike(desk, 1, 5000);
    press(desk, F3, 349000);
    at_strike(desk, 2, 70000);
    says(desk, 349000, "from the newest again");
    press(desk, 's', 351000); /* landed or not */
    at_strike(desk, 1, 125000);
    press(desk, 'i', 353000);
    at_strike(desk, 2, 10000);
    press(desk, 'i', 355000);
    says(desk, 355000, "there is no other");
    press(desk, 'p', 357000);
    says(desk, 357000, "no blue right leg");
    at_strike(desk, 2, 10000);
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 5);
    desk_free(desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jump__digits__are_a_round_a_time_or_both),
        cmocka_unit_test(jump__left_or_taken_back__begins_anew),
        cmocka_unit_test(jump__to_the_next_like_it__goes_around),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
