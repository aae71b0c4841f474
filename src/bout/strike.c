/* strike.c: strikes, and the marks put on them. */
#include "ringtally/bout/strike.h"

#include <stdio.h>
#include <string.h>

const char *const corner_names[CORNER_COUNT + 1] = {"red", "blue", "none"};

#define NAME(limb, side, group, column, name, words, brief)  name,
#define WORDS(limb, side, group, column, name, words, brief) words,
#define BRIEF(limb, side, group, column, name, words, brief) brief,
#define FACTS(limb, side, group, column, name, words, brief)                                       \
    {LIMB_SIDE_##side, GROUP_##group, PAD_##column},

const char *const limb_names[LIMB_COUNT] = {LIMB_LIST(NAME)};
const char *const limb_words[LIMB_COUNT] = {LIMB_LIST(WORDS)};
const char *const limb_briefs[LIMB_COUNT] = {LIMB_LIST(BRIEF)};
static const struct {
    uint8_t side, group, column;
} facts[LIMB_COUNT] = {LIMB_LIST(FACTS)};

#define CALLED(limb) LIMB_##limb,
static const uint8_t called[PAD_COLUMNS] = {PAD_LIST(CALLED)};

#define TARGET_NAME(target, name, heading, kick, words)    name,
#define TARGET_HEADING(target, name, heading, kick, words) heading,
#define TARGET_KICK(target, name, heading, kick, words)    kick,
#define TARGET_WORDS(target, name, heading, kick, words)   words,

const char *const target_names[TARGET_COUNT] = {TARGET_LIST(TARGET_NAME)};
const char *const target_headings[TARGET_COUNT] = {TARGET_LIST(TARGET_HEADING)};
const char *const target_kicks[TARGET_COUNT] = {TARGET_LIST(TARGET_KICK)};
const char *const target_spoken[TARGET_COUNT] = {TARGET_LIST(TARGET_WORDS)};
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
    return (enum limb_group)facts[limb].group;
}

enum limb_side limb_side(enum limb limb)
{
    return (enum limb_side)facts[limb].side;
}

enum pad_column limb_column(enum limb limb)
{
    return (enum pad_column)facts[limb].column;
}

enum limb pad_limb(enum pad_column column)
{
    return (enum limb)called[column];
}

bool limb_is_refined(enum limb limb)
{
    return limb != pad_limb(limb_column(limb));
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
