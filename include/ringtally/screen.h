/* screen.h: the terminal, through ncurses: paints frames, reads keys, edits forms. One at a time.
 */
#ifndef RINGTALLY_SCREEN_H
#define RINGTALLY_SCREEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/card.h"
#include "ringtally/error.h"
#include "ringtally/frame.h"

/* Takes the terminal over (raw keys: Ctrl-C, Ctrl-Z, Ctrl-S dead; bracketed paste on). Fails in one
 * line without a terminal. */
int screen_open(struct error *err);
/* Gives it back as it was; safe to call twice and when never opened. */
void screen_close(void);

/* A descriptor that becomes readable on SIGWINCH and whenever screen_wake_fd gets a byte;
 * screen_drain empties it. */
int screen_signal_fd(void);
int screen_wake_fd(void);
void screen_drain(void);

/* True once the terminal is gone or the process was asked to end (SIGHUP, SIGTERM). */
bool screen_hangup(void);

/* Size now; takes a pending resize over. */
void screen_size(int *rows, int *columns);
bool screen_is_ascii(void); /* the locale has no UTF-8 */

/* Paints what differs from what was painted last, and nothing else. */
void screen_paint(const struct frame *frame);

/* The next key that is waiting, in the terms of keymap.h; KEY_OF_NONE: none is. *pasted is set to
 * the length of a pasted block that ended now (its characters are swallowed). Never blocks. */
int32_t screen_key(size_t *pasted);

/* The card form: edits one bout's fields in place. Returns 1 saved into *bout, 0 left unchanged, or
 * a negative code. */
int screen_bout_form(struct bout *bout, struct error *err);

#endif
