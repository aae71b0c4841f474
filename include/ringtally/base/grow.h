/* grow.h: the one growing array: doubles its room, so that adding stays cheap. */
#ifndef RINGTALLY_BASE_GROW_H
#define RINGTALLY_BASE_GROW_H

#include <stdbool.h>
#include <stddef.h>

/* Makes room for `more` elements of `size` bytes behind the `count` that *array holds. False: out
 * of memory, and nothing has changed. `array` is the address of a pointer of any object type. */
bool grow_array(void *array, size_t size, size_t count, size_t more, size_t *room);

#endif
