/* Remarks: what is said, and what is not said because the numbers do not carry it. The numbers
 * themselves are held against SQL in tests/outside. */
#include "../tally/blows.h"

#include <math.h>
#include <stdlib.h>

#include "ringtally/insight/remarks.h"

static struct remarks find(const struct fight *fight)
{
    struct remarks remarks;
    struct error err = {0};
    int64_t now = fold_newest_ms(fight->fold);
    assert_int_equal(remarks_init(&remarks, fight->fold, &remark_rule_default, now, &err), 0);
    return remarks;
}

static const char *words_of(const struct remark *remark)
{
    static char words[REMARK_WORDS];
    remark_words(words, sizeof words, remark);
    return words;
}

/* Whether the sentence is among them. */
static bool says(const struct remarks *remarks, const char *sentence)
{
    for (size_t i = 0; i < remarks->count; i++) {
        if (strcmp(words_of(&remarks->item[i]), sentence) == 0) {
            return true;
        }
    }
    return false;
}

#define assert_says(remarks, sentence)                                                             \
    do {                                                                                           \
        if (!says(remarks, sentence)) {                                                            \
            for (size_t said = 0; said < (remarks)->count; said++) {                               \
                print_message("%s\n", words_of(&(remarks)->item[said]));                           \
            }                                                                                      \
            fail_msg("not said: %s", sentence);                                                    \
        }                                                                                          \
    } while (0)

static size_t kind_count(const struct remarks *remarks, enum remark_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < remarks->count; i++) {
        count += remarks->item[i].kind == kind;
    }
    return count;
}

/* `count` strikes, `landed` of them, spread so that neither runs nor combinations arise. */
static void spread(struct fight *fight, int32_t from_ms, enum corner corner, enum limb limb,
                   enum target target, int landed, int count)
{
    for (int i = 0; i < count; i++) {
        bool hit = (i + 1) * landed / count > i * landed / count;
        fight_throw(fight, from_ms + 2500 * i, corner, limb, target, hit ? LANDED : MISSED);
    }
}

static void remarks__landed_more__only_clearly(void **state)
{
    (void)state;
    /* 14 to 5: Wilson of 14/19 is .512 to .882; 13 to 5: .491 to .875 (own arithmetic) */
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, JAB, 13, 20);
    spread(&fight, 60000, CORNER_BLUE, JAB, 5, 20);
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_LANDED_MORE), 0);
    assert_true(remarks.looked_at > 0);
    remarks_release(&remarks);
    fight_throw(&fight, 150000, CORNER_RED, CROSS, LANDED);
    remarks = find(&fight);
    assert_says(&remarks, "Red landed 14 in round 1, blue 5.");
    assert_says(&remarks, "Red landed 14 to the head in round 1, blue 5.");
    assert_int_equal(kind_count(&remarks, REMARK_LANDED_MORE), 2);
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__fewer_thrown__lands_more(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, JAB, 10, 40);
    spread(&fight, 1500, CORNER_BLUE, JAB, 15, 25);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Blue threw fewer and landed more in round 1: 15 of 25, red 10 of 40.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__share__in_tenths(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_BLUE, JAB, 18, 18);
    fight_throw(&fight, 100000, CORNER_BLUE, LOW, LANDED);
    fight_throw(&fight, 110000, CORNER_BLUE, LOW, LANDED);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "9 in 10 of what blue landed in round 1 were hands (18 of 20).");
    assert_says(&remarks, "9 in 10 of what blue landed in round 1 went to the head (18 of 20).");
    remarks_release(&remarks);
    fight_throw(&fight, 120000, CORNER_BLUE, LOW, LANDED);
    remarks = find(&fight);
    assert_says(&remarks, "About 9 in 10 of what blue landed in round 1 were hands (18 of 21).");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* Where nothing but hands is thrown a share of hands says nothing. */
static void remarks__share__needs_a_choice(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_BLUE, JAB, 30, 30);
    spread(&fight, 1500, CORNER_RED, CROSS, 1, 12);
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_SHARE), 0);
    remarks_release(&remarks);
    fight_throw(&fight, 100000, CORNER_RED, LOW, MISSED);
    remarks = find(&fight);
    assert_says(&remarks, "All 30 that blue landed in round 1 were hands.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__swing_and_pace__between_rounds(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, JAB, 6, 40);
    fight_clock(&fight, 180000, CODE_STOP);
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, JAB, 12, 20);
    fight_clock(&fight, 180000, CODE_STOP);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Red landed 12 of 20 in round 2, 6 of 40 in round 1.");
    assert_says(&remarks, "Red threw 6.7 a minute in round 2, 13.3 in round 1.");
    assert_says(&remarks, "Red threw 10.0 a minute, blue 0.0.");
    for (size_t i = 0; i < remarks.count; i++) {
        const struct remark *c = &remarks.item[i];
        assert_true(isfinite(c->estimate.value) && isfinite(c->estimate.low));
        assert_true(isfinite(c->estimate.high) && isfinite(c->strength));
        if (c->kind == REMARK_PACE && c->variant == PACE_CORNERS) {
            assert_false(c->bounded); /* sixty against none */
            assert_true(c->estimate.low > 1.0);
        }
    }
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__stance__where_strikes_come_from(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, JAB, 10, 30);
    fight.stance[CORNER_RED] = STANCE_SOUTHPAW;
    spread(&fight, 90000, CORNER_RED, BODY, 11, 12);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "All 12 of red's body kicks came from southpaw.");
    assert_says(&remarks, "All 30 of red's hands to the head came from orthodox.");
    assert_says(&remarks, "Red landed 11 of 12 from southpaw, 10 of 30 otherwise.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__setup__says_both_sides(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 12; i++) {
        fight_throw(&fight, 10000 * i, CORNER_RED, JAB, MISSED);
        fight_throw(&fight, 10000 * i + 400, CORNER_RED, LOW, i < 11 ? LANDED : MISSED);
        fight_throw(&fight, 10000 * i + 5000, CORNER_RED, LOW, i < 2 ? LANDED : MISSED);
    }
    struct remarks remarks = find(&fight);
    assert_int_equal(remarks.pairs, 1);
    assert_says(&remarks, "Red's right low kick landed 11 of 12 within 2 s after a left hand to "
                          "the head, 2 of 12 otherwise.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__run__over_and_going_on(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_BLUE, JAB, 4, 16);
    for (int i = 0; i < 5; i++) {
        fight_throw(&fight, 60000 + 3000 * i, CORNER_BLUE, LOW, LANDED);
    }
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 0);
    remarks_release(&remarks);
    fight_throw(&fight, 80000, CORNER_BLUE, LOW, LANDED);
    remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 1);
    assert_says(&remarks, "Blue's last 6 right low kicks all landed, in round 1.");
    remarks_release(&remarks);
    fight_throw(&fight, 84000, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_LEG, LANDED);
    remarks = find(&fight); /* either leg: seven */
    assert_says(&remarks, "Blue's last 7 low kicks all landed, in round 1.");
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 1);
    remarks_release(&remarks);
    fight_round(&fight);
    fight_throw(&fight, 1000, CORNER_BLUE, LOW, LANDED);
    fight_throw(&fight, 5000, CORNER_BLUE, LOW, MISSED);
    remarks = find(&fight);
    assert_says(&remarks, "Blue landed 8 low kicks in a row in rounds 1 to 2.");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* Who lands nearly everything lands much in a row. */
static void remarks__run__must_stand_out(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_BLUE, JAB, 27, 30);
    for (int i = 0; i < 7; i++) {
        fight_throw(&fight, 90000 + 3000 * i, CORNER_BLUE, LOW, LANDED);
    }
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 0);
    remarks_release(&remarks);
    fight_end(&fight);
}

/* However far apart: nine strikes are too few to compare. */
static void remarks__cases__too_few_are_not_compared(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, JAB, 1, 40);
    fight_throw(&fight, 170000, CORNER_BLUE, JAB, LANDED);
    fight_clock(&fight, 180000, CODE_STOP);
    fight_round(&fight);
    spread(&fight, 1000, CORNER_RED, CROSS, 9, 9);
    spread(&fight, 1500, CORNER_BLUE, JAB, 0, 8);
    fight_clock(&fight, 180000, CODE_STOP);
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_SWING), 0);
    for (size_t i = 0; i < remarks.count; i++) {
        assert_false(remarks.item[i].kind == REMARK_PACE && remarks.item[i].corner == CORNER_BLUE);
    }
    assert_says(&remarks, "Red threw 3.0 a minute in round 2, 13.3 in round 1.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__events__first_milestone_knockdown(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, 0, CORNER_RED, JAB, 49, 49);
    fight_throw(&fight, 125900, CORNER_RED, LIMB_KNEE, TARGET_BODY, LANDED);
    fight_throw(&fight, 126000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, LANDED);
    fight_throw_as(&fight, 127000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN | TECHNIQUE_SPINNING);
    fight_throw_as(&fight, 150000, CORNER_RED, LOW, TECHNIQUE_KNOCKDOWN);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Red landed its 50th strike 2:05 into round 1.");
    assert_says(&remarks, "Red landed the first knee of the bout, 2:05 into round 1.");
    assert_says(&remarks, "Blue landed the first spinning strike of the bout, 2:07 into round 1.");
    assert_says(&remarks,
                "First knockdown of the bout, by blue, 2:07 into round 1: left hand to the head.");
    assert_says(&remarks, "Knockdown by red, 2:30 into round 1: right low kick. Knockdowns: red "
                          "1, blue 1.");
    /* Knockdowns before other events, the newest first. */
    assert_int_equal(remarks.item[0].kind, REMARK_KNOCKDOWN);
    assert_int_equal(remarks.item[0].corner, CORNER_RED);
    assert_int_equal(remarks.item[1].kind, REMARK_KNOCKDOWN);
    assert_int_equal(remarks.item[2].kind, REMARK_FIRST);
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__rank__newest_round_first(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 3; round++) {
        fight_round(&fight);
        spread(&fight, 1000, CORNER_RED, JAB, 20, 25);
        spread(&fight, 1400, CORNER_BLUE, LOW, 3, 12);
        fight_throw_as(&fight, 170000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN);
    }
    struct remarks remarks = find(&fight);
    assert_true(remarks.count > 6);
    for (size_t i = 1; i < remarks.count; i++) {
        const struct remark *a = &remarks.item[i - 1], *b = &remarks.item[i];
        assert_true(a->in_round >= b->in_round);
        if (a->in_round == b->in_round) {
            assert_true(a->tier <= b->tier);
        }
    }
    assert_int_equal(remarks.item[0].kind, REMARK_KNOCKDOWN);
    assert_int_equal(remarks.item[0].round, 3);
    remarks_release(&remarks);
    fight_end(&fight);
}

/* Nothing, one strike, one corner, no clock, square stances: numbers or silence, never a NaN. */
static void remarks__degenerate__silence(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    struct remarks remarks = find(&fight);
    assert_int_equal(remarks.count, 0);
    assert_int_equal(remarks.looked_at, 0);
    remarks_release(&remarks);

    fight.round = 1; /* no clock at all */
    fight_throw(&fight, 0, CORNER_RED, JAB, LANDED);
    remarks = find(&fight);
    assert_int_equal(remarks.count, 0);
    remarks_release(&remarks);

    fight.stance[CORNER_RED] = STANCE_SQUARE;
    for (int i = 0; i < 40; i++) { /* all at one moment */
        fight_throw(&fight, 0, CORNER_RED, JAB, LANDED);
    }
    remarks = find(&fight);
    assert_says(&remarks, "Red landed 41 in round 1, blue 0.");
    assert_int_equal(kind_count(&remarks, REMARK_PACE), 0);
    assert_int_equal(kind_count(&remarks, REMARK_FEWER_THROWN), 0);
    for (size_t i = 0; i < remarks.count; i++) {
        assert_null(strstr(words_of(&remarks.item[i]), "nan"));
        assert_true(isfinite(remarks.item[i].strength));
    }
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__query__names_the_numbers(void **state)
{
    (void)state;
    for (int kind = 0; kind < REMARK_KINDS; kind++) {
        struct remark remark = {.kind = (uint8_t)kind, .pick = PICK_ALL, .bounded = true};
        struct buf query = BUF_INIT;
        remark.pick.stance = STANCE_SOUTHPAW;
        remark_query(&query, &remark, "it's/1");
        assert_false(query.failed);
        assert_non_null(strstr(query.text, "bout = 'it''s/1'"));
        const char *const *names = remark_number_names(&remark);
        for (int i = 0; i < REMARK_NUMBERS && names[i]; i++) {
            assert_non_null(strstr(query.text, names[i]));
        }
        buf_release(&query);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(remarks__landed_more__only_clearly),
        cmocka_unit_test(remarks__fewer_thrown__lands_more),
        cmocka_unit_test(remarks__share__in_tenths),
        cmocka_unit_test(remarks__share__needs_a_choice),
        cmocka_unit_test(remarks__swing_and_pace__between_rounds),
        cmocka_unit_test(remarks__stance__where_strikes_come_from),
        cmocka_unit_test(remarks__setup__says_both_sides),
        cmocka_unit_test(remarks__run__over_and_going_on),
        cmocka_unit_test(remarks__run__must_stand_out),
        cmocka_unit_test(remarks__cases__too_few_are_not_compared),
        cmocka_unit_test(remarks__events__first_milestone_knockdown),
        cmocka_unit_test(remarks__rank__newest_round_first),
        cmocka_unit_test(remarks__degenerate__silence),
        cmocka_unit_test(remarks__query__names_the_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
