/* move.h: what was logged on one bout moved to another: planned, told, and written as one.
 *
 * The other bout gets the sessions anew, as if they had been opened on it: each with its operator,
 * its moments, its offices and its corrections, so that order, offices and covered time there are
 * what they would have been. What nobody typed comes from its card: the stance, until a key changed
 * it. Here all of it is voided. Each log keeps a note. The clock goes along where the whole bout is
 * moved and the other one has had no clock yet. Scores, results and time codes stay.
 *
 * An office that another desk had there at that time stays with it, and what goes over counts
 * apart.
 */
#ifndef RINGTALLY_DATA_MOVE_H
#define RINGTALLY_DATA_MOVE_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/data/data.h"
#include "ringtally/tally/window.h"

struct move_ask {
    const char *from, *to;                  /* bouts, as log_bout_find takes them */
    const char *operator_;                  /* who moves */
    int round;                              /* 0: all */
    int corner;                             /* CORNER_NONE: both */
    const struct window_ask *since, *until; /* NULL: no bound; what lies at `until` stays */
    bool back;                              /* what was moved last comes back */
};

/* What is about to be done. */
struct move_told {
    const struct bout *from, *to;
    size_t entries, strikes, incidents;
    bool clock;      /* goes along */
    bool clock_ends; /* is taken back and does not go along: the other bout has one */
    size_t apart;    /* strikes that will be in no official count there */
    size_t changed;  /* back: changed since they were moved; they stay as they are */
    char desks[160]; /* whose, "ana, ben" */
    struct tally before[2], after[2]; /* of both bouts */
};

struct move; /* opaque */

/* Plans it, and writes nothing. ERROR_MISSING: there is nothing to move. Refused where a bout is
 * signed, a desk is open on the bout that is left (back: on either), or the other bout has no such
 * strike or round. */
int move_plan(struct move **out, const char *db, const struct move_ask *ask, struct error *err);
const struct move_told *move_tell(const struct move *move);
/* Writes what was planned, in one transaction; ERROR_BUSY: something was logged meanwhile. */
int move_write(struct move *move, struct error *err);
void move_free(struct move *move);

#endif
