/* reference.c: a live desk with known errors, held against what happened, must give those errors
 * back. The bouts are made up; errors are drawn strike by strike. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/embedded.h"
#include "ringtally/bout/recording.h"
#include "ringtally/insight/reference.h"

#define START   INT64_C(1700000000000)
#define ROUNDS  3
#define STRIKES 120 /* a round */
#define MOST    (ROUNDS * (4 * STRIKES + 4) + 16)

static struct rules rules;
static struct bout bout;

static struct desk_row desks[] = {
    {.uid = "aaaa", .name = "live", .operator_ = "live", .corners = 3, .root = 0},
    {.uid = "bbbb", .name = "ana-rec", .operator_ = "ana", .corners = 3, .root = 1, .shadow = true},
};

struct errors {
    double missed, limb, landed, added, corrected;
    double late_ms, jitter_ms;
};

struct log {
    struct entry entry[MOST];
    size_t count;
    int64_t seq[2], utc_ms;
};

static uint64_t seed;
static int64_t zero_ms = START - 86400000; /* of the recording, on its desk's clock */

static double uniform(void)
{
    seed += 0x9e3779b97f4a7c15u; /* splitmix64, Steele and others 2014, from memory */
    uint64_t z = seed;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static double normal(void)
{
    return sqrt(-2 * log(1 - uniform())) * cos(6.283185307179586 * uniform());
}

static struct entry *put(struct log *log, int desk, enum entry_kind kind, int64_t at_ms)
{
    struct entry *entry = &log->entry[log->count++];
    assert_true(log->count <= MOST);
    *entry = (struct entry){.name = {desk, ++log->seq[desk]},
                            .undoes = ENTRY_NONE,
                            .utc_ms = ++log->utc_ms,
                            .at_ms = at_ms,
                            .kind = (uint8_t)kind,
                            .round = 1};
    entry->subject = entry->name;
    return entry;
}

static void put_strike(struct log *log, int desk, const struct strike *strike, int round,
                       int64_t elapsed_ms, int64_t at_ms)
{
    struct entry *entry = put(log, desk, ENTRY_STRIKE, at_ms);
    entry->strike = *strike;
    entry->round = (uint8_t)round;
    entry->elapsed_ms = (int32_t)elapsed_ms;
}

static struct strike some_strike(void)
{
    static const struct {
        uint8_t limb, target;
    } kinds[] = {{LIMB_LEFT_HAND, TARGET_HEAD}, {LIMB_RIGHT_HAND, TARGET_HEAD},
                 {LIMB_LEFT_HAND, TARGET_BODY}, {LIMB_RIGHT_HAND, TARGET_BODY},
                 {LIMB_LEFT_LEG, TARGET_LEG},   {LIMB_RIGHT_LEG, TARGET_LEG},
                 {LIMB_RIGHT_LEG, TARGET_BODY}, {LIMB_LEFT_HAND, TARGET_HEAD}};
    int kind = (int)(uniform() * 8);
    return (struct strike){.corner = uniform() < 0.5 ? CORNER_RED : CORNER_BLUE,
                           .limb = kinds[kind].limb,
                           .target = kinds[kind].target,
                           .outcome = uniform() < 0.35 ? OUTCOME_LANDED : OUTCOME_ATTEMPTED};
}

static struct strike other_limb(struct strike strike)
{
    static const uint8_t other[LIMB_COUNT] = {[LIMB_LEFT_HAND] = LIMB_RIGHT_HAND,
                                              [LIMB_RIGHT_HAND] = LIMB_LEFT_HAND,
                                              [LIMB_LEFT_LEG] = LIMB_RIGHT_LEG,
                                              [LIMB_RIGHT_LEG] = LIMB_LEFT_LEG};
    strike.limb = other[strike.limb];
    return strike;
}

/* A bout of combinations; desk 1 has all of it to the frame, desk 0 what the errors leave of it. */
static void make_bout(struct log *log, const struct errors *errors, int *happened, int *missed)
{
    struct recording recording = {.rate_mhz = 25000, .name = "bout.mkv"};
    *log = (struct log){.utc_ms = START};
    *happened = *missed = 0;
    for (int code = CODE_RED; code <= CODE_CLOCK; code++) {
        put(log, 0, ENTRY_OFFICIAL, START)->code = (uint8_t)code;
    }
    recording_print(put(log, 1, ENTRY_NOTE, zero_ms)->text, &recording);
    for (int round = 1; round <= ROUNDS; round++) {
        int64_t bell_ms = 10000 + (round - 1) * INT64_C(240000);
        double at = 800;
        struct entry *bell = put(log, 0, ENTRY_CLOCK, START + bell_ms);
        bell->code = CODE_START;
        bell->round = (uint8_t)round;
        bell = put(log, 1, ENTRY_CLOCK, zero_ms + bell_ms);
        bell->code = CODE_START;
        bell->round = (uint8_t)round;
        for (int i = 0; i < STRIKES && at < 178000; i++) {
            struct strike strike = some_strike();
            int64_t frame_ms = (int64_t)at / 40 * 40;
            (*happened)++;
            put_strike(log, 1, &strike, round, 0, zero_ms + bell_ms + frame_ms);
            at += uniform() < 0.55 ? 250 + 300 * uniform() : 1200 + 2600 * uniform();
            if (uniform() < errors->missed) {
                (*missed)++;
                continue;
            }
            double late = errors->late_ms + errors->jitter_ms * normal();
            int64_t live_ms = frame_ms + (int64_t)(late > 0 ? late : 0);
            struct strike right = strike;
            strike = uniform() < errors->limb ? other_limb(strike) : strike;
            if (uniform() < errors->landed) {
                strike.outcome =
                    strike.outcome == OUTCOME_LANDED ? OUTCOME_ATTEMPTED : OUTCOME_LANDED;
            }
            put_strike(log, 0, &strike, round, live_ms, START + bell_ms + live_ms);
            if (uniform() < errors->corrected) {
                struct entry was = log->entry[log->count - 1];
                struct entry *fixed = put(log, 0, ENTRY_STRIKE, was.at_ms);
                fixed->act = ACT_AMEND;
                fixed->subject = was.name;
                fixed->strike = right;
                fixed->round = was.round;
                fixed->elapsed_ms = was.elapsed_ms;
                /* What it said at first was wrong in any case. */
                log->entry[log->count - 2].strike = other_limb(right);
            }
            if (uniform() < errors->added) {
                struct strike more = some_strike();
                put_strike(log, 0, &more, round, live_ms + 600, START + bell_ms + live_ms + 600);
            }
        }
    }
}

static struct fold *fold_of(const struct log *log)
{
    struct clock_plan plan = clock_plan(&rules, ROUNDS);
    struct fold *fold = fold_new(&plan, &bout, FOLD_OFFICIAL);
    assert_non_null(fold);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(fold_desk(fold, &desks[i]), 0);
    }
    assert_int_equal(fold_add_all(fold, log->entry, log->count), 0);
    return fold;
}

static struct reference check(const struct log *log)
{
    struct reference out;
    struct fold *fold = fold_of(log);
    uint8_t corners = 0;
    assert_int_equal(reference_find(fold, &corners), 1);
    assert_int_equal(corners, 3);
    assert_int_equal(reference_make(&out, fold, &bout, &rules, 1, REFERENCE_OFFICIAL, 3), 0);
    fold_free(fold);
    return out;
}

static bool holds(const struct estimate *estimate, double value)
{
    return estimate->defined && value >= estimate->low && value <= estimate->high;
}

/* 200 bouts with 8 % missed, 4 % with the wrong limb, keys late by 300 ± 120 ms. An interval of 95
 * % misses its rate in one bout of twenty: in 200 bouts 190 hold it, and fewer than 181 in one of a
 * thousand such tests (binomial, own arithmetic). */
static void reference__make__gives_known_errors_back(void **state)
{
    enum { BOUTS = 200, LEAST = 181 };
    const struct errors errors = {.missed = 0.08, .limb = 0.04, .late_ms = 300, .jitter_ms = 120};
    struct log *log = malloc(sizeof *log);
    int had = 0, limb = 0;
    double recall = 0, wrong = 0, median = 0, p90 = 0;
    (void)state;
    assert_non_null(log);
    for (int i = 0; i < BOUTS; i++) {
        int happened = 0, missed = 0;
        seed = (uint64_t)i * 7919 + 1;
        make_bout(log, &errors, &happened, &missed);
        struct reference out = check(log);
        assert_true(out.tells);
        assert_int_equal(out.row[0].by, BY_ALL);
        assert_int_equal(out.row[0].of, happened);
        had += holds(&out.row[0].recall, 1 - errors.missed);
        limb += holds(&out.wrong[AGREE_LIMB], errors.limb);
        recall += out.row[0].recall.value;
        wrong += out.wrong[AGREE_LIMB].value;
        median += out.lag.median_ms;
        p90 += out.lag.p90_ms;
        /* In this very bout, as it was dealt. */
        if (fabs(out.row[0].of - out.row[0].had - missed) > 6) {
            fail_msg("bout %d: %d missed, told %.1f", i, missed, out.row[0].of - out.row[0].had);
        }
        reference_release(&out);
    }
    printf("recall %.4f in %d, limb %.4f in %d, lag %.0f, p90 %.0f\n", recall / BOUTS, had,
           wrong / BOUTS, limb, median / BOUTS, p90 / BOUTS);
    assert_true(had >= LEAST);
    assert_true(limb >= LEAST);
    assert_true(fabs(recall / BOUTS - 0.92) < 0.005);
    assert_true(fabs(wrong / BOUTS - 0.04) < 0.005);
    assert_true(fabs(median / BOUTS - 300) < 10);
    assert_true(fabs(p90 / BOUTS - (300 + 1.2816 * 120)) < 15); /* the normal's 90 % */
    free(log);
}

/* A perfect live desk, and its rows: they add up to the whole by each kind. */
static void reference__make__a_perfect_desk(void **state)
{
    const struct errors none = {.late_ms = 250};
    struct log *log = malloc(sizeof *log);
    int happened = 0, missed = 0, of[BY_KINDS] = {0};
    char line[300];
    (void)state;
    assert_non_null(log);
    seed = 5;
    make_bout(log, &none, &happened, &missed);
    struct reference out = check(log);
    for (size_t i = 0; i < out.rows; i++) {
        of[out.row[i].by] += out.row[i].of;
        assert_true(fabs(out.row[i].had - out.row[i].of) < 0.2);
        assert_true(fabs(out.row[i].first - out.row[i].of) < 0.2);
        assert_true(out.row[i].added < 0.2);
    }
    for (int by = 0; by < BY_KINDS; by++) {
        assert_int_equal(of[by], happened);
    }
    assert_true(out.sensitivity.value > 0.999 && out.ppv.value > 0.999);
    assert_true(fabs(out.agree.field[AGREE_LANDED].ac1.value - 1) < 1e-9);
    assert_true(fabs(out.lag.median_ms - 250) < 1 && fabs(out.lag_drift_ms) < 1);
    assert_int_equal(out.figure[CORNER_RED].live[0], out.figure[CORNER_RED].reference[0]);
    reference_line(line, sizeof line, &out);
    assert_non_null(strstr(line, "live count checked against the recording: "));
    assert_non_null(strstr(line, "100%"));
    reference_release(&out);
    free(log);
}

/* Whatever time the file bears, before the bout, at it or after it: the official clock's bells are
 * not the recording's. */
static void reference__make__whenever_the_file_was_written(void **state)
{
    static const int64_t off_ms[] = {-86400000, -300, 0, 700, 250000, 86400000};
    const struct errors errors = {.missed = 0.1, .late_ms = 250, .jitter_ms = 50};
    struct log *log = malloc(sizeof *log);
    int64_t as_it_was = zero_ms;
    (void)state;
    assert_non_null(log);
    for (size_t i = 0; i < sizeof off_ms / sizeof *off_ms; i++) {
        int happened = 0, missed = 0;
        seed = 33;
        zero_ms = START + off_ms[i];
        make_bout(log, &errors, &happened, &missed);
        struct reference out = check(log);
        assert_true(out.tells);
        assert_true(fabs(out.row[0].of - out.row[0].had - missed) < 4);
        assert_true(fabs(out.lag.median_ms - 250) < 15);
        reference_release(&out);
    }
    zero_ms = as_it_was;
    free(log);
}

/* The live bells' own keys come late, by another span each round; and the keys tire by 20 ms a
 * minute. Each round's lag is what it is beyond its bell's, the drift does not know of bells. */
static void reference__make__the_bells_keys_are_late_too(void **state)
{
    static const int64_t bell_ms[ROUNDS] = {100, 700, 400};
    const struct errors late = {.late_ms = 900};
    struct log *log = malloc(sizeof *log);
    int happened = 0, missed = 0;
    (void)state;
    assert_non_null(log);
    seed = 21;
    make_bout(log, &late, &happened, &missed);
    for (size_t i = 0; i < log->count; i++) {
        struct entry *entry = &log->entry[i];
        if (entry->name.desk == 0 && entry->kind == ENTRY_STRIKE) {
            entry->elapsed_ms +=
                (int32_t)(20.0 * entry->elapsed_ms / 60000 - (double)bell_ms[entry->round - 1]);
        }
    }
    struct reference out = check(log);
    assert_true(out.tells);
    for (int round = 1; round <= ROUNDS; round++) {
        double is = 900.0 - (double)bell_ms[round - 1] + 20 * 1.5; /* in the middle of a round */
        assert_true(out.lag_round[round].of > STRIKES / 2);
        assert_true(fabs(out.lag_round[round].median_ms - is) < 12);
    }
    assert_true(fabs(out.lag_drift_ms - 20) < 2);
    char words[200];
    reference_lag_words(words, sizeof words, &out);
    assert_non_null(strstr(words, "; R1 8"));
    reference_release(&out);
    free(log);
}

/* What was put right live is right, and was not so at first; what a settlement brought in nobody
 * saw live. */
static void reference__make__corrections_and_settlements(void **state)
{
    const struct errors errors = {.late_ms = 250, .corrected = 0.1, .landed = 0.05, .added = 0.03};
    struct log *log = malloc(sizeof *log);
    int happened = 0, missed = 0, fixed = 0;
    (void)state;
    assert_non_null(log);
    seed = 77;
    make_bout(log, &errors, &happened, &missed);
    for (size_t i = 0; i < log->count; i++) {
        fixed += log->entry[i].act == ACT_AMEND;
    }
    struct reference before = check(log);
    assert_true(fixed > 20);
    assert_true(fabs(before.row[0].right - before.row[0].first - fixed) < 3);
    assert_true(before.row[0].added > 3);
    assert_true(holds(&before.wrong[AGREE_LANDED], 0.05));
    /* Settled as the recording says: each wrong outcome put right, a strike put in. */
    size_t count = log->count;
    for (size_t i = 0; i < count && log->count + 2 < MOST; i++) {
        struct entry was = log->entry[i];
        if (was.name.desk == 0 && was.kind == ENTRY_STRIKE && was.act == ACT_ADD && i % 9 == 0) {
            struct entry *settled = put(log, 0, ENTRY_STRIKE, was.at_ms);
            settled->act = ACT_AMEND;
            settled->subject = was.name;
            settled->strike = other_limb(was.strike);
            settled->accepted = true;
            settled->round = was.round;
            settled->elapsed_ms = was.elapsed_ms;
            break;
        }
    }
    struct strike strike = some_strike();
    put_strike(log, 0, &strike, 2, 90000, START + 340000);
    log->entry[log->count - 1].value = ENTRY_INSERTED;
    log->entry[log->count - 1].accepted = true;
    struct reference after = check(log);
    assert_int_equal(after.agree.b_count, before.agree.b_count);
    assert_true(fabs(after.row[0].right - before.row[0].right) < 1e-6);
    reference_release(&before);
    reference_release(&after);
    free(log);
}

/* Two bouts that have nothing in common: no rate is given. */
static void reference__make__nothing_in_common(void **state)
{
    const struct errors all = {.missed = 1, .added = 0};
    struct log *log = malloc(sizeof *log);
    int happened = 0, missed = 0;
    char line[300];
    (void)state;
    assert_non_null(log);
    seed = 9;
    make_bout(log, &all, &happened, &missed);
    for (int i = 0; i < 200; i++) {
        struct strike strike = some_strike();
        int64_t at = (int64_t)(uniform() * 178000);
        put_strike(log, 0, &strike, 1 + i % 3, at, START + 10000 + i % 3 * INT64_C(240000) + at);
    }
    struct reference out = check(log);
    assert_false(out.tells);
    reference_line(line, sizeof line, &out);
    assert_non_null(strstr(line, "cannot be told"));
    reference_release(&out);
    free(log);
}

static int load_rules(void **state)
{
    struct error err = {0};
    const struct embedded *text = embedded_find("rules/kickboxing.ini");
    (void)state;
    bout.rounds = ROUNDS;
    return rules_parse(&rules, text->data, text->size, "rules", &err);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reference__make__gives_known_errors_back),
        cmocka_unit_test(reference__make__a_perfect_desk),
        cmocka_unit_test(reference__make__whenever_the_file_was_written),
        cmocka_unit_test(reference__make__the_bells_keys_are_late_too),
        cmocka_unit_test(reference__make__corrections_and_settlements),
        cmocka_unit_test(reference__make__nothing_in_common),
    };
    return cmocka_run_group_tests(tests, load_rules, NULL);
}
