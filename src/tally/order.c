/* order.c: many entries put into the one order at once. */
#include "tally/order.h"

/* Where the run that begins at `low` ends. */
static size_t run_end(const struct entry *entries, size_t low, size_t count,
                      const struct desk_row *desks)
{
    while (low + 1 < count && entry_compare(&entries[low], &entries[low + 1], desks) <= 0) {
        low++;
    }
    return low + 1;
}

/* Merges neighbouring runs as they lie until one is left: a desk's entries, and most logs in the
 * order of arrival, are one already. (qsort would need a global for the desks.) */
bool order_sort(struct entry *entries, struct entry *room, size_t count,
                const struct desk_row *desks)
{
    struct entry *from = entries, *to = room;
    while (run_end(from, 0, count, desks) < count) {
        for (size_t low = 0, high = 0; low < count; low = high) {
            size_t mid = run_end(from, low, count, desks);
            high = mid < count ? run_end(from, mid, count, desks) : count;
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
