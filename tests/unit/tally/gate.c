/* What of a log may be told while kinds of it are held. */
#include "support.h"

#include <stdlib.h>

#include "ringtally/tally/gate.h"

#define HELD 1u << GATE_KNOCKDOWNS

struct told {
    struct fold *all, *fold;
    struct gate_state state;
};

static struct fold *fold_of(const struct entry *entries, size_t count)
{
    struct bout bout = test_bout();
    struct fold *fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL);
    struct desk_row desks[] = {test_desk("aaaa", 0), test_desk("bbbb", 1)};
    assert_non_null(fold);
    assert_int_equal(fold_desk(fold, &desks[0]), 0);
    assert_int_equal(fold_desk(fold, &desks[1]), 0);
    assert_int_equal(fold_add_all(fold, entries, count), 0);
    return fold;
}

static struct told tell(const struct entry *entries, size_t count, unsigned holds)
{
    struct told told = {.all = fold_of(entries, count)};
    struct bout bout = test_bout();
    assert_int_equal(gate_fold(&told.fold, &told.state, told.all, &bout, holds, NULL), 0);
    return told;
}

static void forget(struct told *told)
{
    fold_free(told->all);
    fold_free(told->fold);
}

static const struct corner_tally *corner_of(const struct told *told, enum corner corner)
{
    return &fold_tally(told->fold)->all.corner[corner];
}

static struct entry release(int64_t seq, int64_t utc_ms, struct entry_name of, enum entry_code code)
{
    struct desk_row desks[] = {test_desk("aaaa", 0), test_desk("bbbb", 1)};
    struct entry entry = test_entry(1, seq, utc_ms, ENTRY_RELEASE);
    entry.code = (uint8_t)code;
    gate_text(entry.text, desks, of, GATE_KNOCKDOWNS);
    return entry;
}

static struct entry landed(int64_t seq, int64_t utc_ms)
{
    return test_strike(0, seq, utc_ms, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED);
}

static struct entry marked(struct entry strike, int64_t seq, int64_t utc_ms)
{
    struct entry mark = test_change(strike, 0, seq, utc_ms, ACT_REFINE);
    mark.strike.technique |= TECHNIQUE_KNOCKDOWN;
    return mark;
}

static struct entry down(int64_t seq, int64_t utc_ms)
{
    struct entry entry = test_entry(0, seq, utc_ms, ENTRY_INCIDENT);
    entry.code = CODE_KNOCKED_DOWN;
    entry.strike.corner = CORNER_BLUE;
    return entry;
}

/* Both folds tell the same of everything. */
static void assert_same_fold(const struct fold *a, const struct fold *b)
{
    const struct entry *one = NULL, *other = NULL;
    size_t count = fold_entries(a, &one);
    assert_int_equal(fold_entries(b, &other), count);
    for (size_t i = 0; i < count; i++) {
        assert_memory_equal(&one[i], &other[i], sizeof *one);
    }
    assert_memory_equal(fold_tally(a), fold_tally(b), sizeof *fold_tally(a));
}

static void gate__held__is_as_if_it_had_not_been_said(void **state)
{
    (void)state;
    struct entry strike = landed(2, 1000);
    struct entry later = landed(6, 9000);
    struct entry flagged = test_change(strike, 0, 7, 9500, ACT_AMEND);
    flagged.review = true;
    struct entry known = marked(flagged, 7, 9500); /* an amendment carries the mark along */
    known.act = ACT_AMEND;
    struct entry undone = test_change(strike, 0, 4, 3000, ACT_REFINE);
    struct entry mark = marked(strike, 3, 2000), again = marked(strike, 5, 4000);
    undone.undoes = mark.name;
    struct entry entries[] = {
        test_official(0, 1, 10, CODE_RED),  strike,       mark, undone, again, later, known,
        test_official(0, 8, 11, CODE_BLUE), down(9, 9600)};
    entries[7].utc_ms = 9550;
    struct entry without[] = {entries[0], strike, later, flagged, entries[7]};
    struct told told = tell(entries, 9, HELD);
    struct fold *never = fold_of(without, 5);
    assert_same_fold(told.fold, never);
    assert_int_equal(fold_tally(told.all)->all.corner[CORNER_RED].knockdowns, 1);
    assert_int_equal(corner_of(&told, CORNER_RED)->knockdowns, 0);
    assert_int_equal(corner_of(&told, CORNER_RED)->all.landed, 2);
    assert_int_equal(corner_of(&told, CORNER_BLUE)->incidents[CODE_KNOCKED_DOWN], 0);
    assert_int_equal(told.state.waiting[GATE_KNOCKDOWNS], 2); /* the mark, and the incident */
    fold_free(never);
    forget(&told);
}

static void gate__released__is_told_whole_and_later_changes_wait(void **state)
{
    (void)state;
    struct entry strike = landed(2, 1000);
    struct entry mark = marked(strike, 3, 2000);
    struct entry moved = test_change(mark, 0, 4, 4000, ACT_AMEND);
    moved.strike.corner = CORNER_BLUE;
    struct entry body = test_change(mark, 0, 4, 4000, ACT_AMEND);
    body.strike.target = TARGET_BODY;
    struct entry entries[] = {test_official(0, 1, 10, CODE_RED), strike, mark,
                              release(1, 3000, strike.name, CODE_RELEASED), body};
    struct told told = tell(entries, 5, HELD);
    assert_same_fold(told.fold, told.all); /* the target is no claim that waits */
    assert_int_equal(told.state.waiting[GATE_KNOCKDOWNS], 0);
    forget(&told);

    struct entry blue = test_official(0, 9, 20, CODE_BLUE);
    struct entry other[] = {entries[0], strike, mark, entries[3], moved, blue};
    told = tell(other, 6, HELD);
    assert_int_equal(corner_of(&told, CORNER_BLUE)->knockdowns, 0);
    assert_int_equal(corner_of(&told, CORNER_RED)->knockdowns, 0);
    assert_int_equal(corner_of(&told, CORNER_BLUE)->all.landed, 1);
    assert_int_equal(told.state.waiting[GATE_KNOCKDOWNS], 1);
    forget(&told);
}

static void gate__withheld_after_all__is_off_and_so_is_its_word(void **state)
{
    (void)state;
    struct entry strike = landed(2, 1000);
    struct entry entries[] = {test_official(0, 1, 10, CODE_RED), strike, marked(strike, 3, 2000),
                              release(1, 3000, strike.name, CODE_RELEASED),
                              release(2, 3500, strike.name, CODE_WITHHELD)};
    struct told out = tell(entries, 4, HELD);
    struct told off = tell(entries, 5, HELD);
    struct told never = tell(entries, 3, HELD);
    assert_int_equal(corner_of(&out, CORNER_RED)->knockdowns, 1);
    assert_same_fold(off.fold, never.fold);
    assert_true(out.state.released != off.state.released);
    assert_true(never.state.released == off.state.released);
    forget(&out);
    forget(&off);
    forget(&never);
}

static void gate__taken_back__is_off_the_air_at_once(void **state)
{
    (void)state;
    struct entry fall = down(2, 1000);
    struct entry gone = test_change(fall, 0, 3, 4000, ACT_VOID);
    struct entry back = test_change(fall, 0, 4, 5000, ACT_RESTORE);
    struct entry entries[] = {test_official(0, 1, 10, CODE_BLUE), fall,
                              release(1, 3000, fall.name, CODE_RELEASED), gone, back};
    struct told told = tell(entries, 4, HELD);
    assert_int_equal(corner_of(&told, CORNER_BLUE)->downs, 0);
    assert_int_equal(told.state.waiting[GATE_KNOCKDOWNS], 0);
    forget(&told);
    told = tell(entries, 5, HELD); /* what comes again waits again */
    assert_int_equal(corner_of(&told, CORNER_BLUE)->downs, 0);
    assert_int_equal(told.state.waiting[GATE_KNOCKDOWNS], 1);
    forget(&told);
}

/* Wrong letter: a knocked down that is a warning a second later is a warning and nothing else. */
static void gate__held_beginning__what_follows_stands_alone(void **state)
{
    (void)state;
    struct entry fall = down(2, 1000);
    struct entry warned = test_change(fall, 0, 3, 2000, ACT_AMEND);
    warned.code = CODE_WARNING;
    struct entry flagged = test_change(warned, 0, 4, 3000, ACT_AMEND);
    flagged.review = true;
    struct entry entries[] = {test_official(0, 1, 10, CODE_BLUE), fall, warned, flagged};
    struct told told = tell(entries, 4, HELD);
    const struct subject *subjects = NULL;
    assert_int_equal(fold_subjects(told.fold, &subjects), 1);
    assert_int_equal(subjects[0].now.code, CODE_WARNING);
    assert_true(subjects[0].now.review && subjects[0].counts);
    assert_int_equal(corner_of(&told, CORNER_BLUE)->incidents[CODE_WARNING], 1);
    assert_int_equal(corner_of(&told, CORNER_BLUE)->downs, 0);
    forget(&told);
}

static void gate__kinds__each_by_itself(void **state)
{
    (void)state;
    struct entry ended = test_entry(0, 2, 1000, ENTRY_RESULT);
    ended.code = CODE_ENDED;
    struct entry announced = test_entry(0, 3, 2000, ENTRY_RESULT);
    announced.code = CODE_ANNOUNCED;
    struct entry score = test_entry(0, 4, 3000, ENTRY_SCORE);
    struct entry warning = test_entry(0, 5, 4000, ENTRY_INCIDENT);
    warning.code = CODE_WARNING;
    struct entry entries[] = {test_official(0, 1, 10, CODE_RED), ended, announced, score, warning};
    static const int left[GATE_KINDS] = {5, 4, 4, 3};
    for (int kind = 0; kind < GATE_KINDS; kind++) {
        const struct entry *shown = NULL;
        struct told told = tell(entries, 5, 1u << kind);
        assert_int_equal(fold_entries(told.fold, &shown), left[kind]);
        forget(&told);
    }
    unsigned holds = 0;
    struct error err = {0};
    assert_int_equal(gate_parse(&holds, "results,knockdowns", &err), 0);
    assert_int_equal(holds, 1u << GATE_RESULTS | 1u << GATE_KNOCKDOWNS);
    assert_int_equal(gate_parse(&holds, "all", &err), 0);
    assert_int_equal(holds, GATE_ALL);
    assert_int_not_equal(gate_parse(&holds, "results,", &err), 0);
    assert_non_null(strstr(err.text, "knockdowns, incidents, results, decisions or all"));
}

/* Whatever a tagger does: nothing of a knockdown is told, and all else is. */
static void gate__random_logs__tell_no_knockdown_and_all_else(void **state)
{
    (void)state;
    uint64_t seed = 7;
    for (int bout = 0; bout < 200; bout++) {
        struct entry entries[80] = {test_official(0, 1, 10, CODE_RED),
                                    test_official(0, 2, 11, CODE_BLUE)};
        size_t first[80];
        size_t count = 2, firsts = 0;
        while (count < 80) {
            seed = seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            unsigned dice = (unsigned)(seed >> 33);
            int64_t seq = (int64_t)count + 1, at = 1000 * seq;
            struct entry *next = &entries[count];
            if (firsts == 0 || dice % 3 == 0) {
                *next = dice % 9 == 0 ? down(seq, at) : landed(seq, at);
                first[firsts++] = count;
            } else {
                static const enum entry_act acts[] = {ACT_REFINE, ACT_AMEND, ACT_VOID, ACT_RESTORE};
                const struct entry *of = &entries[first[dice / 4 % firsts]];
                *next = test_change(*of, 0, seq, at, acts[dice / 64 % 4]);
                next->strike.technique =
                    of->kind == ENTRY_STRIKE && dice / 256 % 2 ? TECHNIQUE_KNOCKDOWN : 0;
                next->strike.target = dice / 512 % 3;
            }
            count++;
        }
        struct told told = tell(entries, count, HELD);
        for (size_t i = 0; i < count; i++) {
            entries[i].strike.technique = 0;
        }
        struct fold *plain = fold_of(entries, count);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct corner_tally *told_of = corner_of(&told, (enum corner)corner);
            const struct corner_tally *plain_of = &fold_tally(plain)->all.corner[corner];
            assert_int_equal(told_of->knockdowns, 0);
            assert_int_equal(told_of->downs, 0);
            assert_int_equal(told_of->all.attempted, plain_of->all.attempted);
            assert_int_equal(told_of->all.landed, plain_of->all.landed);
            assert_memory_equal(told_of->target, plain_of->target, sizeof plain_of->target);
        }
        const struct entry *shown = NULL;
        size_t shown_count = fold_entries(told.fold, &shown);
        for (size_t i = 0; i < shown_count; i++) {
            assert_false(shown[i].strike.technique & TECHNIQUE_KNOCKDOWN);
            assert_int_not_equal(shown[i].code, CODE_KNOCKED_DOWN);
        }
        fold_free(plain);
        forget(&told);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gate__held__is_as_if_it_had_not_been_said),
        cmocka_unit_test(gate__released__is_told_whole_and_later_changes_wait),
        cmocka_unit_test(gate__withheld_after_all__is_off_and_so_is_its_word),
        cmocka_unit_test(gate__taken_back__is_off_the_air_at_once),
        cmocka_unit_test(gate__held_beginning__what_follows_stands_alone),
        cmocka_unit_test(gate__kinds__each_by_itself),
        cmocka_unit_test(gate__random_logs__tell_no_knockdown_and_all_else),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
