/* A strike put right: what the amend key, an insertion and the turn key make of it, field by field;
 * and two desks' differences, walked through. */
#include "clocked.h"

#define F6  (KEY_OF_F1 + 5)
#define F12 (KEY_OF_F1 + 11)

/* "red left_hand head landed orthodox open" and so on, of the n-th live strike. */
static void strike_is(const struct desk *desk, size_t n, const char *expected)
{
    char words[160];
    const struct strike *s = &strike(desk, n)->strike;
    snprintf(words, sizeof words, "%s %s %s %s %s %s%s%s%s%s", corner_names[s->corner],
             limb_names[s->limb], target_names[s->target], outcome_names[s->outcome],
             stance_names[s->stance], position_names[s->position],
             s->technique & TECHNIQUE_SPINNING ? " spinning" : "",
             s->technique & TECHNIQUE_JUMPING ? " jumping" : "",
             s->technique & TECHNIQUE_KNOCKDOWN ? " knockdown" : "",
             strike(desk, n)->unsure ? " unsure" : "");
    if (strcmp(words, expected) != 0) {
        fail_msg("strike %zu: %s, expected %s", n, words, expected);
    }
}

static void amend__each_key__changes_what_it_says(void **state)
{
    (void)state;
    static const struct {
        int32_t key;
        const char *is;
    } cases[] = {
        {'a', "red left_leg body attempted orthodox open"},
        {'A', "red left_leg body landed orthodox open"},
        {'k', "blue left_hand body attempted southpaw open"}, /* blue has switched */
        {' ', "red left_hand head landed orthodox open"},
        {'1', "red left_hand head attempted orthodox open spinning"},
        {'2', "red left_hand head attempted orthodox open jumping"},
        {'3', "red left_hand head blocked orthodox open"},
        {'4', "red left_hand head landed orthodox open knockdown"},
        {'9', "red left_hand head attempted orthodox open jumping"}, /* of whichever corner it is */
        {'5', "red left_hand head attempted southpaw open"},
        {'6', "red left_hand head attempted southpaw open"},
        {'`', "red left_hand head attempted orthodox clinch"},
        {'"', "red left_hand head attempted orthodox open unsure"},
        {'x', "red left_hand head attempted orthodox open"}, /* no elbows here */
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct desk *desk = open_desk();
        press(desk, ENTER, 0);
        press(desk, 'w', 5000);
        press(desk, '6', 6000);
        press(desk, KEY_OF_UP, 8000);
        press(desk, '=', 9000);
        assert_true(desk_amends(desk));
        press(desk, cases[i].key, 10000);
        assert_false(desk_amends(desk));
        strike_is(desk, 0, cases[i].is);
        assert_int_equal(strike(desk, 0)->at_ms, START + 5000);
        assert_int_equal(strike(desk, 0)->elapsed_ms, 5000);
        if (cases[i].key != 'x') {
            says(desk, 10000, "amended: ");
        }
        press(desk, KEY_OF_ESC, 11000);
        if (cases[i].key != 'x') {
            press(desk, BACK, 12000);
        }
        strike_is(desk, 0, "red left_hand head attempted orthodox open");
        desk_free(desk);
    }
}

/* Inserted strikes stand where the entry under the cursor does, and are no mark's newest. */
static void insert__stands_at_the_cursors_moment(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, '5', 1000); /* southpaw */
    press(desk, 'w', 5000);
    press(desk, '5', 6000); /* and back */
    press(desk, '`', 7000);
    press(desk, 'i', 8000);
    press(desk, KEY_OF_UP, 9000);
    press(desk, KEY_OF_END, 9300);
    for (int i = 0; i < 2; i++) { /* over the start and the first switch */
        press(desk, KEY_OF_UP, 9600 + i * 300);
    }
    press(desk, '+', 10500);
    assert_int_equal(desk_mode(desk), DESK_INSERT);
    press(desk, 'E', 11000);
    says(desk, 11000, "inserted: red ");
    strike_is(desk, 2, "red right_hand head landed southpaw open");
    assert_int_equal(strike(desk, 2)->at_ms, START + 5000);
    check_strike(desk, 2, 1, 5000, false);
    press(desk, KEY_OF_INSERT, 12000);
    press(desk, 'k', 12500); /* of the other corner: as that one stands now */
    strike_is(desk, 3, "blue left_hand body attempted orthodox open");
    press(desk, KEY_OF_INSERT, 13000);
    press(desk, KEY_OF_ESC, 13500); /* none */
    press(desk, KEY_OF_ESC, 14000);
    press(desk, ' ', 15000); /* the newest is the one that was typed last */
    strike_is(desk, 1, "blue left_hand head landed orthodox clinch");
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 5); /* four and a mark */
    desk_free(desk);
}

static void amend__what_is_no_strike__is_refused(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, '[', 5000);
    press(desk, 'w', 5300);
    press(desk, KEY_OF_UP, 6000);
    press(desk, '=', 7000);
    says(desk, 7000, "this entry is no strike: Delete voids it");
    assert_false(desk_amends(desk));
    press(desk, KEY_OF_DELETE, 8000);
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].incidents[CODE_WARNING], 0);
    press(desk, KEY_OF_DELETE, 9000); /* once more brings it back */
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].incidents[CODE_WARNING], 1);
    desk_free(desk);
}

/* Turned round, keys of another layout are the strikes of their places, in every field. */
static void turn__layout__strikes_of_their_places(void **state)
{
    (void)state;
    static const int32_t cyrillic[] = {0x0446, 0x0426, 0x0449}; /* where w, W and o are */
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, '5', 1000);
    for (int i = 0; i < 3; i++) {
        press(desk, cyrillic[i], 5000 + i * 400);
    }
    press(desk, F12, 9000);
    says(desk, 9000, "3 of 3 keys logged by their place");
    strike_is(desk, 0, "red left_hand head attempted southpaw open");
    strike_is(desk, 1, "red left_hand head landed southpaw open");
    strike_is(desk, 2, "blue right_hand head attempted orthodox open");
    assert_int_equal(strike(desk, 1)->at_ms, START + 5400);
    press(desk, F12, 10000); /* once */
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 3);
    press(desk, BACK, 11000); /* as one keystroke */
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].all.attempted, 0);
    desk_free(desk);
}

/* ana and ben tag the same four strikes; ben has one of them otherwise and one more. */
static void settle__walk__round_and_back(void **state)
{
    (void)state;
    struct desk_difference difference = {.a = NULL};
    struct desk *ana = open_as(0, 2, NULL, 7, 0);
    static const char keys[] = "wiedqkol";
    press(ana, ENTER, 1000);
    for (int i = 0; keys[i]; i++) {
        press(ana, keys[i], 5000 + i * 3000);
    }
    press(ana, F6, 40000);
    says(ana, 40000, "a second desk's strikes are needed");
    assert_int_equal(desk_mode(ana), DESK_LIVE);
    struct entries log = taken(ana);
    struct desk *ben = open_as(1, 2, &log, 0, 2000);
    free(log.entry);
    press(ben, KEY_OF_ESC, 2500);
    for (int i = 0; keys[i]; i++) {
        press(ben, i == 2 ? 'E' : keys[i], 5100 + i * 3000);
    }
    hear(ana, ben, 41000);
    press(ana, F6, 42000);
    assert_int_equal(desk_settle(ana, &difference), 1);
    assert_string_equal(difference.a, "ana");
    assert_string_equal(difference.b, "ben");
    assert_int_equal(difference.of_a->now.strike.outcome, OUTCOME_ATTEMPTED);
    assert_int_equal(difference.of_b->now.strike.outcome, OUTCOME_LANDED);
    press(ana, KEY_OF_ESC, 43000);
    assert_int_equal(desk_settle(ana, &difference), 0);
    press(ben, 'q', 44000);
    press(ben, 's', 50000);
    hear(ana, ben, 51000);
    press(ana, F6, 52000);
    assert_int_equal(desk_settle(ana, &difference), 3);
    static const struct {
        int32_t key;
        size_t at;
    } steps[] = {{KEY_OF_DOWN, 1}, {KEY_OF_DOWN, 2}, {KEY_OF_DOWN, 0}, {KEY_OF_UP, 2},
                 {KEY_OF_UP, 1},   {KEY_OF_UP, 0},   {KEY_OF_DOWN, 1}};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        press(ana, steps[i].key, 53000 + (int64_t)i * 300);
        desk_settle(ana, &difference);
        assert_int_equal(difference.at, steps[i].at);
    }
    assert_null(difference.of_a); /* ben alone has it */
    assert_int_equal(difference.of_b->now.at_ms, START + 44000);
    press(ana, KEY_OF_RIGHT, 60000);
    says(ana, 60000, "settled as desk ben says");
    assert_int_equal(desk_settle(ana, &difference), 2);
    press(ana, KEY_OF_LEFT, 61000);
    says(ana, 61000, "settled as desk ana says");
    assert_int_equal(desk_settle(ana, &difference), 1);
    /* Taken back, it is open again, and the arrows are still the settlement's. */
    struct clock_face clock = desk_clock(ana, 61200);
    press(ana, BACK, 61200);
    says(ana, 61200, "taken back");
    assert_int_equal(desk_settle(ana, &difference), 2);
    press(ana, '\\', 61400);
    assert_int_equal(desk_settle(ana, &difference), 1);
    press(ana, BACK, 61600);
    press(ana, KEY_OF_LEFT, 61800);
    assert_int_equal(desk_settle(ana, &difference), 1);
    assert_int_equal(desk_clock(ana, 61200).remaining_ms, clock.remaining_ms);
    press(ana, KEY_OF_RIGHT, 62000);
    memset(&difference, 0, sizeof difference);
    assert_int_equal(desk_settle(ana, &difference), 0);
    assert_null(difference.of_a);
    assert_null(difference.of_b);
    assert_string_equal(difference.a, "ana");
    press(ana, 'w', 63000); /* nothing is left: any key is live */
    assert_int_equal(desk_mode(ana), DESK_LIVE);
    assert_int_equal(fold_tally(desk_fold(ana))->all.corner[0].all.landed, 1);
    desk_free(ana);
    desk_free(ben);
}

/* What is no strike and no mark is not the opened entry's: it does what it does anywhere. */
static void amend__another_key__is_live(void **state)
{
    (void)state;
    struct desk *desk = open_desk();
    press(desk, ENTER, 0);
    press(desk, 'w', 5000);
    press(desk, KEY_OF_UP, 6000);
    press(desk, '=', 7000);
    press(desk, ENTER, 8000);
    expect(desk, 9000, CLOCK_STOPPED, 1, 172000);
    assert_int_equal(desk_mode(desk), DESK_LIVE);
    assert_int_equal(entries_of(desk, ENTRY_STRIKE, -1), 1);
    desk_free(desk);
}

/* Keys of a wrong layout wait for the turn key; the wall clock is set meanwhile. */
static void turn__layout__after_the_wall_was_set(void **state)
{
    (void)state;
    static const int32_t cyrillic[] = {0x0446, 0x0426, 0x0449};
    struct desk *desk = open_desk();
    int64_t by = 3600000;
    press(desk, ENTER, 0);
    for (int i = 0; i < 3; i++) {
        press(desk, cyrillic[i], 5000 + i * 400);
    }
    desk_stepped(desk, by, START + by + 7000);
    press(desk, F12, by + 9000);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(strike(desk, i)->at_ms, START + by + 5000 + (int64_t)i * 400);
        check_strike(desk, i, 1, 5000 + (int32_t)i * 400, false);
    }
    desk_free(desk);
}

/* A desk that went away and comes back takes back all that it wrote, its very first entry too. */
static void undo__resumed__reaches_the_first_entry(void **state)
{
    (void)state;
    rows[0].shadow = true; /* it writes no claim before */
    struct desk *desk = open_as(0, 1, NULL, 0, 0);
    press(desk, 'w', 1000);
    press(desk, 'e', 2000);
    struct entries log = taken(desk);
    assert_int_equal(log.entry[0].kind, ENTRY_STRIKE);
    desk_free(desk);
    desk = open_as(0, 1, &log, 0, 60000);
    press(desk, BACK, 61000);
    press(desk, BACK, 62000);
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].all.attempted, 0);
    press(desk, BACK, 63000);
    says(desk, 63000, "nothing to take back");
    press(desk, '\\', 64000);
    assert_int_equal(fold_tally(desk_fold(desk))->all.corner[0].all.attempted, 1);
    desk_free(desk);
    free(log.entry);
    rows[0].shadow = false;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(amend__each_key__changes_what_it_says),
        cmocka_unit_test(insert__stands_at_the_cursors_moment),
        cmocka_unit_test(amend__what_is_no_strike__is_refused),
        cmocka_unit_test(turn__layout__strikes_of_their_places),
        cmocka_unit_test(settle__walk__round_and_back),
        cmocka_unit_test(amend__another_key__is_live),
        cmocka_unit_test(turn__layout__after_the_wall_was_set),
        cmocka_unit_test(undo__resumed__reaches_the_first_entry),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
