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

/* Red is desk 0's, blue desk 1's: neither takes the other's strike over to itself or away. */
static void fold__correct__only_from_the_office_of_both_corners(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    add(fold, test_official(1, 1, 1, CODE_BLUE));
    struct entry strike = test_strike(1, 2, 10, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_HEAD, 0);
    add(fold, strike);
    struct entry taken = test_change(strike, 0, 2, 20, ACT_AMEND);
    taken.strike.corner = CORNER_RED;
    add(fold, taken);
    struct entry voided = test_change(strike, 0, 3, 30, ACT_VOID);
    add(fold, voided);
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_BLUE].all.attempted, 1);
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].all.attempted, 0);
    assert_int_equal(fold_effect(fold, taken.name), EFFECT_NO_OFFICE);
    assert_int_equal(fold_effect(fold, voided.name), EFFECT_NO_OFFICE);
    assert_int_equal(fold_effect(fold, strike.name), EFFECT_TAKEN);
    /* what was refused is nobody's former content */
    struct entry landed = test_change(strike, 1, 3, 40, ACT_REFINE);
    landed.strike.outcome = OUTCOME_LANDED;
    add(fold, landed);
    assert_true(entry_same(fold_before(fold, landed.name)->name, strike.name));
    assert_null(fold_before(fold, taken.name));
    /* with both offices it holds */
    add(fold, test_official(0, 4, 50, CODE_BLUE));
    struct entry both = test_change(taken, 0, 5, 60, ACT_AMEND);
    add(fold, both);
    assert_int_equal(fold_effect(fold, both.name), EFFECT_TAKEN);
    assert_int_equal(fold_subject(fold, strike.name)->now.strike.corner, CORNER_RED);
    fold_free(fold);
}

static struct entry incident(int desk, int64_t seq, int64_t utc_ms, enum corner corner,
                             enum entry_code code)
{
    struct entry entry = test_entry(desk, seq, utc_ms, ENTRY_INCIDENT);
    entry.code = (uint8_t)code;
    entry.strike.corner = (uint8_t)corner;
    return entry;
}

static void expect_downs(const struct fold *fold, int knockdowns, int downs)
{
    assert_int_equal(fold_tally(fold)->round[1].corner[CORNER_RED].knockdowns, knockdowns);
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_RED].knockdowns, knockdowns);
    assert_int_equal(fold_tally(fold)->all.corner[CORNER_BLUE].downs, downs);
}

static void fold__knockdowns__one_event_however_entered(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    add(fold, test_official(0, 2, 1, CODE_BLUE));
    struct entry strike =
        test_strike(0, 3, 10000, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    strike.strike.technique = TECHNIQUE_KNOCKDOWN;
    add(fold, strike);
    expect_downs(fold, 1, 1);
    struct entry down = incident(0, 4, 12000, CORNER_BLUE, CODE_KNOCKED_DOWN);
    add(fold, down);
    expect_downs(fold, 1, 1);
    add(fold, incident(0, 5, 13000, CORNER_BLUE, CODE_COUNT));
    expect_downs(fold, 1, 1);
    add(fold, incident(0, 6, 60000, CORNER_BLUE, CODE_KNOCKED_DOWN)); /* by its own key alone */
    expect_downs(fold, 2, 2);
    add(fold, incident(0, 7, 90000, CORNER_BLUE, CODE_COUNT)); /* on the feet */
    expect_downs(fold, 2, 3);
    struct entry unmarked = test_change(strike, 0, 8, 95000, ACT_AMEND);
    unmarked.strike.technique = 0; /* a slip: the incident stands for itself now */
    add(fold, unmarked);
    expect_downs(fold, 2, 3);
    add(fold, test_change(down, 0, 9, 96000, ACT_VOID));
    expect_downs(fold, 1, 3); /* a count without a knockdown */
    fold_free(fold);
}

static void fold__states__a_voided_start_never_was(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_CLOCK));
    add(fold, test_official(0, 2, 1, CODE_RED));
    struct entry start = test_entry(0, 3, 1000, ENTRY_CLOCK);
    start.code = CODE_START;
    add(fold, start);
    assert_true(fold_clock(fold)->running);
    assert_int_equal(fold_tally(fold)->last_round, 1);
    add(fold, test_change(start, 0, 4, 5000, ACT_VOID));
    assert_false(fold_clock(fold)->running);
    assert_int_equal(fold_clock(fold)->round, 0);
    assert_int_equal(fold_tally(fold)->last_round, 0);
    add(fold, test_change(start, 0, 5, 6000, ACT_RESTORE));
    assert_int_equal(clock_read(fold_clock(fold), 11000).elapsed_ms, 10000);
    struct entry jump = test_entry(0, 6, 7000, ENTRY_CLOCK); /* the wall is an hour ahead now */
    jump.code = CODE_JUMP;
    jump.value = 3600000;
    add(fold, jump);
    assert_int_equal(clock_read(fold_clock(fold), 3600000 + 11000).elapsed_ms, 10000);
    struct entry stance = test_entry(0, 7, 8000, ENTRY_STANCE);
    stance.strike.stance = STANCE_SQUARE;
    add(fold, stance);
    assert_int_equal(fold_stance(fold, CORNER_RED), STANCE_SQUARE);
    add(fold, test_change(stance, 0, 8, 9000, ACT_VOID));
    assert_int_equal(fold_stance(fold, CORNER_RED), STANCE_ORTHODOX);
    fold_free(fold);
}

static void fold__view__a_blocked_view_ends_with_the_next_strike(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    struct entry hidden = test_entry(0, 2, 10000, ENTRY_VIEW);
    hidden.code = CODE_HIDDEN;
    hidden.elapsed_ms = 10000;
    add(fold, hidden);
    assert_true(fold_hidden(fold, CORNER_RED));
    assert_false(fold_hidden(fold, CORNER_BLUE));
    struct entry strike = test_strike(0, 3, 17000, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, 0);
    strike.elapsed_ms = 17000;
    strike.unsure = true;
    add(fold, strike);
    assert_false(fold_hidden(fold, CORNER_RED));
    assert_int_equal(fold_unseen(fold, 0, CORNER_RED, 99000), 7000);
    assert_int_equal(fold_unseen(fold, 1, CORNER_RED, 99000), 7000);
    assert_int_equal(fold_unseen(fold, 2, CORNER_RED, 99000), 0);
    assert_int_equal(fold_tally(fold)->round[1].corner[CORNER_RED].unsure, 1);
    fold_free(fold);
}

/* A desk that only watches in its own count opens no round for the official one. */
static void fold__last_round__is_the_official_one(void **state)
{
    (void)state;
    struct fold *fold = two_desks(FOLD_OFFICIAL);
    add(fold, test_official(0, 1, 1, CODE_RED));
    struct entry early = test_strike(1, 1, 10, CORNER_RED, LIMB_LEFT_LEG, TARGET_HEAD, 0);
    early.round = 2;
    add(fold, early);
    assert_int_equal(fold_effect(fold, early.name), EFFECT_APART);
    assert_int_equal(fold_tally(fold)->last_round, 0);
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
    const struct entry *about = count > 0 ? &known[rand() % count] : NULL;
    if (what < 4 && about && about->kind != ENTRY_OFFICIAL) {
        struct entry change =
            test_change(*about, desk, ++seq[desk], utc, ACT_REFINE + (enum entry_act)(rand() % 4));
        if (change.kind == ENTRY_STRIKE) {
            change.strike.outcome = (uint8_t)(rand() % OUTCOME_COUNT);
            change.strike.corner = (uint8_t)(rand() % 2);
            change.strike.technique = change.strike.outcome == OUTCOME_LANDED && rand() % 3 == 0
                                          ? TECHNIQUE_KNOCKDOWN
                                          : 0;
        }
        return change;
    }
    if (what == 4) {
        static const enum entry_kind kinds[] = {ENTRY_CLOCK, ENTRY_STANCE, ENTRY_POSITION,
                                                ENTRY_INCIDENT, ENTRY_VIEW};
        static const enum entry_code first[] = {CODE_START, CODE_NONE, CODE_NONE, CODE_COUNT,
                                                CODE_HIDDEN};
        int of = rand() % 5;
        struct entry entry = test_entry(desk, ++seq[desk], utc, kinds[of]);
        entry.code = (uint8_t)(first[of] + (first[of] ? (enum entry_code)(rand() % 2) : 0));
        entry.strike.corner = (uint8_t)(rand() % 2);
        entry.strike.stance = (uint8_t)(rand() % STANCE_COUNT);
        entry.strike.position = (uint8_t)(rand() % POSITION_COUNT);
        entry.round = (uint8_t)(1 + rand() % 3);
        return entry;
    }
    struct entry strike = test_strike(desk, ++seq[desk], utc, (enum corner)(rand() % 2),
                                      (enum limb)(rand() % LIMB_COUNT), (enum target)(rand() % 3),
                                      (enum outcome)(rand() % 3));
    strike.round = (uint8_t)(1 + rand() % 3);
    return strike;
}

static void check_same(const struct fold *a, const struct fold *b, const struct entry *entries,
                       size_t count)
{
    const struct subject *of_a = NULL, *of_b = NULL;
    size_t subjects = fold_subjects(a, &of_a);
    assert_int_equal(fold_subjects(b, &of_b), subjects);
    for (size_t i = 0; i < subjects; i++) {
        assert_true(entry_same(of_a[i].now.name, of_b[i].now.name));
        assert_true(entry_same(of_a[i].last, of_b[i].last));
        assert_int_equal(of_a[i].counts, of_b[i].counts);
        assert_int_equal(of_a[i].corrections, of_b[i].corrections);
    }
    for (size_t i = 0; i < count; i++) {
        struct entry_name name = entries[i].name;
        const struct entry *before = fold_before(a, name);
        assert_int_equal(fold_effect(a, name), fold_effect(b, name));
        assert_true(before ? entry_same(before->name, fold_before(b, name)->name)
                           : !fold_before(b, name));
        assert_true(entry_same(fold_entry(b, name)->name, name));
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        enum corner c = (enum corner)corner;
        assert_int_equal(fold_stance(a, c), fold_stance(b, c));
        assert_int_equal(fold_hidden(a, c), fold_hidden(b, c));
        assert_int_equal(fold_unseen(a, 0, c, 5000), fold_unseen(b, 0, c, 5000));
    }
    assert_int_equal(fold_position(a), fold_position(b));
    assert_int_equal(fold_clock(a)->running, fold_clock(b)->running);
    assert_int_equal(fold_clock(a)->since_ms, fold_clock(b)->since_ms);
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
        check_same(straight, shuffled, entries, ENTRIES);
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
        cmocka_unit_test(fold__correct__only_from_the_office_of_both_corners),
        cmocka_unit_test(fold__knockdowns__one_event_however_entered),
        cmocka_unit_test(fold__states__a_voided_start_never_was),
        cmocka_unit_test(fold__view__a_blocked_view_ends_with_the_next_strike),
        cmocka_unit_test(fold__last_round__is_the_official_one),
        cmocka_unit_test(fold__add__order_of_arrival_does_not_matter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
