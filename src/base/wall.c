/* wall.c: the wall clock as a program follows it. */
#include "ringtally/base/wall.h"

#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"

#define TOGETHER_MS 20 /* between two readings of one clock that hold the other's in the middle */
#define TRIES       50

/* Both clocks at one moment: who is put to sleep between the two reads would see a step. */
static void read_both(int64_t *wall_ms, int64_t *mono)
{
    for (int i = 0; i < TRIES; i++) {
        *mono = mono_ms();
        *wall_ms = when_now();
        if (mono_ms() - *mono <= TOGETHER_MS) {
            return;
        }
    }
}

void wall_init(struct wall *out)
{
    int64_t wall_ms = 0, mono = 0;
    read_both(&wall_ms, &mono);
    *out = (struct wall){.ahead_ms = wall_ms - mono, .last_ms = wall_ms};
}

int64_t wall_stamp(struct wall *wall, int64_t wall_ms, int64_t mono, int64_t *step_ms)
{
    int64_t moved = wall_ms - mono - wall->ahead_ms;
    wall->ahead_ms += moved;
    *step_ms = moved > WALL_STEP_MS || moved < -WALL_STEP_MS ? moved : 0;
    if (*step_ms || wall_ms > wall->last_ms) {
        wall->last_ms = wall_ms;
    }
    return wall->last_ms;
}

int64_t wall_now(struct wall *wall, int64_t *step_ms)
{
    int64_t wall_ms = 0, mono = 0;
    read_both(&wall_ms, &mono);
    return wall_stamp(wall, wall_ms, mono, step_ms);
}
