/* offices.h: which desk was official for red, blue and the clock, and from when. Private to the
 * room. */
#ifndef RINGTALLY_TALLY_OFFICES_H
#define RINGTALLY_TALLY_OFFICES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/entry.h"

#define OFFICE_ROLES 3 /* red, blue, clock */
#define OFFICE_CLOCK 4 /* above the corners' bits */
#define OFFICE_ALL   7

/* From that entry on the desk chain `root` holds the office. */
struct office {
    struct entry from;
    int root;
};

struct offices { /* by role, in order */
    struct office *of[OFFICE_ROLES];
    size_t count[OFFICE_ROLES], room[OFFICE_ROLES];
};

bool offices_reserve(struct offices *offices, size_t more);
/* The newest entry that makes a desk official; room was made before. */
void offices_take(struct offices *offices, const struct entry *entry, int root);
/* Bits (1 << corner, OFFICE_CLOCK) of what the desk chain held when the entry was written. */
uint8_t offices_held(const struct offices *offices, int root, const struct entry *entry,
                     const struct desk_row *desks);
/* Root of the desk that holds it now; -1: none. */
int offices_now(const struct offices *offices, enum entry_code what);
void offices_clear(struct offices *offices);
void offices_release(struct offices *offices);

#endif
