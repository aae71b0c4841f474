/* practice_sheet.h: what came of an operator's practice, for people and for machines. */
#ifndef RINGTALLY_SHEET_PRACTICE_SHEET_H
#define RINGTALLY_SHEET_PRACTICE_SHEET_H

#include "ringtally/base/buf.h"
#include "ringtally/insight/practice.h"

struct practice_view {
    const char *operator_;
    const struct practice_session *sessions; /* newest first */
    size_t count;
    const struct practice_cell *cells; /* of the newest */
    size_t cell_count;
    const struct practice_bar *bars; /* LEVELS of them */
    const struct rules *rules;       /* whose pad is drawn */
    /* The key of a cell, "w"; NULL: it has none. */
    const char *(*key)(void *user, int corner, int limb, int target);
    void *user;
};

/* One session, just ended. 0 or ERROR_MEMORY, as all here. */
int practice_session_text(struct buf *out, const struct practice_view *view, struct error *err);
/* All that is known: what the operator is ready for, the chart of progress, the pad, the drills. */
int practice_report_text(struct buf *out, const struct practice_view *view, struct error *err);
int practice_report_html(struct buf *out, const struct practice_view *view, struct error *err);
/* schema/practice.schema.json. */
int practice_report_json(struct buf *out, const struct practice_view *view, struct error *err);

#endif
