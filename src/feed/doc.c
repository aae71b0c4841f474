/* doc.c: a document in memory, shared by its readers. */
#include "feed/doc.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <zlib.h>

#include "ringtally/base/hash.h"

#define PACK_LEAST 512 /* what is less goes in one packet anyhow */

struct doc *doc_new(const char *text, size_t size)
{
    struct doc *doc = malloc(sizeof *doc + size + 1);
    if (!doc) {
        return NULL;
    }
    atomic_init(&doc->holders, 1);
    doc->packed = NULL;
    doc->unpackable = size < PACK_LEAST;
    doc->size = size;
    if (size > 0) {
        memcpy(doc->text, text, size);
    }
    doc->text[size] = '\0';
    snprintf(doc->etag, sizeof doc->etag, "\"%016llx\"",
             (unsigned long long)hash_bytes(HASH_BEGIN, text, size));
    return doc;
}

struct doc *doc_of(struct buf *buf)
{
    struct doc *doc = buf->failed ? NULL : doc_new(buf->text, buf->size);
    buf_release(buf);
    return doc;
}

struct doc *doc_hold(struct doc *doc)
{
    atomic_fetch_add(&doc->holders, 1);
    return doc;
}

void doc_drop(struct doc *doc)
{
    if (doc && atomic_fetch_sub(&doc->holders, 1) == 1) {
        doc_drop(doc->packed);
        free(doc);
    }
}

static struct doc *pack(const struct doc *doc)
{
    z_stream stream = {0};
    if (deflateInit2(&stream, Z_DEFAULT_COMPRESSION, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY)) {
        return NULL; /* 15 + 16: the largest window, in gzip's wrapping */
    }
    struct doc *packed = NULL;
    size_t room = deflateBound(&stream, (uLong)doc->size);
    unsigned char *bytes = malloc(room);
    if (bytes && doc->size <= UINT32_MAX) {
        stream.next_in = (Bytef *)(uintptr_t)doc->text;
        stream.avail_in = (uInt)doc->size;
        stream.next_out = bytes;
        stream.avail_out = (uInt)room;
        if (deflate(&stream, Z_FINISH) == Z_STREAM_END && stream.total_out < doc->size) {
            packed = doc_new((const char *)bytes, stream.total_out);
        }
    }
    deflateEnd(&stream);
    free(bytes);
    if (packed) { /* another form of the same is another tag (RFC 9110, 8.8.3.3) */
        snprintf(packed->etag, sizeof packed->etag, "%.17s-z\"", doc->etag);
    }
    return packed;
}

struct doc *doc_packed(struct doc *doc)
{
    if (!doc->packed && !doc->unpackable) {
        doc->packed = pack(doc);
        doc->unpackable = !doc->packed;
    }
    return doc->packed;
}
