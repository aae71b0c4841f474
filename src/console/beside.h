/* beside.h: the player beside a desk: joins the two in the console's loop. */
#ifndef RINGTALLY_CONSOLE_BESIDE_H
#define RINGTALLY_CONSOLE_BESIDE_H

#include <stdbool.h>
#include <stdint.h>

#include "ringtally/console/seat.h"
#include "ringtally/desk/reel.h"

/* A key waits no longer than this for the player to say which frame it was; then its last word
 * counts. */
#define BESIDE_KEY_MS 30

struct beside; /* opaque */

/* Starts the player, or attaches to one. */
int beside_open(struct beside **out, const struct seat_player *how, struct error *err);
void beside_close(struct beside *beside); /* takes NULL */

/* For poll, and how long to wait at most; -1 each: nothing. */
int beside_fd(const struct beside *beside, short *events);
int beside_wait_ms(const struct beside *beside);
/* Hears the player, tells the desk, and the player what the desk wishes. */
void beside_look(struct beside *beside, struct desk *desk, int64_t now_ms);
/* It plays, from where it stands. */
void beside_play(struct beside *beside);
/* A key was read: asks which frame is on screen. */
void beside_key(struct beside *beside, int32_t key, enum key_press press);
/* The next key, in their order, whose moment is known (the desk has been told it), or may not wait
 * any longer. False: none. */
bool beside_take(struct beside *beside, struct desk *desk, int32_t *key, enum key_press *press);

#endif
