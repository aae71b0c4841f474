/* terminal.h: what the files that touch ncurses share. Only they include curses.h. */
#ifndef RINGTALLY_TERMINAL_H
#define RINGTALLY_TERMINAL_H

#include <curses.h>

#include "ringtally/screen.h"

/* paint.c: styles for this terminal; and forgetting what is on it, so that all is painted again. */
void paint_open(void);
void paint_forget(void);
void paint_close(void);
attr_t paint_attributes(enum style style, short *pair);

/* input.c: the keys' window. False: out of memory. */
bool input_open(void);
void input_close(void);

#endif
