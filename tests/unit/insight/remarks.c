/* Remarks: what is said, and what is not said because the numbers do not carry it. The numbers
 * themselves are held against SQL in tests/outside, the claim of the findings by simulation there.
 */
#include "../tally/blows.h"

#include <math.h>
#include <stdlib.h>

#include "ringtally/insight/remarks.h"

static struct remarks find_at(const struct fight *fight, int64_t now_ms)
{
    struct remarks remarks;
    struct error err = {0};
    assert_int_equal(
        remarks_init(&remarks, fight->fold, NULL, NULL, &remark_rule_default, now_ms, &err), 0);
    return remarks;
}

static struct remarks find(const struct fight *fight)
{
    return find_at(fight, fold_newest_ms(fight->fold));
}

static const char *words_of(const struct remark *remark)
{
    static char words[REMARK_WORDS];
    remark_words(words, sizeof words, remark, NULL);
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

static size_t findings(const struct remarks *remarks)
{
    size_t count = 0;
    for (size_t i = 0; i < remarks->count; i++) {
        count += remark_is_finding(&remarks->item[i]);
    }
    return count;
}

/* `count` strikes, `landed` of them, evenly over the round. */
static void spread(struct fight *fight, enum corner corner, enum limb limb, enum target target,
                   int landed, int count)
{
    for (int i = 0; i < count; i++) {
        bool hit = (i + 1) * landed / count > i * landed / count;
        fight_throw(fight, 1000 + 170000 / count * i, corner, limb, target, hit ? LANDED : MISSED);
    }
}

static void end_round(struct fight *fight)
{
    fight_clock(fight, 180000, CODE_STOP);
}

/* A lead is a fact, told with its counts from ten landed on; in the round that is on "so far". */
static void remarks__lead__counts(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_RED, JAB, 6, 20);
    spread(&fight, CORNER_BLUE, JAB, 3, 20);
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_LEAD), 0);
    remarks_release(&remarks);
    fight_throw(&fight, 175000, CORNER_RED, LOW, LANDED);
    remarks = find(&fight);
    assert_says(&remarks, "Red landed 7 strikes in round 1 so far, Blue 3.");
    assert_int_equal(findings(&remarks), 0);
    remarks_release(&remarks);
    end_round(&fight);
    remarks = find(&fight);
    assert_says(&remarks, "Red landed 7 strikes in round 1, Blue 3.");
    remarks_release(&remarks);
    fight_round(&fight);
    spread(&fight, CORNER_BLUE, JAB, 17, 18);
    end_round(&fight);
    remarks = find(&fight);
    assert_says(&remarks, "Blue landed 20 strikes so far, Red 7.");
    assert_says(&remarks, "Blue landed 17 strikes in round 2, Red 0.");
    assert_int_equal(kind_count(&remarks, REMARK_LEAD), 3);

    for (int i = 0; i < 30; i++) {
        fight_throw(&fight, 175000, CORNER_RED, JAB, LANDED);
    }
    remarks_release(&remarks);
    remarks = find(&fight);
    assert_says(&remarks, "Red took the lead in landed strikes, 21 to 20, 2:55 into round 2.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__fewer_thrown__instead_of_the_lead(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_RED, JAB, 10, 40);
    spread(&fight, CORNER_BLUE, JAB, 15, 25);
    end_round(&fight);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Blue threw fewer and landed more in round 1: 15 of 25, Red 10 of 40.");
    for (size_t i = 0; i < remarks.count; i++) {
        assert_false(remarks.item[i].kind == REMARK_LEAD &&
                     remarks.item[i].variant == LEAD_STANDING);
    }
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__share__in_tenths(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_BLUE, JAB, 18, 18);
    fight_throw(&fight, 175000, CORNER_BLUE, LOW, LANDED);
    fight_throw(&fight, 176000, CORNER_BLUE, LOW, LANDED);
    end_round(&fight);
    struct remarks remarks = find(&fight);
    assert_says(&remarks,
                "Nine in ten strikes that Blue landed in round 1 were punches: 18 of 20.");
    assert_says(&remarks,
                "Nine in ten strikes that Blue landed in round 1 went to the head: 18 of 20.");
    remarks_release(&remarks);
    fight_throw(&fight, 177000, CORNER_BLUE, LOW, LANDED);
    remarks = find(&fight);
    assert_says(&remarks,
                "About nine in ten strikes that Blue landed in round 1 were punches: 18 of 21.");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* Where nothing but hands is thrown a share of hands says nothing. */
static void remarks__share__needs_a_choice(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_BLUE, JAB, 30, 30);
    spread(&fight, CORNER_RED, CROSS, 1, 12);
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_SHARE), 0);
    remarks_release(&remarks);
    fight_throw(&fight, 175000, CORNER_RED, LOW, MISSED);
    remarks = find(&fight);
    assert_says(&remarks, "All 30 strikes that Blue landed in round 1 so far were punches.");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* What changed is a finding, formed at the bell and not a second before. */
static void remarks__swing_and_pace__at_the_bell(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_RED, JAB, 8, 60);
    spread(&fight, CORNER_BLUE, JAB, 8, 24);
    end_round(&fight);
    fight_round(&fight);
    spread(&fight, CORNER_RED, JAB, 22, 24);
    spread(&fight, CORNER_BLUE, JAB, 8, 24);
    struct remarks remarks = find_at(&fight, fight.start + 179999);
    for (size_t i = 0; i < remarks.count; i++) {
        assert_true(!remark_is_finding(&remarks.item[i]) || remarks.item[i].through == 1);
    }
    assert_int_equal(remarks.over, 1);
    remarks_release(&remarks);
    remarks = find_at(&fight, fight.start + 180000);
    assert_int_equal(remarks.over, 2);
    assert_says(&remarks, "Red's accuracy rose in round 2: 22 of 24 landed, 8 of 60 before.");
    assert_says(&remarks, "Red threw less in round 2: 8.0 strikes a minute, 20.0 before.");
    assert_true(remarks.looked_at > 0);
    assert_true(fabs(remarks.spent - 0.05 * 3.0 / 9.0) < 1e-12);
    for (size_t i = 0; i < remarks.count; i++) {
        const struct remark *c = &remarks.item[i];
        assert_true(!remark_is_finding(c) ||
                    (isfinite(c->estimate.value) && isfinite(c->estimate.low) &&
                     isfinite(c->estimate.high) && c->adjusted >= c->p));
        assert_false(c->kind == REMARK_SWING && c->corner == CORNER_BLUE);
    }
    remarks_release(&remarks);
    fight_end(&fight);
}

/* A finding that holds again is told with the newer numbers only. */
static void remarks__corners__through_the_newest_bell(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 3; round++) {
        fight_round(&fight);
        spread(&fight, CORNER_RED, JAB, 40, 60);
        spread(&fight, CORNER_BLUE, JAB, 5, 20);
        end_round(&fight);
    }
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Red throws more through round 3: 20.0 strikes a minute, Blue 6.7.");
    assert_says(&remarks, "Red lands more through round 3: 120 strikes, Blue 15.");
    assert_says(&remarks, "Red lands better through round 3: 120 of 180, Blue 15 of 60.");
    assert_int_equal(kind_count(&remarks, REMARK_LANDED_MORE), 1);
    assert_int_equal(kind_count(&remarks, REMARK_ACCURACY), 1);
    remarks_release(&remarks);
    fight_end(&fight);
}

/* After the scheduled rounds there is no error left to spend: facts only. */
static void remarks__extension__facts_only(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 4; round++) {
        fight_round(&fight);
        spread(&fight, CORNER_RED, JAB, round == 4 ? 55 : 5, 60);
        fight_clock(&fight, round == 4 ? 120000 : 180000, CODE_STOP);
    }
    struct remarks remarks = find(&fight);
    assert_int_equal(remarks.over, 4);
    assert_int_equal(remarks.bell, 3);
    for (size_t i = 0; i < remarks.count; i++) {
        assert_true(remarks.item[i].through <= 3);
    }
    remarks_release(&remarks);
    fight_end(&fight);
}

/* The same counts in one burst say nothing: a burst is one thing. */
static void remarks__bursts__carry_less(void **state)
{
    (void)state;
    for (int burst = 0; burst < 2; burst++) {
        struct fight fight = fight_new();
        for (int round = 1; round <= 2; round++) {
            fight_round(&fight);
            spread(&fight, CORNER_RED, JAB, 8, 20);
            for (int i = 0; i < (round == 2 ? 30 : 0); i++) {
                fight_throw(&fight, burst ? 60000 + 300 * i : 500 + 5900 * i, CORNER_RED, CROSS,
                            i % 5 < 2 ? LANDED : MISSED);
            }
            spread(&fight, CORNER_BLUE, JAB, 8, 20);
            end_round(&fight);
        }
        struct remarks remarks = find(&fight);
        bool said = says(&remarks, "Red threw more in round 2: 16.7 strikes a minute, 6.7 before.");
        assert_int_equal(said, !burst);
        remarks_release(&remarks);
        fight_end(&fight);
    }
}

/* A corner that got a desk in the second round only is compared with nothing before. */
static void remarks__untagged__unknown(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 3; round++) {
        fight_round(&fight);
        spread(&fight, CORNER_RED, JAB, round == 1 ? 2 : 25, 40);
        end_round(&fight);
    }
    struct bout bout = test_bout();
    struct desk_row desk = test_desk("aaaa", 0);
    struct fold *late = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
    const struct entry *entries = NULL;
    size_t count = fold_entries(fight.fold, &entries);
    assert_int_equal(fold_desk(late, &desk), 0);
    for (size_t i = 0; i < count; i++) {
        struct entry entry = entries[i];
        if (entry.kind == ENTRY_OFFICIAL && entry.code != CODE_CLOCK) {
            entry.utc_ms = entry.at_ms = entry.code == CODE_RED ? 2000000 : 9000000;
        }
        assert_int_equal(fold_add(late, &entry), 0);
    }
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Red's accuracy rose in round 2: 25 of 40 landed, 2 of 40 before.");
    assert_int_equal(kind_count(&remarks, REMARK_LANDED_MORE), 1);
    remarks_release(&remarks);
    struct fight seen = {.fold = late};
    remarks = find(&seen);
    assert_int_equal(findings(&remarks), 0);
    assert_int_equal(kind_count(&remarks, REMARK_LEAD), 0);
    remarks_release(&remarks);
    fold_free(late);
    fight_end(&fight);
}

static void remarks__stance__where_strikes_come_from(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_RED, JAB, 4, 40);
    fight.stance[CORNER_RED] = STANCE_SOUTHPAW;
    spread(&fight, CORNER_RED, BODY, 35, 36);
    end_round(&fight);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "All 36 of Red's body kicks came from southpaw so far.");
    assert_says(&remarks, "All 40 of Red's punches to the head came from orthodox so far.");
    assert_says(&remarks,
                "Red lands better from southpaw through round 1: 35 of 36, 4 of 40 otherwise.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__setup__says_both_sides(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 17; i++) {
        fight_throw(&fight, 10000 * i, CORNER_RED, JAB, MISSED);
        fight_throw(&fight, 10000 * i + 400, CORNER_RED, LOW, i < 16 ? LANDED : MISSED);
        fight_throw(&fight, 10000 * i + 5000, CORNER_RED, LOW, i < 2 ? LANDED : MISSED);
    }
    end_round(&fight);
    struct remarks remarks = find(&fight);
    assert_int_equal(remarks.pairs, 1);
    assert_true(remarks.setup_chance > 0.0 && remarks.setup_chance < 1.0);
    assert_says(&remarks, "Red's right low kick landed 16 of 17 right after a left hand to the "
                          "head, 2 of 17 otherwise.");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* A run is a fact and has no interval. */
static void remarks__run__over_and_going_on(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 5; i++) {
        fight_throw(&fight, 60000 + 3000 * i, CORNER_BLUE, LOW, LANDED);
    }
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 0);
    remarks_release(&remarks);
    fight_throw(&fight, 80000, CORNER_BLUE, LOW, LANDED);
    remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 1);
    assert_says(&remarks, "Blue's last six right low kicks all landed, in round 1.");
    remarks_release(&remarks);
    fight_throw(&fight, 84000, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_LEG, LANDED);
    remarks = find(&fight); /* either leg: seven */
    assert_says(&remarks, "Blue's last seven low kicks all landed, in round 1.");
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 1);
    remarks_release(&remarks);
    fight_round(&fight);
    fight_throw(&fight, 1000, CORNER_BLUE, LOW, LANDED);
    fight_throw(&fight, 5000, CORNER_BLUE, LOW, MISSED);
    remarks = find(&fight);
    assert_says(&remarks, "Blue landed eight low kicks in a row from round 1 into round 2.");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* However far apart: nine strikes are too few to compare. */
static void remarks__cases__too_few_are_not_compared(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    spread(&fight, CORNER_RED, JAB, 1, 60);
    end_round(&fight);
    fight_round(&fight);
    spread(&fight, CORNER_RED, CROSS, 9, 9);
    spread(&fight, CORNER_BLUE, JAB, 0, 8);
    end_round(&fight);
    struct remarks remarks = find(&fight);
    assert_int_equal(kind_count(&remarks, REMARK_SWING), 0);
    for (size_t i = 0; i < remarks.count; i++) {
        assert_false(remarks.item[i].kind == REMARK_PACE && remarks.item[i].round > 0 &&
                     remarks.item[i].corner == CORNER_BLUE);
    }
    assert_says(&remarks, "Red threw less in round 2: 3.0 strikes a minute, 20.0 before.");
    remarks_release(&remarks);
    fight_end(&fight);
}

/* Less than a minute of a round is no pace. */
static void remarks__short_round__no_pace(void **state)
{
    (void)state;
    for (int longer = 0; longer < 2; longer++) {
        struct fight fight = fight_new();
        fight_round(&fight);
        spread(&fight, CORNER_RED, JAB, 20, 60);
        end_round(&fight);
        fight_round(&fight);
        fight_clock(&fight, longer ? 70000 : 50000, CODE_STOP);
        struct entry sign = test_entry(0, ++fight.seq, fight.start + 80000, ENTRY_SIGN);
        sign.code = CODE_SIGN;
        fight_add(&fight, sign);
        struct remarks remarks = find(&fight);
        assert_int_equal(remarks.over, 2);
        assert_int_equal(
            says(&remarks, "Red threw less in round 2: 0.0 strikes a minute, 20.0 before."),
            longer);
        remarks_release(&remarks);
        fight_end(&fight);
    }
}

static void remarks__events__first_milestone_knockdown(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    for (int i = 0; i < 99; i++) {
        fight_throw(&fight, 1200 * (i + 1), CORNER_RED, JAB, LANDED);
    }
    fight_throw(&fight, 125900, CORNER_RED, LIMB_KNEE, TARGET_BODY, LANDED);
    fight_throw(&fight, 126000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, LANDED);
    fight_throw_as(&fight, 127000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN | TECHNIQUE_SPINNING);
    fight_throw_as(&fight, 150000, CORNER_RED, LOW, TECHNIQUE_KNOCKDOWN);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Red's 100th landed strike came 2:05 into round 1.");
    assert_says(&remarks, "Red's 100th strike came 2:05 into round 1.");
    assert_int_equal(kind_count(&remarks, REMARK_MILESTONE), 2); /* 50 was news once */
    assert_says(&remarks, "Red landed the first knee of the bout, 2:05 into round 1.");
    assert_says(&remarks, "Blue landed the first spinning strike of the bout, 2:07 into round 1.");
    assert_says(&remarks, "First knockdown of the bout: Blue with a left hand to the head, 2:07 "
                          "into round 1.");
    assert_says(&remarks, "Knockdown by Red with a right low kick, 2:30 into round 1: one each "
                          "now.");
    /* Knockdowns first, the newest first; milestones last. */
    assert_int_equal(remarks.item[0].kind, REMARK_KNOCKDOWN);
    assert_int_equal(remarks.item[0].corner, CORNER_RED);
    assert_int_equal(remarks.item[1].kind, REMARK_KNOCKDOWN);
    assert_int_equal(remarks.item[remarks.count - 1].kind, REMARK_MILESTONE);
    assert_int_equal(remarks.item[remarks.count - 2].kind, REMARK_MILESTONE);
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__moments__near_a_bell(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    fight_round(&fight);
    fight_throw(&fight, 400, CORNER_RED, LIMB_KNEE, TARGET_BODY, LANDED);
    fight_throw_as(&fight, 179900, CORNER_RED, JAB, TECHNIQUE_SPINNING);
    end_round(&fight);
    struct remarks remarks = find(&fight);
    assert_says(&remarks, "Red landed the first knee of the bout, at the start of round 1.");
    assert_says(&remarks, "Red landed the first spinning strike of the bout, at the end of round "
                          "1.");
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__rank__newest_round_first_milestones_last(void **state)
{
    (void)state;
    struct fight fight = fight_new();
    for (int round = 1; round <= 3; round++) {
        fight_round(&fight);
        spread(&fight, CORNER_RED, JAB, 20, 25);
        spread(&fight, CORNER_BLUE, LOW, 3, 12);
        fight_throw_as(&fight, 170000, CORNER_BLUE, JAB, TECHNIQUE_KNOCKDOWN);
    }
    struct remarks remarks = find(&fight);
    assert_true(remarks.count > 6);
    for (size_t i = 1; i < remarks.count; i++) {
        const struct remark *a = &remarks.item[i - 1], *b = &remarks.item[i];
        assert_true(a->kind != REMARK_MILESTONE || b->kind == REMARK_MILESTONE);
        if (b->kind != REMARK_MILESTONE) {
            assert_true(a->in_round > b->in_round ||
                        (a->in_round == b->in_round && a->tier <= b->tier));
        }
    }
    assert_int_equal(remarks.item[0].kind, REMARK_KNOCKDOWN);
    assert_int_equal(remarks.item[0].round, 3);
    remarks_release(&remarks);
    fight_end(&fight);
}

/* People are told by their short names; where there is none by the long one. */
static void remarks__names__of_people(void **state)
{
    (void)state;
    struct bout bout = test_bout();
    char words[REMARK_WORDS];
    struct remark remark = {.kind = REMARK_LEAD,
                            .variant = LEAD_STANDING,
                            .corner = CORNER_BLUE,
                            .pick = PICK_ALL,
                            .number = {20, 11}};
    snprintf(bout.fighter[CORNER_RED].name, sizeof bout.fighter[CORNER_RED].name, "Ána Vek");
    snprintf(bout.fighter[CORNER_BLUE].name, sizeof bout.fighter[CORNER_BLUE].name, "Lin Xiaolan");
    snprintf(bout.fighter[CORNER_BLUE].short_name, sizeof bout.fighter[CORNER_BLUE].short_name,
             "Lin");
    remark_words(words, sizeof words, &remark, &bout);
    assert_string_equal(words, "Lin landed 20 strikes, Ána Vek 11.");
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
    assert_int_equal(findings(&remarks), 0);
    assert_int_equal(kind_count(&remarks, REMARK_RUN), 1);
    for (size_t i = 0; i < remarks.count; i++) {
        assert_null(strstr(words_of(&remarks.item[i]), "nan"));
    }
    remarks_release(&remarks);
    fight_end(&fight);
}

static void remarks__query__names_the_numbers(void **state)
{
    (void)state;
    for (int kind = 0; kind < REMARK_KINDS; kind++) {
        static const struct records none = {.bouts = 0};
        struct remark remark = {
            .kind = (uint8_t)kind, .pick = PICK_ALL, .from = 1, .through = 2, .records = &none};
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
        cmocka_unit_test(remarks__lead__counts),
        cmocka_unit_test(remarks__fewer_thrown__instead_of_the_lead),
        cmocka_unit_test(remarks__share__in_tenths),
        cmocka_unit_test(remarks__share__needs_a_choice),
        cmocka_unit_test(remarks__swing_and_pace__at_the_bell),
        cmocka_unit_test(remarks__corners__through_the_newest_bell),
        cmocka_unit_test(remarks__extension__facts_only),
        cmocka_unit_test(remarks__bursts__carry_less),
        cmocka_unit_test(remarks__untagged__unknown),
        cmocka_unit_test(remarks__stance__where_strikes_come_from),
        cmocka_unit_test(remarks__setup__says_both_sides),
        cmocka_unit_test(remarks__run__over_and_going_on),
        cmocka_unit_test(remarks__cases__too_few_are_not_compared),
        cmocka_unit_test(remarks__short_round__no_pace),
        cmocka_unit_test(remarks__events__first_milestone_knockdown),
        cmocka_unit_test(remarks__moments__near_a_bell),
        cmocka_unit_test(remarks__rank__newest_round_first_milestones_last),
        cmocka_unit_test(remarks__names__of_people),
        cmocka_unit_test(remarks__degenerate__silence),
        cmocka_unit_test(remarks__query__names_the_numbers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
