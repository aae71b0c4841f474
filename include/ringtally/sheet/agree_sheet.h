/* agree_sheet.h: how far the desks of a bout agree, for people and for machines. */
#ifndef RINGTALLY_SHEET_AGREE_SHEET_H
#define RINGTALLY_SHEET_AGREE_SHEET_H

#include "ringtally/insight/agree.h"
#include "ringtally/base/buf.h"

/* The first desk is called A, the others B, C ...; nothing is owned. */
struct agree_sheet_view {
    const struct bout *bout;
    const struct align_options *options;
    const struct desk_row *const *desk; /* `desks` of them: the roots */
    const struct desk_row *all_desks;   /* the bout's desks, by entry_name.desk */
    int desks;                          /* 2 .. AGREE_DESKS_MAX */
    const struct agree *pair;           /* desks - 1: the first against each other */
    const struct agree_many *many;      /* NULL for two desks */
};

/* At most 80 columns. 0 or ERROR_MEMORY. */
int agree_sheet_table(struct buf *out, const struct agree_sheet_view *view, struct error *err);
/* schema/agree.schema.json. 0 or ERROR_MEMORY. */
int agree_sheet_json(struct buf *out, const struct agree_sheet_view *view, struct error *err);

#endif
