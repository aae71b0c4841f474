/* keymap.h: keys, and what they mean at a desk. Key maps are data: shared/keymaps/. */
#ifndef RINGTALLY_DESK_KEYMAP_H
#define RINGTALLY_DESK_KEYMAP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/bout/strike.h"

/* A key: a printable Unicode code point, or one of these above its range. */
enum key {
    KEY_OF_SPACE = ' ',
    KEY_OF_ENTER = 0x110000,
    KEY_OF_BACKSPACE,
    KEY_OF_TAB,
    KEY_OF_LEFT,
    KEY_OF_RIGHT,
    KEY_OF_UP,
    KEY_OF_DOWN,
    KEY_OF_DELETE,
    KEY_OF_INSERT,
    KEY_OF_ESC,
    KEY_OF_BACKTAB,
    KEY_OF_HOME,
    KEY_OF_END,
    KEY_OF_PAGE_UP,
    KEY_OF_PAGE_DOWN,
    KEY_OF_SHIFT_LEFT,
    KEY_OF_SHIFT_RIGHT,
    KEY_OF_SHIFT_UP,
    KEY_OF_SHIFT_DOWN,
    KEY_OF_F1,
    KEY_OF_F12 = KEY_OF_F1 + 11,
    KEY_OF_NONE
};

/* One table of what an operator can do: id in key maps, what the help says. */
#define OPERATOR_ACTIONS(X)                                                                        \
    X(LANDED, "landed", "newest strike of this desk landed; again: attempted")                     \
    X(RED_SPINNING, "red_spinning", "red's newest: spinning")                                      \
    X(RED_JUMPING, "red_jumping", "red's newest: jumping")                                         \
    X(RED_BLOCKED, "red_blocked", "red's newest: blocked")                                         \
    X(RED_KNOCKDOWN, "red_knockdown", "red's newest: a knockdown")                                 \
    X(RED_SWITCH, "red_switch", "red switches stance")                                             \
    X(BLUE_SPINNING, "blue_spinning", "blue's newest: spinning")                                   \
    X(BLUE_JUMPING, "blue_jumping", "blue's newest: jumping")                                      \
    X(BLUE_BLOCKED, "blue_blocked", "blue's newest: blocked")                                      \
    X(BLUE_KNOCKDOWN, "blue_knockdown", "blue's newest: a knockdown")                              \
    X(BLUE_SWITCH, "blue_switch", "blue switches stance")                                          \
    X(CLINCH, "clinch", "clinch on, off")                                                          \
    X(REVIEW, "review", "flag the newest entry for review")                                        \
    X(RED_INCIDENT, "red_incident", "an incident of red: one letter follows")                      \
    X(BLUE_INCIDENT, "blue_incident", "an incident of blue: one letter follows")                   \
    X(UNDO, "undo", "take back the newest keystroke; again: the one before")                       \
    X(REDO, "redo", "bring back what was taken back")                                              \
    X(CLOCK, "clock", "round clock: start, stop, begin the next round")                            \
    X(CLOCK_LESS, "clock_less", "clock: a second less elapsed")                                    \
    X(CLOCK_MORE, "clock_more", "clock: a second more elapsed")                                    \
    X(LOG_NEWER, "log_newer", "into the log, newer")                                               \
    X(LOG_OLDER, "log_older", "into the log, older")                                               \
    X(PAGE, "page", "next page of the panel")                                                      \
    X(HELP, "help", "this help")                                                                   \
    X(SCORECARDS, "scorecards", "scorecards")                                                      \
    X(LOOKUP, "lookup", "look-up: a pad key's numbers")                                            \
    X(FILTER, "filter", "in the log: show only some")                                              \
    X(TAKEOVER, "takeover", "make this desk official (twice)")                                     \
    X(SETTLE, "settle", "walk through what two desks say differently")                             \
    X(SYNC, "sync", "note the time code read off the recording now")                               \
    X(LEAVE, "leave", "leave the desk (asks twice)")

enum action {
#define X(id, name, help) ACTION_##id,
    OPERATOR_ACTIONS(X)
#undef X
        ACTION_COUNT,
    ACTION_STRIKE, /* a pad key */
    ACTION_NONE    /* a free key */
};

extern const char *const action_names[ACTION_COUNT];
extern const char *const action_help[ACTION_COUNT];

struct pad_key {
    int32_t attempted, landed; /* keys; KEY_OF_NONE where the cell has none */
};

struct keymap {
    char id[32], title[64];
    struct pad_key pad[CORNER_COUNT][LIMB_COUNT][TARGET_COUNT];
    int32_t action[ACTION_COUNT]; /* key, or KEY_OF_NONE */
};

/* What a key means. For ACTION_STRIKE corner, limb, target, landed are set. */
struct meaning {
    enum action action;
    struct strike strike; /* corner, limb, target, outcome; the rest zero */
};

/* Refuses a key bound twice and names both. */
int keymap_parse(struct keymap *out, const char *text, size_t size, const char *file,
                 struct error *err);
struct meaning keymap_find(const struct keymap *map, int32_t key);

/* The key that a word or a single character names ("Space", "q", "Semicolon"), or KEY_OF_NONE. */
int32_t key_from_name(const char *name);
/* Its name as a key script writes it: one printable character or a word. */
const char *key_word(char out[16], int32_t key);
#endif
