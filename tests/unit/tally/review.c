/* What wants a look before the next bell. */
#include "support.h"

#include "ringtally/tally/review.h"

static struct rules rules(void)
{
    struct rules rules = {.rounds = 3};
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        rules.targets[limb] = 7;
    }
    rules.targets[LIMB_LEFT_ELBOW] = 0;
    return rules;
}

static struct fold *one_desk(void)
{
    struct bout bout = test_bout();
    struct desk_row desk = test_desk("aaaa", 0);
    struct fold *fold = fold_new(&test_plan, &bout, 0);
    assert_non_null(fold);
    assert_int_equal(fold_desk(fold, &desk), 0);
    return fold;
}

static void add(struct fold *fold, int64_t seq, int64_t at, enum limb limb)
{
    struct entry entry = test_strike(0, seq, at, CORNER_RED, limb, TARGET_BODY, OUTCOME_LANDED);
    assert_int_equal(fold_add(fold, &entry), 0);
}

static void review__reasons__all_four_limbs_within_a_quarter_second(void **state)
{
    (void)state;
    struct rules known = rules();
    struct fold *fold = one_desk();
    uint8_t out[8];
    add(fold, 1, 1000, LIMB_LEFT_HAND);
    add(fold, 2, 1100, LIMB_RIGHT_HAND);
    add(fold, 3, 1200, LIMB_LEFT_LEG);
    add(fold, 4, 1251, LIMB_RIGHT_LEG); /* a millisecond too late for the first */
    assert_int_equal(review_reasons(out, 8, fold, &known), 0);
    add(fold, 5, 1251, LIMB_LEFT_HAND);
    assert_int_equal(review_reasons(out, 8, fold, &known), 4);
    assert_int_equal(out[0], 0);
    assert_int_equal(out[4], REVIEW_BURST);
    fold_free(fold);
}

static void review__reasons__each_and_until_accepted(void **state)
{
    (void)state;
    struct rules known = rules();
    struct fold *fold = one_desk();
    uint8_t out[8];
    char words[128];
    struct entry flagged =
        test_strike(0, 1, 1000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED);
    flagged.review = true;
    flagged.off_clock = true;
    flagged.strike.technique = TECHNIQUE_KNOCKDOWN;
    assert_int_equal(fold_add(fold, &flagged), 0);
    add(fold, 2, 5000, LIMB_LEFT_ELBOW);
    struct entry second = flagged;
    second.review = second.off_clock = false;
    second.name.seq = second.subject.seq = 3;
    second.utc_ms = second.at_ms = 2001;
    assert_int_equal(fold_add(fold, &second), 0);
    assert_int_equal(review_reasons(out, 8, fold, &known), 2);
    second.name.seq = second.subject.seq = 4;
    second.utc_ms = second.at_ms = 2000; /* within a second of the first */
    assert_int_equal(fold_add(fold, &second), 0);
    assert_int_equal(review_reasons(out, 8, fold, &known), 4);
    assert_int_equal(out[0], REVIEW_FLAGGED | REVIEW_OFF_CLOCK | REVIEW_KNOCKDOWNS);
    review_words(words, sizeof words, out[0]);
    assert_string_equal(words, "flagged, off the clock, two knockdowns at once");
    struct entry accepted = test_change(flagged, 0, 5, 9000, ACT_AMEND);
    accepted.accepted = true;
    assert_int_equal(fold_add(fold, &accepted), 0);
    assert_int_equal(review_reasons(out, 8, fold, &known), 3);
    fold_free(fold);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(review__reasons__all_four_limbs_within_a_quarter_second),
        cmocka_unit_test(review__reasons__each_and_until_accepted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
