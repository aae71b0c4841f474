/* callouts_sheet.h: call-outs written for people and for machines. */
#ifndef RINGTALLY_CALLOUTS_SHEET_H
#define RINGTALLY_CALLOUTS_SHEET_H

#include "ringtally/callouts.h"

struct callouts_view {
    const struct bout *bout;
    const struct callouts *callouts;
    int round; /* only what speaks of this round; 0: all */
    int top;   /* at most so many; 0: all */
    int64_t now_ms;
};

/* The sentences, each with how sure it is. 0 or ERROR_MEMORY. */
int callouts_text(struct buf *out, const struct callouts_view *view, struct error *err);
/* One JSON document on one line (schema/callouts.schema.json), with numbers and queries. */
int callouts_json(struct buf *out, const struct callouts_view *view, struct error *err);

#endif
