/* Coverage: over which time somebody was there to tag, worked out by hand for each case. */
#include "support.h"

#include "ringtally/tally/coverage.h"

#define BELL 1000000 /* UTC of the first bell */

struct ring {
    struct fold *fold;
    int64_t seq[4];
    int desks;
};

static struct ring ring_new(int whose)
{
    struct bout bout = test_bout();
    struct ring ring = {.fold = fold_new(&test_plan, &bout, whose)};
    assert_non_null(ring.fold);
    return ring;
}

/* A desk, or the session that goes on from one. */
static int opens(struct ring *ring, int root, int64_t opened_ms)
{
    char uid[8];
    snprintf(uid, sizeof uid, "d%d", ring->desks);
    struct desk_row row = test_desk(uid, root < 0 ? ring->desks : root);
    row.opened_ms = opened_ms;
    assert_int_equal(fold_desk(ring->fold, &row), 0);
    return ring->desks++;
}

static void add(struct ring *ring, struct entry entry)
{
    assert_null(entry_fault(&entry, ring->desks));
    assert_int_equal(fold_add(ring->fold, &entry), 0);
}

static void claims(struct ring *ring, int desk, int64_t utc_ms, enum entry_code code)
{
    add(ring, test_official(desk, ++ring->seq[desk], utc_ms, code));
}

static void clock_entry(struct ring *ring, int desk, int64_t utc_ms, enum entry_code code,
                        int round, int32_t elapsed_ms, int64_t value)
{
    struct entry entry = test_entry(desk, ++ring->seq[desk], utc_ms, ENTRY_CLOCK);
    entry.code = (uint8_t)code;
    entry.round = (uint8_t)round;
    entry.elapsed_ms = elapsed_ms;
    entry.value = value;
    add(ring, entry);
}

static void strikes(struct ring *ring, int desk, int64_t utc_ms, enum corner corner)
{
    add(ring, test_strike(desk, ++ring->seq[desk], utc_ms, corner, LIMB_LEFT_HAND, TARGET_HEAD, 0));
}

static struct coverage at(const struct ring *ring, const struct desk_sign *signs, int64_t now_ms)
{
    struct coverage coverage;
    struct error err = {0};
    assert_int_equal(coverage_init(&coverage, ring->fold, signs, now_ms, &err), 0);
    for (int round = 0; round <= ROUND_MAX; round++) { /* holds whatever the case */
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct coverage_part *part = coverage_of(&coverage, round, corner);
            assert_int_equal(part->ran_ms, clock_ran(fold_clock(ring->fold), round, now_ms));
            assert_true(part->covered_ms >= 0 && part->covered_ms <= part->ran_ms);
        }
    }
    return coverage;
}

static void gap_is(const struct coverage *coverage, size_t index, const char *expected)
{
    char words[80];
    assert_true(index < coverage->gaps);
    coverage_words(words, sizeof words, &coverage->gap[index]);
    assert_string_equal(words, expected);
}

/* One desk, official for all, and round 1 from the bell. */
static struct ring one_desk(void)
{
    struct ring ring = ring_new(FOLD_OFFICIAL);
    int a = opens(&ring, -1, BELL - 60000);
    claims(&ring, a, BELL - 59000, CODE_RED);
    claims(&ring, a, BELL - 59000, CODE_BLUE);
    claims(&ring, a, BELL - 59000, CODE_CLOCK);
    clock_entry(&ring, a, BELL, CODE_START, 1, 0, 0);
    return ring;
}

static void coverage__whole__a_desk_that_is_there_or_of_which_nothing_is_known(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    struct desk_sign live = {.held = true, .seen_ms = BELL + 99500, .age_ms = 500};
    strikes(&ring, 0, BELL + 5000, CORNER_RED);
    struct coverage coverage = at(&ring, &live, BELL + 100000);
    assert_int_equal(coverage.gaps, 0);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_BLUE)->covered_ms, 100000);
    assert_true(coverage_whole(&coverage, 0, CORNER_BLUE));
    coverage_release(&coverage);
    coverage = at(&ring, NULL, BELL + 500000);
    assert_int_equal(coverage.gaps, 0);
    assert_int_equal(coverage_of(&coverage, 0, CORNER_RED)->covered_ms, 180000);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

static void coverage__untagged__a_corner_without_a_desk(void **state)
{
    (void)state;
    struct ring ring = ring_new(FOLD_OFFICIAL);
    int a = opens(&ring, -1, BELL - 60000);
    claims(&ring, a, BELL - 59000, CODE_RED);
    claims(&ring, a, BELL - 59000, CODE_CLOCK);
    struct coverage coverage = at(&ring, NULL, BELL - 1000);
    assert_true(coverage_of(&coverage, 0, CORNER_BLUE)->tagged); /* nothing was missed yet */
    coverage_release(&coverage);
    strikes(&ring, a, BELL - 500, CORNER_RED); /* somebody forgot the clock */
    coverage = at(&ring, NULL, BELL - 400);
    assert_true(coverage_of(&coverage, 0, CORNER_RED)->tagged);
    assert_false(coverage_of(&coverage, 0, CORNER_BLUE)->tagged);
    coverage_release(&coverage);
    clock_entry(&ring, a, BELL, CODE_START, 1, 0, 0);
    clock_entry(&ring, a, BELL + 240000, CODE_START, 2, 0, 0);
    int b = opens(&ring, -1, BELL + 269000);
    claims(&ring, b, BELL + 270000, CODE_BLUE); /* blue's desk comes 30 s into round 2 */
    coverage = at(&ring, NULL, BELL + 300000);
    assert_int_equal(coverage.gaps, 2);
    gap_is(&coverage, 0, "blue: nobody official R1 0:00-3:00");
    gap_is(&coverage, 1, "blue: nobody official R2 0:00-0:30");
    assert_false(coverage_of(&coverage, 1, CORNER_BLUE)->tagged);
    assert_true(coverage_of(&coverage, 2, CORNER_BLUE)->tagged);
    assert_true(coverage_of(&coverage, 0, CORNER_BLUE)->tagged);
    assert_int_equal(coverage_of(&coverage, 0, CORNER_BLUE)->covered_ms, 30000);
    assert_true(coverage_whole(&coverage, 0, CORNER_RED));
    assert_int_equal(coverage_between(&coverage, 2, CORNER_BLUE, 20000, 30000), 0);
    assert_int_equal(coverage_between(&coverage, 2, CORNER_BLUE, 25000, 35000), 5000);
    assert_int_equal(coverage_between(&coverage, 2, CORNER_BLUE, 30000, 40000), 10000);
    assert_int_equal(coverage_between(&coverage, 2, CORNER_RED, 0, 60000), 60000);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

/* Strikes until 0:18, killed, the same operator comes back at 0:49. */
static void coverage__away__between_two_sessions_of_a_desk(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    strikes(&ring, 0, BELL + 18000, CORNER_RED);
    opens(&ring, 0, BELL + 49000);
    strikes(&ring, 1, BELL + 55000, CORNER_BLUE);
    struct desk_sign left = {.left = true, .seen_ms = BELL + 58900, .age_ms = 1};
    struct desk_sign signs[] = {left, left};
    struct coverage coverage = at(&ring, signs, BELL + 59000);
    assert_int_equal(coverage.gaps, 1); /* both corners in one; the last 100 ms are none */
    gap_is(&coverage, 0, "nobody at the desk R1 0:18-0:49");
    coverage_release(&coverage);
    signs[0].session_ms = BELL + 21000; /* it was there for a while after its last key */
    coverage = at(&ring, signs, BELL + 59000);
    gap_is(&coverage, 0, "nobody at the desk R1 0:21-0:49");
    coverage_release(&coverage);
    signs[0].session_ms = 0;
    coverage = at(&ring, signs, BELL + 59000);
    assert_int_equal(coverage.gap[0].desk, 0);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_RED)->covered_ms, 28000);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

static void coverage__away__after_the_last_sign(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    strikes(&ring, 0, BELL + 60000, CORNER_RED);
    const struct {
        struct desk_sign sign;
        const char *gap; /* at the bell; "" none */
    } cases[] = {
        {{.seen_ms = BELL + 75000, .age_ms = 105000}, "nobody at the desk R1 1:15-3:00"},
        {{.seen_ms = BELL + 40000, .age_ms = 140000}, "nobody at the desk R1 1:00-3:00"},
        {{.held = true, .seen_ms = BELL + 75000, .age_ms = 105000}, /* it hangs */
         "nobody at the desk R1 1:15-3:00"},
        {{.left = true, .seen_ms = BELL + 90000, .age_ms = 90000},
         "nobody at the desk R1 1:30-3:00"},
        {{.left = true, .seen_ms = BELL - 90000, .age_ms = 270000}, ""}, /* a script ran ahead */
        {{.held = true, .seen_ms = BELL + 179500, .age_ms = 500}, ""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct coverage coverage = at(&ring, &cases[i].sign, BELL + 180000);
        assert_int_equal(coverage.gaps, cases[i].gap[0] != '\0');
        if (coverage.gaps) {
            gap_is(&coverage, 0, cases[i].gap);
        }
        coverage_release(&coverage);
    }
    fold_free(ring.fold);
}

/* A takes B's place: no gap while either is there, and none for the corner that goes on. */
static void coverage__handover__one_desk_takes_over_from_a_dead_one(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    int b = opens(&ring, -1, BELL - 30000);
    claims(&ring, b, BELL - 20000, CODE_BLUE);
    strikes(&ring, 0, BELL + 20000, CORNER_RED);
    strikes(&ring, b, BELL + 21000, CORNER_BLUE);
    claims(&ring, b, BELL + 32000, CODE_RED);
    const struct desk_sign signs[] = {{.seen_ms = BELL + 20500, .age_ms = 39500},
                                      {.held = true, .seen_ms = BELL + 59900, .age_ms = 100}};
    struct coverage coverage = at(&ring, signs, BELL + 60000);
    assert_int_equal(coverage.gaps, 1);
    assert_int_equal(coverage.gap[0].corners, 1 << CORNER_RED);
    assert_int_equal(coverage.gap[0].from_ms, 20500);
    assert_int_equal(coverage.gap[0].to_ms, 32000);
    assert_true(coverage_whole(&coverage, 1, CORNER_BLUE));
    coverage_release(&coverage);
    fold_free(ring.fold);
}

/* The gap is on the round clock: what passed while it stood is none. */
static void coverage__clock__stops_and_corrections(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    clock_entry(&ring, 0, BELL + 60000, CODE_STOP, 1, 60000, 0);
    opens(&ring, 0, BELL + 100000); /* away from 1:00 on, back before it goes on */
    clock_entry(&ring, 1, BELL + 110000, CODE_START, 1, 60000, 0);
    struct coverage coverage = at(&ring, NULL, BELL + 130000);
    assert_int_equal(coverage.gaps, 0);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_RED)->covered_ms, 80000);
    coverage_release(&coverage);

    /* Started ten seconds late: it ran already before the newest start, with somebody there. */
    clock_entry(&ring, 1, BELL + 140000, CODE_NUDGE, 1, 90000, 10000);
    coverage = at(&ring, NULL, BELL + 150000);
    assert_int_equal(coverage.gaps, 0);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_RED)->covered_ms, 110000);
    coverage_release(&coverage);

    /* Thirty seconds too many: the newest stretch began later. */
    clock_entry(&ring, 1, BELL + 150000, CODE_NUDGE, 1, 110000, -30000);
    coverage = at(&ring, NULL, BELL + 160000);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_RED)->covered_ms, 90000);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

/* A start that was taken back never was, so nobody was away in it. */
static void coverage__clock__a_start_taken_back(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    struct entry start = test_entry(0, ring.seq[0], BELL, ENTRY_CLOCK);
    start.code = CODE_START;
    add(&ring, test_change(start, 0, ++ring.seq[0], BELL + 5000, ACT_VOID));
    const struct desk_sign lost = {.seen_ms = BELL + 6000, .age_ms = 100000};
    struct coverage coverage = at(&ring, &lost, BELL + 106000);
    assert_int_equal(coverage.gaps, 0);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_RED)->ran_ms, 0);
    assert_true(coverage_of(&coverage, 1, CORNER_RED)->tagged);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

/* The machine's clock is put back by an hour in the round: the desk was there all the time. */
static void coverage__clock__a_wall_clock_that_jumped(void **state)
{
    (void)state;
    struct ring ring = one_desk();
    struct entry jump = test_entry(0, ++ring.seq[0], BELL + 30001, ENTRY_CLOCK);
    jump.code = CODE_JUMP;
    jump.at_ms = BELL + 30000 - 500000;
    jump.value = -500000;
    jump.elapsed_ms = 30000;
    add(&ring, jump);
    struct entry strike =
        test_strike(0, ++ring.seq[0], BELL + 30002, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, 0);
    strike.at_ms = BELL + 40000 - 500000;
    add(&ring, strike);
    const struct desk_sign live = {.held = true, .seen_ms = BELL + 49500 - 500000, .age_ms = 500};
    struct coverage coverage = at(&ring, &live, BELL + 50000 - 500000);
    assert_int_equal(coverage.gaps, 0);
    assert_int_equal(coverage_of(&coverage, 1, CORNER_RED)->covered_ms, 50000);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

/* A shadow's own view: it is official for what it tags, whoever else is. */
static void coverage__own__a_shadow_by_itself(void **state)
{
    (void)state;
    struct ring ring = ring_new(0);
    struct desk_row row = test_desk("shadow", 0);
    row.corners = 1 << CORNER_RED;
    row.shadow = true;
    row.opened_ms = BELL - 1000;
    assert_int_equal(fold_desk(ring.fold, &row), 0);
    ring.desks = 1;
    clock_entry(&ring, 0, BELL, CODE_START, 1, 0, 0);
    struct coverage coverage = at(&ring, NULL, BELL + 60000);
    assert_true(coverage_whole(&coverage, 1, CORNER_RED));
    assert_false(coverage_of(&coverage, 1, CORNER_BLUE)->tagged);
    coverage_release(&coverage);
    fold_free(ring.fold);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coverage__whole__a_desk_that_is_there_or_of_which_nothing_is_known),
        cmocka_unit_test(coverage__untagged__a_corner_without_a_desk),
        cmocka_unit_test(coverage__away__between_two_sessions_of_a_desk),
        cmocka_unit_test(coverage__away__after_the_last_sign),
        cmocka_unit_test(coverage__handover__one_desk_takes_over_from_a_dead_one),
        cmocka_unit_test(coverage__clock__stops_and_corrections),
        cmocka_unit_test(coverage__clock__a_start_taken_back),
        cmocka_unit_test(coverage__clock__a_wall_clock_that_jumped),
        cmocka_unit_test(coverage__own__a_shadow_by_itself),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
