/* seat.h: one operator's session on a bout, from its opening until nothing of it is left unsaved.
 */
#ifndef RINGTALLY_CONSOLE_SEAT_H
#define RINGTALLY_CONSOLE_SEAT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/desk/keymap.h"
#include "ringtally/desk/keyscript.h"

/* A player beside the desk: of a recording that is started here, or one that runs and listens. */
struct seat_player {
    const char *recording; /* a file; NULL: */
    const char *socket;    /* where a player listens; NULL both: none */
    bool tags; /* the desk tags from what it shows; else it is a recorder for second looks */
};

struct seat_setup {
    const char *db;   /* NULL: the default one */
    const char *bout; /* as log_bout_find reads it */
    const char *operator_;
    uint8_t corners; /* 1 << corner */
    bool shadow;    /* a desk on a recording is one beside a live count, also where this is false */
    bool own_clock; /* a shadow's: it does not follow the official one */
    bool watch; /* shows the panel, claims and writes nothing: no operator, corners, keys, record */
    bool no_bell, no_flash; /* besides what the user's settings say */
    const struct keymap *keymap;
    const struct script_key *keys; /* a script, or NULL */
    size_t key_count;
    double speed; /* of the script, times real time; 0: as fast as it goes */
    bool headless;
    struct seat_player player;
    const char *record; /* where the keys are written to, or NULL */
};

/* Opens the session, runs it until the operator leaves or the script is over, saves what is left.
 * What could not be saved, or is not found in the database afterwards, is told on standard error
 * with the file that holds it. */
int seat_run(const struct seat_setup *setup, struct error *err);

#endif
