/* hub_mirror.h: a local log that is kept as the hub is, for who serves readers: what is live, and
 * what was asked for. Nothing goes to the hub.
 */
#ifndef RINGTALLY_HUB_HUB_MIRROR_H
#define RINGTALLY_HUB_HUB_MIRROR_H

#include "ringtally/hub/hub.h"

struct hub_mirror; /* a thread and its connection */

/* The log at `path` is made, or gone on with. First the newest cards are brought without what was
 * logged on them; then a thread brings each bout into which something comes, and what is wanted.
 * On a standby, which cannot notify, it asks four times a second. `say` may be called by the
 * thread. */
int hub_mirror_open(struct hub_mirror **out, const char *uri, const char *path, hub_say *say,
                    void *user, struct error *err);

enum hub_wanted { HUB_WAIT, HUB_HERE, HUB_MISSING };
/* Asks for a bout, from any thread, without waiting: ask again. */
enum hub_wanted hub_mirror_want(struct hub_mirror *mirror, const char *card, int number);

/* Ends the thread. Takes NULL. */
void hub_mirror_close(struct hub_mirror *mirror);

#endif
