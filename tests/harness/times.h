/* times.h: a program under test whose clocks the test sets. */
#ifndef HARNESS_TIMES_H
#define HARNESS_TIMES_H

#include <stdint.h>

struct times {
    volatile int64_t *shift; /* mapped: of the wall, of every clock */
    char preload[600], file[400];
    const char *env[3]; /* for vt_setup */
};

/* Makes the file in that folder. Aborts where it cannot. */
void times_open(struct times *times, const char *folder);
void times_close(struct times *times);
/* The wall clock is set by so much. */
void times_step(struct times *times, int64_t ms);
/* So much time passes. */
void times_pass(struct times *times, int64_t ms);

#endif
