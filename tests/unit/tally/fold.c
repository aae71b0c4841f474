/* The fold: what counts, what corrects, and that only the set of entries matters. */
#include "support.h"

#include <stdlib.h>

static struct fold *two_desks(int whose)
{
    struct bout bout = test_bout();
    struct fold *fold = fold_new(&test_plan, &bout, whose);
    struct desk_row a = test_desk("aaaa", 0);
    struct desk_row b = test_desk("bbbb", 1);
    assert_non_null(fold);
    assert_int_equal(fold_desk(fold, &a), 0);
    assert_int_equal(fold_desk(fold, &b), 0);
    return fold;
}

static void add(struct fold *fold, struct entry entry)
{
    assert_null(entry_fault(&entry, 2));
    assert_int_equal(fold_add(fold, &entry), 0);
}

static void fold__count__only_the_official_desk_counts(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    add(fold, test_strike(0, 2, 10, CORNER_RED, LIMB_LEFT_LEG, TARGET_LEG, OUTCOME_LANDED));
    add(fold, test_strike(1, 1, 11, CORNER_RED, LIMB_LEFT_LEG, TARGET_LEG, OUTCOME_LANDED));
    add(fold, test_strike(0, 3, 12, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, OUTCOME_ATTEMPTED));
    const struct tally *tally = fold_tally(fold);
    assert_int_equal(tally->all.corner[CORNER_RED].all.attempted, 1);
    assert_int_equal(tally->all.corner[CORNER_RED].all.landed, 1);
    assert_int_equal(tally->all.corner[CORNER_BLUE].all.attempted, 0);
    fold_free(fold);
}

static void fold__count__handover_neither_loses_nor_doubles(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    for (int i = 0; i < 10; i++) { /* both desks see every strike */
        struct entry strike =
            test_strike(0, 2 + i, 10 + 10 * i, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, 0);
        add(fold, strike);
        if (i == 4) {
            add(fold, test_official(1, 1, 55, CODE_RED));
        }
        strike.name = strike.subject = (struct entry_name){1, 2 + i};
        strike.utc_ms += 3;
        add(fold, strike);
    }
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].all.attempted, 10);
    assert_int_equal(fold_official(fold, CODE_RED), 1);
    fold_free(fold);
}

static void fold__correct__newest_entry_says_what_a_strike_is(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    add(fold, test_official(0, 2, 1, CODE_BLUE));
    struct entry strike =
        test_strike(0, 3, 10, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    strike.strike.technique = TECHNIQUE_KNOCKDOWN;
    add(fold, strike);
    struct entry amended = test_change(strike, 0, 4, 20, ACT_AMEND);
    amended.strike.corner = CORNER_BLUE;
    amended.strike.target = TARGET_BODY;
    add(fold, amended);
    const struct tally *tally = fold_tally(fold);
    assert_int_equal(tally->all.corner[CORNER_RED].all.attempted, 0);
    assert_int_equal(tally->all.corner[CORNER_RED].knockdowns, 0);
    assert_int_equal(tally->all.corner[CORNER_BLUE].knockdowns, 1);
    assert_int_equal(tally->all.corner[CORNER_BLUE].target[TARGET_BODY].landed, 1);
    assert_int_equal(tally->all.corrections, 1);
    add(fold, test_change(amended, 0, 5, 30, ACT_VOID));
    assert_int_equal(tally->all.corner[CORNER_BLUE].all.attempted, 0);
    add(fold, test_change(amended, 0, 6, 40, ACT_RESTORE));
    assert_int_equal(tally->all.corner[CORNER_BLUE].all.attempted, 1);
    fold_free(fold);
}

static void fold__correct__a_stranger_has_no_effect(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    struct entry strike = test_strike(0, 2, 10, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, 0);
    add(fold, strike);
    add(fold, test_change(strike, 1, 1, 20, ACT_VOID));
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].all.attempted, 1);
    /* once official, its correction holds */
    add(fold, test_official(1, 2, 30, CODE_RED));
    add(fold, test_change(strike, 1, 3, 40, ACT_VOID));
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].all.attempted, 0);
    fold_free(fold);
}

static void fold__view__a_desk_alone(void **state)
{
    (void)state;
    struct fold *fold = two_desks(1);
    add(fold, test_official(0, 1, 1, CODE_RED));
    add(fold, test_strike(0, 2, 10, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, 0));
    add(fold, test_strike(1, 1, 11, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, 0));
    add(fold, test_strike(1, 2, 12, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_HEAD, 0));
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].all.attempted, 1);
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_BLUE].all.attempted, 1);
    fold_free(fold);
}

static struct entry random_entry(int64_t *seq, const struct entry *known, int count)
{
    int desk = rand() % 2;
    int64_t utc = 1000 + rand() % 500;
    int what = rand() % 10;
    if (what == 0) {
        return test_official(desk, ++seq[desk], utc, CODE_RED + (enum entry_code)(rand() % 3));
    }
    if (what < 4 && count > 0 && known[count - 1].kind == ENTRY_STRIKE) {
        struct entry change = test_change(known[count - 1], desk, ++seq[desk], utc,
                                          ACT_REFINE + (enum entry_act)(rand() % 4));
        change.strike.outcome = (uint8_t)(rand() % OUTCOME_COUNT);
        return change;
    }
    struct entry strike = test_strike(desk, ++seq[desk], utc, (enum corner)(rand() % 2),
                                      (enum limb)(rand() % LIMB_COUNT), (enum target)(rand() % 3),
                                      (enum outcome)(rand() % 3));
    strike.round = (uint8_t)(1 + rand() % 3);
    return strike;
}

/* The law that makes a union of two logs a merge. */
static void fold__add__order_of_arrival_does_not_matter(void **state)
{
    (void)state;
    enum { ENTRIES = 60 };
    srand(7);
    for (int round = 0; round < 50; round++) {
        struct entry entries[ENTRIES];
        int64_t seq[2] = {0, 0};
        for (int i = 0; i < ENTRIES; i++) {
            entries[i] = random_entry(seq, entries, i);
        }
        struct fold *straight = two_desks(FOLD_OFFICIAL);
        struct fold *shuffled = two_desks(FOLD_OFFICIAL);
        assert_int_equal(fold_add_all(straight, entries, ENTRIES), 0);
        for (int i = ENTRIES - 1; i > 0; i--) {
            int other = rand() % (i + 1);
            struct entry swap = entries[i];
            entries[i] = entries[other];
            entries[other] = swap;
        }
        for (int i = 0; i < ENTRIES; i++) {
            assert_int_equal(fold_add(shuffled, &entries[i]), 0);
            assert_int_equal(fold_add(shuffled, &entries[i]), 0); /* idempotent */
        }
        assert_memory_equal(fold_tally(straight), fold_tally(shuffled), sizeof(struct tally));
        fold_free(straight);
        fold_free(shuffled);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fold__count__only_the_official_desk_counts),
        cmocka_unit_test(fold__count__handover_neither_loses_nor_doubles),
        cmocka_unit_test(fold__correct__newest_entry_says_what_a_strike_is),
        cmocka_unit_test(fold__correct__a_stranger_has_no_effect),
        cmocka_unit_test(fold__view__a_desk_alone),
        cmocka_unit_test(fold__add__order_of_arrival_does_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
