/* input.c: what the terminal sends, as keys in the terms of keymap.h.
 *
 * Whatever is no key must never be taken for one: pasted blocks, and sequences that no terminal
 * description knows, are swallowed whole.
 */
#include <string.h>
#include <time.h>
#include <wchar.h>

#include "terminal.h"
#include "ringtally/keymap.h"

#define PASTE_MS    500 /* of silence: the block's end is missing */
#define SEQUENCE_MS 50  /* the same for an unknown sequence */
#define ESC         27
#define BELL        7

enum { CODE_PASTE = KEY_MAX + 1, CODE_PASTE_END, CODE_DIGIT, CODE_SIGN = CODE_DIGIT + 10 };

static const char signs[] = "*+,-./"; /* of the keypad: ESC O j to ESC O o */

/* A pad of one cell: reading from it never repaints the screen. */
static WINDOW *keys;
static enum { READ_KEYS, READ_PASTE, READ_CSI, READ_SS3, READ_STRING } reading;
static int64_t silent_since; /* monotonic milliseconds; while not READ_KEYS */
static size_t pasted_count;

static int64_t monotonic_ms(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static void define(const char *sequence, int code)
{
    if (key_defined(sequence) == 0) { /* the description knows better */
        define_key(sequence, code);
    }
}

bool input_open(void)
{
    char sequence[] = "\033Oj";
    keys = newpad(1, 1);
    if (!keys) {
        return false;
    }
    keypad(keys, TRUE);
    nodelay(keys, TRUE);
    define_key("\033[200~", CODE_PASTE);
    define_key("\033[201~", CODE_PASTE_END);
    for (int i = 0; i < 6; i++, sequence[2]++) {
        define(sequence, CODE_SIGN + i);
    }
    for (int i = 0; i < 10; i++, sequence[2]++) {
        define(sequence, CODE_DIGIT + i);
    }
    reading = READ_KEYS;
    pasted_count = 0;
    return true;
}

void input_close(void)
{
    if (keys) {
        delwin(keys);
        keys = NULL;
    }
}

static int32_t from_code(int code)
{
    static const struct {
        int code;
        int32_t key;
    } table[] = {
        {KEY_ENTER, KEY_OF_ENTER},
        {KEY_BACKSPACE, KEY_OF_BACKSPACE},
        {KEY_LEFT, KEY_OF_LEFT},
        {KEY_RIGHT, KEY_OF_RIGHT},
        {KEY_UP, KEY_OF_UP},
        {KEY_DOWN, KEY_OF_DOWN},
        {KEY_DC, KEY_OF_DELETE},
        {KEY_IC, KEY_OF_INSERT},
        {KEY_A1, '7'},
        {KEY_A3, '9'},
        {KEY_B2, '5'},
        {KEY_C1, '1'},
        {KEY_C3, '3'},
    };
    if (code >= KEY_F(1) && code <= KEY_F(12)) {
        return KEY_OF_F1 + (code - KEY_F(1));
    }
    if (code >= CODE_DIGIT && code < CODE_DIGIT + 10) {
        return '0' + (code - CODE_DIGIT);
    }
    if (code >= CODE_SIGN && code < CODE_SIGN + 6) {
        return signs[code - CODE_SIGN];
    }
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (table[i].code == code) {
            return table[i].key;
        }
    }
    return KEY_OF_NONE;
}

static int32_t from_character(wint_t character)
{
    switch (character) {
    case '\r':
    case '\n':
        return KEY_OF_ENTER;
    case '\t':
        return KEY_OF_TAB;
    case '\b':
    case 0x7f:
        return KEY_OF_BACKSPACE;
    case ESC:
        return KEY_OF_ESC;
    default:
        return character < ' ' || (character >= 0x80 && character < 0xa0) || character > 0x10ffff
                   ? KEY_OF_NONE
                   : (int32_t)character;
    }
}

static void begin(int what)
{
    reading = what;
    silent_since = monotonic_ms();
}

/* Behind an Esc: is it the start of a sequence that no description knows? What follows without a
 * pause was not typed. */
static bool begins_sequence(void)
{
    wint_t next = 0;
    int kind = wget_wch(keys, &next);
    if (kind == ERR) {
        return false;
    }
    if (kind == KEY_CODE_YES) {
        ungetch((int)next);
        return false;
    }
    switch (next) {
    case '[':
        begin(READ_CSI);
        return true;
    case 'O':
        begin(READ_SS3);
        return true;
    case ']':
        begin(READ_STRING);
        return true;
    default:
        unget_wch((wchar_t)next);
        return false;
    }
}

/* Takes what belongs to a block or sequence under way. True while it goes on. */
static bool swallow(int kind, wint_t got)
{
    silent_since = monotonic_ms();
    switch (reading) {
    case READ_PASTE:
        if (kind == KEY_CODE_YES && got == CODE_PASTE_END) {
            return false;
        }
        pasted_count++;
        return true;
    case READ_CSI:
        return kind != KEY_CODE_YES && (got < 0x40 || got > 0x7e);
    case READ_STRING:
        return kind != KEY_CODE_YES && got != BELL && got != '\\';
    default:
        return false;
    }
}

static bool went_silent(void)
{
    int limit = reading == READ_PASTE ? PASTE_MS : SEQUENCE_MS;
    return monotonic_ms() - silent_since >= limit;
}

static size_t end_block(void)
{
    size_t count = pasted_count;
    reading = READ_KEYS;
    pasted_count = 0;
    return count;
}

int32_t screen_key(size_t *pasted)
{
    *pasted = 0;
    for (;;) {
        wint_t got = 0;
        if (reading != READ_KEYS && went_silent()) {
            *pasted = end_block();
            if (*pasted > 0) {
                return KEY_OF_NONE;
            }
        }
        int kind = wget_wch(keys, &got);
        if (kind == ERR) {
            return KEY_OF_NONE;
        }
        if (reading != READ_KEYS) {
            if (!swallow(kind, got)) {
                *pasted = end_block();
                if (*pasted > 0) {
                    return KEY_OF_NONE;
                }
            }
            continue;
        }
        if (kind == KEY_CODE_YES && got == CODE_PASTE) {
            begin(READ_PASTE);
            continue;
        }
        if (kind != KEY_CODE_YES && got == ESC && begins_sequence()) {
            continue;
        }
        int32_t key = kind == KEY_CODE_YES ? from_code((int)got) : from_character(got);
        if (key != KEY_OF_NONE) {
            return key;
        }
    }
}

int screen_timeout(void)
{
    if (reading == READ_KEYS) {
        return -1;
    }
    int64_t limit = reading == READ_PASTE ? PASTE_MS : SEQUENCE_MS;
    int64_t left = silent_since + limit - monotonic_ms();
    return left < 0 ? 0 : (int)left;
}
