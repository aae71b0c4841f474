/* keyboard.c: keys from a terminal that can tell a press from a repeat.
 *
 * The progressive enhancement of the keyboard's protocol: the terminal is asked once (CSI ? u, and
 * behind it for its attributes, which every terminal answers: the end mark). Nobody waits: where
 * the answer comes, soon or late, its keys are asked for as sequences with an event each (CSI > 31
 * u), and given back on leaving (CSI < u). Where none comes, nothing has changed.
 *
 * What a terminal claims is not believed, only what it does: a press is a stroke of its own for
 * certain where the key's release came before it. All else is judged by its timing.
 */
#include <stdlib.h>
#include <string.h>

#include "screen/terminal.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/text.h"
#include "ringtally/desk/keymap.h"

#define ASK    "\033[?u\033[c"
#define TAKE   "\033[>31u" /* events, every key a sequence, what Shift makes of it, its text */
#define GIVE   "\033[<u"
#define DOWN   16            /* keys that are down at once */
#define PARTS  KEYBOARD_KEYS /* of a parameter */
#define OLD_MS 10000

enum {
    SHIFT = 1,
    ALT = 2,
    CONTROL = 4,
    OTHERS = 8 | 16 | 32,
    CAPS_LOCK = 64
}; /* modifiers, less one */
enum { EVENT_PRESS = 1, EVENT_REPEAT = 2, EVENT_RELEASE = 3 };

static struct {
    bool asked, ended; /* the end mark came */
    bool closed;       /* nothing is taken any more */
    bool taken;
    bool proven; /* a release came */
    int64_t asked_ms;
    int32_t down[DOWN];
    int downs;
} keyboard;

void keyboard_open(bool able)
{
    memset(&keyboard, 0, sizeof keyboard);
    if (able) {
        keyboard.asked = true;
        keyboard.asked_ms = mono_ms();
        putp(ASK);
        fflush(stdout);
    }
}

void keyboard_close(void)
{
    if (keyboard.taken) {
        putp(GIVE);
        fflush(stdout);
        warden_dismiss();
    }
    keyboard.taken = false;
    keyboard.closed = true;
}

bool keyboard_owes(void)
{
    return keyboard.asked && !keyboard.ended && mono_ms() - keyboard.asked_ms < OLD_MS;
}

bool keyboard_is_proven(void)
{
    return keyboard.proven;
}

static void take(void)
{
    if (keyboard.asked && !keyboard.closed && !keyboard.taken && warden_set(GIVE)) {
        keyboard.taken = true;
        putp(TAKE);
        fflush(stdout);
    }
}

static int find_down(int32_t id)
{
    for (int i = 0; i < keyboard.downs; i++) {
        if (keyboard.down[i] == id) {
            return i;
        }
    }
    return -1;
}

static enum key_press press_of(int32_t id)
{
    if (find_down(id) >= 0) {
        return PRESS_UNKNOWN; /* its release was missed, or never comes */
    }
    if (keyboard.downs == DOWN) { /* the oldest is long gone */
        memmove(keyboard.down, keyboard.down + 1, (DOWN - 1) * sizeof *keyboard.down);
        keyboard.downs--;
    }
    keyboard.down[keyboard.downs++] = id;
    return keyboard.proven ? PRESS_SURE : PRESS_UNKNOWN;
}

static void release(int32_t id)
{
    int at = find_down(id);
    keyboard.proven = true;
    if (at >= 0) {
        keyboard.down[at] = keyboard.down[--keyboard.downs];
    }
}

enum key_press keyboard_press(int32_t key)
{
    return keyboard.taken ? press_of(key) : PRESS_UNKNOWN;
}

/* "113:81;2:1;81" as numbers; what is left out is -1. False: it is none. */
struct fields {
    int32_t part[3][PARTS];
};

static bool read_fields(struct fields *out, const char *text)
{
    int field = 0, part = 0;
    memset(out, 0xff, sizeof *out);
    for (; *text; text++) {
        if (*text == ';') {
            field++;
            part = 0;
        } else if (*text == ':') {
            part++;
        } else if (*text < '0' || *text > '9') {
            return false;
        } else if (field < 3 && part < PARTS) {
            int32_t *number = &out->part[field][part];
            *number = (*number < 0 ? 0 : *number) * 10 + (*text - '0');
            if (*number > 0x10ffff) {
                return false;
            }
        }
    }
    return true;
}

/* A key that has a name, not a character. */
static int32_t named(int32_t number, int final, bool shift)
{
    static const struct {
        int final;
        int32_t number; /* -1: whatever it is */
        int32_t key, shifted;
    } keys[] = {
        {'u', 9, KEY_OF_TAB, KEY_OF_BACKTAB},
        {'u', 13, KEY_OF_ENTER, 0},
        {'u', 27, KEY_OF_ESC, 0},
        {'u', 127, KEY_OF_BACKSPACE, 0},
        {'u', 57414, KEY_OF_ENTER, 0},
        {'u', 57417, KEY_OF_LEFT, KEY_OF_SHIFT_LEFT},
        {'u', 57418, KEY_OF_RIGHT, KEY_OF_SHIFT_RIGHT},
        {'u', 57419, KEY_OF_UP, KEY_OF_SHIFT_UP},
        {'u', 57420, KEY_OF_DOWN, KEY_OF_SHIFT_DOWN},
        {'u', 57421, KEY_OF_PAGE_UP, 0},
        {'u', 57422, KEY_OF_PAGE_DOWN, 0},
        {'u', 57423, KEY_OF_HOME, 0},
        {'u', 57424, KEY_OF_END, 0},
        {'u', 57425, KEY_OF_INSERT, 0},
        {'u', 57426, KEY_OF_DELETE, 0},
        {'A', -1, KEY_OF_UP, KEY_OF_SHIFT_UP},
        {'B', -1, KEY_OF_DOWN, KEY_OF_SHIFT_DOWN},
        {'C', -1, KEY_OF_RIGHT, KEY_OF_SHIFT_RIGHT},
        {'D', -1, KEY_OF_LEFT, KEY_OF_SHIFT_LEFT},
        {'H', -1, KEY_OF_HOME, 0},
        {'F', -1, KEY_OF_END, 0},
        {'P', -1, KEY_OF_F1, 0},
        {'Q', -1, KEY_OF_F1 + 1, 0},
        {'R', -1, KEY_OF_F1 + 2, 0},
        {'S', -1, KEY_OF_F1 + 3, 0},
        {'~', 1, KEY_OF_HOME, 0},
        {'~', 2, KEY_OF_INSERT, 0},
        {'~', 3, KEY_OF_DELETE, 0},
        {'~', 4, KEY_OF_END, 0},
        {'~', 5, KEY_OF_PAGE_UP, 0},
        {'~', 6, KEY_OF_PAGE_DOWN, 0},
        {'~', 7, KEY_OF_HOME, 0},
        {'~', 8, KEY_OF_END, 0},
    };
    static const uint8_t function[] = {11, 12, 13, 14, 15, 17, 18, 19, 20, 21, 23, 24};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        if (keys[i].final == final && (keys[i].number < 0 || keys[i].number == number)) {
            return shift && keys[i].shifted ? keys[i].shifted : keys[i].key;
        }
    }
    for (size_t i = 0; final == '~' && i < sizeof function; i++) {
        if (function[i] == number) {
            return KEY_OF_F1 + (int32_t)i;
        }
    }
    return KEY_OF_NONE;
}

/* A key of the keypad, where the terminal does not say its text. */
static int32_t keypad_character(int32_t code)
{
    static const char signs[] = "./*-+";
    if (code >= 57399 && code <= 57408) {
        return '0' + (code - 57399);
    }
    if (code >= 57409 && code <= 57413) {
        return signs[code - 57409];
    }
    return code == 57415 ? '=' : code == 57416 ? ',' : code == 57427 ? '5' : KEY_OF_NONE;
}

static bool is_character(int32_t point)
{
    return point >= ' ' && point != 127 && !(point >= 0x80 && point < 0xa0) &&
           !(point >= 0xd800 && point < 0xe000);
}

/* Caps Lock makes no strike landed: a letter is what Shift alone says, where words are not typed.
 */
static int32_t without_caps_lock(int32_t point, int modifiers)
{
    if (!(modifiers & CAPS_LOCK) || text_lower(point) == text_upper(point)) {
        return point;
    }
    return modifiers & SHIFT ? text_upper(point) : text_lower(point);
}

/* What the key types: as the terminal says, else as Shift makes it. */
static int32_t character(const struct fields *fields, int modifiers)
{
    int32_t code = fields->part[0][0], shifted = fields->part[0][1], text = fields->part[2][0];
    if (modifiers & CONTROL) {
        return code >= '@' && code < 0x80 ? code & 0x1f : KEY_OF_NONE;
    }
    if (text > 0) {
        return is_character(text) ? text : KEY_OF_NONE;
    }
    if (code >= 57344 && code <= 63743) { /* what has no character stands in the private area */
        return keypad_character(code);
    }
    if (!is_character(code)) {
        return KEY_OF_NONE;
    }
    return !(modifiers & SHIFT) ? code : shifted > 0 ? shifted : text_upper(code);
}

int keyboard_sequence(const char *parameters, int final, bool words, int32_t out[PARTS],
                      enum key_press *press)
{
    struct fields fields;
    *press = PRESS_UNKNOWN;
    if (parameters[0] == '?' && final == 'u') {
        take();
        return 0;
    }
    if (parameters[0] == '?' && final == 'c') {
        keyboard.ended = true;
        return 0;
    }
    if (!read_fields(&fields, parameters)) {
        return 0;
    }
    int modifiers = fields.part[1][0] < 1 ? 0 : fields.part[1][0] - 1;
    int event = fields.part[1][1] < 0 ? EVENT_PRESS : fields.part[1][1];
    int32_t key = named(fields.part[0][0], final, modifiers & SHIFT);
    int32_t plain = named(fields.part[0][0], final, false);
    int32_t id = plain != KEY_OF_NONE ? plain : fields.part[0][0];
    if (key == KEY_OF_NONE && final == 'u') {
        key = character(&fields, modifiers);
        key = words ? key : without_caps_lock(key, modifiers);
    } else if (modifiers & (CONTROL | ALT)) {
        key = KEY_OF_NONE;
    }
    if (event == EVENT_RELEASE) {
        release(id);
        return 0;
    }
    if (key == KEY_OF_NONE || (modifiers & OTHERS)) {
        return 0;
    }
    *press = event == EVENT_REPEAT ? PRESS_REPEAT : press_of(id);
    out[0] = key;
    int count = 1;
    while (count < PARTS && !(modifiers & CONTROL) && is_character(fields.part[2][count])) {
        out[count] = fields.part[2][count];
        count++;
    }
    return count;
}
