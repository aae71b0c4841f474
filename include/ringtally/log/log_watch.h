/* log_watch.h: for whoever follows the log: whether something was written since it last looked, and
 * what.
 *
 * What a reader has seen it knows by the order of arrival in its own database, never by a number
 * that a desk gave: a desk's entries may come in late, from a rescue file or another machine, below
 * others of its own that are here already.
 */
#ifndef RINGTALLY_LOG_LOG_WATCH_H
#define RINGTALLY_LOG_LOG_WATCH_H

#include "ringtally/log/log.h"

/* What one reader knows of one connection; all zero: nothing yet. */
struct log_watch {
    int64_t version, seen; /* of the database: at the last look, and at the last reading */
    bool any;              /* something was read */
};

/* Whether the file is still the one that was opened (log_check), and whether another connection has
 * written since log_watch_seen. A new connection needs a new struct log_watch. */
int log_watch_look(struct log_watch *watch, struct log *log, bool *changed, struct error *err);
/* To be called when what stood at the last look was read; until then it counts as changed. */
void log_watch_seen(struct log_watch *watch);

/* All desks of a bout, in the order of their ids, and the entries that arrived behind a mark. */
struct log_news {
    struct desk_row *desks; /* the index in it is `entry_name.desk` */
    int desk_count;
    struct entry *entries; /* no order to rely on: the fold brings it */
    size_t entry_count;
    int64_t arrival; /* the mark behind them */
};

/* Reads both as one state of the database; `arrival` 0: all entries. *out is released by
 * log_news_release. */
int log_news(struct log *log, int64_t bout, int64_t arrival, struct log_news *out,
             struct error *err);
/* Frees the tables; the mark stays. */
void log_news_release(struct log_news *news);

/* From here on this connection's log_news and log_fold read as if the log ended at that arrival;
 * 0: all of it, which is how a connection begins; -1: none. */
void log_read_until(struct log *log, int64_t arrival);
/* The highest arrival there is; 0: none. */
int log_last_arrival(struct log *log, int64_t *out, struct error *err);
/* The highest arrival below which no entry was written after that moment. */
int log_arrival_before(struct log *log, int64_t utc_ms, int64_t *out, struct error *err);

#endif
