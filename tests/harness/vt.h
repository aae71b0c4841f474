/* vt.h: a program under a pseudo-terminal, its output read by a terminal emulator.
 *
 * Nothing here sleeps: every wait polls the terminal until a condition on the screen holds or its
 * deadline has passed, and then prints the screen to stderr. Times are CLOCK_MONOTONIC nanoseconds.
 * Rows and columns count from 0. A failure of the harness itself (no pty, no memory) aborts.
 */
#ifndef HARNESS_VT_H
#define HARNESS_VT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

struct vt; /* opaque */

struct vt_setup {
    const char *const *argv; /* argv[0] is a path; ends with NULL */
    int rows, columns;       /* 0: 24, 80 */
    const char *term;        /* NULL: xterm-256color */
    const char *locale;      /* LC_ALL; NULL: C.UTF-8 */
    const char *home;        /* HOME and the working directory; NULL: "/nonexistent", unchanged */
    bool tells_presses; /* the terminal answers that it can tell presses from repeats; what is then
                           typed by it is the test's to write */
    const char *const *env; /* "NAME=VALUE" besides and before the pinned ones, at most 16; ends
                               with  NULL; may be NULL */
};

/* A cell as a person sees it. */
struct vt_cell {
    char text[32]; /* UTF-8; " " where empty, "" for the right half of a wide character */
    bool bold, reverse, underline;
    bool coloured; /* foreground or background is not the default */
};

/* Starts the program. Its environment is TERM, LC_ALL, TZ=UTC, HOME, ESCDELAY, the sanitizers'
 * options and setup->env, and nothing else. */
struct vt *vt_open(const struct vt_setup *setup);
/* Kills what still runs. Takes NULL. */
void vt_close(struct vt *vt);

pid_t vt_pid(const struct vt *vt);
int64_t vt_now(void);

/* Sends bytes as typed. */
void vt_type(struct vt *vt, const char *keys);
void vt_type_bytes(struct vt *vt, const char *bytes, size_t size);
/* Sends one key by its name in a key script (Space Enter Backspace Tab Left Right Up Down Delete
 * Insert Esc F1..F12), as the terminal description says that it is sent; or a single character. */
void vt_press(struct vt *vt, const char *key);
/* Sends each key `ms` after the one before (the first at once), reading the screen meanwhile. */
void vt_type_every(struct vt *vt, const char *keys, int ms);
/* Pastes as a terminal does: between brackets where the program has asked for them. */
void vt_paste(struct vt *vt, const char *text);
void vt_resize(struct vt *vt, int rows, int columns);

/* Reads what the program has written, waiting at most `ms` for the first of it; false at its end.
 */
bool vt_pump(struct vt *vt, int ms);
/* Reads for `ms` whatever comes: for pacing what is typed, never for waiting. */
void vt_watch(struct vt *vt, int ms);

typedef bool vt_condition(struct vt *vt, void *context);
/* Reads until the condition holds: true. After `ms`, or when the program has ended without it:
 * prints `what` and the screen, false. */
bool vt_wait(struct vt *vt, vt_condition *condition, void *context, int ms, const char *what);
bool vt_wait_text(struct vt *vt, const char *text, int ms);
bool vt_wait_gone(struct vt *vt, const char *text, int ms);

/* Waits for the end of the program: its exit code, 128 + signal, or -1 (and the screen is printed).
 */
int vt_wait_exit(struct vt *vt, int ms);
/* kill -9, then reads what was still under way to the screen. */
void vt_kill(struct vt *vt);

/* Closes the terminal under the program, as a window that is closed; then only vt_wait_exit and
 * vt_close may follow. */
void vt_hang_up(struct vt *vt);
/* The terminal is as it was before the program: the main screen, lines edited and echoed. */
bool vt_restored(const struct vt *vt);

/* The screen. */
int vt_rows(const struct vt *vt);
int vt_columns(const struct vt *vt);
/* UTF-8 text of a row from `column` on, `width` columns (0: to its end), trailing blanks cut. */
const char *vt_row(struct vt *vt, int row, int column, int width, char *out, size_t size);
/* Where the text stands first, from the top; false: nowhere. row and column may be NULL. */
bool vt_find(struct vt *vt, const char *text, int *row, int *column);
struct vt_cell vt_cell(struct vt *vt, int row, int column);
bool vt_altscreen(const struct vt *vt);
void vt_print(struct vt *vt, const char *what);

/* How often the program has asked for keys as events, less how often it has given that back. */
int vt_takes_presses(const struct vt *vt);
/* How often the bell was rung. */
int vt_bells(const struct vt *vt);
/* For measurements. Bytes that the program has sent so far. */
int64_t vt_bytes(const struct vt *vt);
/* Called for every area of the screen that is written to, with the time of the read. */
typedef void vt_damage(int row, int column, int rows, int columns, int64_t read_ns, void *context);
void vt_on_damage(struct vt *vt, vt_damage *damage, void *context);

#endif
