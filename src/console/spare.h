/* spare.h: where a desk writes while its database takes nothing. Private to the room.
 *
 * The disk is full, or another program holds the database: an operator must be able to tag all the
 * same. The database is copied into memory, the desk works on the copy, and when it is left all
 * that it wrote goes home, by a merge.
 */
#ifndef CONSOLE_SPARE_H
#define CONSOLE_SPARE_H

#include "ringtally/log/log.h"

struct spare;

/* Copies the database (`db` NULL: the default one) and opens the copy for writing; not where the
 * database can be written. `why` = what it said. *out is released by spare_close; NULL on an error,
 * and `why` stands. */
int spare_open(struct spare **out, struct log **log, const char *db, const struct error *why);
/* Path of the database that it stands for, and why: both as long as the spare. */
const char *spare_home(const struct spare *spare);
const char *spare_reason(const struct spare *spare);
/* Merges the copy into its database; *added = entries that were new there. */
int spare_merge(const struct spare *spare, size_t *added, struct error *err);
/* Removes the copy. NULL: does nothing. */
void spare_close(struct spare *spare);

#endif
