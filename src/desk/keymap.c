/* keymap.c: key maps: which key means which strike or action. */
#include "ringtally/desk/keymap.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/base/ini.h"
#include "ringtally/base/text.h"

const char *const action_names[ACTION_COUNT] = {
#define X(id, name, needs, repeats, help) name,
    OPERATOR_ACTIONS(X)
#undef X
};

const char *const action_help[ACTION_COUNT] = {
#define X(id, name, needs, repeats, help) help,
    OPERATOR_ACTIONS(X)
#undef X
};

const char *const transport_names[TRANSPORT_COUNT] = {
#define X(id, name, help) name,
    TRANSPORT_ACTIONS(X)
#undef X
};

const char *const transport_help[TRANSPORT_COUNT] = {
#define X(id, name, help) help,
    TRANSPORT_ACTIONS(X)
#undef X
};

enum action_needs action_needs(enum action action)
{
    static const enum action_needs needs_of[ACTION_COUNT] = {
#define X(id, name, needs, repeats, help) NEEDS_##needs,
        OPERATOR_ACTIONS(X)
#undef X
    };
    return action < ACTION_COUNT     ? needs_of[action]
           : action == ACTION_STRIKE ? NEEDS_OPEN
                                     : NEEDS_NOTHING;
}

enum action_repeats action_repeats(enum action action)
{
    static const enum action_repeats repeats_of[ACTION_COUNT] = {
#define X(id, name, needs, repeats, help) REPEATS_##repeats,
        OPERATOR_ACTIONS(X)
#undef X
    };
    return action < ACTION_COUNT ? repeats_of[action] : REPEATS_DROP;
}

/* Words for keys: `script` marks those that a key script and key_word use; the others spell
 * characters that are awkward in INI. */
static const struct key_word {
    const char *word;
    int32_t key;
    bool script;
} words[] = {
    {"Space", KEY_OF_SPACE, true},
    {"Enter", KEY_OF_ENTER, true},
    {"Backspace", KEY_OF_BACKSPACE, true},
    {"Tab", KEY_OF_TAB, true},
    {"Left", KEY_OF_LEFT, true},
    {"Right", KEY_OF_RIGHT, true},
    {"Up", KEY_OF_UP, true},
    {"Down", KEY_OF_DOWN, true},
    {"Delete", KEY_OF_DELETE, true},
    {"Insert", KEY_OF_INSERT, true},
    {"Esc", KEY_OF_ESC, true},
    {"BackTab", KEY_OF_BACKTAB, true},
    {"Home", KEY_OF_HOME, true},
    {"End", KEY_OF_END, true},
    {"PageUp", KEY_OF_PAGE_UP, true},
    {"PageDown", KEY_OF_PAGE_DOWN, true},
    {"ShiftLeft", KEY_OF_SHIFT_LEFT, true},
    {"ShiftRight", KEY_OF_SHIFT_RIGHT, true},
    {"ShiftUp", KEY_OF_SHIFT_UP, true},
    {"ShiftDown", KEY_OF_SHIFT_DOWN, true},
    {"Semicolon", ';', false},
    {"Colon", ':', false},
    {"Comma", ',', false},
    {"Period", '.', false},
    {"Slash", '/', false},
    {"Question", '?', false},
    {"Less", '<', false},
    {"Greater", '>', false},
    {"Equals", '=', false},
    {"Hash", '#', false},
    {"LeftBracket", '[', false},
    {"RightBracket", ']', false},
    {"Backslash", '\\', false},
    {"Backquote", '`', false},
    {"Apostrophe", '\'', false},
    {"Quote", '"', false},
    {"Plus", '+', false},
};

int32_t key_from_name(const char *name)
{
    int number = 0;
    char rest = 0;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(words[i].word, name) == 0) {
            return words[i].key;
        }
    }
    if (sscanf(name, "F%d%c", &number, &rest) == 1 && number >= 1 && number <= 12) {
        return KEY_OF_F1 + number - 1;
    }
    int32_t point[2];
    int count = 0;
    const char *at = name;
    if (text_grapheme(&at, point, 2, &count) < 1 || count != 1 || *at || point[0] <= ' ' ||
        point[0] == 0x7f) {
        return KEY_OF_NONE;
    }
    return point[0];
}

const char *key_word(char out[16], int32_t key)
{
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (words[i].key == key && words[i].script) {
            snprintf(out, 16, "%s", words[i].word);
            return out;
        }
    }
    if (key >= KEY_OF_F1 && key <= KEY_OF_F12) {
        snprintf(out, 16, "F%d", key - KEY_OF_F1 + 1);
        return out;
    }
    text_encode(out, key);
    return out;
}

static int bind(int32_t *slot, const char *what, const char *name, const struct ini_place *place,
                struct error *err)
{
    int32_t key = key_from_name(name);
    if (key == KEY_OF_NONE) {
        return ini_fail(place, err, "%s: no such key: %s", what, name);
    }
    if (*slot != KEY_OF_NONE) {
        return ini_fail(place, err, "%s is there twice", what);
    }
    *slot = key;
    return 0;
}

/* What a key is bound to already, in the words of the file; NULL: free. */
static const char *bound_to(const struct keymap *map, int32_t key, char out[64])
{
    struct meaning meaning = keymap_find(map, key);
    if (meaning.action == ACTION_NONE) {
        return NULL;
    }
    if (meaning.action == ACTION_STRIKE) {
        snprintf(out, 64, "%s's %s.%s", corner_names[meaning.strike.corner],
                 limb_names[meaning.strike.limb], target_names[meaning.strike.target]);
    } else {
        snprintf(out, 64, "%s", action_names[meaning.action]);
    }
    return out;
}

static int bind_free(struct keymap *map, int32_t *slot, const char *what, const char *name,
                     const struct ini_place *place, struct error *err)
{
    char other[64];
    int32_t key = key_from_name(name);
    if (key != KEY_OF_NONE && bound_to(map, key, other)) {
        return ini_fail(place, err, "the key %s is bound twice: to %s and to %s", name, other,
                        what);
    }
    return bind(slot, what, name, place, err);
}

static int on_pad(struct keymap *map, enum corner corner, const char *cell, const char *value,
                  const struct ini_place *place, struct error *err)
{
    char limb_name[32], target_name[32], attempted[32], landed[32], rest;
    if (sscanf(cell, "%31[^.].%31s", limb_name, target_name) != 2) {
        return ini_fail(place, err, "%s: limb.target is needed", cell);
    }
    int limb = name_index(limb_names, LIMB_COUNT, limb_name);
    int target = name_index(target_names, TARGET_COUNT, target_name);
    if (limb < 0 || target < 0) {
        return ini_fail(place, err, "no such cell: %s", cell);
    }
    if (sscanf(value, "%31s %31s %c", attempted, landed, &rest) != 2) {
        return ini_fail(place, err, "%s: two keys are needed, for attempted and for landed", cell);
    }
    struct pad_key *pad = &map->pad[corner][limb][target];
    int code = bind_free(map, &pad->attempted, cell, attempted, place, err);
    return code ? code : bind_free(map, &pad->landed, cell, landed, place, err);
}

/* One key, or two: the second for a hand whose Shift is still down. */
static int on_action(struct keymap *map, int action, const char *value,
                     const struct ini_place *place, struct error *err)
{
    char first[32], second[32] = "", rest;
    const char *name = action_names[action];
    int count = sscanf(value, "%31s %31s %c", first, second, &rest);
    if (count < 1 || count > 2) {
        return ini_fail(place, err, "%s: one key or two are needed", name);
    }
    int code = bind_free(map, &map->action[action], name, first, place, err);
    return code || count == 1 ? code : bind_free(map, &map->also[action], name, second, place, err);
}

/* At a desk on a recording these come first, so only a pad key or another of them is in the way. */
static int on_transport(struct keymap *map, const char *name, const char *value,
                        const struct ini_place *place, struct error *err)
{
    char other[64];
    int at = name_index(transport_names, TRANSPORT_COUNT, name);
    int32_t key = key_from_name(value);
    if (at < 0) {
        return ini_fail(place, err, "[recording] knows no %s", name);
    }
    enum transport taken = keymap_transport(map, key);
    if (taken < TRANSPORT_COUNT || keymap_find(map, key).action == ACTION_STRIKE) {
        return ini_fail(
            place, err, "the key %s is bound twice: to %s and to %s", value,
            taken < TRANSPORT_COUNT ? transport_names[taken] : bound_to(map, key, other), name);
    }
    return bind(&map->transport[at], name, value, place, err);
}

static int on_value(void *user, const char *section, const char *key, const char *value,
                    const struct ini_place *place, struct error *err)
{
    struct keymap *map = user;
    if (strcmp(section, "keymap") == 0) {
        if (strcmp(key, "id") == 0) {
            return ini_text(map->id, sizeof map->id, key, value, place, err);
        }
        if (strcmp(key, "title") == 0) {
            return ini_text(map->title, sizeof map->title, key, value, place, err);
        }
        return ini_fail(place, err, "[keymap] knows no %s", key);
    }
    if (strcmp(section, "pad.red") == 0) {
        return on_pad(map, CORNER_RED, key, value, place, err);
    }
    if (strcmp(section, "pad.blue") == 0) {
        return on_pad(map, CORNER_BLUE, key, value, place, err);
    }
    if (strcmp(section, "recording") == 0) {
        return on_transport(map, key, value, place, err);
    }
    if (strcmp(section, "keys") == 0) {
        int action = name_index(action_names, ACTION_COUNT, key);
        if (action < 0) {
            return ini_fail(place, err, "no such action: %s", key);
        }
        return on_action(map, action, value, place, err);
    }
    return ini_fail(place, err, "no such section: [%s]", section);
}

int keymap_parse(struct keymap *out, const char *text, size_t size, const char *file,
                 struct error *err)
{
    memset(out, 0, sizeof *out);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int limb = 0; limb < LIMB_COUNT; limb++) {
            for (int target = 0; target < TARGET_COUNT; target++) {
                out->pad[corner][limb][target] = (struct pad_key){KEY_OF_NONE, KEY_OF_NONE};
            }
        }
    }
    for (int action = 0; action < ACTION_COUNT; action++) {
        out->action[action] = out->also[action] = KEY_OF_NONE;
    }
    for (int i = 0; i < TRANSPORT_COUNT; i++) {
        out->transport[i] = KEY_OF_NONE;
    }
    int code = ini_read(text, size, file, on_value, out, err);
    if (code) {
        return code;
    }
    /* Without these a desk cannot be worked or left. */
    static const enum action needed[] = {ACTION_CLOCK, ACTION_UNDO, ACTION_LEAVE};
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++) {
        if (out->action[needed[i]] == KEY_OF_NONE) {
            return error_set(err, ERROR_FAILED, "%s: no key for %s", file, action_names[needed[i]]);
        }
    }
    return 0;
}

enum transport keymap_transport(const struct keymap *map, int32_t key)
{
    int at = 0;
    while (at < TRANSPORT_COUNT && (key == KEY_OF_NONE || map->transport[at] != key)) {
        at++;
    }
    return (enum transport)at;
}

struct meaning keymap_find(const struct keymap *map, int32_t key)
{
    struct meaning meaning = {.action = ACTION_NONE};
    if (key == KEY_OF_NONE) {
        return meaning;
    }
    for (int action = 0; action < ACTION_COUNT; action++) {
        if (map->action[action] == key || map->also[action] == key) {
            meaning.action = (enum action)action;
            return meaning;
        }
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int limb = 0; limb < LIMB_COUNT; limb++) {
            for (int target = 0; target < TARGET_COUNT; target++) {
                const struct pad_key *pad = &map->pad[corner][limb][target];
                if (key == pad->attempted || key == pad->landed) {
                    meaning.action = ACTION_STRIKE;
                    meaning.strike.corner = (uint8_t)corner;
                    meaning.strike.limb = (uint8_t)limb;
                    meaning.strike.target = (uint8_t)target;
                    meaning.strike.outcome =
                        key == pad->landed ? OUTCOME_LANDED : OUTCOME_ATTEMPTED;
                    return meaning;
                }
            }
        }
    }
    return meaning;
}

int keymap_digit(const struct keymap *map, int32_t key)
{
    static const enum action row[10] = {
        ACTION_BLUE_SPINNING, ACTION_RED_SPINNING, ACTION_RED_JUMPING, ACTION_RED_BLOCKED,
        ACTION_RED_KNOCKDOWN, ACTION_RED_SWITCH,   ACTION_BLUE_SWITCH, ACTION_BLUE_KNOCKDOWN,
        ACTION_BLUE_BLOCKED,  ACTION_BLUE_JUMPING,
    };
    if (key >= '0' && key <= '9') {
        return (int)(key - '0');
    }
    for (int digit = 0; key != KEY_OF_NONE && digit < 10; digit++) {
        if (map->action[row[digit]] == key || map->also[row[digit]] == key) {
            return digit;
        }
    }
    return -1;
}

static int32_t beyond_ascii(int32_t key)
{
    return key >= 0x80 && key < KEY_OF_ENTER ? key : KEY_OF_NONE;
}

int32_t keymap_beyond_ascii(const struct keymap *map)
{
    const struct pad_key *pad = &map->pad[0][0][0];
    int32_t found = KEY_OF_NONE;
    for (int i = 0; i < CORNER_COUNT * LIMB_COUNT * TARGET_COUNT && found == KEY_OF_NONE; i++) {
        found = beyond_ascii(pad[i].attempted);
        found = found == KEY_OF_NONE ? beyond_ascii(pad[i].landed) : found;
    }
    for (int i = 0; i < ACTION_COUNT && found == KEY_OF_NONE; i++) {
        found = beyond_ascii(map->action[i]);
    }
    return found;
}
