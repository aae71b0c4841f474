/* doc.h: an immutable document that several threads hold, and its packed form. Private to the room.
 */
#ifndef RINGTALLY_FEED_DOC_H
#define RINGTALLY_FEED_DOC_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/buf.h"

#define DOC_ETAG_SIZE 24

struct doc {
    atomic_int holders;
    size_t size;
    char etag[DOC_ETAG_SIZE]; /* with its quotes: of the content, so the same after a restart */
    struct doc *packed;       /* made when first asked for, by the answering thread alone */
    bool unpackable;          /* packing it brings nothing */
    char text[];
};

/* Copies; held once. NULL: out of memory. */
struct doc *doc_new(const char *text, size_t size);
/* Takes what the buffer holds, and releases it. */
struct doc *doc_of(struct buf *buf);
struct doc *doc_hold(struct doc *doc);
void doc_drop(struct doc *doc); /* takes NULL */

/* The same in gzip (RFC 1952), with a tag of its own; the document's, not to be dropped. NULL: it
 * is too small for that to help, or there is no memory. Only the answering thread calls it. */
struct doc *doc_packed(struct doc *doc);

#endif
