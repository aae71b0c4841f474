/* clock.c: the round clock. */
#include "ringtally/bout/clock.h"

#include <string.h>

#define NUDGE_MOST_MS 3600000 /* beyond a round's end */

const char *const clock_state_names[CLOCK_STATES] = {"ready", "running", "stopped", "rest", "over"};

struct clock_plan clock_plan(const struct rules *rules, int rounds_of_bout)
{
    return (struct clock_plan){
        .rounds = rounds_of_bout > 0 ? rounds_of_bout : rules->rounds,
        .extension_rounds = rules->extension_rounds,
        .round_ms = rules->round_ms,
        .extension_ms = rules->extension_ms,
        .rest_ms = rules->rest_ms,
    };
}

void clock_init(struct round_clock *clock, const struct clock_plan *plan)
{
    memset(clock, 0, sizeof *clock);
    clock->plan = *plan;
}

int32_t clock_round_length(const struct clock_plan *plan, int round)
{
    return round > plan->rounds && plan->extension_ms > 0 ? plan->extension_ms : plan->round_ms;
}

int64_t clock_passed(const struct round_clock *clock, int64_t now_ms)
{
    int64_t passed = clock->elapsed_ms;
    bool goes = clock->running || passed >= clock_round_length(&clock->plan, clock->round);
    if (clock->ended && now_ms > clock->ended_ms) {
        now_ms = clock->ended_ms;
    }
    if (goes && now_ms > clock->since_ms) {
        passed += now_ms - clock->since_ms;
    }
    return passed;
}

/* Running time of the current round at a moment, not beyond its length. */
static int32_t elapsed_at(const struct round_clock *clock, int64_t now_ms)
{
    int64_t passed = clock_passed(clock, now_ms);
    int32_t length = clock_round_length(&clock->plan, clock->round);
    return passed > length ? length : passed < 0 ? 0 : (int32_t)passed;
}

/* A round before the one that runs begins, or the first anew: what was told of later ones is
 * void. */
static void forget_from(struct round_clock *clock, int round)
{
    for (int r = round; r <= ROUND_MAX; r++) {
        clock->ran_ms[r] = 0;
        clock->stops[r] = 0;
    }
}

static void start(struct round_clock *clock, const struct entry *entry)
{
    bool anew = entry->round < clock->round || (entry->round == 1 && entry->elapsed_ms == 0);
    if (anew) {
        forget_from(clock, entry->round);
    } else if (entry->round != clock->round) {
        clock->ran_ms[clock->round] = elapsed_at(clock, entry->at_ms);
    }
    clock->round = entry->round;
    clock->running = true;
    clock->elapsed_ms = entry->elapsed_ms;
    clock->since_ms = entry->at_ms;
}

static void nudge(struct round_clock *clock, const struct entry *entry)
{
    int32_t length = clock_round_length(&clock->plan, clock->round);
    int64_t most = length + NUDGE_MOST_MS;
    int64_t passed = clock_passed(clock, entry->at_ms) + entry->value;
    passed = passed > most ? most : passed < 0 ? 0 : passed;
    clock->since_ms = entry->at_ms;
    if (passed > length && !clock->running) { /* ended by hand: the rest moves */
        clock->since_ms -= passed - length;
        passed = length;
    }
    clock->elapsed_ms = (int32_t)passed;
}

void clock_apply(struct round_clock *clock, const struct entry *entry)
{
    if (entry->kind != ENTRY_CLOCK || (clock->ended && entry->code != CODE_JUMP)) {
        return;
    }
    switch (entry->code) {
    case CODE_START:
        start(clock, entry);
        break;
    case CODE_STOP:
        if (clock->running && clock->round == entry->round &&
            entry->elapsed_ms < clock_round_length(&clock->plan, clock->round)) {
            clock->stops[clock->round]++;
        }
        clock->running = false;
        clock->elapsed_ms = entry->elapsed_ms;
        clock->since_ms = entry->at_ms;
        break;
    case CODE_NUDGE:
        nudge(clock, entry);
        break;
    case CODE_JUMP:
        clock->since_ms += entry->value;
        clock->ended_ms += entry->value;
        break;
    default:
        break;
    }
}

void clock_end(struct round_clock *clock, int64_t at_ms)
{
    clock->ended = true;
    clock->ended_ms = at_ms;
}

void clock_reopen(struct round_clock *clock)
{
    clock->ended = false;
}

struct clock_face clock_read(const struct round_clock *clock, int64_t now_ms)
{
    struct clock_face face = {.state = CLOCK_READY, .round = 1};
    int32_t length = clock_round_length(&clock->plan, clock->round ? clock->round : 1);
    if (clock->round == 0 && !clock->ended) {
        face.remaining_ms = length;
        return face;
    }
    face.round = clock->round ? clock->round : 1;
    face.extension = face.round > clock->plan.rounds;
    face.elapsed_ms = elapsed_at(clock, now_ms);
    if (clock->ended) {
        face.state = CLOCK_OVER;
        face.ended_ms = clock->ended_ms;
        return face;
    }
    if (face.elapsed_ms < length) {
        face.state = clock->running ? CLOCK_RUNNING : CLOCK_STOPPED;
        face.remaining_ms = length - face.elapsed_ms;
        return face;
    }
    int64_t rested = clock_passed(clock, now_ms) - length;
    face.ended_ms = clock->since_ms + length - clock->elapsed_ms;
    if (clock->round >= clock->plan.rounds) {
        face.state = CLOCK_OVER;
        return face;
    }
    face.state = CLOCK_REST;
    face.remaining_ms = rested >= clock->plan.rest_ms ? 0 : clock->plan.rest_ms - (int32_t)rested;
    return face;
}

int64_t clock_ran(const struct round_clock *clock, int round, int64_t now_ms)
{
    int64_t sum = 0;
    for (int r = 1; r <= clock->round; r++) {
        if (round == 0 || r == round) {
            sum += r == clock->round ? elapsed_at(clock, now_ms) : clock->ran_ms[r];
        }
    }
    return sum;
}

int64_t clock_next_change(const struct round_clock *clock, int64_t now_ms)
{
    struct clock_face face = clock_read(clock, now_ms);
    if (face.state == CLOCK_RUNNING || (face.state == CLOCK_REST && face.remaining_ms > 0)) {
        /* The face counts whole seconds, rounded up: it changes when the remainder passes the next
         * one. */
        int32_t within = face.remaining_ms % 1000;
        return now_ms + (within ? within : 1000);
    }
    return INT64_MAX;
}
