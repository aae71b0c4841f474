/* Agreement of desks: from strikes to the known figures, and what stands beside them. */
#include "../tally/support.h"

#include <stdlib.h>

#include "../stats/near.h"
#include "ringtally/insight/agree.h"

static struct rules test_rules(void)
{
    struct rules rules = {.rounds = 3};
    rules.targets[LIMB_LEFT_HAND] = rules.targets[LIMB_RIGHT_HAND] = 3;
    rules.targets[LIMB_LEFT_LEG] = rules.targets[LIMB_RIGHT_LEG] = 7;
    return rules;
}

static struct align_strike strike_at(int64_t seq, int32_t elapsed_ms, enum limb limb,
                                     enum target target, enum outcome outcome)
{
    return (struct align_strike){
        .name = {0, seq},
        .strike = {.limb = (uint8_t)limb, .target = (uint8_t)target, .outcome = (uint8_t)outcome},
        .round = 1,
        .elapsed_ms = elapsed_ms,
        .at_ms = elapsed_ms};
}

static void compare(struct agree *out, const struct align_strike *a, size_t n,
                    const struct align_strike *b, size_t m)
{
    struct align_options options = ALIGN_DEFAULTS;
    struct rules rules = test_rules();
    assert_int_equal(agree_make(out, a, n, b, m, &options, &rules), 0);
}

/* Puts the i-th of a list of counted cells into row and column. */
static void place(const int *table, int q, int i, int *row, int *column)
{
    int cell = 0;
    while (i >= table[cell]) {
        i -= table[cell++];
    }
    *row = cell / q;
    *column = cell % q;
}

/* Landed as in Feinstein AR, Cicchetti DV 1990, Journal of Clinical Epidemiology 43:543-549,
 * (seen in Gerstman, Epidemiology Kept Simple, Table 10.6: kappa .32; Q computed), and targets as
 * in the README of irrCAC (seen: AC1 .8493305, kappa .7964094, alpha .7972585). Both have 100
 * pairs. */
static void agree__make__known_tables(void **state)
{
    (void)state;
    static const int landed[] = {80, 10, 5, 5};
    static const int target[] = {13, 0, 0, 0, 20, 7, 0, 4, 56};
    struct align_strike a[103], b[102];
    struct agree agree;
    size_t differ = 0;
    for (int i = 0; i < 100; i++) {
        int row = 0, column = 0, hit_a = 0, hit_b = 0;
        int mixed = i * 37 % 100; /* so that the two tables are not in step */
        place(target, 3, i, &row, &column);
        place(landed, 2, mixed, &hit_a, &hit_b);
        differ += row != column || hit_a != hit_b;
        a[i] = strike_at(i + 1, 4000 * i, LIMB_LEFT_LEG, (enum target)row, (enum outcome)hit_a);
        b[i] = strike_at(i + 1, 4000 * i + 150, LIMB_LEFT_LEG, (enum target)column,
                         (enum outcome)hit_b);
    }
    for (int i = 0; i < 3; i++) {
        a[100 + i] = strike_at(101 + i, 500000 + 5000 * i, LIMB_LEFT_LEG, TARGET_LEG, 0);
    }
    for (int i = 0; i < 2; i++) {
        b[100 + i] = strike_at(101 + i, 502000 + 5000 * i, LIMB_LEFT_LEG, TARGET_LEG, 0);
    }
    compare(&agree, a, 103, b, 102);
    assert_int_equal(agree.align.paired, 100);
    assert_int_equal(agree.align.only_a, 3);
    assert_int_equal(agree.align.only_b, 2);
    const struct agree_field *field = &agree.field[AGREE_LANDED];
    assert_int_equal(field->agreed, 85);
    assert_near(0, field->kappa.agreement.value, .3181818, 1e-7);
    assert_near(0, field->kappa.se, .1334565, 1e-7);
    assert_true(field->has_q);
    assert_near(0, field->q, .7777778, 1e-7);
    field = &agree.field[AGREE_TARGET];
    assert_int_equal(field->categories, 3);
    assert_int_equal(field->agreed, 89);
    assert_int_equal(field->table[1 * 3 + 2], 7);
    assert_int_equal(field->table[2 * 3 + 1], 4);
    assert_near(1, field->ac1.value, .84933055, 1e-7);
    assert_near(1, field->kappa.agreement.value, .7964094, 1e-7);
    assert_near(1, field->alpha.value, .7972585, 1e-7);
    assert_false(field->has_q);
    /* One corner, one limb: all agree, and kappa has nothing to say. */
    assert_int_equal(agree.field[AGREE_CORNER].agreed, 100);
    assert_false(agree.field[AGREE_CORNER].kappa.agreement.defined);
    assert_true(agree.field[AGREE_CORNER].ac1.defined);
    assert_int_equal(agree.field[AGREE_LIMB].categories, 4);
    assert_int_equal(agree.differences, 5 + differ);
    agree_release(&agree);
}

static const struct agree_total *find_total(const struct agree *agree, int corner, int limb,
                                            bool landed)
{
    for (int i = 0; i < agree->totals; i++) {
        const struct agree_total *total = &agree->total[i];
        if (total->corner == corner && total->limb == limb && total->landed == landed) {
            return total;
        }
    }
    fail_msg("no total of corner %d, limb %d", corner, limb);
    return NULL;
}

/* Pairs 79/80 and 42/41 of O'Donoghue, Research Methods for Sports Performance Analysis, Table 7.1
 * (secondary: O'Donoghue, Research Methods, table 7.1: 1.3 and 2.4 %). */
static void agree__make__totals_and_cells(void **state)
{
    (void)state;
    struct align_strike a[200], b[200];
    struct agree agree;
    size_t n = 0, m = 0;
    for (int i = 0; i < 80; i++) {
        a[n] = strike_at(i + 1, 3000 * i, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED);
        n += i < 79;
        b[m++] = strike_at(i + 1, 3000 * i, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED);
    }
    for (int i = 0; i < 42; i++) {
        a[n++] = strike_at(i + 1, 300000 + 3000 * i, LIMB_RIGHT_HAND,
                           i < 5 ? TARGET_BODY : TARGET_HEAD, OUTCOME_ATTEMPTED);
        b[m] = strike_at(i + 1, 300000 + 3000 * i, LIMB_RIGHT_HAND,
                         i < 3 ? TARGET_BODY : TARGET_HEAD, OUTCOME_ATTEMPTED);
        m += i < 41;
    }
    compare(&agree, a, n, b, m);
    const struct agree_total *total = find_total(&agree, CORNER_RED, LIMB_LEFT_HAND, false);
    assert_int_equal(total->a, 79);
    assert_int_equal(total->b, 80);
    assert_near(0, total->error, 1.2579, 1e-4);
    total = find_total(&agree, CORNER_RED, LIMB_RIGHT_HAND, false);
    assert_near(1, total->error, 2.4096, 1e-4);
    total = find_total(&agree, CORNER_RED, -1, true);
    assert_int_equal(total->a, 79);
    assert_int_equal(total->b, 0);
    assert_near(2, total->error, 200, 1e-9);
    assert_false(find_total(&agree, CORNER_BLUE, -1, false)->has_error);
    assert_int_equal(agree.totals, 8); /* two corners; two limbs of red */
    /* Left hand head 79 80, right hand head 37 38, right hand body 5 3; landed: 79 0. */
    assert_int_equal(agree.attempted.used, 3);
    assert_int_equal(agree.attempted.exact, 0);
    assert_int_equal(agree.attempted.within_one, 2);
    assert_int_equal(agree.landed.used, 1);
    assert_int_equal(agree.landed.within_one, 0);
    agree_release(&agree);
}

static void agree__make__lateness_and_differences(void **state)
{
    (void)state;
    struct align_strike a[] = {strike_at(1, 1000, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED),
                               strike_at(2, 5000, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_BLOCKED),
                               strike_at(3, 9000, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED),
                               strike_at(4, 13000, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED),
                               strike_at(5, 20000, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED)};
    struct align_strike b[] = {strike_at(7, 1100, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED),
                               strike_at(8, 5140, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED),
                               strike_at(9, 9200, LIMB_RIGHT_LEG, TARGET_LEG, OUTCOME_LANDED),
                               strike_at(10, 13260, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED),
                               strike_at(11, 16000, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED)};
    struct agree agree;
    char words[80];
    compare(&agree, a, 5, b, 5);
    assert_true(agree.lateness.defined); /* 100 140 200 260 */
    assert_near(0, agree.lateness.low, 130, 1e-9);
    assert_near(0, agree.lateness.median, 170, 1e-9);
    assert_near(0, agree.lateness.high, 215, 1e-9);
    assert_in_range(agree.align.lateness_ms, 165, 180); /* the mean of the pairs: 175 */
    /* Blocked and attempted are both not landed. */
    assert_int_equal(agree.differences, 3);
    const struct agree_difference *difference = agree.difference;
    assert_int_equal(difference[0].fields, 1 << AGREE_LIMB | 1 << AGREE_TARGET);
    assert_int_equal(agree.a[difference[0].link.a].name.seq, 3);
    assert_int_equal(agree.b[difference[0].link.b].name.seq, 9);
    assert_int_equal(difference[1].link.a, -1);
    assert_int_equal(agree.b[difference[1].link.b].name.seq, 11);
    assert_int_equal(difference[2].link.b, -1);
    agree_words(words, sizeof words, &agree.a[difference[0].link.a]);
    assert_string_equal(words, "red left leg body, landed");
    agree_release(&agree);
}

static void agree__make__nothing_at_all(void **state)
{
    (void)state;
    struct agree agree;
    compare(&agree, NULL, 0, NULL, 0);
    assert_false(agree.lateness.defined);
    assert_false(agree.field[AGREE_LANDED].kappa.agreement.counted);
    assert_false(agree.field[AGREE_LANDED].has_q);
    assert_int_equal(agree.attempted.used, 0);
    assert_int_equal(agree.differences, 0);
    agree_release(&agree);
}

/* Fleiss on [7 1; 3 5]: .161905 (the tests of statsmodels, seen). */
static void agree__many__known_table(void **state)
{
    (void)state;
    static const int not_landed[2] = {7, 3};
    struct agree pairs[7];
    struct agree_many many;
    struct align_strike strikes[8][3];
    for (int desk = 0; desk < 8; desk++) {
        for (int i = 0; i < 2; i++) {
            strikes[desk][i] = strike_at(i + 1, 5000 * i, LIMB_LEFT_HAND, TARGET_HEAD,
                                         desk < not_landed[i] ? OUTCOME_ATTEMPTED : OUTCOME_LANDED);
        }
        strikes[desk][2] = strike_at(3, 10000, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED);
    }
    for (int i = 0; i < 7; i++) { /* the third strike is missed by the last desk */
        compare(&pairs[i], strikes[0], 3, strikes[i + 1], i == 6 ? 2 : 3);
    }
    assert_int_equal(agree_many_make(&many, pairs, 7), 0);
    assert_int_equal(many.desks, 8);
    assert_int_equal(many.strikes, 3);
    assert_int_equal(many.shared, 2);
    assert_near(0, many.field[AGREE_LANDED].fleiss.value, .161905, 1e-6);
    /* By hand, seven ratings of the third: values 10 and 13 of 23, coincidences that differ
     * (7 x 1 + 3 x 5) x 2 / 7 = 44/7; 1 - 22 (44/7) / (2 x 10 x 13). */
    assert_near(0, many.field[AGREE_LANDED].alpha.value, 1 - 22 * (44.0 / 7) / 260, 1e-12);
    for (int i = 0; i < 7; i++) {
        agree_release(&pairs[i]);
    }
}

/* Desk 0 (continued by 2 after a crash) and desk 1, red's only. */
static void agree__desks__each_alone(void **state)
{
    (void)state;
    struct bout bout = test_bout();
    struct align_options options = ALIGN_DEFAULTS;
    struct rules rules = test_rules();
    struct agree agree;
    struct entry first =
        test_strike(0, 1, 1000, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED);
    struct entry gone =
        test_strike(0, 2, 9000, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_ATTEMPTED);
    struct entry other =
        test_strike(1, 1, 5000, CORNER_RED, LIMB_LEFT_LEG, TARGET_LEG, OUTCOME_ATTEMPTED);
    struct entry landed = first;
    struct entry meddled = other;
    landed.strike.outcome = meddled.strike.outcome = OUTCOME_LANDED;
    struct entry entries[] = {
        test_official(0, 90, 500, CODE_RED),
        first,
        other,
        test_change(landed, 2, 1, 20000, ACT_AMEND),
        gone,
        test_change(gone, 2, 2, 21000, ACT_VOID),
        test_change(meddled, 2, 3, 22000, ACT_AMEND), /* the official desk, of another's strike */
        test_strike(2, 4, 30000, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_LEG, OUTCOME_LANDED),
        test_strike(2, 5, 31000, CORNER_RED, LIMB_LEFT_LEG, TARGET_LEG, OUTCOME_LANDED),
    };
    struct fold *fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
    for (int desk = 0; desk < 3; desk++) {
        struct desk_row row =
            test_desk((const char *[]){"a", "b", "c"}[desk], desk == 2 ? 0 : desk);
        row.corners = desk == 1 ? 1 << CORNER_RED : 3;
        assert_int_equal(fold_desk(fold, &row), 0);
    }
    assert_int_equal(fold_add_all(fold, entries, sizeof entries / sizeof entries[0]), 0);
    assert_int_equal(agree_corners(fold, 0), 3);
    assert_int_equal(agree_corners(fold, 1), 1 << CORNER_RED);
    assert_int_equal(
        agree_desks(&agree, fold, &bout, 0, 1, agree_corners(fold, 1), &options, &rules), 0);
    assert_int_equal(agree.a_count, 2);
    assert_int_equal(agree.a[0].strike.outcome, OUTCOME_LANDED);
    assert_int_equal(agree.b_count, 1);
    assert_int_equal(agree.b[0].strike.outcome, OUTCOME_ATTEMPTED);
    agree_release(&agree);
    assert_int_equal(agree_desks(&agree, fold, &bout, 0, 1, 3, &options, &rules), 0);
    assert_int_equal(agree.a_count, 3);
    agree_release(&agree);
    fold_free(fold);
}

static uint32_t seed = 1;

static int pick(int below)
{
    seed = seed * 1664525u + 1013904223u;
    return (int)((seed >> 8) % (uint32_t)below);
}

static size_t make_bout(struct align_strike *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        out[i] = strike_at((int64_t)i + 1, 60000 + pick(170000),
                           (enum limb)(pick(2) * LIMB_LEFT_LEG + pick(2)), (enum target)pick(3),
                           (enum outcome)pick(2));
        out[i].strike.corner = (uint8_t)pick(2);
    }
    align_sort(out, count);
    return count;
}

/* The same bout by another hand: `missed` in 100 missed, `wrong` in 100 with another target. */
static size_t tag_again(struct align_strike *out, const struct align_strike *from, size_t count,
                        int32_t late, int missed, int wrong)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (pick(100) >= missed) {
            out[kept] = from[i];
            out[kept].elapsed_ms += late + pick(101) - 50;
            if (pick(100) < wrong) {
                out[kept].strike.target = (uint8_t)((from[i].strike.target + 1) % 3);
            }
            kept++;
        }
    }
    align_sort(out, kept);
    return kept;
}

static void agree__warnings__say_what_a_reader_must_know(void **state)
{
    (void)state;
    struct align_strike a[120], b[120];
    struct agree agree;
    size_t n = make_bout(a, 120);
    size_t m = tag_again(b, a, n, 700, 3, 5);
    compare(&agree, a, n, b, m);
    assert_int_equal(agree.warnings, 0);
    assert_true(agree_tells(&agree));
    assert_true(agree.align.chance < agree.align.expected / 4);
    agree_release(&agree);

    m = tag_again(b, a, n, 0, 60, 0);
    compare(&agree, a, n, b, m);
    assert_int_equal(agree.warnings, 1 << AGREE_ALONE);
    agree_release(&agree);

    m = tag_again(b, a, n, 59900, 3, 0);
    compare(&agree, a, n, b, m);
    assert_int_equal(agree.warnings, 1 << AGREE_LIMIT);
    agree_release(&agree);

    m = make_bout(b, 120); /* another bout */
    for (size_t i = 0; i < m; i++) {
        b[i].at_ms += 3600000;
    }
    compare(&agree, a, n, b, m);
    assert_true(agree.warnings & 1 << AGREE_CHANCE);
    assert_true(agree.warnings & 1 << AGREE_ALONE);
    assert_false(agree_tells(&agree));
    agree_release(&agree);

    for (size_t i = 0; i < n; i++) { /* fingers half a second apart */
        b[i] = a[i];
        b[i].elapsed_ms += (pick(900) + pick(900) + pick(900) - 1350);
    }
    align_sort(b, n);
    compare(&agree, a, n, b, n);
    assert_true(agree.warnings & 1 << AGREE_UNSURE);
    assert_false(agree_tells(&agree));
    agree_release(&agree);
}

/* Where every pair is sure, what is expected is what is listed; where two strikes are a toss of a
 * coin, what is expected is between. */
static void agree__make__expected_over_all_pairings(void **state)
{
    (void)state;
    struct align_strike a[100], b[100];
    struct agree agree;
    for (int i = 0; i < 100; i++) {
        a[i] = strike_at(i + 1, 4000 * i, LIMB_LEFT_LEG, (enum target)(i % 3), i % 2);
        b[i] = a[i];
        b[i].elapsed_ms += 100;
    }
    b[10].strike.target = TARGET_LEG; /* was body */
    compare(&agree, a, 100, b, 100);
    const struct agree_field *field = &agree.field[AGREE_TARGET];
    assert_near(0, agree.align.expected, 100, 0.01);
    assert_near(0, agree.align.wrong, 0, 0.01);
    assert_near(0, field->expected[1 * 3 + 2], 1, 0.01);
    assert_near(0, field->estimated.agreement.value, field->kappa.agreement.value, 1e-3);
    assert_near(0, field->estimated.se, field->kappa.se, 1e-3);
    agree_release(&agree);

    /* Two at the same moment, of which B says the same limb and other targets. */
    a[50] = strike_at(51, 200000, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    a[51] = strike_at(52, 200000, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    b[50] = strike_at(51, 200100, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    b[51] = strike_at(52, 200100, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED);
    compare(&agree, a, 100, b, 100);
    assert_int_equal(agree.align.paired, 100);
    assert_near(1, agree.align.wrong, 1, 0.1); /* one way or the other: half of two */
    agree_release(&agree);
}

/* Rules know knees without and with their side; a pad has the one or the other. */
static void agree__make__knees_of_one_way_are_categories(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct rules rules = test_rules();
    struct align_strike a[] = {strike_at(1, 1000, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED),
                               strike_at(2, 5000, LIMB_LEFT_LEG, TARGET_BODY, OUTCOME_LANDED)};
    struct agree agree;
    rules.targets[LIMB_KNEE] = rules.targets[LIMB_LEFT_KNEE] = rules.targets[LIMB_RIGHT_KNEE] = 3;
    assert_int_equal(agree_make(&agree, a, 2, a, 2, &options, &rules), 0);
    assert_int_equal(agree.field[AGREE_LIMB].categories, 5); /* hands, knee, legs */
    agree_release(&agree);
    a[1].strike.limb = LIMB_RIGHT_KNEE;
    assert_int_equal(agree_make(&agree, a, 2, a, 2, &options, &rules), 0);
    assert_int_equal(agree.field[AGREE_LIMB].categories, 6); /* hands, two knees, legs */
    agree_release(&agree);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agree__make__known_tables),
        cmocka_unit_test(agree__make__totals_and_cells),
        cmocka_unit_test(agree__make__lateness_and_differences),
        cmocka_unit_test(agree__make__nothing_at_all),
        cmocka_unit_test(agree__warnings__say_what_a_reader_must_know),
        cmocka_unit_test(agree__make__expected_over_all_pairings),
        cmocka_unit_test(agree__make__knees_of_one_way_are_categories),
        cmocka_unit_test(agree__many__known_table),
        cmocka_unit_test(agree__desks__each_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
