/* slots.h: where a name of an entry leads: an open-addressing table inside the fold. Private. */
#ifndef RINGTALLY_TALLY_SLOTS_H
#define RINGTALLY_TALLY_SLOTS_H

#include "ringtally/bout/entry.h"
#include "ringtally/tally/fold.h"

struct slot {
    struct entry_name name; /* desk -1: free */
    struct entry_name prev; /* the entry whose content stood before this one; none: the first */
    int64_t utc_ms;         /* of the entry */
    long subject;           /* index of the subject that it added; -1: it added none */
    enum fold_effect effect;
};

struct slots {
    struct slot *slot;
    size_t count, room;
};

/* The slot of a name, or NULL. Valid until slots_reserve. */
struct slot *slots_find(const struct slots *slots, struct entry_name name);
/* Room for so many more; false: out of memory, and nothing has changed. */
bool slots_reserve(struct slots *slots, size_t more);
/* Room was made before. The name must be new. */
struct slot *slots_place(struct slots *slots, struct slot slot);
void slots_clear(struct slots *slots);

#endif
