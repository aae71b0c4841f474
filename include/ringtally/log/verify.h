/* verify.h: whether a database, and the record of a bout in it, are whole and as they were signed.
 *
 * What is found is words for people, joined by "; "; nothing found: nothing added. The cost grows
 * with the bout, and the file's with the file.
 */
#ifndef RINGTALLY_LOG_VERIFY_H
#define RINGTALLY_LOG_VERIFY_H

#include "ringtally/bout/seal_state.h"
#include "ringtally/log/seal.h"

/* SQLite's own checks: pages, indexes, constraints, references between tables. */
int verify_file(struct log *log, struct buf *faults, struct error *err);

/* What was looked at, and what is known of it besides faults. */
struct verified {
    int64_t entries;
    int desks;
    int64_t unchained;      /* entries that came without a digest, and have none */
    bool made_later;        /* digests were made for entries that had none: a seal says so */
    struct seal_state seal; /* of the signature, where the bout is signed */
    int64_t since;          /* entries that came in since it was signed */
    bool views_differ;      /* the views are another version's, and were not compared */
};

/* Numbers without gaps, each digest the one that the next entry carries, entries about entries that
 * are here, every seal, and the views of SQL against the fold of the same bout. */
int verify_bout(struct log *log, const struct bout *bout, const struct fold *fold,
                struct verified *out, struct buf *faults, struct error *err);

/* How it stands with the seal of the signature that stands: all of the above but references and
 * views, for whoever shows a signed record. SEAL_NONE also where it is not signed. */
int verify_seal(struct log *log, int64_t bout, struct seal_state *out, struct error *err);

#endif
