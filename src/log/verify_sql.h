/* verify_sql.h: the views held against the fold. For src/log only. */
#ifndef RINGTALLY_LOG_VERIFY_SQL_H
#define RINGTALLY_LOG_VERIFY_SQL_H

#include "ringtally/tally/fold.h"
#include "log/sql.h"

/* *differ: they are not those of this version, and are not read. */
int verify_views(struct log *log, const struct bout *bout, const struct fold *fold, bool *differ,
                 struct buf *faults, struct error *err);
/* Whether a view is not as views.sql has it. */
int schema_views_differ(struct log *log, bool *differ, struct error *err);

#endif
