/* console.h: runs a desk: keys from the terminal or a script in, entries to the keeper, frames to
 * the screen. */
#ifndef RINGTALLY_CONSOLE_CONSOLE_H
#define RINGTALLY_CONSOLE_CONSOLE_H

#include "ringtally/console/recorder.h"
#include "ringtally/desk/desk.h"
#include "ringtally/log/keeper.h"
#include "ringtally/desk/keyscript.h"

struct beside;

struct console {
    struct desk *desk;
    struct keeper *keeper;
    struct recorder *recorder;     /* or NULL */
    struct beside *beside;         /* a player, or NULL */
    bool on_recording;             /* keys get their moments from it */
    const struct script_key *keys; /* the script, or NULL */
    size_t key_count;
    double speed; /* times real time; 0: as fast as it goes */
    bool headless;
    bool bell, flash; /* alarms are heard; seen */
    const char
        *aside;       /* why the database takes nothing, and all is kept in memory; NULL: it does */
    struct log *log;  /* on which the desk is claimed: whose desks are alive is asked there */
    int64_t start_ms; /* the desk's time at the start: UTC */
    int64_t wall_ms;  /* the wall's at that moment, on the monotonic clock */
    bool moves;       /* out: it was left so that desk_move can be done */
};

/* Until the operator leaves or the script is over. */
int console_run(struct console *console, struct error *err);

#endif
