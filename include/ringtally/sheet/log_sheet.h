/* log_sheet.h: the entries of a bout as a list, with the chain of every correction. */
#ifndef RINGTALLY_SHEET_LOG_SHEET_H
#define RINGTALLY_SHEET_LOG_SHEET_H

#include <stdbool.h>

#include "ringtally/base/buf.h"
#include "ringtally/tally/fold.h"

struct log_sheet_view {
    const struct bout *bout;
    const struct fold *fold;
    int round;   /* 0: all */
    bool all;    /* each correction too: who, when, from what to what */
    bool closed; /* that a judge gave a score is told, the score is not */
};

/* Entries in the order in which they were written. 0 or ERROR_MEMORY. */
int log_sheet_table(struct buf *out, const struct log_sheet_view *view, struct error *err);
int log_sheet_csv(struct buf *out, const struct log_sheet_view *view, struct error *err);
int log_sheet_json(struct buf *out, const struct log_sheet_view *view, struct error *err);
/* The entry at that index of fold_entries as one JSON object, compact, without a line feed. */
int log_sheet_entry(struct buf *out, const struct log_sheet_view *view, size_t index,
                    struct error *err);

#endif
