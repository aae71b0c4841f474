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

/* What is known of a key's press. */
enum key_press {
    PRESS_UNKNOWN, /* a byte as ever: only its timing tells a repeat */
    PRESS_SURE,    /* the key was up before: a stroke of its own, however soon */
    PRESS_REPEAT   /* it is held down */
};

/* What an action needs, or the refusal says why not. */
enum action_needs {
    NEEDS_NOTHING, /* it only shows */
    NEEDS_OPEN     /* a record that is not signed */
};

/* What a held key's repeats do. */
enum action_repeats {
    REPEATS_DROP, /* nothing: and what the first of them wrote is taken back */
    REPEATS_PASS  /* each is a stroke of its own */
};

/* One table of what an operator can do: name in key maps, what it needs, what its key does when it
 * is held, what the help says. Everything that an action writes is taken back by `undo`, the
 * entries of one keystroke at once. */
#define OPERATOR_ACTIONS(X)                                                                        \
    X(LANDED, "landed", OPEN, DROP, "newest strike landed, or not")                                \
    X(RED_SPINNING, "red_spinning", OPEN, DROP, "red's newest: spinning")                          \
    X(RED_JUMPING, "red_jumping", OPEN, DROP, "red's newest: jumping")                             \
    X(RED_BLOCKED, "red_blocked", OPEN, DROP, "red's newest: blocked")                             \
    X(RED_KNOCKDOWN, "red_knockdown", OPEN, DROP, "red's newest: a knockdown")                     \
    X(RED_SWITCH, "red_switch", OPEN, DROP, "red switches stance")                                 \
    X(BLUE_SPINNING, "blue_spinning", OPEN, DROP, "blue's newest: spinning")                       \
    X(BLUE_JUMPING, "blue_jumping", OPEN, DROP, "blue's newest: jumping")                          \
    X(BLUE_BLOCKED, "blue_blocked", OPEN, DROP, "blue's newest: blocked")                          \
    X(BLUE_KNOCKDOWN, "blue_knockdown", OPEN, DROP, "blue's newest: a knockdown")                  \
    X(BLUE_SWITCH, "blue_switch", OPEN, DROP, "blue switches stance")                              \
    X(CLINCH, "clinch", OPEN, DROP, "clinch on, off")                                              \
    X(REVIEW, "review", OPEN, DROP, "flag the newest entry")                                       \
    X(UNSURE, "unsure", OPEN, DROP, "newest strike: not seen well")                                \
    X(HIDE, "view_blocked", OPEN, DROP, "view blocked: both, red, blue, no")                       \
    X(RED_INCIDENT, "red_incident", OPEN, DROP, "an incident of red: a letter")                    \
    X(BLUE_INCIDENT, "blue_incident", OPEN, DROP, "an incident of blue: a letter")                 \
    X(UNDO, "undo", OPEN, DROP, "take back the newest keystroke")                                  \
    X(REDO, "redo", OPEN, DROP, "bring back what was taken back")                                  \
    X(CLOCK, "clock", OPEN, DROP, "clock: start, stop, next round")                                \
    X(CLOCK_LESS, "clock_less", OPEN, PASS, "clock: a second less elapsed")                        \
    X(CLOCK_MORE, "clock_more", OPEN, PASS, "clock: a second more elapsed")                        \
    X(CLOCK_LESS_TEN, "clock_minus_ten", OPEN, PASS, "clock: ten seconds less")                    \
    X(CLOCK_MORE_TEN, "clock_plus_ten", OPEN, PASS, "clock: ten seconds more")                     \
    X(CLOCK_SET, "clock_set", OPEN, DROP, "set the clock, or a late start")                        \
    X(END, "end", OPEN, DROP, "how the bout ended")                                                \
    X(LOG_NEWER, "log_newer", NOTHING, PASS, "into the log, newer")                                \
    X(LOG_OLDER, "log_older", NOTHING, PASS, "into the log, older")                                \
    X(AMEND, "amend", OPEN, DROP, "in the log: open entry or range")                               \
    X(RANGE, "range", NOTHING, DROP, "in the log: a range from here")                              \
    X(TURN, "turn", OPEN, DROP, "turn round a wrong case or layout")                               \
    X(PAGE, "page", NOTHING, DROP, "next page")                                                    \
    X(PAGE_BACK, "page_back", NOTHING, DROP, "the page before")                                    \
    X(HELP, "help", NOTHING, DROP, "this help")                                                    \
    X(SCORECARDS, "scorecards", OPEN, DROP, "scorecards")                                          \
    X(LOOKUP, "lookup", NOTHING, DROP, "a pad key's numbers; log: jump")                           \
    X(FILTER, "filter", NOTHING, DROP, "in the log: show only some")                               \
    X(TAKEOVER, "takeover", OPEN, DROP, "make this desk official (twice)")                         \
    X(SETTLE, "settle", OPEN, DROP, "settle two desks' differences")                               \
    X(SYNC, "sync", OPEN, DROP, "note the recording's time code")                                  \
    X(LOOK, "look", NOTHING, DROP, "recorder: flagged, and back")                                  \
    X(LEAVE, "leave", NOTHING, DROP, "leave the desk (asks twice)")

enum action {
#define X(id, name, needs, repeats, help) ACTION_##id,
    OPERATOR_ACTIONS(X)
#undef X
        ACTION_COUNT,
    ACTION_STRIKE, /* a pad key */
    ACTION_NONE    /* a free key */
};

/* What a player is told, by keys that come before all others at a desk on a recording. */
#define TRANSPORT_ACTIONS(X)                                                                       \
    X(PLAY, "play", "play, pause; starts a lost player again")                                     \
    X(BACK, "back", "back 2 s")                                                                    \
    X(ON, "on", "on 2 s")                                                                          \
    X(FRAME_BACK, "frame_back", "a frame back")                                                    \
    X(FRAME_ON, "frame_on", "a frame on")                                                          \
    X(SLOWER, "slower", "slower, to a quarter")                                                    \
    X(FASTER, "faster", "faster, to double")                                                       \
    X(REPEAT, "repeat", "repeat the last 3 s, or go on")                                           \
    X(NEWEST, "newest", "to the newest entry; log: to this one")                                   \
    X(DIFFERENCE, "difference", "to what was not seen live, then to differences")                  \
    X(KEEP, "keep", "keep a double as a second strike")

enum transport {
#define X(id, name, help) TRANSPORT_##id,
    TRANSPORT_ACTIONS(X)
#undef X
        TRANSPORT_COUNT
};
extern const char *const transport_names[TRANSPORT_COUNT];
extern const char *const transport_help[TRANSPORT_COUNT];

extern const char *const action_names[ACTION_COUNT];
extern const char *const action_help[ACTION_COUNT];
/* For ACTION_STRIKE too: it needs an open record, and its repeats are dropped. */
enum action_needs action_needs(enum action action);
enum action_repeats action_repeats(enum action action);

struct pad_key {
    int32_t attempted, landed; /* keys; KEY_OF_NONE where the cell has none */
};

struct keymap {
    char id[32], title[64];
    struct pad_key pad[CORNER_COUNT][LIMB_COUNT][TARGET_COUNT];
    int32_t action[ACTION_COUNT];       /* key, or KEY_OF_NONE */
    int32_t also[ACTION_COUNT];         /* a second key for it (a digit with Shift still down) */
    int32_t transport[TRANSPORT_COUNT]; /* at a desk on a recording: before all others */
};

/* What a key means. For ACTION_STRIKE corner, limb, target, landed are set. */
struct meaning {
    enum action action;
    struct strike strike; /* corner, limb, target, outcome; the rest zero */
};

/* Refuses a key bound twice and names both. */
int keymap_parse(struct keymap *out, const char *text, size_t size, const char *file,
                 struct error *err);
/* TRANSPORT_COUNT: none. */
enum transport keymap_transport(const struct keymap *map, int32_t key);
struct meaning keymap_find(const struct keymap *map, int32_t key);
/* The digit of a key: an ASCII digit's own, else that of its place where a mark of the digits' row
 * is (1 2 3 4 5 for red, 0 9 8 7 6 for blue), whatever the keyboard has printed there. -1: none. */
int keymap_digit(const struct keymap *map, int32_t key);
/* The first key of the map outside of ASCII; KEY_OF_NONE: it has none. */
int32_t keymap_beyond_ascii(const struct keymap *map);

/* The key that a word or a single character names ("Space", "q", "Semicolon"), or KEY_OF_NONE. */
int32_t key_from_name(const char *name);
/* Its name as a key script writes it: one printable character or a word. */
const char *key_word(char out[16], int32_t key);
#endif
