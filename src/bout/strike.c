/* strike.c: strikes, and the marks put on them. */
#include "ringtally/bout/strike.h"

#include <stdio.h>
#include <string.h>

const char *const corner_names[CORNER_COUNT + 1] = {"red", "blue", "none"};
const char *const limb_names[LIMB_COUNT] = {"left_hand",   "right_hand", "left_elbow",
                                            "right_elbow", "knee",       "left_knee",
                                            "right_knee",  "left_leg",   "right_leg"};
const char *const limb_words[LIMB_COUNT] = {"left hand",   "right hand", "left elbow",
                                            "right elbow", "knee",       "left knee",
                                            "right knee",  "left leg",   "right leg"};
const char *const target_names[TARGET_COUNT] = {"head", "body", "leg"};
const char *const stance_names[STANCE_COUNT] = {"orthodox", "southpaw", "square"};
const char *const position_names[POSITION_COUNT] = {"open", "clinch"};
const char *const outcome_names[OUTCOME_COUNT] = {"attempted", "landed", "blocked"};
const char *const group_names[GROUP_COUNT] = {"hands", "knees", "legs", "elbows"};

int name_index(const char *const *names, int count, const char *name)
{
    for (int i = 0; i < count; i++) {
        if (strcmp(names[i], name) == 0) {
            return i;
        }
    }
    return -1;
}

enum corner corner_other(enum corner corner)
{
    return corner == CORNER_RED ? CORNER_BLUE : CORNER_RED;
}

enum limb_group limb_group(enum limb limb)
{
    switch (limb) {
    case LIMB_LEFT_HAND:
    case LIMB_RIGHT_HAND:
        return GROUP_HANDS;
    case LIMB_LEFT_ELBOW:
    case LIMB_RIGHT_ELBOW:
        return GROUP_ELBOWS;
    case LIMB_KNEE:
    case LIMB_LEFT_KNEE:
    case LIMB_RIGHT_KNEE:
        return GROUP_KNEES;
    default:
        return GROUP_LEGS;
    }
}

static void drop_knockdown(struct strike *strike)
{
    strike->technique &= (uint8_t)~TECHNIQUE_KNOCKDOWN;
}

void strike_mark_landed(struct strike *strike)
{
    if (strike->outcome == OUTCOME_LANDED) {
        strike->outcome = OUTCOME_ATTEMPTED;
        drop_knockdown(strike);
    } else {
        strike->outcome = OUTCOME_LANDED;
    }
}

void strike_mark_blocked(struct strike *strike)
{
    strike->outcome = strike->outcome == OUTCOME_BLOCKED ? OUTCOME_ATTEMPTED : OUTCOME_BLOCKED;
    drop_knockdown(strike);
}

void strike_mark_knockdown(struct strike *strike)
{
    strike->technique ^= TECHNIQUE_KNOCKDOWN;
    strike->outcome = OUTCOME_LANDED;
}

void strike_mark_technique(struct strike *strike, enum technique flag)
{
    strike->technique ^= (uint8_t)flag;
}

void strike_words(char *out, unsigned size, const struct strike *strike)
{
    snprintf(out, size, "%s %s%s%s%s%s%s", limb_words[strike->limb], target_names[strike->target],
             strike->outcome == OUTCOME_LANDED    ? ", landed"
             : strike->outcome == OUTCOME_BLOCKED ? ", blocked"
                                                  : "",
             strike->technique & TECHNIQUE_KNOCKDOWN ? ", knockdown" : "",
             strike->technique & TECHNIQUE_SPINNING ? ", spinning" : "",
             strike->technique & TECHNIQUE_JUMPING ? ", jumping" : "",
             strike->position == POSITION_CLINCH ? ", clinch" : "");
}

bool strike_is_sound(const struct strike *strike)
{
    return strike->corner < CORNER_COUNT && strike->limb < LIMB_COUNT &&
           strike->target < TARGET_COUNT && strike->stance < STANCE_COUNT &&
           strike->position < POSITION_COUNT && strike->outcome < OUTCOME_COUNT &&
           strike->technique <= (TECHNIQUE_SPINNING | TECHNIQUE_JUMPING | TECHNIQUE_KNOCKDOWN) &&
           (!(strike->technique & TECHNIQUE_KNOCKDOWN) || strike->outcome == OUTCOME_LANDED);
}

enum stance stance_switched(enum stance stance)
{
    return stance == STANCE_ORTHODOX ? STANCE_SOUTHPAW : STANCE_ORTHODOX;
}
