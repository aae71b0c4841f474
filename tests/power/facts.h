/* facts.h: what an evening's database was told and what it answered, held against what is on a
 * disk. */
#ifndef POWER_FACTS_H
#define POWER_FACTS_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/base/error.h"
#include "ringtally/log/log.h"

#define NEVER SIZE_MAX

/* An entry, as a line of text: bout, desk, number and all that it says. */
struct fact {
    char *line;
    char desk[33];
    size_t given; /* the moment when it was handed over, and the one by which it was called saved */
    size_t saved; /* NEVER: it was not */
    int group;    /* those of one group are all there or none; 0: no group */
};

struct facts {
    struct fact *list;
    size_t count, room;
    bool ordered;
};

void facts_add(struct facts *facts, const char *bout, const struct desk_row *desks,
               const struct entry *entry, size_t given, size_t saved, int group);
void facts_release(struct facts *facts);

/* Reads every entry of every bout; each of them folds. `given`, `saved`, `group` as above. */
int facts_read(struct facts *facts, struct log *log, size_t given, size_t saved, int group,
               struct error *err);

/* The entries of `found` are those that the moment allows: all that were saved, in whole groups,
 * each desk's without a gap, and none that was not given yet. */
int facts_hold(struct facts *facts, const struct facts *found, size_t moment, struct error *err);

#endif
