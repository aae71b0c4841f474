/* order.c: many entries put into the one order at once. */
#include "tally/order.h"

/* Bottom-up merge sort: the desks' runs are sorted already, and qsort would need a global for the
 * desks. */
bool order_sort(struct entry *entries, struct entry *room, size_t count,
                const struct desk_row *desks)
{
    struct entry *from = entries, *to = room;
    for (size_t run = 1; run < count; run *= 2) {
        for (size_t low = 0; low < count; low += 2 * run) {
            size_t mid = low + run < count ? low + run : count;
            size_t high = low + 2 * run < count ? low + 2 * run : count;
            size_t left = low, right = mid;
            for (size_t at = low; at < high; at++) {
                bool take_left =
                    left < mid &&
                    (right >= high || entry_compare(&from[left], &from[right], desks) <= 0);
                to[at] = take_left ? from[left++] : from[right++];
            }
        }
        struct entry *swap = from;
        from = to;
        to = swap;
    }
    return from == room;
}
