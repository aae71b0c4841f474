/* strike.h: what one strike is, and what the taggers' marks do to it.
 *
 * A strike is a small value. Its names in files, in SQL and on the command line come from the
 * tables here.
 */
#ifndef RINGTALLY_BOUT_STRIKE_H
#define RINGTALLY_BOUT_STRIKE_H

#include <stdbool.h>
#include <stdint.h>

enum corner { CORNER_RED, CORNER_BLUE, CORNER_NONE, CORNER_COUNT = CORNER_NONE };

/* The limbs: constant, side, group, column of the pad, name in files and SQL, words, short words.
 * A new limb is a line here and one in a key map. */
#define LIMB_LIST(LIMB)                                                                            \
    LIMB(LEFT_HAND, LEFT, HANDS, LEFT_HAND, "left_hand", "left hand", "L hand")                    \
    LIMB(RIGHT_HAND, RIGHT, HANDS, RIGHT_HAND, "right_hand", "right hand", "R hand")               \
    LIMB(LEFT_ELBOW, LEFT, ELBOWS, LEFT_ELBOW, "left_elbow", "left elbow", "L elbow")              \
    LIMB(RIGHT_ELBOW, RIGHT, ELBOWS, RIGHT_ELBOW, "right_elbow", "right elbow", "R elbow")         \
    LIMB(KNEE, NONE, KNEES, KNEE, "knee", "knee", "knee") /* side not said */                      \
    LIMB(LEFT_KNEE, LEFT, KNEES, KNEE, "left_knee", "left knee", "L knee")                         \
    LIMB(RIGHT_KNEE, RIGHT, KNEES, KNEE, "right_knee", "right knee", "R knee")                     \
    LIMB(LEFT_LEG, LEFT, LEGS, LEFT_LEG, "left_leg", "left leg", "L leg")                          \
    LIMB(RIGHT_LEG, RIGHT, LEGS, RIGHT_LEG, "right_leg", "right leg", "R leg")

#define LIMB_CONSTANT(limb, side, group, column, name, words, brief) LIMB_##limb,
enum limb { LIMB_LIST(LIMB_CONSTANT) LIMB_COUNT };
#undef LIMB_CONSTANT

enum limb_side { LIMB_SIDE_NONE, LIMB_SIDE_LEFT, LIMB_SIDE_RIGHT };

/* The pad's columns, as the thrower's own limbs lie from left to right, each with the limb that it
 * is called by; the three sorts of knee are one column. */
#define PAD_LIST(PAD)                                                                              \
    PAD(LEFT_LEG)                                                                                  \
    PAD(LEFT_HAND) PAD(LEFT_ELBOW) PAD(RIGHT_ELBOW) PAD(RIGHT_HAND) PAD(RIGHT_LEG) PAD(KNEE)

#define PAD_CONSTANT(limb) PAD_##limb,
enum pad_column { PAD_LIST(PAD_CONSTANT) PAD_COLUMNS };
#undef PAD_CONSTANT

/* The targets, from above: constant, name in files and SQL, at the pad, a kick there, in a sentence
 * ("to the legs"). What else a new one asks for stands in DEVELOPERS.md. */
#define TARGET_LIST(TARGET)                                                                        \
    TARGET(HEAD, "head", "HEAD", "head kick", "head")                                              \
    TARGET(BODY, "body", "BODY", "body kick", "body")                                              \
    TARGET(LEG, "leg", "LEG", "low kick", "legs")

#define TARGET_CONSTANT(target, name, heading, kick, words) TARGET_##target,
enum target { TARGET_LIST(TARGET_CONSTANT) TARGET_COUNT };
#undef TARGET_CONSTANT

enum stance { STANCE_ORTHODOX, STANCE_SOUTHPAW, STANCE_SQUARE, STANCE_COUNT };
enum position { POSITION_OPEN, POSITION_CLINCH, POSITION_COUNT };
enum outcome { OUTCOME_ATTEMPTED, OUTCOME_LANDED, OUTCOME_BLOCKED, OUTCOME_COUNT };

/* Technique flags of a strike. A knockdown is scored by the strike that carries it, and only a
 * landed one can. */
enum technique { TECHNIQUE_SPINNING = 1, TECHNIQUE_JUMPING = 2, TECHNIQUE_KNOCKDOWN = 4 };

struct strike {
    uint8_t corner;    /* enum corner: who threw it */
    uint8_t limb;      /* enum limb */
    uint8_t target;    /* enum target */
    uint8_t stance;    /* enum stance of the thrower at that moment */
    uint8_t position;  /* enum position at that moment */
    uint8_t outcome;   /* enum outcome */
    uint8_t technique; /* technique flags */
};

/* Limbs in the three groups that a commentator speaks of. */
enum limb_group { GROUP_HANDS, GROUP_KNEES, GROUP_LEGS, GROUP_ELBOWS, GROUP_COUNT };

extern const char *const corner_names[CORNER_COUNT + 1]; /* "red" "blue" "none" */
extern const char *const limb_names[LIMB_COUNT];         /* "left_hand" ... */
extern const char *const limb_words[LIMB_COUNT];         /* "left hand" ... */
extern const char *const limb_briefs[LIMB_COUNT];        /* "L hand" ... */
extern const char *const target_names[TARGET_COUNT];     /* "head" "body" "leg" */
extern const char *const target_headings[TARGET_COUNT];  /* "HEAD" ... */
extern const char *const target_kicks[TARGET_COUNT];     /* "head kick" "body kick" "low kick" */
extern const char *const target_spoken[TARGET_COUNT];    /* "head" "body" "legs" */
extern const char *const stance_names[STANCE_COUNT];     /* "orthodox" "southpaw" "square" */
extern const char *const position_names[POSITION_COUNT]; /* "open" "clinch" */
extern const char *const outcome_names[OUTCOME_COUNT];   /* "attempted" "landed" "blocked" */
extern const char *const group_names[GROUP_COUNT];       /* "hands" "knees" "legs" "elbows" */

/* Index of `name` in a table of `count` names, or -1. */
int name_index(const char *const *names, int count, const char *name);

enum corner corner_other(enum corner corner);
enum limb_group limb_group(enum limb limb);
enum limb_side limb_side(enum limb limb);
enum pad_column limb_column(enum limb limb);
/* The limb that a column is called by. */
enum limb pad_limb(enum pad_column column);
/* True for one side of a limb that also exists with its side not said. */
bool limb_is_refined(enum limb limb);

/* The marks. Each is pressed again to take it back:
 * landed: on takes blocked away; off takes the knockdown with it.
 * blocked: on takes landed and the knockdown away.
 * knockdown: on lands the strike; off leaves it landed. */
void strike_mark_landed(struct strike *strike);
void strike_mark_blocked(struct strike *strike);
void strike_mark_knockdown(struct strike *strike);
void strike_mark_technique(struct strike *strike, enum technique flag); /* spinning or jumping */

/* "left leg body, landed, spinning": what was thrown, in words, without the corner. */
void strike_words(char *out, unsigned size, const struct strike *strike);

/* True where every field is within its range and a knockdown is on a landed strike only. */
bool strike_is_sound(const struct strike *strike);

/* The stance that the "switch stance" key leads to: orthodox and southpaw change places, square
 * becomes orthodox. */
enum stance stance_switched(enum stance stance);

#endif
