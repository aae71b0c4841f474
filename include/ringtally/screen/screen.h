/* screen.h: the terminal, through ncurses: paints frames, reads keys, edits forms. One at a time.
 */
#ifndef RINGTALLY_SCREEN_SCREEN_H
#define RINGTALLY_SCREEN_SCREEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/card.h"
#include "ringtally/base/error.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/screen/frame.h"

/* Takes the terminal over (raw keys: Ctrl-C, Ctrl-Z, Ctrl-S dead; bracketed paste on). Fails in one
 * line without a terminal. */
int screen_open(struct error *err);
/* Gives it back as it was; safe to call twice and when never opened. */
void screen_close(void);

/* From now on until the process ends, a signal that would end it is only noted (screen_hangup):
 * what is left to be saved is not cut off by a second one. screen_open does it too. */
int screen_catch_signals(struct error *err);

/* A descriptor that becomes readable on SIGWINCH, on a signal that ends the session, and whenever
 * screen_wake_fd (non-blocking) gets a byte; screen_drain empties it. Valid from
 * screen_open on until the process ends. */
int screen_signal_fd(void);
int screen_wake_fd(void);
void screen_drain(void);

/* True once the terminal is gone or the process was asked to end by a signal. The
 * caller leaves in order; nothing ends by itself. */
bool screen_hangup(void);

/* Size now; takes a pending resize over. */
void screen_size(int *rows, int *columns);
bool screen_is_ascii(void); /* the locale has no UTF-8 */

/* Paints what differs from what was painted last, and nothing else. */
void screen_paint(const struct frame *frame);

/* Rings the terminal's bell. */
void screen_bell(void);

/* The next key that is waiting, in the terms of keymap.h. KEY_OF_NONE with *pasted 0: none is.
 * KEY_OF_NONE with *pasted > 0: a pasted block of that many characters ended and was swallowed;
 * there may be more to read. Never blocks, but for 50 ms after a lone Esc. */
int32_t screen_key(size_t *pasted);
/* How the key that screen_key gave last was pressed. */
enum key_press screen_press(void);
/* Milliseconds after which screen_key wants to be called though no input came (a pasted block whose
 * end is missing is given up), or -1. */
int screen_timeout(void);

/* The card form: edits one bout's fields in place; nothing that was typed is lost unasked. */
enum form_end { FORM_LEFT, FORM_SAVED, FORM_NEXT, FORM_PREVIOUS, FORM_NEW, FORM_DROP };

struct form_setup {
    const char *rules; /* the rule sets to choose from, with blanks between */
    bool is_new;       /* the bout is not on the card yet */
    const char *note;  /* shown at first; may be NULL */
    /* Enter: saves, or says why not: the form then stays open. `again`: Enter was pressed a second
     * time in a row. */
    int (*save)(void *user, const struct bout *bout, bool again, struct error *err);
    void *user;
};

/* Returns an enum form_end, FORM_SAVED with the fields in *bout, else *bout is as it was; or a
 * negative code. */
int screen_bout_form(struct bout *bout, const struct form_setup *setup, struct error *err);

#endif
