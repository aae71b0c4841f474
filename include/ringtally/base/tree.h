/* tree.h: JSON trees in the making. What fails sticks, so that a document is built without looking
 * back, and is named once, when it is written. */
#ifndef RINGTALLY_BASE_TREE_H
#define RINGTALLY_BASE_TREE_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/error.h"

struct json_t; /* Jansson's */

/* Both take `value`, of any outcome; a NULL parent or value sticks in *failed. */
void tree_set(struct json_t *object, const char *key, struct json_t *value, bool *failed);
void tree_add(struct json_t *array, struct json_t *value, bool *failed);

/* Appends the document, with flags of json_dumps, and drops it. 0 or ERROR_MEMORY, which sticks in
 * out->failed as well. Jansson makes nothing of a text that is not UTF-8 and does not say why, so
 * the message names both. */
int tree_put(struct buf *out, struct json_t *root, bool failed, size_t flags, struct error *err);
/* The same, and a line's end. */
int tree_write(struct buf *out, struct json_t *root, bool failed, size_t flags, struct error *err);

#endif
