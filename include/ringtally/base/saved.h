/* saved.h: how much of what a session wrote is durable: a plain value, made by whoever writes and
 * shown by whoever paints. */
#ifndef RINGTALLY_BASE_SAVED_H
#define RINGTALLY_BASE_SAVED_H

#include <stdbool.h>
#include <stdint.h>

struct saved_state {
    int64_t given, saved; /* entries handed over so far; of these durable */
    int64_t oldest_ms; /* monotonic milliseconds for which the oldest unsaved entry has waited; 0:
                          none */
    bool failing;      /* the last attempt failed; it is tried again, unless lost */
    bool lost;         /* the database is no more where it was: nothing is saved any more, and what
                          was saved counts as unsaved */
    char trouble[200]; /* why, in plain words; "" while all is well */
    bool feed;         /* a feed serves this database */
    int32_t feed_clients; /* connected to it */
    int64_t feed_read_ms; /* UTC of the last request to it; 0: none yet */
    bool hub;             /* somebody carries this database's entries to a hub */
    bool hub_lost; /* somebody did, and has said nothing since: killed, or ended by an error */
    bool hub_away; /* it cannot be reached now */
    int64_t hub_waiting;  /* entries that it lacks */
    int64_t hub_since_ms; /* UTC of the oldest of them; 0: there is none */
};

#endif
