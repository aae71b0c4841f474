/* run.h: a program without any terminal, and a folder to let it work in. */
#ifndef HARNESS_RUN_H
#define HARNESS_RUN_H

#include <stddef.h>

#define RUN_OUTPUT 65536

struct run {
    int status;           /* exit code, or 128 + signal */
    char out[RUN_OUTPUT]; /* what it wrote to stdout and stderr, cut at the size; ends with NUL */
};

/* Runs argv (argv[0] a path, ends with NULL) with stdin from /dev/null and no controlling terminal
 * in the environment LC_ALL=C.UTF-8, TZ=UTC, HOME=home, TERM=xterm-256color. Aborts when it cannot
 * be started. */
void run(struct run *out, const char *home, const char *const *argv);

/* A fresh folder, its path into out[size]; and its removal with everything in it. Both abort on
 * failure. */
void scratch_new(char *out, size_t size);
void scratch_remove(const char *path);

#endif
