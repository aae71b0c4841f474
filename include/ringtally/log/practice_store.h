/* practice_store.h: what operators practised, in a database of its own: never mixed with bouts. */
#ifndef RINGTALLY_LOG_PRACTICE_STORE_H
#define RINGTALLY_LOG_PRACTICE_STORE_H

#include "ringtally/base/error.h"
#include "ringtally/bout/practised.h"

/* Where it lies: practice.db beside the bouts' database. ERROR_FAILED where that is too long. */
int practice_store_path(char *out, size_t size, const char *db, struct error *err);
/* Adds a session with its cells, all or nothing; sets its id. A new database is its owner's alone.
 */
int practice_store_add(const char *path, struct practice_session *session,
                       const struct practice_cell *cells, size_t cell_count, struct error *err);
/* The operator's sessions, newest first, and the cells of the newest `recent` of them, summed.
 * Both malloc'd, the caller frees. Where nothing was ever practised both are empty. */
int practice_store_read(const char *path, const char *operator_, int recent,
                        struct practice_session **sessions, size_t *count,
                        struct practice_cell **cells, size_t *cell_count, struct error *err);

#endif
