/* targets.h: what is fed with anything. Each target must neither crash nor leave a half-made
 * result. */
#ifndef FUZZ_TARGETS_H
#define FUZZ_TARGETS_H

#include <stddef.h>

#include "ringtally/base/error.h"

struct fuzz_target {
    const char *name;
    const char *seeds[4]; /* files below the project's root, besides those in seeds/NAME/ */
    void (*run)(const char *text, size_t size);
    int rounds; /* of seeded damage to each seed, in the suite */
};

extern const struct fuzz_target fuzz_targets[];

void fuzz_import(const char *text, size_t size);
void fuzz_hostile(const char *text, size_t size);
void fuzz_feed(const char *text, size_t size);
void fuzz_desk(const char *text, size_t size);
void fuzz_player(const char *text, size_t size);

/* Says what is wrong, and ends the program. */
_Noreturn void fuzz_fail(const char *what, const char *detail);
/* A refusal says why, in one line. */
void fuzz_check(int code, const struct error *err);

/* A folder for databases, gone at the end of the program; the path of a database in it with two
 * bouts of which the first has entries of two desks. */
const char *fuzz_folder(void);
const char *fuzz_database(void);

#endif
