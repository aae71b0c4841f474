/* runs.h: a set of numbers that mostly follow each other, as runs without a gap. For src/hub only.
 */
#ifndef RINGTALLY_HUB_RUNS_H
#define RINGTALLY_HUB_RUNS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct run {
    int64_t low, high;
};
struct runs {
    struct run *run; /* rising, and none touches the next */
    size_t count, room;
};

bool runs_has(const struct runs *runs, int64_t number);
/* False: out of memory, and nothing has changed. */
bool runs_add(struct runs *runs, int64_t low, int64_t high);
void runs_release(struct runs *runs);

#endif
