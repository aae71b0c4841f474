/* embedded.c: files built into the program. */
#include "ringtally/base/embedded.h"

#include <string.h>

const struct embedded *embedded_find(const char *name)
{
    for (const struct embedded *file = embedded_files; file->name; file++) {
        if (strcmp(file->name, name) == 0) {
            return file;
        }
    }
    return NULL;
}
