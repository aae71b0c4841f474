/* signs.h: the small files beside the database that say who is alive.
 *
 * FILE.signs has a record of 16 bytes a session, at 16 times the id of its row: the UTC
 * milliseconds of the last sign in 14 digits, '+' or 'x' (a farewell), a line feed. A chain's is
 * that of its newest session that has one. FILE.feed is one line of the feed: its clients, when it
 * was last read, when this was written. FILE.hub is one line of who carries entries to a hub: how
 * many wait here, since when, whether the hub is away, when this was written. None is needed to
 * count, and all may be lost.
 */
#ifndef RINGTALLY_LOG_SIGNS_H
#define RINGTALLY_LOG_SIGNS_H

#include "ringtally/log/log.h"
#include "ringtally/bout/sign.h"

/* Leaves a sign of a session (the id of its row). `left`: a farewell. */
int signs_leave(struct log *log, int64_t desk, int64_t now_ms, bool left, struct error *err);

/* What is known of each desk; out[count] by the index in the table. Rows of one chain say the same,
 * but for session_ms. To have been opened is a sign as well. */
void signs_read(struct log *log, const struct desk_row *desks, int count, int64_t now_ms,
                struct desk_sign *out);

/* What the feed says of itself. */
struct feed_note {
    int32_t clients;    /* connected now */
    int64_t read_ms;    /* UTC of the last request; 0: none yet */
    int64_t written_ms; /* UTC; older than FEED_NOTE_STALE_MS: the feed is gone */
};
#define FEED_NOTE_EVERY_MS 1000
#define FEED_NOTE_STALE_MS 4000

/* `path` is the database's. Replaced as a whole, without waiting for the disk. */
int feed_note_write(const char *path, const struct feed_note *note, struct error *err);
/* Removes it. */
void feed_note_clear(const char *path);
/* False: there is none. */
bool feed_note_read(const char *path, struct feed_note *out);

/* What `hub follow` says of itself. */
struct hub_note {
    int64_t waiting;   /* entries here that the hub is not known to have */
    int64_t oldest_ms; /* UTC of the oldest of them; 0: there is none */
    bool away;         /* it cannot be reached now */
    int64_t until_ms;  /* UTC by which it says more: after that nobody follows any more */
};
#define HUB_NOTE_KEPT_MS (12 * 3600000LL) /* how long that is worth to be told: an evening */

/* As feed_note_*. */
int hub_note_write(const char *path, const struct hub_note *note, struct error *err);
void hub_note_clear(const char *path);
bool hub_note_read(const char *path, struct hub_note *out);

#endif
