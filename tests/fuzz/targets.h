/* targets.h: what is fed with anything. Each target must neither crash nor leave a half-made
 * result. */
#ifndef FUZZ_TARGETS_H
#define FUZZ_TARGETS_H

#include <stddef.h>

struct fuzz_target {
    const char *name;
    const char *seeds[4]; /* files below the project's root */
    void (*run)(const char *text, size_t size);
};

extern const struct fuzz_target fuzz_targets[];

#endif
