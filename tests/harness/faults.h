/* faults.h: a program under test whose calls the test lets fail. */
#ifndef HARNESS_FAULTS_H
#define HARNESS_FAULTS_H

#include <stdbool.h>
#include <stdint.h>

enum fault_kind {
    FAULT_OPEN = 1, /* and making a folder */
    FAULT_READ = 2,
    FAULT_WRITE = 4,
    FAULT_SYNC = 8,
    FAULT_TRUNCATE = 16, /* and reserving room */
    FAULT_RENAME = 32,   /* and linking */
    FAULT_UNLINK = 64,
    FAULT_STAT = 128,
    FAULT_MAP = 256, /* a file into memory */
    FAULT_LOCK = 512,
    FAULT_MEMORY = 1024
};

/* Shared with the program. */
struct faults_control {
    int64_t kinds;       /* that are counted */
    int64_t nth;         /* from 1: this one fails; 0: none does */
    int64_t lasting;     /* all later ones too */
    int64_t cause;       /* errno */
    int64_t stalled;     /* while 1, syncs do not return (if they are counted) */
    int64_t calls;       /* of these kinds so far */
    int64_t hits;        /* that failed */
    char where[200];     /* only files with this in their path; "": all */
    int64_t by_kind[16]; /* calls of each kind that is counted, by its bit */
    int64_t walk;        /* shim_walk.h */
};

/* By the number of the call, from 0 on. */
#define FAULTS_TRACED 200000
struct faults_trace {
    int64_t on;                    /* whether it is noted who calls */
    uint64_t stack[FAULTS_TRACED]; /* who did (shim_faults.c) */
    uint8_t wanted[FAULTS_TRACED]; /* where a walk lets one fail (shim_walk.h) */
};
#define WALK_CHANGES 77 /* how a child of a walk ends that would change a file */

struct faults {
    volatile struct faults_control *control;
    char preload[1200], file[400];
    const char *env[4]; /* for vt_setup */
};

/* Makes the file in that folder. `besides` (NULL: none) is preloaded too: times.h. Aborts where it
 * cannot. */
void faults_open(struct faults *faults, const char *folder, const char *besides);
void faults_close(struct faults *faults);
/* From now on the nth call of these kinds fails (0: none), counted anew. */
void faults_set(struct faults *faults, unsigned kinds, int64_t nth, bool lasting, int cause);

#endif
