/* fold.h: the one pure function from the entries of a bout to its state and its tally.
 *
 * Which strikes count: those of the desk that was official for their corner when they were written.
 * A correction takes effect when it comes from the subject's own desk, or from the desk that is
 * official at that time both for the corner that the subject was entered for and for the one that
 * the correction speaks of (for a clock entry: for the clock; for the position: for a corner).
 * Every entry has an effect, which the fold tells (fold_effect): whoever shows, undoes or prints
 * entries asks here and judges nothing anew.
 *
 * Pointers that the fold gives out are valid until the next fold_add: keep names or copies.
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

/* What an entry did. */
enum fold_effect {
    EFFECT_UNKNOWN,    /* no such entry */
    EFFECT_TAKEN,      /* it stands, or stood until a newer one */
    EFFECT_APART,      /* it was added, but its desk held no office for it: in no official count */
    EFFECT_NO_OFFICE,  /* a correction refused: another desk's entry, and not the office for it */
    EFFECT_NO_SUBJECT, /* a correction of what is not there, or of another kind */
    EFFECT_COUNT
};
/* "", "", "counted apart", "refused: ..." */
extern const char *const fold_effect_words[EFFECT_COUNT];

/* What an entry stands for now: a strike, an incident, a note, a state that strikes copy, a start
 * or stop of the clock, with all its corrections applied. */
struct subject {
    struct entry
        now;     /* content as it stands; .name is the subject's own, .utc_ms of its first entry */
    bool live;   /* not voided */
    bool counts; /* live and from the desk that held the office for it then: in the tally */
    uint8_t official;       /* bit 1 << corner: its desk was official for that corner when it was
                               written; bit 4: for the clock */
    uint8_t entered_corner; /* enum corner: as its first entry says */
    int corrections;        /* that took effect; refinements made while tagging are none */
    int64_t changed_ms;     /* utc_ms of the newest entry about it that took effect */
    struct entry_name last; /* the entry whose content `now` is */
};

/* Whose view: the official count, or one desk's own entries taken alone (a shadow, for agreement).
 */
#define FOLD_OFFICIAL (-1)

struct fold; /* opaque */

/* `whose` = FOLD_OFFICIAL or the root index of a desk. NULL: out of memory. */
struct fold *fold_new(const struct clock_plan *plan, const struct bout *bout, int whose);
/* A desk's own view shows the official clock until the desk has written a clock entry; from here on
 * only its own. */
void fold_keep_clock(struct fold *fold);
void fold_free(struct fold *fold);

/* Makes a desk known. Indexes must come in order from 0. 0, or ERROR_MEMORY. */
int fold_desk(struct fold *fold, const struct desk_row *desk);

/* Adds one entry (copied). The result depends only on the set of entries, whatever the order of
 * arrival: a late entry finds its place at the cost of how late it is; only a late change of office
 * folds anew. An entry whose name is known already is passed over. 0 or ERROR_MEMORY, and then
 * nothing has changed. */
int fold_add(struct fold *fold, const struct entry *entry);
/* Adds many. As fold_add: all or nothing. */
int fold_add_all(struct fold *fold, const struct entry *entries, size_t count);
/* Room for so many more, so that fold_add cannot fail for them. */
int fold_reserve(struct fold *fold, size_t more);

/* Counts a subject into a tally (sign 1) or out of it (-1): the one rule of what counts. Its caller
 * has seen to it that the subject is an official desk's. Knockdowns and downs are told apart over
 * all of them, and are not in it. */
void round_tally_add(struct round_tally *tally, const struct subject *subject, int sign);

const struct tally *fold_tally(const struct fold *fold);
const struct round_clock *fold_clock(const struct fold *fold);
/* The clock of this view is a recording's: it is the view of a desk that tags from one, or the
 * official one while such a desk counts. All that this desk wrote has the round and the round clock
 * that follow from its moment (at_ms) and from where its bells stand now. */
bool fold_on_recording(const struct fold *fold);
/* The clock as it stands at that moment of a recording; elsewhere as it stands now. */
struct round_clock fold_clock_at(const struct fold *fold, int64_t at_ms);
/* A recording's bells (starts and stops of the clock) in media time; 0 elsewhere. Valid as other
 * pointers. */
size_t fold_bells(const struct fold *fold, const struct entry **out);
enum stance fold_stance(const struct fold *fold, enum corner corner);
enum position fold_position(const struct fold *fold);
/* FOLD_OFFICIAL, or the root index of the desk whose own entries alone this is. */
int fold_whose(const struct fold *fold);
/* Root index of the desk official for CODE_RED, CODE_BLUE or CODE_CLOCK now; -1: none. In a desk's
 * own view that desk, but for the clock whoever's it shows. */
int fold_official(const struct fold *fold, enum entry_code what);

/* All entries in order, and all subjects in the order of their first entry. */
size_t fold_entries(const struct fold *fold, const struct entry **out);
size_t fold_subjects(const struct fold *fold, const struct subject **out);
/* The subject of that name, or NULL. */
const struct subject *fold_subject(const struct fold *fold, struct entry_name name);
/* The entry of that name, or NULL. */
const struct entry *fold_entry(const struct fold *fold, struct entry_name name);
enum fold_effect fold_effect(const struct fold *fold, struct entry_name name);
/* What a correction would do, were it added now. */
enum fold_effect fold_would(const struct fold *fold, const struct entry *correction);
/* The entry whose content stood before that one about the same subject; NULL where it was the first
 * or had no effect. */
const struct entry *fold_before(const struct fold *fold, struct entry_name name);
/* Indexes into the subjects of those that are state: clock, stance, position, view, and the result
 * that ended the bout. In order. */
size_t fold_states(const struct fold *fold, const size_t **out);
/* Indexes of those that may be a knockdown or a count. */
size_t fold_downs(const struct fold *fold, const size_t **out);
/* The knockdowns as events, one after the other: a strike's mark, or the other corner's "knocked
 * down" where no mark tells of it. Begins with *at = 0; NULL: no more. */
const struct entry *fold_knockdown(const struct fold *fold, size_t *at);
/* Who scored such an event. */
enum corner knockdown_by(const struct entry *knockdown);
/* The tagger's view of that corner is blocked at the moment. */
bool fold_hidden(const struct fold *fold, enum corner corner);
/* Round clock milliseconds of a round (0: of all) in which the view of the corner was blocked. */
int64_t fold_unseen(const struct fold *fold, int round, enum corner corner, int64_t now_ms);
/* The same from a place on the round clock on. */
int64_t fold_unseen_since(const struct fold *fold, int round, int32_t elapsed_ms,
                          enum corner corner, int64_t now_ms);
int fold_desks(const struct fold *fold, const struct desk_row **out);
/* The entry that signed the record, where it is signed and was not reopened since; else NULL. */
const struct entry *fold_signed(const struct fold *fold);

/* No round will follow: all are over, how it ended was entered, or the record is signed. */
bool fold_over(const struct fold *fold, int64_t now_ms);

/* The highest utc_ms of an entry; 0: none. */
int64_t fold_newest_ms(const struct fold *fold);
/* The moment at which to read the clock: the wall's, or the newest moment where the entries are
 * ahead of it (a script played faster than time, another machine's wall clock). */
int64_t fold_now(const struct fold *fold, int64_t wall_ms);
/* When the newest entry was written, as far as it can be told at that moment; 0: there is none. */
int64_t fold_heard(const struct fold *fold, int64_t now_ms);

#endif
