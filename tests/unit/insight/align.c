/* The pairing of two desks' strikes, and the clocks that it is read on: held against bouts whose
 * truth is known, and against its own laws. */
#include "../tally/support.h"

#include <math.h>
#include <stdlib.h>

#include "ringtally/insight/align.h"

#define SHORT 6

static uint32_t seed;

static int pick(int below)
{
    seed = seed * 1664525u + 1013904223u;
    return (int)((seed >> 8) % (uint32_t)below);
}

static struct align_strike strike_at(int64_t seq, int round, int32_t elapsed_ms, enum corner corner,
                                     enum limb limb, enum target target, enum outcome outcome)
{
    return (struct align_strike){.name = {0, seq},
                                 .strike = {.corner = (uint8_t)corner,
                                            .limb = (uint8_t)limb,
                                            .target = (uint8_t)target,
                                            .outcome = (uint8_t)outcome},
                                 .round = (uint8_t)round,
                                 .elapsed_ms = elapsed_ms,
                                 .at_ms = 240000 * round + elapsed_ms};
}

/* Few moments and few kinds, so that equal costs are common; some off the clock. */
static size_t make_random(struct align_strike *out, size_t most, int step_ms, int steps)
{
    size_t count = (size_t)pick((int)most + 1);
    for (size_t i = 0; i < count; i++) {
        out[i] = strike_at((int64_t)i + 1, 1 + pick(8) / 7, step_ms * pick(steps),
                           (enum corner)pick(2), (enum limb)(LIMB_LEFT_HAND + pick(2) * 7),
                           (enum target)pick(2), (enum outcome)pick(2));
        if (pick(8) == 0) {
            out[i].off_clock = true;
            out[i].idle_ms = step_ms * pick(4);
            out[i].at_ms += out[i].idle_ms;
        }
    }
    align_sort(out, count);
    return count;
}

/* Fails where a link repeats or leaves out a strike, or where what is counted is not what is
 * linked.
 */
static void check_links(const struct align *align, const struct align_strike *a, size_t n,
                        const struct align_strike *b, size_t m, const struct align_options *options)
{
    bool has_a[SHORT * 8] = {false}, has_b[SHORT * 8] = {false};
    size_t paired = 0;
    for (size_t i = 0; i < align->count; i++) {
        struct align_link link = align->links[i];
        assert_true(link.a >= 0 || link.b >= 0);
        assert_true(link.likely >= 0 && link.likely <= 1 + 1e-9);
        if (link.a >= 0) {
            assert_false(has_a[link.a]);
            has_a[link.a] = true;
        }
        if (link.b >= 0) {
            assert_false(has_b[link.b]);
            has_b[link.b] = true;
        }
        if (link.a >= 0 && link.b >= 0) {
            double off = (double)align_behind(&a[link.a], &b[link.b]);
            paired++;
            assert_int_equal(a[link.a].round, b[link.b].round);
            for (int r = 0; r < align->rounds; r++) {
                if (align->round[r].round == a[link.a].round) {
                    off -= align->round[r].lateness_ms;
                }
            }
            assert_true(off <= options->window_ms && off >= -options->window_ms);
        }
    }
    assert_int_equal(paired, align->paired);
    assert_int_equal(align->paired + align->only_a, n);
    assert_int_equal(align->paired + align->only_b, m);
}

static void align__make__each_strike_once(void **state)
{
    (void)state;
    seed = 7;
    size_t paired = 0;
    for (int round = 0; round < 90; round++) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[SHORT * 8], b[SHORT * 8];
        struct align align;
        /* Dense, common and sparse in turn. */
        int step = (int[]){40, 250, 900}[round % 3];
        size_t n = make_random(a, SHORT * 8, step, 40);
        size_t m = make_random(b, SHORT * 8, step, 40);
        options.lateness_max_ms = round % 2 ? 0 : 600;
        assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
        check_links(&align, a, n, b, m, &options);
        paired += align.paired;
        align_release(&align);
    }
    assert_in_range(paired, 300, 2200);
}

/* A desk's bout: strikes of every kind, some a moment apart. */
static size_t make_bout(struct align_strike *out, size_t count, int rounds)
{
    for (size_t i = 0; i < count; i++) {
        out[i] =
            strike_at((int64_t)i + 1, 1 + (int)(i * (size_t)rounds / count), 5000 + pick(170000),
                      (enum corner)pick(2), (enum limb)(pick(2) * LIMB_LEFT_LEG + pick(2)),
                      (enum target)pick(3), (enum outcome)pick(2));
    }
    align_sort(out, count);
    return count;
}

/* The same strikes by a second desk: some missed, some wrong, all a little off; `late` by round.
 * The sequence numbers stay, so that the truth is known. */
static size_t tag_again(struct align_strike *out, const struct align_strike *from, size_t count,
                        const int32_t late[3], int jitter, int wrong_percent, int missed_percent)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (pick(100) < missed_percent) {
            continue;
        }
        out[kept] = from[i];
        out[kept].elapsed_ms += late[from[i].round - 1] + pick(jitter + 1) - jitter / 2;
        if (pick(100) < wrong_percent) {
            out[kept].strike.target = (uint8_t)((from[i].strike.target + 1) % 3);
        }
        kept++;
    }
    align_sort(out, kept);
    return kept;
}

static size_t count_right(const struct align *align, const struct align_strike *a,
                          const struct align_strike *b)
{
    size_t right = 0;
    for (size_t i = 0; i < align->count; i++) {
        struct align_link link = align->links[i];
        right += link.a >= 0 && link.b >= 0 && a[link.a].name.seq == b[link.b].name.seq;
    }
    return right;
}

static void align__make__same_pairs_when_exchanged(void **state)
{
    (void)state;
    seed = 11;
    for (int round = 0; round < 60; round++) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[120], b[120];
        struct align one, other;
        int32_t partner[120];
        size_t n = make_bout(a, 120, 3);
        size_t m = tag_again(b, a, n, (int32_t[]){300 * (round % 3), -800, 1500}, 500, 10, 10);
        assert_int_equal(align_make(&one, a, n, b, m, &options), 0);
        assert_int_equal(align_make(&other, b, m, a, n, &options), 0);
        assert_in_range(one.lateness_ms + other.lateness_ms + 2, 0, 4);
        assert_int_equal(one.paired, other.paired);
        memset(partner, -1, sizeof partner);
        for (size_t i = 0; i < one.count; i++) {
            if (one.links[i].a >= 0) {
                partner[one.links[i].a] = one.links[i].b;
            }
        }
        for (size_t i = 0; i < other.count; i++) {
            if (other.links[i].b >= 0) {
                assert_int_equal(other.links[i].a, partner[other.links[i].b]);
            }
        }
        align_release(&one);
        align_release(&other);
    }
}

static void align__make__equal_costs_settled_always_alike(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    options.lateness_max_ms = 0;
    struct align_strike one[] = {
        strike_at(1, 1, 1000, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED)};
    struct align_strike two[] = {
        strike_at(1, 1, 900, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED),
        strike_at(2, 1, 1100, CORNER_RED, LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED)};
    struct align align;
    assert_int_equal(align_make(&align, one, 1, two, 2, &options), 0);
    assert_int_equal(align.count, 2);
    assert_int_equal(align.links[0].a, -1);
    assert_int_equal(align.links[0].b, 0);
    assert_int_equal(align.links[1].a, 0);
    assert_int_equal(align.links[1].b, 1);
    align_release(&align);
}

/* A shadow starts its clock by hand at each bell: each round has its own lateness. */
static void align__make__finds_each_rounds_lateness(void **state)
{
    (void)state;
    static const int32_t late[][3] = {{0, 0, 0},          {-1500, 0, 1500},     {1500, -1500, 700},
                                      {4000, 4000, 4000}, {2500, 4000, 5500},   {-600, 0, 600},
                                      {9000, -400, 0},    {-31000, 42000, 100}, {1900, 1900, 1900}};
    seed = 3;
    for (size_t k = 0; k < sizeof late / sizeof late[0]; k++) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[300], b[300];
        struct align align;
        size_t n = make_bout(a, 300, 3);
        for (size_t i = 0; i < n; i++) {
            a[i].elapsed_ms += 60000; /* so that none falls before the bell */
        }
        size_t m = tag_again(b, a, n, late[k], 200, 10, 5);
        assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
        assert_int_equal(align.rounds, 3);
        for (int r = 0; r < 3; r++) {
            assert_true(abs((int)lround(align.round[r].lateness_ms) - late[k][r]) <= 40);
            assert_int_equal(align.round[r].base, ALIGN_CLOCK);
            assert_false(align.round[r].at_limit);
            assert_true(align.round[r].paired > 3 * align.round[r].chance);
        }
        assert_true(count_right(&align, a, b) * 100 >= m * 97);
        align_release(&align);
    }
}

/* `count` strikes of one kind within a moment, as a key that bounces writes them. */
static void add_flurry(struct align_strike *out, size_t *size, int round, int32_t at_ms, int count)
{
    for (int i = 0; i < count; i++) {
        out[*size] = strike_at(900 + (int64_t)*size, round, at_ms + 8 * i, CORNER_RED,
                               LIMB_LEFT_HAND, TARGET_HEAD, OUTCOME_LANDED);
        (*size)++;
    }
}

/* A flurry that one desk alone has and another flurry that the other alone has heap up as many
 * pairs as they have strikes times strikes; yet one strike is one strike, and the rest of the round
 * says where the clock is. */
static void align__make__the_highest_heap_is_not_the_clock(void **state)
{
    (void)state;
    seed = 21;
    for (int flurry_at = 20000; flurry_at <= 100000; flurry_at += 80000) { /* before, behind */
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[60], b[60];
        struct align align;
        size_t n = make_bout(a, 40, 1);
        size_t m = tag_again(b, a, n, (int32_t[]){3000, 0, 0}, 100, 5, 5);
        add_flurry(a, &n, 1, 60000, 10);
        add_flurry(b, &m, 1, flurry_at, 10);
        align_sort(a, n);
        align_sort(b, m);
        assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
        assert_in_range(lround(align.round[0].lateness_ms), 2960, 3040);
        assert_true(count_right(&align, a, b) >= 30);
        align_release(&align);
    }
}

/* Where heaps elsewhere are higher than a round's own, the other rounds say where to look. */
static void align__make__the_bout_says_where_a_round_is(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct align_strike a[160], b[160];
    struct align align;
    seed = 22;
    size_t n = make_bout(a, 90, 3);
    size_t m = tag_again(b, a, n, (int32_t[]){3000, 3000, 3000}, 100, 5, 5);
    add_flurry(a, &n, 3, 80000, 12);
    for (int i = 0; i < 4; i++) {
        add_flurry(b, &m, 3, 50000 + 20000 * i, 12);
    }
    align_sort(a, n);
    align_sort(b, m);
    assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
    assert_int_equal(align.rounds, 3);
    for (int r = 0; r < 3; r++) {
        assert_in_range(lround(align.round[r].lateness_ms), 2960, 3040);
    }
    align_release(&align);
}

/* The same six strikes once more ten seconds later: both places are as likely, and the one where
 * the bout is believed to be is taken. */
static void align__make__of_two_like_places_the_bouts_own(void **state)
{
    (void)state;
    for (int again_ms = -10000; again_ms <= 10000; again_ms += 20000) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[160], b[160];
        struct align align;
        seed = 23;
        size_t n = make_bout(a, 60, 2);
        size_t m = tag_again(b, a, n, (int32_t[]){2000, 2000, 0}, 100, 0, 0);
        for (int i = 0; i < 6; i++) {
            struct align_strike strike =
                strike_at(200 + i, 3, 50000 + 700 * i, (enum corner)(i % 2),
                          (enum limb)(LIMB_LEFT_HAND + i % 2), (enum target)(i % 3),
                          i % 4 ? OUTCOME_LANDED : OUTCOME_ATTEMPTED);
            a[n++] = strike;
            strike.elapsed_ms += 2000;
            b[m++] = strike;
            strike.elapsed_ms += again_ms;
            strike.name.seq += 100;
            b[m++] = strike;
        }
        align_sort(a, n);
        align_sort(b, m);
        assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
        assert_int_equal(align.rounds, 3);
        assert_in_range(lround(align.round[2].lateness_ms), 1900, 2100);
        align_release(&align);
    }
}

static void align__make__finds_drift(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct align_strike a[150], b[150];
    struct align align;
    seed = 4;
    size_t n = make_bout(a, 150, 1);
    size_t m = tag_again(b, a, n, (int32_t[]){1000, 0, 0}, 100, 5, 5);
    for (size_t i = 0; i < m; i++) { /* a recording played a fifth of a percent too slowly */
        b[i].elapsed_ms += b[i].elapsed_ms / 500;
    }
    assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
    assert_in_range(lround(align.round[0].drift), 100, 140); /* 120 ms a minute */
    assert_true(align.jitter_ms < 60);
    assert_true(count_right(&align, a, b) * 100 >= m * 97);
    align_release(&align);
}

/* A shadow that forgot to start its clock in a round: what it tagged is behind the round before, in
 * its rest. Live, and from a recording seven hours later. */
static void align__make__a_clock_that_was_not_started(void **state)
{
    (void)state;
    static const int64_t later[] = {40, 25200000};
    seed = 8;
    for (size_t k = 0; k < sizeof later / sizeof later[0]; k++) {
        struct align_options options = ALIGN_DEFAULTS;
        struct align_strike a[300], b[300];
        struct align align;
        size_t n = make_bout(a, 300, 3);
        for (size_t i = 0; i < n; i++) {
            a[i].at_ms = 1700000000000 + 240000 * a[i].round + a[i].elapsed_ms;
        }
        size_t m = tag_again(b, a, n, (int32_t[]){0, 0, 0}, 200, 10, 5);
        for (size_t i = 0; i < m; i++) {
            b[i].at_ms += later[k] + pick(100);
            if (b[i].round == 2) {
                b[i].round = 1;
                b[i].off_clock = true;
                b[i].idle_ms = 60000 + b[i].elapsed_ms;
                b[i].elapsed_ms = 180000;
            }
        }
        align_sort(b, m);
        assert_int_equal(align_make(&align, a, n, b, m, &options), 0);
        assert_int_equal(align.round[0].base, ALIGN_CLOCK);
        assert_int_equal(align.round[1].base, ALIGN_UTC);
        assert_int_equal(align.round[2].base, ALIGN_CLOCK);
        assert_true(fabs(align.round[1].lateness_ms - (double)later[k]) < 150);
        assert_true(count_right(&align, a, b) * 100 >= m * 97);
        align_release(&align);
    }
}

/* Two fighters strike at once and a finger's jitter turns their order; no strike is missed. */
static void align__make__corners_do_not_stand_in_each_others_way(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct align_strike a[120], b[120];
    struct align align;
    seed = 6;
    for (int i = 0; i < 120; i++) {
        a[i] = strike_at(i + 1, 1, 2000 + i / 2 * 1200 + i % 2 * 60, (enum corner)(i % 2),
                         LIMB_LEFT_HAND, TARGET_HEAD, (enum outcome)pick(2));
        b[i] = a[i];
        b[i].elapsed_ms += pick(301) - 150;
    }
    align_sort(b, 120);
    assert_int_equal(align_make(&align, a, 120, b, 120, &options), 0);
    assert_int_equal(align.paired, 120);
    assert_int_equal(count_right(&align, a, b), 120);
    assert_true(align.expected > 119.5);
    align_release(&align);
}

/* Neighbours that a tagger entered the other way round cross, and a wrong corner is a pair. */
static void align__make__neighbours_cross_and_corners_err(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct align_strike a[40], b[40];
    struct align align;
    for (int i = 0; i < 40; i++) {
        a[i] = strike_at(i + 1, 1, 4000 * (i / 2 + 1) + i % 2 * 150, CORNER_RED,
                         i % 2 ? LIMB_RIGHT_LEG : LIMB_LEFT_HAND, i % 2 ? TARGET_BODY : TARGET_HEAD,
                         OUTCOME_LANDED);
        b[i] = a[i];
    }
    b[20].elapsed_ms += 250; /* behind b[21] */
    b[30].strike.corner = CORNER_BLUE;
    align_sort(b, 40);
    assert_int_equal(b[20].name.seq, 22);
    assert_int_equal(align_make(&align, a, 40, b, 40, &options), 0);
    assert_int_equal(count_right(&align, a, b), 40);
    align_release(&align);
}

static void align__make__rounds_and_window_hold(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    options.lateness_max_ms = 0;
    struct align_strike a[] = {
        strike_at(1, 1, 179900, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(2, 2, 5000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(3, 2, 9000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED)};
    struct align_strike b[] = {
        strike_at(1, 2, 0, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(2, 2, 6000, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        strike_at(3, 2, 10001, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED)};
    struct align align;
    assert_int_equal(align_make(&align, a, 3, b, 3, &options), 0);
    for (size_t i = 0; i < align.count; i++) { /* 5.000 with 6.000 at most: a window, not more */
        struct align_link link = align.links[i];
        assert_true(link.a < 0 || link.b < 0 || (link.a == 1 && link.b == 1));
    }
    align_release(&align);
}

static void align__make__nothing_on_one_side(void **state)
{
    (void)state;
    struct align_options options = ALIGN_DEFAULTS;
    struct align_strike a[] = {
        strike_at(1, 1, 100, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED)};
    struct align align;
    assert_int_equal(align_make(&align, NULL, 0, NULL, 0, &options), 0);
    assert_int_equal(align.count, 0);
    align_release(&align);
    assert_int_equal(align_make(&align, a, 1, NULL, 0, &options), 0);
    assert_int_equal(align.only_a, 1);
    align_release(&align);
    assert_int_equal(align_make(&align, NULL, 0, a, 1, &options), 0);
    assert_int_equal(align.only_b, 1);
    align_release(&align);
}

static struct entry clock_entry(int desk, int64_t seq, int64_t utc_ms, enum entry_code code,
                                int32_t elapsed_ms)
{
    struct entry entry = test_entry(desk, seq, utc_ms, ENTRY_CLOCK);
    entry.code = (uint8_t)code;
    entry.elapsed_ms = elapsed_ms;
    return entry;
}

/* Desk 0 has the official clock; desk 1 is a shadow with its own, hours later; desk 2 follows the
 * official one. */
static void align__read__each_desk_on_the_clock_it_followed(void **state)
{
    (void)state;
    const int64_t later = 10000000;
    struct bout bout = test_bout();
    struct entry entries[] = {
        test_official(0, 1, 1000, CODE_CLOCK),
        clock_entry(0, 2, 2000, CODE_START, 0),
        clock_entry(0, 3, 32000, CODE_STOP, 30000),
        test_strike(0, 4, 32700, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        test_strike(2, 1, 32900, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        clock_entry(0, 5, 33000, CODE_NUDGE, 0),
        test_strike(0, 6, 34000, CORNER_BLUE, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
        test_strike(1, 1, later - 500, CORNER_RED, LIMB_KNEE, TARGET_LEG, OUTCOME_LANDED),
        clock_entry(1, 2, later, CODE_START, 0),
        clock_entry(1, 3, later + 30100, CODE_STOP, 30100),
        test_strike(1, 4, later + 30900, CORNER_RED, LIMB_KNEE, TARGET_BODY, OUTCOME_LANDED),
    };
    const struct {
        int root;
        size_t count;
        int32_t idle[2];
    } expected[] = {{0, 2, {700, 2000}}, {1, 2, {-500, 800}}, {2, 1, {900, 0}}};
    entries[3].elapsed_ms = entries[4].elapsed_ms = 30000;
    entries[5].value = -1000;
    entries[6].elapsed_ms = 29000;
    entries[10].elapsed_ms = 30100;
    for (size_t i = 0; i < sizeof entries / sizeof entries[0]; i++) {
        entries[i].off_clock = entries[i].kind == ENTRY_STRIKE;
    }
    for (size_t k = 0; k < 3; k++) {
        struct fold *own = fold_new(&test_plan, &bout, expected[k].root);
        struct align_strike *strikes = NULL;
        size_t count = 0;
        for (int desk = 0; desk < 3; desk++) {
            struct desk_row row = test_desk((const char *[]){"a", "b", "c"}[desk], desk);
            row.shadow = desk == 1;
            assert_int_equal(fold_desk(own, &row), 0);
        }
        assert_int_equal(fold_add_all(own, entries, sizeof entries / sizeof entries[0]), 0);
        assert_int_equal(align_read(&strikes, &count, own, expected[k].root, 3), 0);
        assert_int_equal(count, expected[k].count);
        if (k == 0) { /* the nudge put the later one before the other on the clock */
            assert_int_equal(strikes[0].idle_ms, 2000);
            assert_int_equal(strikes[1].idle_ms, 700);
        } else {
            for (size_t i = 0; i < count; i++) {
                assert_int_equal(strikes[i].idle_ms, expected[k].idle[i]);
            }
        }
        free(strikes);
        assert_int_equal(align_read(&strikes, &count, own, expected[k].root, 1 << CORNER_BLUE), 0);
        assert_int_equal(count, k == 0);
        free(strikes);
        if (k == 2) { /* a start that was taken back never was */
            struct entry stray = clock_entry(0, 7, 32500, CODE_START, 30000);
            assert_int_equal(fold_add(own, &stray), 0);
            stray = test_change(stray, 0, 8, 32600, ACT_VOID);
            assert_int_equal(fold_add(own, &stray), 0);
            assert_int_equal(align_read(&strikes, &count, own, expected[k].root, 3), 0);
            assert_int_equal(strikes[0].idle_ms, expected[k].idle[0]);
            free(strikes);
        }
        fold_free(own);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(align__make__each_strike_once),
        cmocka_unit_test(align__make__same_pairs_when_exchanged),
        cmocka_unit_test(align__make__equal_costs_settled_always_alike),
        cmocka_unit_test(align__make__finds_each_rounds_lateness),
        cmocka_unit_test(align__make__the_highest_heap_is_not_the_clock),
        cmocka_unit_test(align__make__the_bout_says_where_a_round_is),
        cmocka_unit_test(align__make__of_two_like_places_the_bouts_own),
        cmocka_unit_test(align__make__finds_drift),
        cmocka_unit_test(align__make__a_clock_that_was_not_started),
        cmocka_unit_test(align__make__corners_do_not_stand_in_each_others_way),
        cmocka_unit_test(align__make__neighbours_cross_and_corners_err),
        cmocka_unit_test(align__make__rounds_and_window_hold),
        cmocka_unit_test(align__make__nothing_on_one_side),
        cmocka_unit_test(align__read__each_desk_on_the_clock_it_followed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
