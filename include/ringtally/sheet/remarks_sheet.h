/* remarks_sheet.h: remarks written for people and for machines. */
#ifndef RINGTALLY_SHEET_REMARKS_SHEET_H
#define RINGTALLY_SHEET_REMARKS_SHEET_H

#include "ringtally/insight/remarks.h"

struct remarks_view {
    const struct bout *bout;
    const struct remarks *remarks;
    int round; /* only what speaks of this round; 0: all */
    int top;   /* at most so many; 0: all */
    int64_t now_ms;
};

/* The sentences, each with how sure it is. 0 or ERROR_MEMORY. */
int remarks_text(struct buf *out, const struct remarks_view *view, struct error *err);
/* One JSON document on one line (schema/remarks.schema.json), with numbers and queries. */
int remarks_json(struct buf *out, const struct remarks_view *view, struct error *err);

#endif
