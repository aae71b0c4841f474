/* practice.h: calls to be answered by a trainee's fingers, what came of it, and what follows. Pure;
 * the same seed gives the same calls. */
#ifndef RINGTALLY_INSIGHT_PRACTICE_H
#define RINGTALLY_INSIGHT_PRACTICE_H

#include "ringtally/bout/practised.h"
#include "ringtally/insight/align.h"
#include "ringtally/bout/card.h"
#include "ringtally/bout/rules.h"

struct practice_call {
    int32_t at_ms; /* from the bell */
    struct strike strike;
};

/* Rhythms, of both corners together: slow, single strikes, one in two seconds; bout, combinations
 * of one to four, 0.83 a second (two boxers at 25 a minute each); burst, the same with three
 * seconds of flurries in every twelve: four strikes of one corner at ten a second, four a second in
 * all. The rates of bouts are from the literature of time and motion in boxing and kickboxing, the
 * burst is our own choice. Cells of the rules' pad; where `only` has any those alone. *out is
 * malloc'd, the caller frees. 0 or ERROR_MEMORY. */
struct practice_only {
    uint8_t targets[CORNER_COUNT][LIMB_COUNT]; /* bit 1 << target */
};
int practice_calls(struct practice_call **out, size_t *count, const struct rules *rules,
                   enum practice_level level, const struct practice_only *only, int64_t seed,
                   int32_t ran_ms);

/* Scores what a desk wrote (`entries`, its desk has index 0 and began round 1 at `start_ms`)
 * against what was called, or against strikes of a reference: in align_sort order, in rounds. Fills
 * the figures of *session, and *cells (malloc'd, the caller frees). 0 or ERROR_MEMORY. */
int practice_score(struct practice_session *session, struct practice_cell **cells,
                   size_t *cell_count, const struct rules *rules, const struct bout *bout,
                   const struct align_strike *called, size_t called_count,
                   const struct entry *entries, size_t entry_count);

/* What a level asks: practice.ini. */
struct practice_bar {
    double had, first;  /* percent of the calls, at least */
    double reaction_ms; /* median, at most */
    int sessions;       /* the newest so many */
};
int practice_bars(struct practice_bar bars[LEVELS], const char *text, size_t size, const char *file,
                  struct error *err);
/* The session holds the bar. */
bool practice_holds(const struct practice_session *session, const struct practice_bar *bar);
/* The hardest level that the operator is ready for: the newest sessions of fingers at it, or a
 * harder one, all hold its bar; -1: none. `sessions`: newest first. */
int practice_ready(const struct practice_session *sessions, size_t count,
                   const struct practice_bar bars[LEVELS]);

/* A cell that is worth a drill, with the one that it is mistaken for most. */
struct practice_drill {
    uint8_t corner, limb, target;
    int called, right;
    bool mistaken;
    uint8_t for_corner, for_limb, for_target;
    int for_count;
};
#define PRACTICE_DRILLS 3
/* The weakest cells: the largest share that went wrong, drawn towards the operator's mean as far as
 * a cell was seldom called (by four calls of the mean: own choice). Returns how many. */
int practice_drills(struct practice_drill out[PRACTICE_DRILLS], const struct practice_cell *cells,
                    size_t count);

#endif
