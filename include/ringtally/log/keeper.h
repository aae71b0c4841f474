/* keeper.h: the writer thread. Takes entries, commits them in groups, says what is durable; and
 * brings what other desks have written. The caller never waits for the disk.
 */
#ifndef RINGTALLY_LOG_KEEPER_H
#define RINGTALLY_LOG_KEEPER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/saved.h"
#include "ringtally/log/log.h"

struct keeper;

/* Opens its own connection to `path` in the new thread. `desks` are those known so far (copied),
 * `arrival` the mark of the entries known so far (log_watch.h).
 * `wake_fd` (a pipe's writing end, non-blocking, the caller's; -1: none) gets a byte whenever state
 * or news changed. A database that cannot be opened is a trouble like any other: it is tried again.
 */
int keeper_open(struct keeper **out, const char *path, const char *vfs, int64_t bout,
                const struct desk_row *desks, int desk_count, int64_t arrival, int wake_fd,
                struct error *err);

/* The same for whoever only reads: the database is opened read-only, nothing may be given. */
int keeper_follow(struct keeper **out, const char *path, int64_t bout, const struct desk_row *desks,
                  int desk_count, int64_t arrival, int wake_fd, struct error *err);

/* From now on leaves signs of life (sign.h) of the session whose row has that id, as long as the
 * caller asks keeper_state: a byte on `wake_fd` reminds it. Without a pipe (-1) the thread
 * alone is the sign. */
void keeper_sign(struct keeper *keeper, int64_t desk);

/* Hands over entries of desk index `name.desk`; copies them. ERROR_MEMORY only. */
int keeper_give(struct keeper *keeper, const struct entry *entries, size_t count);

void keeper_state(struct keeper *keeper, struct saved_state *out);

/* What other desks wrote since the last call: new desk rows first, then entries. Both malloc'd, the
 * caller frees; counts may be 0. Indexes continue the table given at keeper_open. */
int keeper_news(struct keeper *keeper, struct desk_row **desks, int *desk_count,
                struct entry **entries, size_t *count);

/* Waits until all given entries are durable, at most `ms`. True if they are. */
bool keeper_flush(struct keeper *keeper, int64_t ms);

/* Ends the thread. Where entries are not saved *count is how many, and *from the number of the
 * first of them; the newest that were given, all of one desk. False: the thread is stuck in a
 * stalled disk, and the process should end soon. */
bool keeper_close(struct keeper *keeper, int64_t *from, size_t *count);

#endif
