/* input.c: what the terminal sends, as keys in the terms of keymap.h.
 *
 * Whatever is no key must never be taken for one: pasted blocks, and sequences that no terminal
 * description knows, are swallowed whole.
 */
#include <poll.h>
#include <string.h>
#include <unistd.h>

#include "screen/terminal.h"
#include "ringtally/base/mono.h"
#include "ringtally/desk/keymap.h"

#define PASTE_MS    500  /* of silence: the block's end is missing */
#define SEQUENCE_MS 50   /* the same for an unknown sequence */
#define SURE_MS     1000 /* the same where every key is a sequence: the line is slow */
#define PARAMETERS  64
#define SETTLE_MS   200
#define ESC         27
#define BELL        7

/* Far above the codes that ncurses gives to keys of extended descriptions. */
enum { CODE_PASTE = 0x7000, CODE_PASTE_END, CODE_DIGIT, CODE_SIGN = CODE_DIGIT + 10 };

static const char signs[] = "*+,-./"; /* of the keypad: ESC O j to ESC O o */

/* What terminals send whatever their description says: cursor keys in the other mode, the function
 * keys of the VT220 and of the Linux console. */
static const struct {
    const char *sequence;
    int code;
} also[] = {
    {"\033[A", KEY_UP},        {"\033[B", KEY_DOWN},    {"\033[C", KEY_RIGHT},
    {"\033[D", KEY_LEFT},      {"\033OA", KEY_UP},      {"\033OB", KEY_DOWN},
    {"\033OC", KEY_RIGHT},     {"\033OD", KEY_LEFT},    {"\033[2~", KEY_IC},
    {"\033[3~", KEY_DC},       {"\033OM", KEY_ENTER},   {"\033OP", KEY_F(1)},
    {"\033OQ", KEY_F(2)},      {"\033OR", KEY_F(3)},    {"\033OS", KEY_F(4)},
    {"\033[11~", KEY_F(1)},    {"\033[12~", KEY_F(2)},  {"\033[13~", KEY_F(3)},
    {"\033[14~", KEY_F(4)},    {"\033[15~", KEY_F(5)},  {"\033[17~", KEY_F(6)},
    {"\033[18~", KEY_F(7)},    {"\033[19~", KEY_F(8)},  {"\033[20~", KEY_F(9)},
    {"\033[21~", KEY_F(10)},   {"\033[23~", KEY_F(11)}, {"\033[24~", KEY_F(12)},
    {"\033[[A", KEY_F(1)},     {"\033[[B", KEY_F(2)},   {"\033[[C", KEY_F(3)},
    {"\033[[D", KEY_F(4)},     {"\033[[E", KEY_F(5)},   {"\033[Z", KEY_BTAB},
    {"\033[H", KEY_HOME},      {"\033OH", KEY_HOME},    {"\033[1~", KEY_HOME},
    {"\033[F", KEY_END},       {"\033OF", KEY_END},     {"\033[4~", KEY_END},
    {"\033[5~", KEY_PPAGE},    {"\033[6~", KEY_NPAGE},  {"\033[1;2D", KEY_SLEFT},
    {"\033[1;2C", KEY_SRIGHT}, {"\033[1;2A", KEY_SR},   {"\033[1;2B", KEY_SF},
};

/* A pad of one cell: reading from it never repaints the screen. */
static WINDOW *keys;
static enum { READ_KEYS, READ_PASTE, READ_ESC, READ_CSI, READ_SS3, READ_STRING } reading;
static int opener; /* what begins the sequence behind its Esc, while nothing followed it */
static char parameters[PARAMETERS]; /* of the sequence CSI under way */
static size_t parameter_count;
/* Keys still to be given out: of one sequence, or an Esc and a key that were none after all. */
static struct {
    int32_t key;
    enum key_press press;
} typed[KEYBOARD_KEYS];
static int typed_count, typed_at;
static enum key_press pressed; /* the key given out last */
static int64_t silent_since;   /* monotonic milliseconds; while not READ_KEYS */
static size_t pasted_count;
static bool typing; /* into a form */
static struct {
    int32_t point;
    int left, size; /* bytes to come, and how many follow the first */
} decoding;

static void define(const char *sequence, int code)
{
    int known = key_defined(sequence);
    if (known == 0 || known > KEY_MAX) { /* else the description knows better */
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
    for (size_t i = 0; i < sizeof also / sizeof *also; i++) {
        define(also[i].sequence, also[i].code);
    }
    define_key("\033[200~", CODE_PASTE);
    define_key("\033[201~", CODE_PASTE_END);
    for (int i = 0; i < 6; i++, sequence[2]++) {
        define(sequence, CODE_SIGN + i);
    }
    for (int i = 0; i < 10; i++, sequence[2]++) {
        define(sequence, CODE_DIGIT + i);
    }
    reading = READ_KEYS;
    typed_count = typed_at = opener = 0;
    pasted_count = 0;
    return true;
}

void input_typing(bool on)
{
    typing = on;
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
        {KEY_BTAB, KEY_OF_BACKTAB},
        {KEY_HOME, KEY_OF_HOME},
        {KEY_END, KEY_OF_END},
        {KEY_PPAGE, KEY_OF_PAGE_UP},
        {KEY_NPAGE, KEY_OF_PAGE_DOWN},
        {KEY_SLEFT, KEY_OF_SHIFT_LEFT},
        {KEY_SRIGHT, KEY_OF_SHIFT_RIGHT},
        {KEY_SR, KEY_OF_SHIFT_UP},
        {KEY_SF, KEY_OF_SHIFT_DOWN},
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

/* The bytes of a character, put together here: the library's own reader would let a stray byte eat
 * the keys behind it. The code point, or KEY_OF_NONE while it is not whole or is none. */
static int32_t decode(int byte)
{
    static const int32_t least[] = {0, 0x80, 0x800, 0x10000};
    if (byte < 0x80 || screen_is_ascii()) {
        decoding.left = 0;
        return byte < 0x80 ? byte : KEY_OF_NONE;
    }
    if (byte >= 0xc0) {
        decoding.left = decoding.size = byte >= 0xf0 ? 3 : byte >= 0xe0 ? 2 : 1;
        decoding.point = byte & (0x3f >> decoding.size);
        return KEY_OF_NONE;
    }
    if (decoding.left == 0) {
        return KEY_OF_NONE;
    }
    decoding.point = decoding.point << 6 | (byte & 0x3f);
    bool is_whole = --decoding.left == 0 && decoding.point >= least[decoding.size] &&
                    decoding.point <= 0x10ffff && decoding.point >> 11 != 0xd800 >> 11;
    return is_whole ? decoding.point : KEY_OF_NONE;
}

static int32_t from_character(int32_t character)
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
    case 'A' - '@':
        return typing ? KEY_OF_HOME : KEY_OF_NONE;
    case 'E' - '@':
        return typing ? KEY_OF_END : KEY_OF_NONE;
    case 'K' - '@':
        return typing ? KEY_OF_CLEAR_BEHIND : KEY_OF_NONE;
    case 'U' - '@':
        return typing ? KEY_OF_CLEAR_BEFORE : KEY_OF_NONE;
    default:
        return character < ' ' || (character >= 0x80 && character < 0xa0) ? KEY_OF_NONE : character;
    }
}

static void begin(int what)
{
    reading = what;
    silent_since = mono_ms();
    parameter_count = 0;
}

static void put_typed(int32_t key, enum key_press press)
{
    if (typed_at == typed_count) {
        typed_at = typed_count = 0;
    }
    if (typed_count < KEYBOARD_KEYS) {
        typed[typed_count].key = key;
        typed[typed_count++].press = press;
    }
}

/* Behind an Esc: is it the start of a sequence that no description knows? What follows without a
 * pause was not typed. */
static bool begins_sequence(int next)
{
    switch (next) {
    case ERR:
        return false;
    case '[':
        begin(READ_CSI);
        break;
    case 'O':
        begin(READ_SS3);
        break;
    case ']':
        begin(READ_STRING);
        break;
    default:
        ungetch(next);
        return false;
    }
    opener = next;
    return true;
}

/* A sequence CSI that has come to its end. */
static void end_sequence(int final)
{
    int32_t out[KEYBOARD_KEYS];
    enum key_press press = PRESS_UNKNOWN;
    parameters[parameter_count] = '\0';
    int count = keyboard_sequence(parameters, final, typing, out, &press);
    for (int i = 0; i < count; i++) {
        int32_t key = from_character(out[i]);
        if (key != KEY_OF_NONE) {
            put_typed(key, press);
        }
    }
}

/* Takes what belongs to a block or sequence under way. True while it goes on. */
static bool swallow(int got)
{
    opener = 0;
    silent_since = mono_ms();
    switch (reading) {
    case READ_PASTE:
        if (got == CODE_PASTE_END) {
            return false;
        }
        pasted_count += got > 0xff || (got & 0xc0) != 0x80; /* characters, not bytes */
        return true;
    case READ_CSI:
        if (got >= 0x40 && got <= 0x7e) {
            end_sequence(got);
        } else if (got < 0x40 && parameter_count < PARAMETERS - 1) {
            parameters[parameter_count++] = (char)got;
        } else if (got < 0x40) {
            parameters[0] = 'x'; /* too long to be one of ours */
        }
        return got < 0x40 || (got > 0x7e && got <= 0xff);
    case READ_STRING:
        return got != BELL && got != '\\' && got <= 0xff;
    default:
        return false;
    }
}

/* A character of a block that is pasted into a form; KEY_OF_NONE: none. */
static int32_t pasted_key(int got)
{
    if (got > 0xff) {
        return KEY_OF_NONE;
    }
    int32_t character = decode(got);
    if (character == '\r' || character == '\n' || character == '\t') {
        return ' ';
    }
    return character < ' ' || (character >= 0x7f && character < 0xa0) ? KEY_OF_NONE : character;
}

/* How long the rest of what is under way may take. */
static int patience(void)
{
    return reading == READ_PASTE ? PASTE_MS : keyboard_is_proven() ? SURE_MS : SEQUENCE_MS;
}

static bool went_silent(void)
{
    return mono_ms() - silent_since >= patience();
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
        if (typed_at < typed_count) {
            pressed = typed[typed_at].press;
            return typed[typed_at++].key;
        }
        bool ended = reading != READ_KEYS && went_silent();
        int got = ended ? ERR : wgetch(keys);
        if (got == ERR && !ended) {
            return KEY_OF_NONE;
        }
        if (reading == READ_PASTE && typing && !ended && got != CODE_PASTE_END) {
            int32_t key = pasted_key(got);
            silent_since = mono_ms();
            if (key != KEY_OF_NONE) {
                *pasted = 1;
                return key;
            }
            continue;
        }
        if (reading != READ_KEYS) {
            if (reading == READ_ESC && !ended) {
                reading = READ_KEYS;
                if (!begins_sequence(got)) {
                    put_typed(KEY_OF_ESC, PRESS_UNKNOWN);
                }
                continue;
            }
            if (ended && (opener || reading == READ_ESC)) {
                /* Nothing came behind it: two keys of two fingers, or one. */
                put_typed(KEY_OF_ESC, PRESS_UNKNOWN);
                if (opener) {
                    put_typed(opener, PRESS_UNKNOWN);
                }
                opener = 0;
            }
            if (ended || !swallow(got)) {
                *pasted = end_block();
            }
            if (*pasted > 0) {
                return KEY_OF_NONE;
            }
            continue;
        }
        if (got == CODE_PASTE) {
            begin(READ_PASTE);
            continue;
        }
        if (got == ESC) {
            int next = wgetch(keys);
            if (next == ERR && keyboard_is_proven()) { /* there the key is a sequence itself */
                begin(READ_ESC);
                continue;
            }
            if (begins_sequence(next)) {
                continue;
            }
        }
        int32_t key = got > 0xff ? from_code(got) : from_character(decode(got));
        if (key != KEY_OF_NONE) {
            pressed = got > 0xff ? keyboard_press(key) : PRESS_UNKNOWN;
            return key;
        }
    }
}

int screen_timeout(void)
{
    if (reading == READ_KEYS) {
        return -1;
    }
    int64_t left = silent_since + patience() - mono_ms();
    return left < 0 ? 0 : (int)left;
}

enum key_press screen_press(void)
{
    return pressed;
}

void input_settle(void)
{
    int64_t until = mono_ms() + SETTLE_MS;
    size_t pasted = 0;
    int ready = 1;
    while (ready > 0 && keyboard_owes() && mono_ms() < until) {
        struct pollfd wait = {STDIN_FILENO, POLLIN, 0};
        ready = poll(&wait, 1, (int)(until - mono_ms()));
        ready = wait.revents & (POLLHUP | POLLERR | POLLNVAL) ? 0 : ready;
        while (ready > 0 && screen_key(&pasted) != KEY_OF_NONE) {
        }
    }
}
