/* buf.h: a growing byte string. A failed allocation sticks: later adds do nothing, `failed` says
 * so. */
#ifndef RINGTALLY_BASE_BUF_H
#define RINGTALLY_BASE_BUF_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/base/error.h"

struct buf {
    char *text; /* NUL-terminated once anything was added; NULL before */
    size_t size, room;
    bool failed;
};

#define BUF_INIT                                                                                   \
    {                                                                                              \
        0                                                                                          \
    }

void buf_add(struct buf *buf, const char *text, size_t size);
void buf_adds(struct buf *buf, const char *text);
void buf_addf(struct buf *buf, const char *format, ...) PRINTF_LIKE(2, 3);
/* Adds `text` fitted to `width` terminal columns: cut with an ellipsis or padded with spaces;
 * a negative width aligns to the right. */
void buf_add_fit(struct buf *buf, const char *text, int width);
/* Adds `text` broken at blanks into lines of at most `width` columns and a newline: the first goes
 * on from column `indent`, the others begin there. A longer word has a line of its own. */
void buf_add_wrapped(struct buf *buf, const char *text, int indent, int width);
void buf_release(struct buf *buf);

/* Text between the tags of XML, or of a WebVTT cue: & < > as entities ('>' too, so that no "-->"
 * can arise). */
void buf_add_xml(struct buf *buf, const char *text);

#endif
