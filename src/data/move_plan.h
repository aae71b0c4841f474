/* move_plan.h: a move being planned; shared by the files that plan it. */
#ifndef RINGTALLY_DATA_MOVE_PLAN_H
#define RINGTALLY_DATA_MOVE_PLAN_H

#include "ringtally/data/move.h"

/* One of the two bouts. */
struct move_side {
    struct bout bout;
    struct rules rules;
    struct clock_plan plan;
    struct fold *fold;      /* as it stands; owned */
    struct desk_row *desks; /* those there are, new ones behind them; owned, as the rest */
    int desk_count;
    int64_t *seq;          /* by desk: the highest that is planned */
    struct entry *entries; /* planned */
    size_t entry_count, entry_room;
    int mover; /* the desk of who moves; -1: none yet */
};

enum { MOVE_FROM, MOVE_TO };

struct move {
    struct log *log;
    struct move_side side[2];
    int64_t now_ms;
    int64_t
        utc_ms; /* the place of what is written about the move, above all that both bouts know */
    const char *operator_;
    struct move_told told;
};

/* A new session, `root` its chain's first (-1: itself); its index, or -1: out of memory. */
int move_add_desk(struct move_side *side, const struct desk_row *like, int root);
/* Plans an entry of that desk: it gets its number, and for ACT_ADD itself as its subject. False:
 * out of memory. */
bool move_add_entry(struct move_side *side, int desk, struct entry entry);
/* The desk of who moves, with the offices of all that stands: a session of its own, which no undo
 * of a tagger's reaches. */
int move_open_mover(struct move *move, struct move_side *side, struct error *err);
/* Plans a correction by that desk. */
bool move_correct(struct move *move, struct move_side *side, const struct subject *subject,
                  struct entry now, enum entry_act act);
/* Plans the note about it there. */
bool move_note(struct move *move, struct move_side *side, int desk, struct entry note);

/* move_out.c, move_back.c */
int move_plan_out(struct move *move, const struct move_ask *ask, struct error *err);
int move_plan_back(struct move *move, struct error *err);

#endif
