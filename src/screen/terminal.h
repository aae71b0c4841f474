/* terminal.h: what the files that touch ncurses share. Only they include curses.h. */
#ifndef RINGTALLY_TERMINAL_H
#define RINGTALLY_TERMINAL_H

#include <curses.h>

#include "ringtally/desk/keymap.h"
#include "ringtally/screen/screen.h"

/* paint.c: styles for this terminal; and forgetting what is on it, so that all is painted again. */
void paint_open(void);
void paint_forget(void);
void paint_close(void);
attr_t paint_attributes(enum style style, short *pair);

/* send.c: what goes to the terminal, gathered until send_flush. */
void send_flush(void);
bool send_pending(void);
void send_text(const char *text, int width); /* `width` columns from where the cursor is */
void send_attributes(attr_t attributes, short pair);
void send_move(int row, int column);
void send_forget_cursor(void);
bool send_erase_row(void); /* from the cursor on; false where the terminal cannot */
void send_erase_all(int rows);

/* keyboard.c: the terminal's own word for a press and a repeat. `able`: it may be asked. */
void keyboard_open(bool able);
void keyboard_close(void);
/* Answers are still to come, which must not reach the shell. */
bool keyboard_owes(void);
/* Releases came: what a terminal sends is whole sequences, however slow the line. */
bool keyboard_is_proven(void);
/* A key that the library has read as a sequence of its own. */
enum key_press keyboard_press(int32_t key);
/* A sequence CSI ... `final`, its parameters as text; what is no key is taken note of. The number
 * of keys, the first of them pressed so; control characters as such. `words` are typed: Caps Lock
 * is meant.
 */
#define KEYBOARD_KEYS 4
int keyboard_sequence(const char *parameters, int final, bool words, int32_t out[KEYBOARD_KEYS],
                      enum key_press *press);

/* warden.c: says `words` (static) to the terminal, and leaves the program's screen, should this
 * program be killed. False: it cannot be had. */
bool warden_set(const char *words);
void warden_dismiss(void);
/* Before the terminal is taken over: how it was set. */
void warden_look(void);

/* input.c: the keys' window. False: out of memory. */
bool input_open(void);
void input_close(void);
/* While a form is typed into: a pasted block comes as the characters that it is, each with *pasted
 * set by screen_key, its line breaks as blanks; and the keys below are known, Ctrl-A and Ctrl-E as
 * Home and End. */
void input_typing(bool on);
/* What still comes in answer to what was asked: read, for a moment at the most. */
void input_settle(void);
enum { KEY_OF_CLEAR_BEFORE = KEY_OF_NONE + 1, KEY_OF_CLEAR_BEHIND }; /* Ctrl-U, Ctrl-K */

#endif
