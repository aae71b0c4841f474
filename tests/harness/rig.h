/* rig.h: a desk under test: its database, how it is started, and what the tests know of its screen.
 * Where the panel changes its layout, rig.c is the one place to follow. */
#ifndef HARNESS_RIG_H
#define HARNESS_RIG_H

#include <stdbool.h>
#include <stddef.h>

#include "vt.h"

#define RIG_WAIT_MS                                                                                \
    20000 /* a deadline, not a measure: a loaded machine with sanitizers is slow                   \
           */
/* A finger's second press of the same key: the desk takes what comes faster for a held key's. */
#define RIG_FINGER_MS 120
#define RIG_READY     "HEAD" /* stands on a full screen of the desk */

/* A folder with a database in it. */
struct rig {
    const char *program; /* path of ringtally */
    char folder[256], db[300];
};

/* Makes the folder and loads the card file. The environment's RINGTALLY_PROGRAM takes the program's
 * place (tests/valgrind.sh). Like all here it aborts where the harness itself fails.
 */
void rig_init(struct rig *rig, const char *program, const char *card);
void rig_load(const struct rig *rig, const char *card);
void rig_release(struct rig *rig);

/* The first number that an SQL query gives, read by a connection of its own; 0 where it gives
 * nothing. */
long rig_number(const struct rig *rig, const char *sql);
/* True where the strikes logged on the bout ("CARD/NUMBER"), in their order, begin with those that
 * the keys of the default key map mean, and there are `count` of them. Says what differs. */
bool rig_logged(const struct rig *rig, const char *bout, const char *keys, size_t count);

/* Starts `ringtally --db DB desk BOUT [MORE...]` (`more` ends with NULL, may be NULL); argv and
 * home are filled in, of *setup the rest is taken (NULL: all defaults). Waits for `ready` on the
 * screen. NULL, with the screen printed, where that does not come. */
struct vt *rig_desk(const struct rig *rig, const char *bout, const char *const *more,
                    const struct vt_setup *setup, const char *ready);
/* A single key, late enough after the one before that it is no repeat of it. */
void rig_finger(struct vt *vt, const char *key);
/* Leaves as an operator does, closes the terminal, gives the exit code. */
int rig_leave(struct vt *vt);

/* What the pad cell of a key (unshifted: "q") shows of the round. False: not on the screen. */
bool rig_pad(struct vt *vt, char key, long *landed, long *attempted);
/* Where that count begins. */
bool rig_pad_place(struct vt *vt, char key, int *row, int *column);
/* What a corner ('r', 'b') shows of the whole bout. */
bool rig_total(struct vt *vt, char corner, long *landed, long *attempted);
/* Entries shown as saved and as not yet saved. */
bool rig_saved(struct vt *vt, long *saved, long *waiting);
/* Where on the screen that begins. */
bool rig_saved_place(struct vt *vt, int *row, int *column);

/* Wait until the screen shows this; false, with the screen printed, at RIG_WAIT_MS. */
bool rig_wait_pad(struct vt *vt, char key, long landed, long attempted);
bool rig_wait_total(struct vt *vt, char corner, long landed, long attempted);
/* Nothing unsaved, and at least so many saved. */
bool rig_wait_saved(struct vt *vt, long saved);
/* Waits until nothing is unsaved; how many are saved then (a session begins with entries of its
 * own), or -1. */
long rig_settled(struct vt *vt);

#endif
