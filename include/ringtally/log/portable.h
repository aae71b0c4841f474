/* portable.h: entries as JSON Lines, the portable form (schema/log.schema.json): rescue files,
 * exports, archive.
 *
 * First line: {"ringtally":"log","version":2,"card":{...},"bout":{...}}; then a line a desk, a line
 * an entry, a line a seal; last line {"end":N,"sha256":"..."} with the number of lines before it
 * and their SHA-256, so that a file that was cut or edited is seen.
 */
#ifndef RINGTALLY_LOG_PORTABLE_H
#define RINGTALLY_LOG_PORTABLE_H

#include <stddef.h>

#include "ringtally/base/buf.h"
#include "ringtally/log/seal.h"

/* A bout as it leaves. Entries without a prior get it where the desk's entry before stands before
 * them in the table. */
struct portable {
    const struct card *card;
    const struct bout *bout;
    const struct desk_row *desks;
    int desk_count;
    const struct entry *entries;
    size_t entry_count;
    const struct log_seal *seals;
    size_t seal_count;
};
int portable_write(struct buf *out, const struct portable *portable, struct error *err);

/* Reads such a text into the database in one transaction (log NULL: only checks that it is one):
 * card and bout are made where missing,
 * desks, entries and seals unioned. The same entry again is nothing new; two different entries of
 * the same name refuse the whole, and so does an entry that is not what the next one of its desk
 * says it was (chain.h), or a seal that is none. What comes in a form of before there were digests
 * gets them, and a seal that says when. *added = entries that were new. */
int portable_load(struct log *log, const char *text, size_t size, const char *file, size_t *added,
                  struct error *err);

#endif
