/* tree.c: JSON trees in the making. */
#include "ringtally/base/tree.h"

#include <stdlib.h>

#include <jansson.h>

void tree_set(json_t *object, const char *key, json_t *value, bool *failed)
{
    *failed = json_object_set_new(object, key, value) || *failed;
}

void tree_add(json_t *array, json_t *value, bool *failed)
{
    *failed = json_array_append_new(array, value) || *failed;
}

int tree_put(struct buf *out, json_t *root, bool failed, size_t flags, struct error *err)
{
    char *text = failed || !root ? NULL : json_dumps(root, flags);
    if (text) {
        buf_adds(out, text);
    } else {
        out->failed = true;
    }
    free(text);
    json_decref(root);
    return out->failed ? error_set(err, ERROR_MEMORY,
                                   "out of memory, or a text in the document is not UTF-8")
                       : 0;
}

int tree_write(struct buf *out, json_t *root, bool failed, size_t flags, struct error *err)
{
    int code = tree_put(out, root, failed, flags, err);
    buf_adds(out, code ? "" : "\n");
    return !code && out->failed ? error_memory(err) : code;
}
