/* guard.h: who may read, and how much. Private to the room. Every call may come from any thread. */
#ifndef RINGTALLY_FEED_GUARD_H
#define RINGTALLY_FEED_GUARD_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/socket.h>

#include "ringtally/base/error.h"

#define GUARD_LINK_SIZE  41 /* of a one-time link's code, with its NUL */
#define GUARD_NAME_SIZE  40 /* of a token's name */
#define GUARD_TOKEN_SIZE 128

struct guard;

/* `token` NULL: none is asked for. `tokens`: a file with a token for each device, "NAME TOKEN" a
 * line, or NULL. `rate`: requests a second from one address; 0: the usual. */
int guard_new(struct guard **out, const char *token, const char *tokens, int rate,
              struct error *err);
void guard_free(struct guard *guard);

/* Takes one request off the address's allowance. False: it has none left for now. */
bool guard_allow(struct guard *guard, const struct sockaddr *address);

/* Whether the request may read: no token is asked for, or it brings one (the header's value, the
 * cookie's value; each may be NULL). `who` becomes the token's name; "" for the one that is
 * everybody's. */
bool guard_admits(struct guard *guard, const char *authorization, const char *cookie,
                  char who[GUARD_NAME_SIZE]);
/* Reads the file of tokens again where it has changed. *changed: so it was, and who may read has
 * to be asked anew. On error what was read before stays. */
int guard_reload(struct guard *guard, bool *changed, struct error *err);
/* Whether a token of that name may read still. */
bool guard_knows(struct guard *guard, const char *who);

/* The code of the current one-time link. */
void guard_link(struct guard *guard, char out[GUARD_LINK_SIZE]);
/* Uses a link up: true, and the next one is made; `cookie` is what the device brings from now on.
 * Where there is a file of tokens that is one of its own, which is added there. */
bool guard_enter(struct guard *guard, const char *code, char cookie[GUARD_TOKEN_SIZE],
                 struct error *err);
/* The token that is everybody's; NULL: none is asked for. */
const char *guard_token(const struct guard *guard);

/* A token that was wrong, or a link that was none. */
void guard_refused(struct guard *guard, const struct sockaddr *address);
/* How many since the last call, and the last one's address as text; 0: none. */
int guard_refusals(struct guard *guard, char address[64]);

/* A reader of the counts was here; a stream of it begins (+1) or ends (-1). */
void guard_read(struct guard *guard, const struct sockaddr *address);
void guard_stream(struct guard *guard, const struct sockaddr *address, int change);
/* Streams, and addresses that read without one during the last GUARD_READER_MS. *read_ms = UTC of
 * the last reading; 0: none yet. */
#define GUARD_READER_MS 15000
int guard_clients(struct guard *guard, int64_t *read_ms);

/* True where both are one host's, as far as an address tells: of IPv6 the first half counts. */
bool guard_same_host(const struct sockaddr *a, const struct sockaddr *b);

/* True where both texts are the same; takes as long whatever they hold. */
bool guard_same(const char *secret, const char *offered);
bool guard_is_loopback(const struct sockaddr *address);

#endif
