/* reference_sheet.h: the live count checked against the recording, for people and for machines. */
#ifndef RINGTALLY_SHEET_REFERENCE_SHEET_H
#define RINGTALLY_SHEET_REFERENCE_SHEET_H

#include "ringtally/base/buf.h"
#include "ringtally/insight/reference.h"

struct reference_sheet_view {
    const struct bout *bout;
    const struct reference *reference;
    const char *by;   /* who tagged from the recording, a desk's name */
    const char *live; /* a desk's name; NULL: the official count */
};

/* At most 80 columns. 0 or ERROR_MEMORY. */
int reference_sheet_table(struct buf *out, const struct reference_sheet_view *view,
                          struct error *err);
/* schema/reference.schema.json. 0 or ERROR_MEMORY. */
int reference_sheet_json(struct buf *out, const struct reference_sheet_view *view,
                         struct error *err);

#endif
