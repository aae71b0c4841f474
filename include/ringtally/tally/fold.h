/* fold.h: the one pure function from the entries of a bout to its state and its tally.
 *
 * Which strikes count: those of the desk that was official for their corner when they were written.
 * A correction takes effect when it comes from the subject's own desk, or from the desk official
 * for its corner at that time.
 */
#ifndef RINGTALLY_TALLY_FOLD_H
#define RINGTALLY_TALLY_FOLD_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/card.h"
#include "ringtally/bout/clock.h"
#include "ringtally/bout/entry.h"
#include "ringtally/tally/tally.h"

/* What an entry stands for now: a strike, an incident, a note, with all its corrections applied. */
struct subject {
    struct entry
        now;     /* content as it stands; .name is the subject's own, .utc_ms of its first entry */
    bool live;   /* not voided */
    bool counts; /* live and from the desk official for its corner then: in the tally */
    uint8_t
        official; /* bit 1 << corner: its desk was official for that corner when it was written */
    int corrections;        /* that took effect; refinements made while tagging are none */
    int64_t changed_ms;     /* UTC of the newest entry about it */
    struct entry_name last; /* the entry whose content `now` is */
};

/* Whose view: the official count, or one desk's own entries taken alone (a shadow, for agreement).
 */
#define FOLD_OFFICIAL (-1)

struct fold; /* opaque */

/* `whose` = FOLD_OFFICIAL or the root index of a desk. NULL: out of memory. */
struct fold *fold_new(const struct clock_plan *plan, const struct bout *bout, int whose);
void fold_free(struct fold *fold);

/* Makes a desk known. Indexes must come in order from 0. 0, or ERROR_MEMORY. */
int fold_desk(struct fold *fold, const struct desk_row *desk);

/* Adds one entry (copied). Appending in entry_compare order is cheap; an older entry makes the fold
 * start over, so the result depends only on the set of entries. An entry whose name is known
 * already is passed over. 0 or ERROR_MEMORY. */
int fold_add(struct fold *fold, const struct entry *entry);
/* Adds many, folding once. */
int fold_add_all(struct fold *fold, const struct entry *entries, size_t count);

const struct tally *fold_tally(const struct fold *fold);
const struct round_clock *fold_clock(const struct fold *fold);
enum stance fold_stance(const struct fold *fold, enum corner corner);
enum position fold_position(const struct fold *fold);
/* Root index of the desk official for CODE_RED, CODE_BLUE or CODE_CLOCK now; -1: none. */
int fold_official(const struct fold *fold, enum entry_code what);

/* All entries in order, and all subjects in the order of their first entry. */
size_t fold_entries(const struct fold *fold, const struct entry **out);
size_t fold_subjects(const struct fold *fold, const struct subject **out);
/* The subject of that name, or NULL. */
const struct subject *fold_subject(const struct fold *fold, struct entry_name name);
int fold_desks(const struct fold *fold, const struct desk_row **out);
/* The entry that signed the record, where it is signed and was not reopened since; else NULL. */
const struct entry *fold_signed(const struct fold *fold);

/* The newest UTC of an entry; 0: none. */
int64_t fold_newest_ms(const struct fold *fold);

#endif
