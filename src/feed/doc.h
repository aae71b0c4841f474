/* doc.h: an immutable document that several threads hold. Private to the room. */
#ifndef RINGTALLY_FEED_DOC_H
#define RINGTALLY_FEED_DOC_H

#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/buf.h"

struct doc {
    atomic_int holders;
    size_t size;
    char etag[24]; /* with its quotes: made of the content, so the same after a restart */
    char text[];
};

/* Copies; held once. NULL: out of memory. */
struct doc *doc_new(const char *text, size_t size);
/* Takes what the buffer holds, and releases it. */
struct doc *doc_of(struct buf *buf);
struct doc *doc_hold(struct doc *doc);
void doc_drop(struct doc *doc); /* takes NULL */

#endif
