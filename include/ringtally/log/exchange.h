/* exchange.h: the log as it is seen by who carries entries between it and another log. */
#ifndef RINGTALLY_LOG_EXCHANGE_H
#define RINGTALLY_LOG_EXCHANGE_H

#include "ringtally/log/log.h"

struct log_seal;

/* One bout's part of a union: its card (without bouts), itself, desks (root = index in them) and
 * entries. */
struct union_part {
    const char *from; /* file or place, for messages */
    const struct card *card;
    const struct bout *bout;
    struct desk_row *desks; /* ids are set */
    int desk_count;
    const struct entry *entries; /* a desk's in the order of their numbers */
    size_t entry_count;
    const struct log_seal *seals;
    size_t seal_count;
    bool unchained; /* it comes from before entries had digests */
};

/* Puts in what is not there yet, in a transaction of its own; *added = entries that were new. Two
 * different entries of one name, an entry that cannot be one, a desk of another bout, a bout
 * under other rules, a broken link or seal refuse the whole. */
int log_unite(struct log *log, struct union_part *part, size_t *added, struct error *err);

/* How far a reader has seen the whole database; all zero: nothing yet. */
struct log_marks {
    int64_t arrival, desk;
};

/* The ids of the bouts into which entries or desks came behind the marks, which move on; `card` "":
 * of all cards. Caller frees *bouts. */
int log_bouts_since(struct log *log, const char *card, struct log_marks *marks, int64_t **bouts,
                    size_t *count, struct error *err);

/* The bout of that id, with its card's head (no bouts). */
int log_bout_of(struct log *log, int64_t id, struct card *card, struct bout *bout,
                struct error *err);

#endif
