/* fold_inside.h: what a fold is made of. Private to the room. */
#ifndef RINGTALLY_TALLY_FOLD_INSIDE_H
#define RINGTALLY_TALLY_FOLD_INSIDE_H

#include "tally/bells.h"
#include "tally/downs.h"
#include "tally/offices.h"
#include "tally/slots.h"
#include "tally/states.h"

struct fold {
    int whose;
    bool keeps_clock; /* a desk's own view: its own clock, also while it has no entry of it */

    struct desk_row *desks;
    size_t desk_count, desk_room;
    struct entry *entries; /* in entry_compare order */
    size_t entry_count, entry_room;

    /* Everything below is made from the above. */
    struct subject *subjects; /* in the order of their first entries */
    size_t subject_count, subject_room;
    struct states states;
    struct bells bells;
    size_t *downs; /* indexes of those that speak of a knockdown or a count, or once did */
    size_t down_count, down_room;
    struct offices offices;
    struct slots slots;
    size_t orphans; /* corrections whose subject is not there (yet) */
    int live_in_round[ROUND_MAX + 1];
    struct tally tally;
    struct entry
        own_clock; /* a desk's own view: its first live clock entry; code CODE_NONE: none */
    struct entry signature; /* the newest of its kind; code CODE_NONE: none */
};

#endif
