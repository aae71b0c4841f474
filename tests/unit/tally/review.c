/* What wants a look before the next bell. */
#include "support.h"

#include <stdlib.h>

#include "ringtally/base/embedded.h"
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

/* What is updated by the way says what the whole says, whatever comes. */
static void review__update__as_from_the_start(void **state)
{
    (void)state;
    enum { COUNT = 300 };
    struct error err = {0};
    struct rules rules = {0};
    const struct embedded *text = embedded_find("rules/kickboxing.ini");
    assert_int_equal(rules_parse(&rules, text->data, text->size, "rules", &err), 0);
    struct bout bout = test_bout();
    struct fold *fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
    struct desk_row desk = test_desk("a", 0);
    assert_int_equal(fold_desk(fold, &desk), 0);
    struct entry official = test_official(0, 1, 1, CODE_RED);
    assert_int_equal(fold_add(fold, &official), 0);
    uint8_t seen[COUNT] = {0}, whole[COUNT];
    size_t known = 0;
    long looks = 0;
    static struct entry added[COUNT];
    int64_t now = 1000;
    srand(11);
    for (int i = 0; i < COUNT; i++) {
        now += rand() % 200;
        struct entry entry =
            test_strike(0, i + 2, now, CORNER_RED, (enum limb)(rand() % LIMB_COUNT),
                        (enum target)(rand() % 3), OUTCOME_LANDED);
        entry.strike.technique = rand() % 4 == 0 ? TECHNIQUE_KNOCKDOWN : 0;
        entry.off_clock = rand() % 9 == 0;
        if (i > 3 && rand() % 3 == 0) {
            entry = test_change(added[i - 1 - rand() % 3], 0, i + 2, now,
                                rand() % 3 ? ACT_AMEND : ACT_VOID);
            entry.review = rand() % 2;
            entry.accepted = rand() % 3 == 0;
        }
        added[i] = entry;
        assert_int_equal(fold_add(fold, &entry), 0);
        const struct subject *subjects = NULL;
        size_t count = fold_subjects(fold, &subjects);
        known = count;
        looks += review_update(seen, (size_t)(fold_subject(fold, entry.subject) - subjects), fold,
                               &rules);
        assert_int_equal(review_reasons(whole, count, fold, &rules), (size_t)looks);
        assert_memory_equal(whole, seen, count);
    }
    assert_true(known > 100 && looks > 10);
    fold_free(fold);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(review__update__as_from_the_start),
        cmocka_unit_test(review__reasons__all_four_limbs_within_a_quarter_second),
        cmocka_unit_test(review__reasons__each_and_until_accepted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
