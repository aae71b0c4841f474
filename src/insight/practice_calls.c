/* practice_calls.c: the calls of a practice, in the rhythm of a bout. */
#include <stdlib.h>

#include "ringtally/base/error.h"
#include "ringtally/base/grow.h"
#include "ringtally/insight/practice.h"

#define FIRST_MS    2000
#define LANDED      0.35 /* of all strikes: between the shares of boxing and kickboxing */
#define BURST_EVERY 12000
#define BURST_LASTS 3000
#define FLURRY      4   /* strikes of one corner in a burst ... */
#define FLURRY_MS   100 /* ... so far apart: ten a second */
#define CELLS       (CORNER_COUNT * LIMB_COUNT * TARGET_COUNT)

struct dice {
    uint64_t state;
};

/* splitmix64 (Steele, Lea, Flood 2014; from memory): the same calls on every machine. */
static double roll(struct dice *dice)
{
    dice->state += UINT64_C(0x9e3779b97f4a7c15);
    uint64_t z = dice->state;
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static size_t list_cells(struct strike cells[CELLS], const struct rules *rules,
                         const struct practice_only *only)
{
    bool some = false;
    size_t count = 0;
    for (int i = 0; i < CORNER_COUNT * LIMB_COUNT; i++) {
        some = some || only->targets[i / LIMB_COUNT][i % LIMB_COUNT];
    }
    for (int i = 0; i < CELLS; i++) {
        int corner = i / (LIMB_COUNT * TARGET_COUNT);
        int limb = i / TARGET_COUNT % LIMB_COUNT, target = i % TARGET_COUNT;
        /* Pads have one key for a knee, whichever it is. */
        bool sided = limb == LIMB_LEFT_KNEE || limb == LIMB_RIGHT_KNEE;
        if (rules_allow(rules, (enum limb)limb, (enum target)target) && !sided &&
            (!some || (only->targets[corner][limb] >> target & 1))) {
            cells[count++] = (struct strike){
                .corner = (uint8_t)corner, .limb = (uint8_t)limb, .target = (uint8_t)target};
        }
    }
    return count;
}

/* Until the next call. *left: of the combination under way; *corner: whose it is. */
static double gap_ms(struct dice *dice, enum practice_level level, double at_ms, int *left)
{
    double in_cycle = at_ms - BURST_EVERY * (double)(int)(at_ms / BURST_EVERY);
    if (level == LEVEL_SLOW) {
        *left = 0;
        return 1500 + 1000 * roll(dice);
    }
    if (level == LEVEL_BURST && in_cycle >= BURST_EVERY - BURST_LASTS) {
        *left = *left > 0 ? *left - 1 : FLURRY - 1;
        return *left < FLURRY - 1 ? FLURRY_MS : 600 + 200 * roll(dice);
    }
    if (*left > 0) {
        --*left;
        return 350 + 250 * roll(dice);
    }
    *left = (int)(4 * roll(dice)); /* and so many more behind the first */
    return 1480 + 1600 * roll(dice);
}

int practice_calls(struct practice_call **out, size_t *count, const struct rules *rules,
                   enum practice_level level, const struct practice_only *only, int64_t seed,
                   int32_t ran_ms)
{
    struct strike cells[CELLS];
    struct dice dice = {(uint64_t)seed};
    size_t known = list_cells(cells, rules, only), room = 0;
    double at_ms = FIRST_MS;
    int left = 0, corner = 0;
    *out = NULL;
    *count = 0;
    while (known > 0 && at_ms < ran_ms) {
        if (!grow_array(out, sizeof **out, *count, 1, &room)) {
            free(*out);
            *out = NULL;
            return ERROR_MEMORY;
        }
        if (left == 0) {
            corner = roll(&dice) < 0.5 ? CORNER_RED : CORNER_BLUE;
        }
        struct strike strike = cells[(size_t)(roll(&dice) * (double)known)];
        for (int tries = 0; tries < 20 && strike.corner != corner; tries++) {
            strike = cells[(size_t)(roll(&dice) * (double)known)];
        }
        strike.outcome = roll(&dice) < LANDED ? OUTCOME_LANDED : OUTCOME_ATTEMPTED;
        (*out)[(*count)++] = (struct practice_call){(int32_t)at_ms, strike};
        at_ms += gap_ms(&dice, level, at_ms, &left);
    }
    return 0;
}
