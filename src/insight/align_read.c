/* align_read.c: a desk's strikes with their moments on the clock that it followed. */
#include <stdlib.h>

#include "ringtally/insight/align.h"

/* The clock entries that a desk followed, as they stand: a shadow that has a clock of its own that
 * one, also before its first start; else the official one. */
struct followed {
    const struct entry **entries;
    size_t count;
};

static bool is_clock(const struct subject *subject)
{
    return subject->now.kind == ENTRY_CLOCK && subject->counts;
}

static int follow(struct followed *out, const struct fold *own, int root)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(own, &subjects);
    bool alone = false;
    fold_desks(own, &desks);
    out->count = 0;
    out->entries = calloc(count + 1, sizeof *out->entries);
    if (!out->entries) {
        return ERROR_MEMORY;
    }
    for (size_t i = 0; i < count && desks[root].shadow; i++) {
        alone = alone || (is_clock(&subjects[i]) && desks[subjects[i].now.name.desk].root == root);
    }
    for (size_t i = 0; i < count; i++) {
        if (is_clock(&subjects[i]) && (!alone || desks[subjects[i].now.name.desk].root == root)) {
            out->entries[out->count++] = &subjects[i].now;
        }
    }
    return 0;
}

static int32_t clamp(int64_t span)
{
    const int64_t most = 1000000000;
    return (int32_t)(span > most ? most : span < -most ? -most : span);
}

/* How long the clock had stood at that moment; before the first round, the time until it began,
 * below 0. `first_ms`: the desk's first strike, for a desk without any clock. */
static int32_t idle_at(const struct followed *followed, const struct clock_plan *plan,
                       int64_t at_ms, int64_t first_ms)
{
    struct round_clock clock;
    int64_t stopped_ms = 0; /* a nudge moves the clock's since_ms, not the stop */
    clock_init(&clock, plan);
    for (size_t i = 0; i < followed->count && followed->entries[i]->at_ms <= at_ms; i++) {
        clock_apply(&clock, followed->entries[i]);
        stopped_ms = followed->entries[i]->code == CODE_STOP ? clock.since_ms : stopped_ms;
    }
    struct clock_face face = clock_read(&clock, at_ms);
    switch (face.state) {
    case CLOCK_RUNNING:
        return 0;
    case CLOCK_READY:
        return clamp(at_ms - (followed->count ? followed->entries[0]->at_ms : first_ms));
    case CLOCK_STOPPED:
        return clamp(at_ms - stopped_ms);
    default:
        return clamp(at_ms - face.ended_ms);
    }
}

/* The same on a recording, where the clock is its bells'. */
static int32_t idle_on_recording(const struct fold *own, int64_t at_ms)
{
    const struct entry *bells = NULL;
    struct round_clock clock = fold_clock_at(own, at_ms);
    struct clock_face face = clock_read(&clock, at_ms);
    switch (face.state) {
    case CLOCK_READY:
        return fold_bells(own, &bells) ? clamp(at_ms - bells[0].at_ms) : 0;
    case CLOCK_STOPPED:
        return clamp(at_ms - clock.since_ms);
    default:
        return clamp(at_ms - face.ended_ms);
    }
}

static int compare(const void *one, const void *other)
{
    const struct align_strike *a = one;
    const struct align_strike *b = other;
    const int64_t keys[][2] = {{a->round, b->round},
                               {a->elapsed_ms, b->elapsed_ms},
                               {a->idle_ms, b->idle_ms},
                               {a->name.desk, b->name.desk},
                               {a->name.seq, b->name.seq}};
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        if (keys[i][0] != keys[i][1]) {
            return keys[i][0] < keys[i][1] ? -1 : 1;
        }
    }
    return 0;
}

void align_sort(struct align_strike *strikes, size_t count)
{
    if (count > 0) {
        qsort(strikes, count, sizeof *strikes, compare);
    }
}

int align_read(struct align_strike **out, size_t *count, const struct fold *own, int root,
               uint8_t corners)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t known = fold_subjects(own, &subjects);
    struct followed followed = {0};
    int64_t first_ms = 0;
    bool any = false;
    fold_desks(own, &desks);
    *count = 0;
    *out = calloc(known + 1, sizeof **out);
    int code = *out ? follow(&followed, own, root) : ERROR_MEMORY;
    for (size_t i = 0; !code && i < known; i++) {
        const struct entry *now = &subjects[i].now;
        if (now->kind != ENTRY_STRIKE || !subjects[i].live || desks[now->name.desk].root != root ||
            !(corners >> now->strike.corner & 1)) {
            continue;
        }
        first_ms = any ? first_ms : now->at_ms;
        any = true;
        (*out)[(*count)++] = (struct align_strike){
            .name = now->name,
            .strike = now->strike,
            .round = now->round,
            .off_clock = now->off_clock,
            .at_ms = now->at_ms,
            .elapsed_ms = now->elapsed_ms,
            .idle_ms = !now->off_clock ? 0
                       : fold_on_recording(own)
                           ? idle_on_recording(own, now->at_ms)
                           : idle_at(&followed, &fold_clock(own)->plan, now->at_ms, first_ms),
        };
    }
    if (!code) {
        align_sort(*out, *count);
    } else {
        free(*out);
        *out = NULL;
        *count = 0;
    }
    free(followed.entries);
    return code;
}
