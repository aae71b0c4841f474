/* seal_sql.h: seals as they are written and compared. For src/log only. */
#ifndef RINGTALLY_LOG_SEAL_SQL_H
#define RINGTALLY_LOG_SEAL_SQL_H

#include "ringtally/log/seal.h"
#include "log/sql.h"

/* Inside the caller's transaction: the seal of the entry that signs, which is in already. */
int seal_signed(struct log *log, const struct log_sign *sign, const char *uid,
                const struct entry *entry, struct error *err);
/* A seal of the kind `made`, for entries whose digests were made later than they were. */
int seal_made_later(struct log *log, int64_t bout, const char *made, int64_t now_ms,
                    struct error *err);
/* One that comes from elsewhere; the same again is nothing new. */
int seal_put(struct log *log, int64_t bout, const struct log_seal *seal, struct error *err);

/* Holds the desks of a seal, or what it says of the bout beside its entries, against what is there.
 * What differs goes into `faults`. */
int seal_compare_desks(struct log *log, int64_t bout, const struct log_seal *seal,
                       struct buf *faults, struct error *err);
int seal_compare_fields(struct log *log, int64_t bout, const struct log_seal *seal,
                        struct buf *faults, struct error *err);
/* Whether that entry made the seal. */
bool seal_is_by(const struct log_seal *seal, const char *uid, int64_t seq);
/* Whether that entry is among those that it speaks of. */
bool seal_covers(const struct log_seal *seal, const char *uid, int64_t seq);
/* What stands behind a word in a statement's first line of that word; size 0: no such line. */
struct seal_line {
    const char *text;
    int size;
};
struct seal_line seal_find(const char *statement, const char *word);

/* Adds a fault to what was found so far. */
void seal_add(struct buf *faults, const char *format, ...) PRINTF_LIKE(2, 3);

#endif
