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

/* input.c: the keys' window. False: out of memory. */
bool input_open(void);
void input_close(void);
/* While a form is typed into: a pasted block comes as the characters that it is, each with *pasted
 * set by screen_key, its line breaks as blanks; and the keys below are known, Ctrl-A and Ctrl-E as
 * Home and End. */
void input_typing(bool on);
enum { KEY_OF_CLEAR_BEFORE = KEY_OF_NONE + 1, KEY_OF_CLEAR_BEHIND }; /* Ctrl-U, Ctrl-K */

#endif
