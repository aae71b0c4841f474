/* hub_read.h: what a hub is asked for: bouts brought into a log of one's own, fighters across
 * cards.
 */
#ifndef RINGTALLY_HUB_HUB_READ_H
#define RINGTALLY_HUB_HUB_READ_H

#include "ringtally/base/buf.h"
#include "ringtally/hub/hub.h"
#include "ringtally/log/log_history.h"

/* Brings the bout of "CARDID/NUMBER", or "NUMBER" on the hub's newest card, into the log as it is
 * at the hub. ERROR_MISSING: there is none. */
int hub_bring(struct hub *hub, struct log *log, const char *ref, struct error *err);

/* As log_fighter_find. */
int hub_fighter_find(struct hub *hub, const char *text, char out[96], struct error *err);

/* A bout of a fighter, whichever of the person's names it is under. Of the bout itself rules,
 * rounds, terms and names are read. */
struct hub_fought {
    struct fighter_bout of;
    struct desk_row *desks;
    int desk_count;
};
/* All, the newest card first; given back by hub_fought_free. Nothing that was logged is read yet.
 */
int hub_fighter_bouts(struct hub *hub, const char *name, struct hub_fought **out, size_t *count,
                      struct error *err);
/* Reads what was logged of them, as it stood at one moment: all desks first, then entries, some of
 * a bout at a time and in no order, given to `take` while the server still reads on. They are
 * without digests. Ends with the first error of `take`. */
typedef int hub_take(void *user, size_t which, const struct entry *entries, size_t count,
                     struct error *err);
int hub_fought_read(struct hub *hub, struct hub_fought *fought, size_t count, hub_take *take,
                    void *user, struct error *err);
void hub_fought_free(struct hub_fought *fought, size_t count);

/* Names that may be one person's, and of which nobody has said whether they are: a line each. */
int hub_same_list(struct hub *hub, struct buf *out, struct error *err);
/* Notes what somebody says of two names; both must be there. */
int hub_same_say(struct hub *hub, const char *name, const char *other, bool same, const char *by,
                 struct error *err);

#endif
