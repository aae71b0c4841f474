/* player.h: a program under measurement: a key goes in, the time of what changes on its screen
 * comes out. All times in milliseconds from the key (or from the fork). */
#ifndef BENCH_PLAYER_H
#define BENCH_PLAYER_H

#include <stdbool.h>
#include <stdint.h>

#include "sample.h"
#include "vt.h"

struct player {
    struct vt *vt;
    int64_t changed_ns; /* when a cell was last written to, apart from those below */
    int64_t aside_ns;   /* when one of those was */
    /* Where the desk says how much is saved: from here to the end of the row (-1: nowhere). Writes
     * there follow the disk and are timed on their own. */
    int row, column;
    struct sample shown;
};

/* Starts the program and waits for its first screen: `ready` stands on it. Returns the time from
 * the fork to its last cell. */
double player_open(struct player *player, const char *const *argv, const char *home,
                   const char *ready);
void player_close(struct player *player);

/* Sends the keys in one write and reads until `done` holds; then on until `settle_ms` after the
 * key. Adds the time of the last changed cell to shown. False at a deadline of 10 s. */
bool player_hit(struct player *player, const char *keys, int settle_ms, vt_condition *done,
                void *context);

/* What the kernel counts for the process, all threads together. */
struct usage {
    int64_t voluntary_switches; /* sleeps that something ended: wake-ups */
    double cpu_ms;
    long rss_kb, anon_kb;
};
struct usage player_usage(const struct player *player);

#endif
