/* chain_sql.h: the chains as the database has them. For src/log only. */
#ifndef RINGTALLY_LOG_CHAIN_SQL_H
#define RINGTALLY_LOG_CHAIN_SQL_H

#include "ringtally/log/chain.h"
#include "log/sql.h"

/* Sets entry->prior, where it is not set and the desk's entry before it is here. */
int chain_link(struct log *log, const struct desk_row *desks, struct entry *entry,
               struct error *err);
/* The entry is in: what follows need not look for it. */
void chain_note(struct log *log, const struct desk_row *desks, const struct entry *entry);

/* A row of a desk as it stands, whatever it holds. */
struct chain_row {
    int64_t arrival, seq;
    bool chained;      /* it has a prior of the right size */
    uint8_t prior[32]; /* that */
    uint8_t digest[32];
};

/* Begins a walk over the desk's rows from `seq` on; then rows one by one: 1, 0 at the end, <0. To
 * be ended before its end: sqlite3_reset. */
sqlite3_stmt *chain_rows(struct log *log, int64_t desk, int64_t seq, struct error *err);
int chain_next(struct log *log, sqlite3_stmt *rows, struct chain_row *out, struct error *err);
/* The digest of the desk's own row. */
int chain_desk_row(struct log *log, int64_t desk, uint8_t out[32], struct error *err);

/* Gives digests to all that stood in the database before there were any, and seals them as of that
 * moment. Inside the migration's transaction. */
int chain_adopt(struct log *log, struct error *err);

#endif
