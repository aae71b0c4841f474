/* Which moments are marks: small logs, marked by hand. */
#include "support.h"

#include <stdlib.h>

#include "ringtally/tally/marks.h"

/* A desk official for everything from 100 on, and a shadow. */
static struct fold *start(void)
{
    struct bout bout = test_bout();
    struct desk_row desk = test_desk("aaaa", 0);
    struct desk_row shadow = test_desk("bbbb", 1);
    struct fold *fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
    assert_non_null(fold);
    assert_int_equal(fold_desk(fold, &desk), 0);
    assert_int_equal(fold_desk(fold, &shadow), 0);
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    for (int i = 0; i < 3; i++) {
        struct entry entry = test_official(0, i + 1, 100, codes[i]);
        assert_int_equal(fold_add(fold, &entry), 0);
    }
    return fold;
}

static void put(struct fold *fold, struct entry entry)
{
    assert_int_equal(fold_add(fold, &entry), 0);
}

/* A strike of the official desk, its number after the three that made it official. */
static void hit(struct fold *fold, int64_t seq, int64_t at, enum corner corner,
                enum outcome outcome)
{
    put(fold, test_strike(0, seq, at, corner, LIMB_LEFT_HAND, TARGET_HEAD, outcome));
}

static size_t find(struct mark **out, const struct fold *fold, const struct marks_plan *plan)
{
    size_t count = 0;
    struct error err = {0};
    assert_int_equal(marks_find(out, &count, fold, plan, &err), 0);
    return count;
}

static void marks__find__each_kind_once_an_entry(void **state)
{
    (void)state;
    struct fold *fold = start();
    struct mark *mark = NULL;
    struct entry strike =
        test_strike(0, 4, 20000, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    strike.strike.technique = TECHNIQUE_KNOCKDOWN | TECHNIQUE_SPINNING;
    strike.elapsed_ms = 12345;
    put(fold, strike);
    strike = test_strike(0, 5, 30000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_ATTEMPTED);
    strike.strike.technique = TECHNIQUE_JUMPING;
    put(fold, strike);
    struct entry incident = test_entry(0, 6, 40000, ENTRY_INCIDENT);
    incident.code = CODE_COUNT;
    incident.strike.corner = CORNER_RED;
    put(fold, incident);
    strike = test_strike(0, 7, 50000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED);
    strike.review = true;
    put(fold, strike);
    struct entry note = test_entry(0, 8, 60000, ENTRY_NOTE);
    note.review = true;
    put(fold, note);
    hit(fold, 9, 70000, CORNER_RED, OUTCOME_LANDED); /* nothing special */

    assert_int_equal(find(&mark, fold, &marks_plan_default), 5);
    assert_int_equal(mark[0].kinds, MARK_KNOCKDOWN | MARK_SPINNING);
    assert_int_equal(mark[0].corner, CORNER_BLUE);
    assert_int_equal(mark[0].elapsed_ms, 12345);
    assert_int_equal(mark[0].entry.seq, 4);
    assert_int_equal(mark[0].at_ms, 20000);
    assert_int_equal(mark[0].end_ms, 20000);
    assert_int_equal(mark[0].in_ms, 15000);
    assert_int_equal(mark[0].out_ms, 23000);
    assert_int_equal(mark[1].kinds, MARK_JUMPING);
    assert_int_equal(mark[2].kinds, MARK_INCIDENT);
    assert_int_equal(mark[2].corner, CORNER_RED);
    assert_int_equal(mark[3].kinds, MARK_FLAG);
    assert_int_equal(mark[4].kinds, MARK_FLAG);
    assert_int_equal(mark[4].corner, CORNER_NONE);
    free(mark);

    struct marks_plan plan = marks_plan_default;
    plan.kinds = MARK_SPINNING;
    plan.lead_in_ms = 0;
    plan.lead_out_ms = 250;
    assert_int_equal(find(&mark, fold, &plan), 1);
    assert_int_equal(mark[0].in_ms, 20000);
    assert_int_equal(mark[0].out_ms, 20250);
    free(mark);
    fold_free(fold);
}

static void marks__find__only_what_is_live_and_official(void **state)
{
    (void)state;
    struct fold *fold = start();
    struct mark *mark = NULL;
    struct entry strike =
        test_strike(1, 1, 20000, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    strike.strike.technique = TECHNIQUE_KNOCKDOWN; /* of the shadow */
    put(fold, strike);
    strike = test_strike(0, 4, 21000, CORNER_BLUE, LIMB_LEFT_LEG, TARGET_HEAD, OUTCOME_LANDED);
    strike.strike.technique = TECHNIQUE_KNOCKDOWN;
    put(fold, strike);
    assert_int_equal(find(&mark, fold, &marks_plan_default), 1);
    assert_int_equal(mark[0].entry.desk, 0);
    free(mark);
    put(fold, test_change(strike, 0, 5, 22000, ACT_VOID));
    assert_int_equal(find(&mark, fold, &marks_plan_default), 0);
    assert_null(mark);
    fold_free(fold);
}

/* Six of one corner within 5 s, five landed, the other without a strike; then one strike less that
 * landed, and one run that is answered. */
static void marks__find__flurries_landed_and_bells(void **state)
{
    (void)state;
    struct fold *fold = start();
    struct mark *mark = NULL;
    for (int i = 0; i < 6; i++) {
        hit(fold, 4 + i, 10000 + 900 * i, CORNER_RED, i == 2 ? OUTCOME_BLOCKED : OUTCOME_LANDED);
    }
    for (int i = 0; i < 6; i++) {
        hit(fold, 10 + i, 30000 + 900 * i, CORNER_BLUE, i < 2 ? OUTCOME_LANDED : OUTCOME_BLOCKED);
    }
    struct marks_plan plan = marks_plan_default;
    plan.kinds = MARK_FLURRY;
    assert_int_equal(find(&mark, fold, &plan), 1);
    assert_int_equal(mark[0].corner, CORNER_RED);
    assert_int_equal(mark[0].rank, 1);
    assert_int_equal(mark[0].ranked, 1);
    assert_int_equal(mark[0].at_ms, 10000);
    assert_int_equal(mark[0].end_ms, 14500);
    assert_int_equal(mark[0].count[CORNER_RED].landed, 5);
    assert_int_equal(mark[0].count[CORNER_RED].attempted, 6);
    free(mark);
    plan.kinds = MARK_LANDED;
    assert_int_equal(find(&mark, fold, &plan), 7);
    assert_int_equal(mark[0].kinds, MARK_LANDED);
    free(mark);
    struct entry answer =
        test_strike(0, 16, 12000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, OUTCOME_ATTEMPTED);
    put(fold, answer);
    plan.kinds = MARK_FLURRY | MARK_EXCHANGE;
    assert_int_equal(find(&mark, fold, &plan), 1);
    assert_int_equal(mark[0].kinds, MARK_EXCHANGE);
    free(mark);
    struct entry bell = test_entry(0, 17, 200000, ENTRY_CLOCK);
    bell.code = CODE_START;
    bell.round = 2;
    put(fold, bell);
    plan.kinds = MARK_BELL;
    size_t bells = find(&mark, fold, &plan);
    assert_true(bells >= 1);
    assert_int_equal(mark[bells - 1].round, 2);
    assert_int_equal(mark[bells - 1].at_ms, 200000);
    free(mark);
    fold_free(fold);
}

/* Four runs: two corners with 2 of 4 landed; one corner alone; two corners, nothing landed; two
 * corners with 2 of 3, cut by the bell before it. */
static void marks__find__exchanges_by_hand(void **state)
{
    (void)state;
    struct fold *fold = start();
    struct mark *mark = NULL;
    hit(fold, 4, 10000, CORNER_RED, OUTCOME_LANDED);
    hit(fold, 5, 11500, CORNER_BLUE, OUTCOME_ATTEMPTED); /* just within the gap */
    hit(fold, 6, 12000, CORNER_BLUE, OUTCOME_LANDED);
    hit(fold, 7, 12100, CORNER_RED, OUTCOME_BLOCKED);
    hit(fold, 8, 13601, CORNER_RED, OUTCOME_LANDED); /* a millisecond beyond it */
    hit(fold, 9, 14000, CORNER_RED, OUTCOME_LANDED);
    hit(fold, 10, 20000, CORNER_RED, OUTCOME_ATTEMPTED);
    hit(fold, 11, 20500, CORNER_BLUE, OUTCOME_BLOCKED);
    hit(fold, 12, 30000, CORNER_RED, OUTCOME_LANDED);
    for (int i = 0; i < 3; i++) {
        struct entry strike =
            test_strike(0, 13 + i, 30500 + 100 * i, i % 2 ? CORNER_RED : CORNER_BLUE, LIMB_KNEE,
                        TARGET_BODY, i ? OUTCOME_LANDED : OUTCOME_ATTEMPTED);
        strike.round = 2;
        put(fold, strike);
    }
    assert_int_equal(find(&mark, fold, &marks_plan_default), 2);
    assert_int_equal(mark[0].kinds, MARK_EXCHANGE);
    assert_int_equal(mark[0].rank, 1); /* as many landed, more thrown */
    assert_int_equal(mark[0].at_ms, 10000);
    assert_int_equal(mark[0].end_ms, 12100);
    assert_int_equal(mark[0].in_ms, 5000);
    assert_int_equal(mark[0].out_ms, 15100);
    assert_int_equal(mark[0].corner, CORNER_NONE);
    assert_int_equal(mark[0].count[CORNER_RED].attempted, 2);
    assert_int_equal(mark[0].count[CORNER_RED].landed, 1);
    assert_int_equal(mark[0].count[CORNER_BLUE].attempted, 2);
    assert_int_equal(mark[0].count[CORNER_BLUE].landed, 1);
    assert_int_equal(mark[1].rank, 2);
    assert_int_equal(mark[1].round, 2);
    assert_int_equal(mark[1].at_ms, 30500);
    assert_int_equal(mark[1].end_ms, 30700);
    free(mark);

    struct marks_plan plan = marks_plan_default;
    plan.top = 1;
    assert_int_equal(find(&mark, fold, &plan), 1);
    assert_int_equal(mark[0].at_ms, 10000);
    free(mark);
    plan.gap_ms = 1501; /* the first two runs are one now: 4 landed */
    assert_int_equal(find(&mark, fold, &plan), 1);
    assert_int_equal(mark[0].end_ms, 14000);
    assert_int_equal(mark[0].count[CORNER_RED].landed, 3);
    free(mark);
    fold_free(fold);
}

/* An inserted strike is written later than the moment that it speaks of. */
static void marks__find__an_inserted_strike_joins_its_exchange(void **state)
{
    (void)state;
    struct fold *fold = start();
    struct mark *mark = NULL;
    hit(fold, 4, 10000, CORNER_RED, OUTCOME_LANDED);
    struct entry late =
        test_strike(0, 5, 90000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED);
    late.at_ms = 9000;
    put(fold, late);
    assert_int_equal(find(&mark, fold, &marks_plan_default), 1);
    assert_int_equal(mark[0].at_ms, 9000);
    assert_int_equal(mark[0].end_ms, 10000);
    free(mark);
    fold_free(fold);
}

static void note(struct fold *fold, int desk, int64_t seq, int64_t utc, int64_t at,
                 const char *text)
{
    struct entry entry = test_entry(desk, seq, utc, ENTRY_NOTE);
    entry.at_ms = at;
    snprintf(entry.text, sizeof entry.text, "%s", text);
    put(fold, entry);
}

static void marks__sync__the_newest_live_one(void **state)
{
    (void)state;
    struct fold *fold = start();
    struct sync_point sync = {0};
    assert_false(marks_sync(&sync, fold));
    note(fold, 1, 1, 5000, 4000, "sync 01:02:03:04@25");
    assert_true(marks_sync(&sync, fold));
    assert_string_equal(sync.rate->name, "25");
    assert_int_equal(sync.frame, 93079);
    assert_int_equal(sync.utc_ms, 4000);
    note(fold, 0, 4, 6000, 3000, "sync 10:00:00;00@29.97df");
    note(fold, 0, 5, 7000, 7000, "sync or swim");
    assert_true(marks_sync(&sync, fold));
    assert_int_equal(sync.frame, 1078920);
    assert_int_equal(sync.utc_ms, 3000);
    struct entry entry = test_entry(0, 4, 6000, ENTRY_NOTE);
    put(fold, test_change(entry, 0, 6, 8000, ACT_VOID));
    assert_true(marks_sync(&sync, fold));
    assert_int_equal(sync.frame, 93079);
    fold_free(fold);
}

static void marks__first_bell__of_the_official_clock(void **state)
{
    (void)state;
    struct fold *fold = start();
    int64_t bell = 0;
    struct entry entry = test_entry(1, 1, 5000, ENTRY_CLOCK);
    entry.code = CODE_START;
    put(fold, entry); /* the shadow's */
    assert_false(marks_first_bell(&bell, fold));
    entry = test_entry(0, 4, 6000, ENTRY_CLOCK);
    entry.code = CODE_START;
    put(fold, entry);
    entry = test_entry(0, 5, 300000, ENTRY_CLOCK);
    entry.code = CODE_START;
    entry.round = 2;
    put(fold, entry);
    assert_true(marks_first_bell(&bell, fold));
    assert_int_equal(bell, 6000);
    /* A start taken back never was. */
    put(fold, test_change(test_entry(0, 4, 6000, ENTRY_CLOCK), 0, 6, 301000, ACT_VOID));
    entry = test_entry(0, 7, 302000, ENTRY_CLOCK);
    entry.code = CODE_START;
    entry.at_ms = 9000; /* the moment, whatever its place in the order */
    put(fold, entry);
    put(fold, test_change(test_entry(0, 5, 300000, ENTRY_CLOCK), 0, 8, 303000, ACT_VOID));
    assert_true(marks_first_bell(&bell, fold));
    assert_int_equal(bell, 9000);
    fold_free(fold);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(marks__find__each_kind_once_an_entry),
        cmocka_unit_test(marks__find__only_what_is_live_and_official),
        cmocka_unit_test(marks__find__exchanges_by_hand),
        cmocka_unit_test(marks__find__flurries_landed_and_bells),
        cmocka_unit_test(marks__find__an_inserted_strike_joins_its_exchange),
        cmocka_unit_test(marks__sync__the_newest_live_one),
        cmocka_unit_test(marks__first_bell__of_the_official_clock),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
