/* facts.c: what follows from the order of strikes. */
#include "ringtally/insight/facts.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/stats/rate.h"

const struct windows windows_default = {
    .combination_ms = 1200,
    .exchange_ms = 1000,
    .pace_ms = 60000,
};

#define PAIR_CODES   (STRIKE_CODES * STRIKE_CODES)
#define TRIPLE_CODES (PAIR_CODES * STRIKE_CODES)

/* Work space of one reading. */
struct scratch {
    struct count pair[PAIR_CODES];
    struct count triple[TRIPLE_CODES];
};

static void add(struct count *count, const struct blow *blow)
{
    count->attempted++;
    count->landed += blow_landed(blow);
}

/* Most first; of two as common, the one that landed more; then the lower index. */
static bool commoner(const struct count *a, const struct count *b)
{
    return a->attempted != b->attempted ? a->attempted > b->attempted : a->landed > b->landed;
}

/* The indexes of the `room` commonest counts into *out; returns how many there are. */
static int commonest(int *out, int room, const struct count *counts, int size)
{
    int found = 0;
    for (int i = 0; i < size; i++) {
        if (counts[i].attempted == 0 ||
            (found == room && !commoner(&counts[i], &counts[out[room - 1]]))) {
            continue;
        }
        int at = found < room ? found++ : room - 1;
        for (; at > 0 && commoner(&counts[i], &counts[out[at - 1]]); at--) {
            out[at] = out[at - 1];
        }
        out[at] = i;
    }
    return found;
}

/* The strikes of the round, or all, stand in one piece. */
static struct stream part_of(const struct stream *stream, int round)
{
    struct stream part = *stream;
    if (round > 0) {
        while (part.count > 0 && part.blow[0].round < round) {
            part.blow++;
            part.count--;
        }
        while (part.count > 0 && part.blow[part.count - 1].round > round) {
            part.count--;
        }
    }
    return part;
}

static void read_stances(struct corner_facts *out, const struct stream *part, enum corner corner)
{
    struct count codes[STANCE_COUNT][STRIKE_CODES];
    memset(codes, 0, sizeof codes);
    for (size_t i = 0; i < part->count; i++) {
        const struct blow *blow = &part->blow[i];
        if (blow->strike.corner != corner) {
            continue;
        }
        add(&out->all, blow);
        add(&out->role[blow->role], blow);
        if (blow->strike.target == TARGET_LEG && limb_group(blow->strike.limb) == GROUP_LEGS) {
            add(&out->met[blow->met], blow);
        }
        add(&out->stance[blow->strike.stance].all, blow);
        add(&codes[blow->strike.stance][strike_code(&blow->strike)], blow);
    }
    for (int s = 0; s < STANCE_COUNT; s++) {
        int best[FAVOURITES];
        struct stance_facts *stance = &out->stance[s];
        stance->favourites = commonest(best, FAVOURITES, codes[s], STRIKE_CODES);
        for (int i = 0; i < stance->favourites; i++) {
            stance->favourite[i] = (struct favourite){(uint8_t)best[i], codes[s][best[i]]};
        }
    }
}

static void combination_end(struct combination_facts *out, int length, const struct blow *last)
{
    if (length == 0) {
        return;
    }
    out->length[length < COMBINATION_LONGEST ? length : COMBINATION_LONGEST]++;
    out->longest = length > out->longest ? length : out->longest;
    if (length >= 2) {
        out->count++;
        add(&out->end[strike_code(&last->strike)], last);
        add(&out->ends, last);
    }
}

static void sequences_show(struct combination_facts *out, int length, const struct count *counts,
                           int size)
{
    int best[SEQUENCES];
    out->sequences[length] = commonest(best, SEQUENCES, counts, size);
    for (int i = 0; i < out->sequences[length]; i++) {
        struct sequence *sequence = &out->sequence[length][i];
        *sequence = (struct sequence){.length = (uint8_t)length, .count = counts[best[i]]};
        int rest = best[i];
        for (int at = length - 1; at >= 0; at--) {
            sequence->code[at] = (uint8_t)(rest % STRIKE_CODES);
            rest /= STRIKE_CODES;
        }
    }
}

static void read_combinations(struct combination_facts *out, const struct stream *part,
                              enum corner corner, int32_t gap_ms, struct scratch *scratch)
{
    const struct blow *last = NULL;
    int length = 0;
    int before = 0, earlier = 0; /* codes of the last strike and the one before it */
    memset(scratch, 0, sizeof *scratch);
    for (size_t i = 0; i < part->count; i++) {
        const struct blow *blow = &part->blow[i];
        if (blow->strike.corner != corner) {
            continue;
        }
        int code = strike_code(&blow->strike);
        if (last && (blow->round != last->round || blow->at_ms - last->at_ms > gap_ms)) {
            combination_end(out, length, last);
            length = 0;
        }
        length++;
        if (length >= 2) {
            add(&scratch->pair[before * STRIKE_CODES + code], blow);
        }
        if (length >= 3) {
            add(&scratch->triple[(earlier * STRIKE_CODES + before) * STRIKE_CODES + code], blow);
        }
        earlier = before;
        before = code;
        last = blow;
    }
    combination_end(out, length, last);
    sequences_show(out, 2, scratch->pair, PAIR_CODES);
    sequences_show(out, 3, scratch->triple, TRIPLE_CODES);
}

static bool follows(const struct stream *part, size_t i, int32_t gap_ms)
{
    const struct blow *blow = &part->blow[i];
    return i > 0 && blow[-1].round == blow->round && blow->at_ms - blow[-1].at_ms <= gap_ms;
}

static void exchange_end(struct facts *out, const struct stream *part, size_t from, size_t to)
{
    bool both = false;
    for (size_t i = from + 1; i < to; i++) {
        both = both || part->blow[i].strike.corner != part->blow[from].strike.corner;
    }
    if (!both) {
        return;
    }
    out->exchanges++;
    out->corner[part->blow[from].strike.corner].exchanges.opened++;
    out->corner[part->blow[to - 1].strike.corner].exchanges.ended++;
    for (size_t i = from; i < to; i++) {
        add(&out->corner[part->blow[i].strike.corner].exchanges.in, &part->blow[i]);
    }
}

static void read_exchanges(struct facts *out, const struct stream *part, int32_t gap_ms)
{
    size_t from = 0;
    for (size_t i = 0; i < part->count; i++) {
        const struct blow *blow = &part->blow[i];
        if (!follows(part, i, gap_ms)) {
            exchange_end(out, part, from, i);
            from = i;
        } else if (blow[-1].strike.corner != blow->strike.corner) {
            add(&out->corner[blow->strike.corner].exchanges.counters, blow);
        }
    }
    exchange_end(out, part, from, part->count);
}

static int by_clock(const void *left, const void *right)
{
    const struct blow *const *a = left, *const *b = right;
    if ((*a)->round != (*b)->round) {
        return (*a)->round < (*b)->round ? -1 : 1;
    }
    return ((*a)->elapsed_ms > (*b)->elapsed_ms) - ((*a)->elapsed_ms < (*b)->elapsed_ms);
}

/* By the round clock, which a nudge can turn back: hence the sorting. */
static void read_busiest(struct busiest *out, const struct stream *part, enum corner corner,
                         int32_t window_ms, const struct blow **order)
{
    size_t count = 0, first = 0;
    int landed = 0;
    for (size_t i = 0; i < part->count; i++) {
        if (part->blow[i].strike.corner == corner) {
            order[count++] = &part->blow[i];
        }
    }
    qsort(order, count, sizeof *order, by_clock);
    for (size_t i = 0; i < count; i++) {
        const struct blow *blow = order[i];
        landed += blow_landed(blow);
        while (order[first]->round != blow->round ||
               blow->elapsed_ms - order[first]->elapsed_ms >= window_ms) {
            if (first == i) {
                break; /* a window of no length */
            }
            landed -= blow_landed(order[first++]);
        }
        int attempted = (int)(i - first) + 1;
        if (attempted > out->count.attempted) {
            *out = (struct busiest){{attempted, landed}, blow->round, blow->elapsed_ms};
        }
    }
}

int facts_read(struct facts *out, const struct stream *stream, const struct windows *windows,
               int round, struct error *err)
{
    int code = 0;
    struct stream part = part_of(stream, round);
    struct scratch *scratch = malloc(sizeof *scratch);
    const struct blow **order = malloc((part.count ? part.count : 1) * sizeof(struct blow *));
    memset(out, 0, sizeof *out);
    out->round = round;
    if (!scratch || !order) {
        code = error_memory(err);
        goto cleanup;
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct corner_facts *facts = &out->corner[corner];
        read_stances(facts, &part, corner);
        read_combinations(&facts->combinations, &part, corner, windows->combination_ms, scratch);
        read_busiest(&facts->busiest, &part, corner, windows->pace_ms, order);
    }
    read_exchanges(out, &part, windows->exchange_ms);
cleanup:
    free(order);
    free(scratch);
    return code;
}

static struct pace pace_of(struct count count, int64_t ran_ms, double level)
{
    double minutes = (double)ran_ms / 60000.0;
    return (struct pace){
        .count = count,
        .ran_ms = ran_ms,
        .thrown = rate_interval(count.attempted, minutes, level),
        .landed = rate_interval(count.landed, minutes, level),
    };
}

struct pace pace_read(const struct fold *fold, enum corner corner, int round, int64_t now_ms,
                      double level)
{
    const struct tally *tally = fold_tally(fold);
    const struct round_tally *scope = round > 0 ? &tally->round[round] : &tally->all;
    return pace_of(scope->corner[corner].all, clock_ran(fold_clock(fold), round, now_ms), level);
}

struct pace pace_moving(const struct stream *stream, enum corner corner, int round,
                        int32_t elapsed_ms, int32_t window_ms, double level)
{
    struct count count = {0, 0};
    for (size_t i = 0; i < stream->count; i++) {
        const struct blow *blow = &stream->blow[i];
        if (blow->strike.corner == corner && blow->round == round &&
            blow->elapsed_ms <= elapsed_ms && elapsed_ms - blow->elapsed_ms < window_ms) {
            add(&count, blow);
        }
    }
    return pace_of(count, elapsed_ms < window_ms ? elapsed_ms : window_ms, level);
}
