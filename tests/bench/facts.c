/* facts.c: what the derived facts and the remarks of a long bout cost. Beside it, as a floor, the
 * fold of the same entries. usage: bench_facts [ENTRIES [TIMES]] */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "ringtally/insight/facts.h"
#include "ringtally/insight/remarks.h"

static const struct clock_plan plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};

static uint32_t roll(uint64_t *seed, uint32_t sides)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33) % sides;
}

/* Strikes in combinations over three rounds; every tenth entry is a mark on the strike before. */
static void make_entries(struct entry *out, size_t count)
{
    uint64_t seed = 1;
    for (size_t i = 0; i < count; i++) {
        int round = 1 + (int)(i * 3 / count);
        int32_t elapsed = (int32_t)((i * 3 % count) * 60000 / count * 3);
        struct entry entry = {.name = {0, (int64_t)i + 1},
                              .subject = {0, (int64_t)i + 1},
                              .undoes = ENTRY_NONE,
                              .utc_ms = 1000 + 240000 * round + elapsed,
                              .kind = ENTRY_STRIKE,
                              .round = (uint8_t)round,
                              .elapsed_ms = elapsed};
        entry.at_ms = entry.utc_ms;
        if (i < 3) {
            entry.kind = ENTRY_OFFICIAL;
            entry.code = (uint8_t)(CODE_RED + i);
        } else if (i * 3 % count < 3 || i == 3) {
            entry.kind = ENTRY_CLOCK;
            entry.code = CODE_START;
        } else if (i % 10 == 9 && out[i - 1].kind == ENTRY_STRIKE) {
            entry.act = ACT_REFINE;
            entry.subject = out[i - 1].subject;
            entry.strike = out[i - 1].strike;
            entry.strike.outcome = OUTCOME_BLOCKED;
        } else {
            bool hit = roll(&seed, 100) < 40;
            entry.strike = (struct strike){.corner = (uint8_t)roll(&seed, CORNER_COUNT),
                                           .limb = (uint8_t)roll(&seed, LIMB_COUNT),
                                           .target = (uint8_t)roll(&seed, TARGET_COUNT),
                                           .stance = (uint8_t)roll(&seed, 2),
                                           .outcome = hit ? OUTCOME_LANDED : OUTCOME_ATTEMPTED};
        }
        out[i] = entry;
    }
}

static double now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static int by_value(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

/* What is measured. Each returns something of its result, so that none is left out. */
static size_t run_fold(const struct entry *entries, size_t count, const struct fold *known)
{
    (void)known;
    struct bout bout = {.number = 1};
    struct desk_row desk = {.uid = "a", .corners = 3};
    struct fold *fold = fold_new(&plan, &bout, FOLD_OFFICIAL);
    if (!fold || fold_desk(fold, &desk) || fold_add_all(fold, entries, count)) {
        abort();
    }
    size_t result = (size_t)fold_tally(fold)->all.corner[CORNER_RED].all.attempted;
    fold_free(fold);
    return result;
}

static size_t run_facts(const struct entry *entries, size_t count, const struct fold *fold)
{
    struct stream stream;
    struct error err = {0};
    size_t result = 0;
    (void)entries;
    (void)count;
    if (stream_init(&stream, fold, &err)) {
        abort();
    }
    for (int round = 0; round <= plan.rounds; round++) {
        struct facts facts;
        facts_read(&facts, &stream, round);
        result += (size_t)facts.corner[CORNER_RED].all.attempted;
    }
    stream_release(&stream);
    return result;
}

static size_t run_remarks(const struct entry *entries, size_t count, const struct fold *fold)
{
    struct remarks remarks;
    struct error err = {0};
    size_t result = 0;
    (void)entries;
    (void)count;
    if (remarks_init(&remarks, fold, NULL, NULL, &remark_rule_default, fold_newest_ms(fold),
                     &err)) {
        abort();
    }
    for (size_t i = 0; i < remarks.count; i++) {
        char words[REMARK_WORDS];
        remark_words(words, sizeof words, &remarks.item[i], NULL);
        result += strlen(words);
    }
    remarks_release(&remarks);
    return result;
}

typedef size_t measured(const struct entry *, size_t, const struct fold *);

static double measure(const char *what, measured *run, const struct entry *entries, size_t count,
                      const struct fold *fold, int times)
{
    double *took = calloc((size_t)times, sizeof *took);
    size_t result = 0;
    if (!took) {
        abort();
    }
    for (int i = 0; i < times; i++) {
        double begun = now_ms();
        result += run(entries, count, fold);
        took[i] = now_ms() - begun;
    }
    qsort(took, (size_t)times, sizeof *took, by_value);
    double median = took[times / 2];
    printf("%-36s median %.3f ms, p95 %.3f ms%s\n", what, median, took[times * 95 / 100],
           result ? "" : " (nothing found)");
    free(took);
    return median;
}

int main(int argc, char **argv)
{
    size_t count = argc > 1 ? strtoul(argv[1], NULL, 10) : 1500;
    int times = argc > 2 ? atoi(argv[2]) : 200;
    if (count < 12 || count > 1000000 || times < 1) {
        fputs("usage: bench_facts [ENTRIES [TIMES]]\n", stderr);
        return 2;
    }
    struct entry *entries = calloc(count, sizeof *entries);
    struct bout bout = {.number = 1};
    struct desk_row desk = {.uid = "a", .corners = 3};
    struct fold *fold = fold_new(&plan, &bout, FOLD_OFFICIAL);
    if (!entries || !fold || fold_desk(fold, &desk)) {
        abort();
    }
    make_entries(entries, count);
    if (fold_add_all(fold, entries, count)) {
        abort();
    }
    printf("%zu entries, %d times\n", count, times);
    double floor = measure("fold them (floor)", run_fold, entries, count, fold, times);
    double all = measure("facts of bout and rounds", run_facts, entries, count, fold, times);
    all += measure("remarks with their words", run_remarks, entries, count, fold, times);
    printf("facts and remarks: %.3f ms of 5 allowed, %.1f folds\n", all, all / floor);
    fold_free(fold);
    free(entries);
    return 0;
}
