/* tally.c: counts and their sums. */
#include "ringtally/tally/tally.h"

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

static void count_add(struct count *count, const struct strike *strike, int sign)
{
    count->attempted += sign;
    count->landed += strike->outcome == OUTCOME_LANDED ? sign : 0;
}

void corner_tally_strike(struct corner_tally *tally, const struct strike *strike, int sign)
{
    count_add(&tally->all, strike, sign);
    count_add(&tally->limb[strike->limb], strike, sign);
    count_add(&tally->target[strike->target], strike, sign);
    count_add(&tally->limb_target[strike->limb][strike->target], strike, sign);
    count_add(&tally->stance[strike->stance], strike, sign);
    count_add(&tally->position[strike->position], strike, sign);
    count_add(&tally->group[limb_group(strike->limb)], strike, sign);
    tally->blocked += strike->outcome == OUTCOME_BLOCKED ? sign : 0;
    tally->spinning += strike->technique & TECHNIQUE_SPINNING ? sign : 0;
    tally->jumping += strike->technique & TECHNIQUE_JUMPING ? sign : 0;
}
