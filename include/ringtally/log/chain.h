/* chain.h: the chain of digests of a desk's entries.
 *
 * Each entry carries the digest of its desk's entry before it (entry.prior), and so do all behind
 * it; before the first stands the desk itself. The digest is BLAKE2b of 32 bytes over typed values
 * (digest.h), none of which depends on the database:
 *
 *   entry  "ringtally entry 1", uid of the desk, seq, prior, utc_ms, at_ms, kind, act, code,
 *          subject's desk and seq, undoes' desk and seq, round, elapsed_ms, off_clock, review,
 *          accepted, unsure, corner, limb, target, stance, position, outcome, spinning, jumping,
 *          knockdown, value, text
 *   desk   "ringtally desk 1", uid, the bout's card and number, operator, name, corners ("", "red",
 *          "blue", "both"), shadow, opened_ms, uid of the desk that it continues
 *
 * Words are those of the tables, flags are 0 or 1; where a column is NULL, none. A field that is
 * added later is to be fed behind these, and only where it says something, so that digests stay.
 */
#ifndef RINGTALLY_LOG_CHAIN_H
#define RINGTALLY_LOG_CHAIN_H

#include <stddef.h>

#include "ringtally/bout/card.h"
#include "ringtally/bout/entry.h"
#include "ringtally/base/error.h"

/* The entry's digest, with its prior as it is set. */
void chain_entry(uint8_t out[32], const struct desk_row *desks, const struct entry *entry);
/* What the first entry of the desk carries. */
void chain_desk(uint8_t out[32], const char *card, int number, const struct desk_row *desks,
                int desk);
bool chain_known(const uint8_t digest[32]);

/* Sets the prior of entries that have none and whose desk's entry before them stands before them in
 * the table (in the order of the fold, say). ERROR_MEMORY only. */
int chain_fill(const struct bout *bout, const struct desk_row *desks, int desk_count,
               struct entry *entries, size_t count, struct error *err);

/* The first entry whose digest is not the one that the entry behind it carries, both in the table
 * and in that order; seq 0: that is the desk's own row. *out desk -1: every link holds. */
int chain_broken(struct entry_name *out, const struct bout *bout, const struct desk_row *desks,
                 int desk_count, const struct entry *entries, size_t count, struct error *err);

#endif
