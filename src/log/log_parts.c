/* log_parts.c: entries of several bouts, with the desks that they come from, written as one. */
#include <string.h>

#include "log/sql.h"

/* What a plan was made of is still all there is. */
static int unchanged(struct log *log, const struct log_part *part, struct error *err)
{
    int64_t entries = 0;
    int code = log_bout_entries(log, part->bout, &entries, err);
    if (!code && entries != part->known) {
        code = error_set(err, ERROR_BUSY, "%s: something was logged meanwhile: nothing is written",
                         log->path);
    }
    return code;
}

/* Rows without an id are new; a chain has one name. */
static int put_desks(struct log *log, struct log_part *part, struct error *err)
{
    int code = 0;
    for (int i = 0; i < part->desk_count && !code; i++) {
        struct desk_row *desk = &part->desks[i];
        const struct desk_row *root = &part->desks[desk->root];
        if (desk->id) {
            continue;
        }
        if (root != desk) {
            memcpy(desk->name, root->name, sizeof desk->name);
        }
        code = log_desk_put(log, part->bout, desk, root != desk ? root->id : 0, err);
    }
    return code;
}

int log_append_parts(struct log *log, struct log_part *parts, int count, struct error *err)
{
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    for (int i = 0; i < count && !code; i++) {
        bool added = false;
        code = unchanged(log, &parts[i], err);
        code = code ? code : put_desks(log, &parts[i], err);
        for (size_t entry = 0; entry < parts[i].entry_count && !code; entry++) {
            code = log_entry_put(log, parts[i].desks, &parts[i].entries[entry], NULL, &added, err);
        }
    }
    return sql_end(log, code, err);
}
