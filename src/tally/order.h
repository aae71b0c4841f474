/* order.h: many entries put into the one order at once. Private to the room. */
#ifndef RINGTALLY_TALLY_ORDER_H
#define RINGTALLY_TALLY_ORDER_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/bout/entry.h"

/* Sorts by entry_compare, with `room` for as many as scratch. True where the sorted entries stand
 * in `room`, false where they stand in `entries`. */
bool order_sort(struct entry *entries, struct entry *room, size_t count,
                const struct desk_row *desks);

#endif
