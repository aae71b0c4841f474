/* slices.c: a bout cut into pieces of time. */
#include "ringtally/insight/slices.h"

#include <stdlib.h>
#include <string.h>

/* A round is over when its time has passed or the next began; all are when the bout was ended or
 * signed. */
static void read_over(struct slices *out, const struct fold *fold, int64_t now_ms)
{
    const struct round_clock *clock = fold_clock(fold);
    struct clock_face face = clock_read(clock, now_ms);
    out->ended = fold_over(fold, now_ms);
    out->over = out->ended                 ? out->last
                : face.state == CLOCK_REST ? clock->round
                : clock->round > 0         ? clock->round - 1
                                           : 0;
}

static void add(struct slice *slice, const struct blow *blow)
{
    const struct strike *strike = &blow->strike;
    struct count *const counts[] = {&slice->all, &slice->target[strike->target],
                                    &slice->group[limb_group((enum limb)strike->limb)],
                                    &slice->stance[strike->stance]};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        counts[i]->attempted++;
        counts[i]->landed += blow_landed(blow);
    }
}

int slices_init(struct slices *out, const struct fold *fold, const struct stream *stream,
                const struct desk_sign *signs, int64_t now_ms, struct error *err)
{
    const struct round_clock *clock = fold_clock(fold);
    *out = (struct slices){.last = fold_tally(fold)->last_round};
    int code = coverage_init(&out->coverage, fold, signs, now_ms, err);
    if (code) {
        return code;
    }
    size_t total = 0;
    for (int round = 1; round <= ROUND_MAX; round++) {
        int64_t ran = round <= out->last ? clock_ran(clock, round, now_ms) : 0;
        out->ran_ms[round] = ran;
        out->from[round] = total;
        total += round > out->last ? 0
                 : ran < SLICE_MS  ? 1
                                   : (size_t)((ran + SLICE_MS / 2) / SLICE_MS);
    }
    out->from[ROUND_MAX + 1] = total;
    size_t room = total ? total : 1;
    out->room = calloc(2 * room, sizeof *out->room);
    out->slice[CORNER_RED] = calloc(room, sizeof(struct slice));
    out->slice[CORNER_BLUE] = calloc(room, sizeof(struct slice));
    if (!out->room || !out->slice[CORNER_RED] || !out->slice[CORNER_BLUE]) {
        slices_release(out);
        return error_memory(err);
    }
    for (size_t i = 0; i < stream->count; i++) {
        const struct blow *blow = &stream->blow[i];
        int64_t count = (int64_t)(out->from[blow->round + 1] - out->from[blow->round]);
        int64_t ran = out->ran_ms[blow->round];
        int64_t at = ran > 0 ? blow->elapsed_ms * count / ran : 0;
        at = at >= count ? count - 1 : at < 0 ? 0 : at;
        add(&out->slice[blow->strike.corner][out->from[blow->round] + (size_t)at], blow);
    }
    read_over(out, fold, now_ms);
    for (int round = 1; round <= out->last; round++) {
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            out->whole[corner][round] = coverage_whole(&out->coverage, round, (enum corner)corner);
        }
    }
    return 0;
}

void slices_release(struct slices *slices)
{
    coverage_release(&slices->coverage);
    free(slices->room);
    slices->room = NULL;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        free(slices->slice[corner]);
        slices->slice[corner] = NULL;
    }
}

static struct piece piece_of(const struct slice *slice, double minutes, enum measure measure,
                             int which)
{
    switch (measure) {
    case MEASURE_THROWN:
        return (struct piece){slice->all.attempted, minutes};
    case MEASURE_LANDED:
        return (struct piece){slice->all.landed, minutes};
    case MEASURE_TARGET:
        return (struct piece){slice->target[which].attempted, slice->all.attempted};
    case MEASURE_AT:
        return (struct piece){slice->target[which].landed, slice->target[which].attempted};
    case MEASURE_GROUP:
        return (struct piece){slice->group[which].landed, slice->group[which].attempted};
    case MEASURE_STANCE:
        return (struct piece){slice->stance[which].landed, slice->stance[which].attempted};
    case MEASURE_OTHERWISE:
        return (struct piece){slice->all.landed - slice->stance[which].landed,
                              slice->all.attempted - slice->stance[which].attempted};
    default:
        return (struct piece){slice->all.landed, slice->all.attempted};
    }
}

static size_t pieces_of(struct piece *out, const struct slices *slices, struct span span)
{
    size_t count = 0;
    for (int round = span.first; round <= span.last; round++) {
        size_t size = slices->from[round + 1] - slices->from[round];
        for (size_t i = 0; i < size; i++) {
            const struct slice *slice = &slices->slice[span.corner][slices->from[round] + i];
            int32_t from = (int32_t)(slices->ran_ms[round] * (int64_t)i / (int64_t)size);
            int32_t to = (int32_t)(slices->ran_ms[round] * (int64_t)(i + 1) / (int64_t)size);
            int32_t seen = coverage_between(&slices->coverage, round, span.corner, from, to);
            out[count++] = piece_of(slice, seen / 60000.0, span.measure, span.which);
        }
    }
    return count;
}

struct estimate slices_estimate(const struct slices *slices, struct span span, double level)
{
    bool rate = span.measure == MEASURE_THROWN || span.measure == MEASURE_LANDED;
    size_t count = pieces_of(slices->room, slices, span);
    return rate ? pieces_rate(slices->room, count, level)
                : pieces_share(slices->room, count, level);
}

void slices_sum(struct piece_sums *out, const struct slices *slices, struct span span)
{
    piece_sums_add(out, slices->room, pieces_of(slices->room, slices, span));
}

struct contrast slices_compare(const struct slices *slices, struct span one, struct span other)
{
    size_t count = pieces_of(slices->room, slices, one);
    size_t more = pieces_of(slices->room + count, slices, other);
    return pieces_compare(slices->room, count, slices->room + count, more);
}

int64_t slices_ran(const struct slices *slices, int first, int last)
{
    int64_t sum = 0;
    for (int round = first; round <= last; round++) {
        sum += slices->ran_ms[round];
    }
    return sum;
}

int slices_seen_since(const struct slices *slices, enum corner corner, int last)
{
    int first = last + 1;
    while (first > 1 && (corner == CORNER_BLUE || slices->whole[CORNER_RED][first - 1]) &&
           (corner == CORNER_RED || slices->whole[CORNER_BLUE][first - 1])) {
        first--;
    }
    return first;
}
