/* tally.c: counts and their sums. */
#include "ringtally/tally/tally.h"

bool count_accuracy(const struct count *count, double *out)
{
    if (count->attempted == 0) {
        return false;
    }
    *out = (double)count->landed / count->attempted;
    return true;
}

static void add(struct count *sum, const struct count *more, int count)
{
    for (int i = 0; i < count; i++) {
        sum[i].attempted += more[i].attempted;
        sum[i].landed += more[i].landed;
    }
}

void corner_tally_add(struct corner_tally *sum, const struct corner_tally *more)
{
    add(&sum->all, &more->all, 1);
    sum->blocked += more->blocked;
    sum->knockdowns += more->knockdowns;
    sum->spinning += more->spinning;
    sum->jumping += more->jumping;
    add(sum->limb, more->limb, LIMB_COUNT);
    add(sum->target, more->target, TARGET_COUNT);
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        add(sum->limb_target[limb], more->limb_target[limb], TARGET_COUNT);
    }
    add(sum->stance, more->stance, STANCE_COUNT);
    add(sum->position, more->position, POSITION_COUNT);
    add(sum->group, more->group, GROUP_COUNT);
    for (int code = 0; code < CODE_ALL; code++) {
        sum->incidents[code] += more->incidents[code];
    }
    sum->deducted += more->deducted;
}
