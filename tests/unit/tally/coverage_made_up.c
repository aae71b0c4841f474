/* Coverage of evenings made up, second by second, against a plain walk through the same seconds. */
#include "support.h"

#include "ringtally/tally/coverage.h"

#define BELL    1000000 /* UTC of second 0 */
#define SECONDS 900
#define ROUND   180 /* seconds */

static uint32_t seed = 5;

static int pick(int below)
{
    seed = seed * 1664525u + 1013904223u;
    return (int)((seed >> 8) % (uint32_t)below);
}

struct evening {
    struct fold *fold;
    int64_t seq[2];
    bool there[SECONDS];    /* somebody is, who tags both corners */
    int ran[ROUND_MAX + 1]; /* seconds of each round */
    int covered[ROUND_MAX + 1];
};

static void add(struct evening *evening, int desk, int second, struct entry entry)
{
    entry.name = entry.subject = (struct entry_name){desk, ++evening->seq[desk]};
    entry.utc_ms = entry.at_ms = BELL + second * 1000;
    assert_null(entry_fault(&entry, desk + 1));
    assert_int_equal(fold_add(evening->fold, &entry), 0);
}

/* One desk starts, stops and tags at random; it goes away twice at most, and a later session of it
 * goes on. Where it is there is what it wrote, from opening to the last entry; the newest session
 * is there to the end. */
static void make(struct evening *evening, bool goes_away)
{
    struct bout bout = test_bout();
    struct desk_row first = test_desk("aaaa", 0), second = test_desk("bbbb", 0);
    bool running = false;
    int round = 0, elapsed = 0, last = 0, desk = 0;
    int leaves = goes_away ? 60 + pick(500) : SECONDS;
    int returns = goes_away ? leaves + 1 + pick(200) : SECONDS;
    *evening = (struct evening){.fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL)};
    assert_non_null(evening->fold);
    first.opened_ms = BELL - 5000;
    second.opened_ms = BELL + returns * 1000;
    assert_int_equal(fold_desk(evening->fold, &first), 0);
    for (int code = CODE_RED; code <= CODE_CLOCK; code++) {
        add(evening, 0, 0,
            (struct entry){
                .kind = ENTRY_OFFICIAL, .code = (uint8_t)code, .undoes = ENTRY_NONE, .round = 1});
    }
    for (int at = 1; at < SECONDS; at++) {
        if (at == returns) {
            assert_int_equal(fold_desk(evening->fold, &second), 0);
            desk = 1;
        }
        bool away = at >= leaves && at < returns;
        struct entry entry = {.undoes = ENTRY_NONE};
        int dice = pick(60);
        if (!away && dice == 0 && running && elapsed < ROUND) {
            entry.kind = ENTRY_CLOCK;
            entry.code = CODE_STOP;
            running = false;
        } else if (!away && dice < 3 && (!running || elapsed == ROUND) && round < 4) {
            entry.kind = ENTRY_CLOCK;
            entry.code = CODE_START;
            elapsed = elapsed == ROUND || round == 0 ? 0 : elapsed;
            round += elapsed == 0;
            running = true;
        } else if (!away && dice < 5) {
            entry.kind = ENTRY_STRIKE;
            entry.off_clock = !running || elapsed == ROUND;
        }
        if (entry.kind == ENTRY_CLOCK || (!away && dice < 5)) {
            entry.round = (uint8_t)(round ? round : 1);
            entry.elapsed_ms = elapsed * 1000;
            add(evening, desk, at, entry);
            last = desk == 0 ? at : last;
        }
        if (running && elapsed < (round > 3 ? 120 : ROUND)) {
            evening->ran[round]++;
            elapsed++;
        }
        elapsed = running && elapsed == (round > 3 ? 120 : ROUND) ? ROUND : elapsed;
    }
    /* Once more, with what is known only afterwards. */
    for (int at = 0; at < SECONDS; at++) {
        evening->there[at] = !goes_away || at < last || at >= returns;
    }
}

/* The rounds anew from the entries themselves, and which of their seconds somebody saw. */
static void walk(struct evening *evening)
{
    const struct entry *entries = NULL;
    size_t count = fold_entries(evening->fold, &entries);
    for (int at = 0; at < SECONDS; at++) {
        int round = 0;
        int64_t shown = 0, since = 0;
        bool running = false;
        for (size_t i = 0; i < count && entries[i].at_ms <= BELL + at * 1000; i++) {
            if (entries[i].kind == ENTRY_CLOCK) {
                running = entries[i].code == CODE_START;
                round = entries[i].round;
                shown = entries[i].elapsed_ms;
                since = entries[i].at_ms;
            }
        }
        int64_t length = round > 3 ? 120000 : 180000;
        if (running && shown + BELL + at * 1000 - since < length && evening->there[at]) {
            evening->covered[round]++;
        }
    }
}

static void coverage__made_up__second_by_second(void **state)
{
    (void)state;
    int with_gaps = 0;
    for (int turn = 0; turn < 150; turn++) {
        struct evening evening;
        struct coverage coverage;
        struct error err = {0};
        int64_t missed[CORNER_COUNT][ROUND_MAX + 1] = {{0}};
        make(&evening, turn % 3 > 0);
        walk(&evening);
        int64_t now = BELL + SECONDS * 1000;
        assert_int_equal(coverage_init(&coverage, evening.fold, NULL, now, &err), 0);
        for (size_t i = 0; i < coverage.gaps; i++) {
            const struct coverage_gap *gap = &coverage.gap[i];
            assert_true(gap->to_ms > gap->from_ms);
            for (int corner = 0; corner < CORNER_COUNT; corner++) {
                missed[corner][gap->round] +=
                    gap->corners >> corner & 1 ? gap->to_ms - gap->from_ms : 0;
            }
        }
        for (int round = 1; round <= 4; round++) {
            for (int corner = 0; corner < CORNER_COUNT; corner++) {
                const struct coverage_part *part =
                    coverage_of(&coverage, round, (enum corner)corner);
                if (part->ran_ms != evening.ran[round] * 1000 ||
                    part->covered_ms != evening.covered[round] * 1000 ||
                    missed[corner][round] != part->ran_ms - part->covered_ms) {
                    fail_msg(
                        "turn %d, round %d: %lld of %lld ms, gaps of %lld; expected %d of %d s",
                        turn, round, (long long)part->covered_ms, (long long)part->ran_ms,
                        (long long)missed[corner][round], evening.covered[round],
                        evening.ran[round]);
                }
                assert_int_equal(coverage_whole(&coverage, round, (enum corner)corner),
                                 missed[corner][round] == 0 || part->ran_ms == 0);
            }
        }
        with_gaps += coverage.gaps > 0;
        coverage_release(&coverage);
        fold_free(evening.fold);
    }
    assert_in_range(with_gaps, 20, 100);
}

/* The clock of the first stretch is put right while it runs: all that it shows has run. */
static void coverage__first_stretch__put_right(void **state)
{
    (void)state;
    static const int by[] = {10000, -10000};
    for (int i = 0; i < 2; i++) {
        struct bout bout = test_bout();
        struct desk_row desk = test_desk("aaaa", 0);
        struct evening evening = {.fold = fold_new(&test_plan, &bout, FOLD_OFFICIAL)};
        struct coverage coverage;
        struct error err = {0};
        struct entry start = {
            .kind = ENTRY_CLOCK, .code = CODE_START, .undoes = ENTRY_NONE, .round = 1};
        struct entry nudge = start;
        desk.opened_ms = BELL - 30000; /* there, and official, before the bell */
        assert_int_equal(fold_desk(evening.fold, &desk), 0);
        for (int code = CODE_RED; code <= CODE_CLOCK; code++) {
            add(&evening, 0, -20,
                (struct entry){.kind = ENTRY_OFFICIAL,
                               .code = (uint8_t)code,
                               .undoes = ENTRY_NONE,
                               .round = 1});
        }
        add(&evening, 0, 0, start);
        nudge.code = CODE_NUDGE;
        nudge.elapsed_ms = 30000;
        nudge.value = by[i];
        add(&evening, 0, 30, nudge);
        assert_int_equal(coverage_init(&coverage, evening.fold, NULL, BELL + 50000, &err), 0);
        const struct coverage_part *part = coverage_of(&coverage, 1, CORNER_RED);
        assert_int_equal(part->ran_ms, 50000 + by[i]);
        assert_int_equal(part->covered_ms, 50000 + by[i]);
        assert_int_equal(coverage.gaps, 0);
        coverage_release(&coverage);
        fold_free(evening.fold);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coverage__made_up__second_by_second),
        cmocka_unit_test(coverage__first_stretch__put_right),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
