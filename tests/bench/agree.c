/* agree.c: what the agreement of two desks costs: pairing, every field's figures, totals, and the
 * list of differences. The second desk runs late, misses strikes, sees some that were none, and
 * differs in fields. usage: bench_agree [STRIKES [TIMES]] */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "ringtally/insight/agree.h"
#include "ringtally/base/embedded.h"

static const struct clock_plan plan = {.rounds = 3, .round_ms = 180000, .rest_ms = 60000};

static uint32_t roll(uint64_t *seed, uint32_t sides)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33) % sides;
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

static void add(struct fold *fold, int desk, int64_t *seq, int round, int32_t elapsed,
                const struct strike *strike)
{
    struct entry entry = {.name = {desk, ++*seq},
                          .undoes = ENTRY_NONE,
                          .utc_ms = 1700000000000 + 240000 * round + elapsed,
                          .round = (uint8_t)round,
                          .elapsed_ms = elapsed};
    entry.subject = entry.name;
    entry.at_ms = entry.utc_ms;
    if (strike) {
        entry.strike = *strike;
    } else {
        entry.kind = ENTRY_CLOCK;
        entry.code = CODE_START;
    }
    if (fold_add(fold, &entry)) {
        abort();
    }
}

static struct strike any_strike(uint64_t *seed)
{
    return (struct strike){.corner = (uint8_t)roll(seed, CORNER_COUNT),
                           .limb = (uint8_t)roll(seed, 4),
                           .target = (uint8_t)roll(seed, TARGET_COUNT),
                           .outcome = (uint8_t)(roll(seed, 10) < 4)};
}

/* In time order, so that the fold goes on by one step each. */
static void tag_twice(struct fold *fold, int strikes)
{
    uint64_t seed = 1;
    int64_t seq[2] = {0, 0};
    int made[2] = {0, 0};
    for (int i = 0; made[0] < strikes || made[1] < strikes; i++) {
        int round = 1 + (i * 3 / (strikes + strikes / 20 + 1)) % plan.rounds;
        int32_t elapsed = (int32_t)((int64_t)i * plan.rounds * plan.round_ms /
                                    (strikes + strikes / 20 + 1) % (plan.round_ms - 2000));
        struct strike strike = any_strike(&seed);
        struct strike seen = strike;
        uint32_t what = roll(&seed, 100);
        if (what < 6) {
            seen.outcome = strike.outcome ? OUTCOME_ATTEMPTED : OUTCOME_LANDED;
        } else if (what < 9) {
            seen = any_strike(&seed);
        }
        if (what != 99 && made[0]++ < strikes) {
            add(fold, 0, &seq[0], round, elapsed, &strike);
        }
        if (what != 98 && made[1]++ < strikes) {
            add(fold, 1, &seq[1], round, elapsed + 200 + (int32_t)roll(&seed, 200), &seen);
        }
    }
}

int main(int argc, char **argv)
{
    int strikes = argc > 1 ? atoi(argv[1]) : 1500;
    int times = argc > 2 ? atoi(argv[2]) : 50;
    if (strikes < 10 || strikes > 100000 || times < 1 || times > 10000) {
        fputs("usage: bench_agree [STRIKES [TIMES]]\n", stderr);
        return 2;
    }
    const struct align_options options = ALIGN_DEFAULTS;
    const struct desk_row desks[2] = {{.uid = "a", .corners = 3},
                                      {.uid = "b", .corners = 3, .root = 1}};
    const struct embedded *text = embedded_find("rules/kickboxing.ini");
    struct bout bout = {.number = 1};
    struct rules rules;
    struct error err = {0};
    struct fold *fold = fold_new(&plan, &bout, FOLD_OFFICIAL);
    double *took = calloc((size_t)times, sizeof *took);
    if (!text || rules_parse(&rules, text->data, text->size, "rules", &err) || !fold || !took ||
        fold_desk(fold, &desks[0]) || fold_desk(fold, &desks[1])) {
        abort();
    }
    tag_twice(fold, strikes);
    for (int i = 0; i < times; i++) {
        struct agree agree;
        double begun = now_ms();
        if (agree_desks(&agree, fold, &bout, 0, 1, 3, &options, &rules)) {
            abort();
        }
        took[i] = now_ms() - begun;
        if (i == 0) {
            printf("%zu strikes against %zu, %zu differences, %d times\n", agree.a_count,
                   agree.b_count, agree.differences, times);
        }
        agree_release(&agree);
    }
    qsort(took, (size_t)times, sizeof *took, by_value);
    printf("agreement of two desks: median %.2f ms, p95 %.2f ms, slowest %.2f ms of 50 allowed\n",
           took[times / 2], took[times * 95 / 100], took[times - 1]);
    free(took);
    fold_free(fold);
    return 0;
}
