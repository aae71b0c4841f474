/* log_history.h: whose bouts are in the database, across cards. */
#ifndef RINGTALLY_LOG_LOG_HISTORY_H
#define RINGTALLY_LOG_LOG_HISTORY_H

#include "ringtally/log/log.h"

/* A bout of a fighter. */
struct fighter_bout {
    struct bout bout;
    uint8_t corner; /* the fighter's */
    char title[96], date[11];
};

/* Finds the fighter that `text` means, as the name stands in the database: the very name; else the
 * only one that is the same without case and accents; else the only one in which a word begins so.
 * Of several the error lists the names. Only the first takes no look at the other fighters. */
int log_fighter_find(struct log *log, const char *text, char out[96], struct error *err);

/* All bouts of that very name, the newest card first; caller frees *out. The cost grows with these
 * bouts and not with the database. */
int log_fighter_bouts(struct log *log, const char *name, struct fighter_bout **out, size_t *count,
                      struct error *err);

/* The bouts on which somebody has worked that come before that one, by date, card and number: the
 * newest first, `most` of them; *more: there are others. Caller frees *out. */
int log_former_bouts(struct log *log, int64_t bout, size_t most, struct bout **out, size_t *count,
                     bool *more, struct error *err);

#endif
