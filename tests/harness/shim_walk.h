/* shim_walk.h: a run of the program that stops at calls for memory, and lets a child go on without.
 * Private to shim_faults.so.
 *
 * As long as it has changed no file (but SQLite's -shm, and an empty -wal), the program can be
 * forked at a call: the child goes on as if that call had failed, and costs no more than its own
 * rest. What the child would change is not changed: it ends with WALK_CHANGES, and is to be run
 * from the start. The run itself ends at its first change, or at its first thread.
 */
#ifndef HARNESS_SHIM_WALK_H
#define HARNESS_SHIM_WALK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "faults.h"

/* What the program that serves says to who asked. */
struct walk_word {
    int32_t call;   /* WALK_PID, WALK_ENDED, or the number of the call that failed */
    int32_t status; /* the process' number; how it ended */
};
#define WALK_PID   0
#define WALK_ENDED (-1)

/* This process walks from now on; it asks by those descriptors. */
void walk_begin(int in, int out);
/* At a call for memory: true in the child, for which it fails. */
bool walk_tries(const struct faults_trace *trace, int64_t call);
/* Before a call that changes the file: true where it is to be pretended. May end the process. */
bool walk_pretends(unsigned kind, const char *path, int fd);
/* Before a file is opened. */
void walk_opens(const char *path, int flags);
/* A child: its calls are not counted, and its locks are pretended, since the walker has them. */
bool walk_is_child(void);
/* Memory that is a file's. */
void walk_maps(void *at, size_t size, int fd);
void walk_unmaps(const void *at);
/* The file's path by its descriptor; NULL: it has none. */
const char *walk_path(char *out, size_t size, int fd);

#endif
