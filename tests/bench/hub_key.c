/* hub_key.c: what a stalled hub costs the desk: key to last changed cell with `hub follow` running
 * beside it and its server standing still, against the same without, key by key in turns.
 *
 * bench_hub_key URI [STRIKES]
 *
 * Says "stall" once the follower has sent all there was; goes on when a line comes on stdin.
 * hub.py starts the server, stops its processes, and answers. Where the desk says how far behind
 * the hub is counts as the place of what is saved: both are painted by the writer's word, not by a
 * key.
 */
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base.h"
#include "player.h"
#include "rig.h"
#include "table.h"

#define PERIOD_MS 60 /* from a key at one desk to a key at the other: eight a second at either */
#define SETTLE_MS 30
#define WIDEST    24 /* columns by which the words on the hub may grow to the left */

/* Strike keys in an order in which no key follows itself. */
static const char pad[] = "qWerTasDfgzVbuiOpyHjklmn";

static pid_t follow(const struct rig *rig, const char *uri)
{
    pid_t pid = fork();
    if (pid == 0) {
        close(STDERR_FILENO); /* it says that the hub is away, which is meant */
        open("/dev/null", O_WRONLY);
        execl(rig->program, rig->program, "--db", rig->db, "hub", "follow", uri, "--wait",
              (char *)NULL);
        _exit(127);
    }
    return pid;
}

static void open_desk(struct player *desk, const struct rig *rig)
{
    const char *argv[] = {rig->program, "--db", rig->db, "desk", "1", NULL};
    player_open(desk, argv, rig->folder, RIG_READY);
    rig_saved_place(desk->vt, &desk->row, &desk->column);
    desk->column -= WIDEST;
    long entries = rig_settled(desk->vt) + 1;
    vt_press(desk->vt, "Enter"); /* the clock runs */
    if (!rig_wait_saved(desk->vt, entries)) {
        harness_die("the clock");
    }
}

static void compare(const char *what, struct player *beside, struct player *alone, double share,
                    double target)
{
    char line[80];
    snprintf(line, sizeof line, "key to last changed cell, hub stalled, %s", what);
    table_ratio(line, "ms", sample_quantile(&beside->shown, share),
                sample_quantile(&alone->shown, share), target);
}

int main(int argc, char **argv)
{
    struct rig with, without;
    struct player beside, alone;
    char line[16];
    int strikes = argc > 2 ? atoi(argv[2]) : 1000;
    if (argc < 2 || strikes < 1) {
        fputs("usage: bench_hub_key URI [STRIKES]\n", stderr);
        return 2;
    }
    rig_init(&with, PROGRAM, CARD);
    rig_init(&without, PROGRAM, CARD);
    open_desk(&beside, &with);
    open_desk(&alone, &without);
    pid_t follower = follow(&with, argv[1]);
    puts("stall");
    fflush(stdout);
    bool ok = fgets(line, sizeof line, stdin) != NULL;

    for (int i = 0; i < 2 * strikes && ok; i++) {
        char key[2] = {pad[(size_t)i / 2 % (sizeof pad - 1)], '\0'};
        struct player *desk = (i + i / 2) % 2 ? &alone : &beside; /* each goes first in turn */
        ok = player_hit(desk, key, SETTLE_MS, NULL, NULL);
        vt_watch(beside.vt, (PERIOD_MS - SETTLE_MS) / 2);
        vt_watch(alone.vt, (PERIOD_MS - SETTLE_MS) / 2);
    }
    /* The stall was one: it says so, and follows still. */
    ok =
        ok && vt_wait_text(beside.vt, "hub ", RIG_WAIT_MS) && waitpid(follower, NULL, WNOHANG) == 0;
    table_title("a key of the desk");
    compare("median", &beside, &alone, 0.5, 1.05);
    compare("p95", &beside, &alone, 0.95, 0);
    compare("p99", &beside, &alone, 0.99, 0);
    kill(follower, SIGKILL);
    waitpid(follower, NULL, 0);
    player_close(&beside);
    player_close(&alone);
    rig_release(&with);
    rig_release(&without);
    if (!ok) {
        fputs("strikes were not answered, or the hub did not stall\n", stderr);
    }
    return ok ? 0 : 1;
}
