/* doc.c: a document in memory, shared by its readers. */
#include "feed/doc.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* FNV-1a, 64 bits: tells contents apart; nothing hangs on its being hard to forge. */
static uint64_t digest(const char *text, size_t size)
{
    uint64_t hash = UINT64_C(14695981039346656037);
    for (size_t i = 0; i < size; i++) {
        hash = (hash ^ (unsigned char)text[i]) * UINT64_C(1099511628211);
    }
    return hash;
}

struct doc *doc_new(const char *text, size_t size)
{
    struct doc *doc = malloc(sizeof *doc + size + 1);
    if (!doc) {
        return NULL;
    }
    atomic_init(&doc->holders, 1);
    doc->size = size;
    if (size > 0) {
        memcpy(doc->text, text, size);
    }
    doc->text[size] = '\0';
    snprintf(doc->etag, sizeof doc->etag, "\"%016llx\"", (unsigned long long)digest(text, size));
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
        free(doc);
    }
}
