/* feed.h: the counts over HTTP, live, and the page that shows them.
 *
 * A feed opens the database read-only, in a process of its own: its death or overload cannot touch
 * a desk. One thread reads the log and folds it; one thread answers. schema/openapi.json says what
 * can be asked. Methods are GET and HEAD only.
 */
#ifndef RINGTALLY_FEED_FEED_H
#define RINGTALLY_FEED_FEED_H

#include <stdbool.h>

#include "ringtally/base/error.h"

struct feed; /* opaque */

struct feed_setup {
    const char *db;                 /* path of the database; must exist */
    const char *listen;             /* "127.0.0.1:8080", "[::1]:0", ...; port 0: any free one */
    const char *token;              /* NULL: none is asked for; only on a loopback address */
    const char *tokens;             /* file of more tokens, one a device: guard.h; NULL: none */
    bool qr;                        /* draw the one-time link, for a camera */
    const char *cors;               /* origins that may read, "https://a.example,https://b.example",
                                       or "*"; NULL: none but our own */
    const char *tls_cert, *tls_key; /* PEM text; both or none */
    const char *post;               /* endpoint that events are posted to; NULL: none */
    const char *post_secret;        /* that they are signed with */
    const char *air_css;            /* fonts and colours of the overlays; NULL: the built-in ones */
    int rate;                       /* requests a second from one address; 0: the usual limits */
    unsigned holds; /* kinds that nobody is told of until they are released: gate.h */
    int delay_ms;   /* so much later than it happens all is told */
    /* Where the database is filled while it is read: asks for a bout that is not there yet. From
     * any thread; does not wait. 1: it is there, -1: there is none, 0: ask again. NULL: all is
     * there. */
    int (*bring)(void *bringer, const char *card, int number);
    void *bringer;
    int max_age; /* seconds that caches may keep a live document; 0: none */
    /* One line for whoever runs the feed: the one-time link, trouble with the database. From any
     * thread, one at a time. May be NULL. */
    void (*say)(void *user, const char *line);
    void *user;
};

/* Listens when it returns 0. All strings are copied. */
int feed_open(struct feed **out, const struct feed_setup *setup, struct error *err);
/* "http://127.0.0.1:8080/", as people type it. */
const char *feed_url(const struct feed *feed);
/* Ends every stream and every thread. Takes NULL. */
void feed_close(struct feed *feed);

#endif
