/* grow.c: the one growing array. */
#include "ringtally/base/grow.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define LEAST 16

bool grow_array(void *array, size_t size, size_t count, size_t more, size_t *room)
{
    void *old = NULL;
    if (more <= *room && count <= *room - more) {
        return true;
    }
    if (more > SIZE_MAX / 4 / size || count > SIZE_MAX / 4 / size) {
        return false;
    }
    size_t wanted = *room ? *room : LEAST;
    while (wanted < count + more) {
        wanted *= 2;
    }
    memcpy(&old, array, sizeof old); /* whatever it points to */
    void *bigger = realloc(old, wanted * size);
    if (!bigger) {
        return false;
    }
    memcpy(array, &bigger, sizeof bigger);
    *room = wanted;
    return true;
}
