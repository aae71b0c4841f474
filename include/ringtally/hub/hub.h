/* hub.h: a league's log in PostgreSQL, and how a local log and it become one.
 *
 * The hub holds the same entries under the same names as a local database. Nothing is remembered
 * about what was sent: what either side lacks is told from what both sides have, so a process may
 * be killed, a network cut or a server replaced at any point. A URI is libpq's ("postgresql://..."
 * or "host=... dbname=..."); secrets come from libpq's password and service files only. Errors that
 * may pass by themselves are ERROR_AWAY.
 */
#ifndef RINGTALLY_HUB_HUB_H
#define RINGTALLY_HUB_HUB_H

#include <signal.h>
#include <stdbool.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/log/log.h"

struct hub; /* a connection, of one thread at a time */

enum hub_use {
    HUB_READ,  /* any server: a standby will do */
    HUB_WRITE, /* the primary, of several hosts */
    HUB_MAKE,  /* the same, and the schema need not be there */
};

/* Connects; the schema must be the one that this program knows, unless it is to be made. */
int hub_open(struct hub **out, const char *uri, enum hub_use use, struct error *err);
void hub_close(struct hub *hub);
/* "HOST/DATABASE", without any secret. */
const char *hub_name(const struct hub *hub);

/* Makes the schema, or brings it up to date; *from, *to = its versions before and after. */
int hub_init(struct hub *hub, int *from, int *to, struct error *err);

/* How two logs stand to each other. */
struct hub_gap {
    int64_t here, there; /* entries that only the local log has, and that only the hub has */
    int64_t here_ms;     /* UTC of the oldest of the former; 0: none */
};

/* Compares a card ("": all cards that the local log has). */
int hub_compare(struct hub *hub, struct log *log, const char *card, struct hub_gap *out,
                struct error *err);

/* What a follower tells; each line without line feed. */
typedef void hub_say(void *user, const char *line);

struct hub_follow {
    const char *uri;
    const char *card; /* "": all cards that the local log has */
    bool wait;        /* for the server also at the start */
    bool once;        /* until both sides are equal, then leave */
    /* Set by a signal: end in order. May be NULL. */
    const volatile sig_atomic_t *stop;
    hub_say *say;
    void *user;
};

/* Makes both logs one, and keeps them so; leaves a note beside the database (hub_note), and takes
 * it away where it ends in order: after `once`, or told to stop. Else it returns only with an error
 * that does not pass by itself. */
int hub_follow(struct log *log, const struct hub_follow *how, struct error *err);

#endif
