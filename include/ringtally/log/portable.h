/* portable.h: entries as JSON Lines, the portable form (schema/log.schema.json): rescue files,
 * exports, archive.
 *
 * First line: {"ringtally":"log","version":1,"card":{...},"bout":{...}}; then a line a desk, then a
 * line an entry; last line {"end":N,"sha256":"..."} with the number of lines before it and their
 * SHA-256, so that a file that was cut or edited is seen.
 */
#ifndef RINGTALLY_LOG_PORTABLE_H
#define RINGTALLY_LOG_PORTABLE_H

#include <stddef.h>

#include "ringtally/base/buf.h"
#include "ringtally/log/log.h"

/* Writes bout, desks and entries. */
int portable_write(struct buf *out, const struct card *card, const struct bout *bout,
                   const struct desk_row *desks, int desk_count, const struct entry *entries,
                   size_t count, struct error *err);

/* Reads such a text into the database in one transaction (log NULL: only checks that it is one):
 * card and bout are made where missing,
 * desks and entries unioned. The same entry again is nothing new; two different entries of the same
 * name refuse the whole. *added = entries that were new. */
int portable_load(struct log *log, const char *text, size_t size, const char *file, size_t *added,
                  struct error *err);

#endif
