/* sender.h: one signed POST to the endpoint, by libcurl. Private to the room, and to its thread. */
#ifndef RINGTALLY_FEED_SENDER_H
#define RINGTALLY_FEED_SENDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"
#include "ringtally/base/sha256.h"

struct sender; /* opaque */

/* `stops` is asked while a transfer runs; true ends it. ERROR_USAGE: the URL is none that is
 * posted to. */
int sender_open(struct sender **out, const char *url, bool (*stops)(void *user), void *user,
                struct error *err);
void sender_close(struct sender *sender);

struct sent {
    const char *secret;
    char id[SHA256_TEXT]; /* the event's own */
    const char *body;
    size_t size;
    char trouble[160]; /* why it is not answered as it should be */
    int64_t after_s;   /* and how long the endpoint asks to wait; 0: it does not */
};
/* True: answered with 2xx. */
bool sender_send(struct sender *sender, struct sent *sent);

unsigned sender_random(struct sender *sender);

#endif
