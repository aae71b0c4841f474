/* clock.c: the round clock. */
#include "ringtally/bout/clock.h"

#include <string.h>

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

/* Running time of the current round at a moment, not beyond its length. */
static int32_t elapsed_at(const struct round_clock *clock, int64_t now_ms)
{
    int64_t elapsed = clock->elapsed_ms;
    int32_t length = clock_round_length(&clock->plan, clock->round);
    if (clock->running && now_ms > clock->since_ms) {
        elapsed += now_ms - clock->since_ms;
    }
    return elapsed > length ? length : elapsed < 0 ? 0 : (int32_t)elapsed;
}

void clock_apply(struct round_clock *clock, const struct entry *entry)
{
    if (entry->kind != ENTRY_CLOCK) {
        return;
    }
    int32_t elapsed = elapsed_at(clock, entry->at_ms);
    switch (entry->code) {
    case CODE_START:
        if (entry->round != clock->round) {
            if (clock->round > 0) {
                clock->ran_ms[clock->round] = elapsed;
            }
            clock->round = entry->round;
        }
        clock->running = true;
        clock->elapsed_ms = entry->elapsed_ms;
        break;
    case CODE_STOP:
        if (clock->running && clock->round == entry->round) {
            clock->stops[clock->round]++;
        }
        clock->running = false;
        clock->elapsed_ms = entry->elapsed_ms;
        break;
    case CODE_NUDGE: {
        /* Unclamped while running, so that a nudge back revives a round that ended by itself too
         * early. */
        int64_t moved = clock->elapsed_ms + entry->value;
        if (clock->running) {
            moved += entry->at_ms - clock->since_ms;
        }
        int32_t length = clock_round_length(&clock->plan, clock->round);
        if (moved > length + 3600000) {
            moved = length + 3600000;
        }
        clock->elapsed_ms = moved < 0 ? 0 : (int32_t)moved;
        break;
    }
    case CODE_JUMP:
        clock->since_ms += entry->value;
        return;
    default:
        return;
    }
    clock->since_ms = entry->at_ms;
}

struct clock_face clock_read(const struct round_clock *clock, int64_t now_ms)
{
    struct clock_face face = {.state = CLOCK_READY, .round = 1};
    if (clock->round == 0) {
        face.remaining_ms = clock_round_length(&clock->plan, 1);
        return face;
    }
    int32_t length = clock_round_length(&clock->plan, clock->round);
    face.round = clock->round;
    face.extension = clock->round > clock->plan.rounds;
    face.elapsed_ms = elapsed_at(clock, now_ms);
    if (face.elapsed_ms < length) {
        face.state = clock->running ? CLOCK_RUNNING : CLOCK_STOPPED;
        face.remaining_ms = length - face.elapsed_ms;
        return face;
    }
    face.ended_ms = clock->since_ms + (clock->running ? length - clock->elapsed_ms : 0);
    if (clock->round >= clock->plan.rounds) {
        face.state = CLOCK_OVER;
        return face;
    }
    face.state = CLOCK_REST;
    int64_t rested = now_ms - face.ended_ms;
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
