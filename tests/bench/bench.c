/* bench.c: how fast the desk answers, measured from outside through a pseudo-terminal, interleaved
 * with floors in the same run: a bare ncurses key counter, a bare panel, a bare echo, a single-row
 * durable commit. Turns in which the kernel alone was slow to echo are left out, and counted.
 *
 * bench [--smoke | --strikes N]
 *
 * Prints a table, the targets beside it, and judges no time: the exit code is 1 only where strikes
 * were lost or out of order. The machine's noise makes single high percentiles jump; hold medians
 * against medians, and the desk's p99 against the counter's of the same run.
 */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base.h"
#include "commit.h"
#include "rig.h"
#include "player.h"
#include "run.h"
#include "table.h"

/* Strike keys in an order in which no key follows itself. */
static const char pad[] = "qWerTasDfgzVbuiOpyHjklmn";

#define PAD_KEYS  ((int)sizeof pad - 1)
#define PERIOD_MS 100 /* ten strikes a second */
#define SLOTS     5   /* of the period: the desk and four floors */
#define SETTLE_MS 14  /* after a key; less than a slot */
#define SLOW      5   /* times the median of the control: a turn that is left out */
#define BURST     20  /* below what the console takes for no hand */

struct plan {
    int strikes, bursts, starts, idle_seconds, bouts;
};

/* What the desk is to show as saved, and when it did. */
struct awaited {
    const struct player *player;
    long saved;
    int64_t saved_ns;
};

static bool is_saved(struct vt *vt, void *context)
{
    struct awaited *awaited = context;
    long saved = 0, waiting = 0;
    if (!rig_saved(vt, &saved, &waiting) || saved < awaited->saved || waiting > 0) {
        return false;
    }
    awaited->saved_ns = awaited->player->aside_ns;
    return true;
}

static void open_desk(struct player *desk, const struct rig *rig, const char *bout,
                      double *first_ms)
{
    const char *argv[] = {rig->program, "--db", rig->db, "desk", bout, NULL};
    double ms = player_open(desk, argv, rig->folder, RIG_READY);
    if (first_ms != NULL) {
        *first_ms = ms;
    }
    rig_saved_place(desk->vt, &desk->row, &desk->column);
}

static void open_floor(struct player *player, const struct rig *rig, const char *what)
{
    const char *argv[] = {FLOOR, what, NULL};
    player_open(player, argv, rig->folder, "ready");
}

/* How slow the machine is at this moment: the kernel's own echo on a terminal of nobody's. */
static int open_control(void)
{
    int master = posix_openpt(O_RDWR | O_NOCTTY);
    if (master < 0 || grantpt(master) != 0 || unlockpt(master) != 0 ||
        open(ptsname(master), O_RDWR | O_NOCTTY) < 0) { /* stays open: a terminal has two ends */
        harness_die("a second terminal");
    }
    return master;
}

static double control_ms(int master)
{
    char byte = 'x';
    int64_t start = vt_now();
    if (write(master, &byte, 1) != 1 || read(master, &byte, 1) != 1) {
        harness_die("a second terminal");
    }
    return (double)(vt_now() - start) / 1e6;
}

/* Keeps the turns in which the control was not slow. */
static size_t keep_quiet(struct sample *sample, const struct sample *control, double limit)
{
    size_t kept = 0;
    for (size_t i = 0; i < sample->count && i < control->count; i++) {
        if (control->value[i] <= limit) {
            sample->value[kept++] = sample->value[i];
        }
    }
    size_t dropped = sample->count - kept;
    sample->count = kept;
    return dropped;
}

/* Key to last changed cell, key to saved, bytes. */
static bool measure_answers(const struct rig *rig, const struct plan *plan)
{
    struct player desk, counter, panel, echo;
    struct sample saved = {0}, bytes = {0}, commits = {0}, control = {0};
    struct commit *commit = commit_open(rig->folder);
    int second = open_control();
    double slowest = 0;
    bool ok = true;

    open_desk(&desk, rig, "1", NULL);
    open_floor(&counter, rig, "counter");
    open_floor(&panel, rig, "panel");
    open_floor(&echo, rig, "echo");
    long entries = rig_settled(desk.vt) + 1;
    vt_press(desk.vt, "Enter"); /* the clock runs */
    ok = rig_wait_saved(desk.vt, entries);

    /* One after the other in slots of the period, in an order that turns: none of them always
     * follows a long rest or a busy neighbour. */
    int64_t start = vt_now(), before = -1;
    for (int i = 0; i < plan->strikes * SLOTS && ok; i++) {
        int64_t due = start + (int64_t)i * PERIOD_MS / SLOTS * 1000000;
        while (vt_now() < due) {
            vt_watch(desk.vt, (int)((due - vt_now() + 999999) / 1000000));
        }
        int strike = i / SLOTS;
        double echoed = control_ms(second);
        slowest = i % SLOTS == 0 || echoed > slowest ? echoed : slowest;
        switch ((i + strike) % SLOTS) {
        case 0: {
            char key[2] = {pad[strike % PAD_KEYS], '\0'};
            struct awaited awaited = {&desk, ++entries, 0};
            if (before >= 0) {
                sample_add(&bytes, (double)(vt_bytes(desk.vt) - before));
            }
            before = vt_bytes(desk.vt);
            int64_t typed = vt_now();
            ok = player_hit(&desk, key, SETTLE_MS, is_saved, &awaited);
            sample_add(&saved, (double)(awaited.saved_ns - typed) / 1e6);
            break;
        }
        case 1:
            ok = player_hit(&counter, "x", SETTLE_MS, NULL, NULL);
            break;
        case 2:
            ok = player_hit(&panel, "x", SETTLE_MS, NULL, NULL);
            break;
        case 3:
            ok = player_hit(&echo, "x", SETTLE_MS, NULL, NULL);
            break;
        default:
            sample_add(&commits, commit_one(commit));
            break;
        }
        if (i % SLOTS == SLOTS - 1) {
            sample_add(&control, slowest);
        }
    }
    struct usage usage = player_usage(&desk);
    struct sample sorted = {0};
    for (size_t i = 0; i < control.count; i++) {
        sample_add(&sorted, control.value[i]);
    }
    double limit = SLOW * sample_median(&sorted);
    size_t dropped = keep_quiet(&desk.shown, &control, limit);
    keep_quiet(&counter.shown, &control, limit);
    keep_quiet(&panel.shown, &control, limit);
    keep_quiet(&echo.shown, &control, limit);
    keep_quiet(&saved, &control, limit);
    keep_quiet(&commits, &control, limit);

    table_title("a strike every 0.1 s");
    table_plain("turns in which the machine was slow, left out", "", (double)dropped);
    table_plain("  of", "", (double)control.count);
    table_ratio("key to last changed cell, median", "ms", sample_median(&desk.shown),
                sample_median(&counter.shown), 2.0);
    table_ratio("key to last changed cell, p95", "ms", sample_quantile(&desk.shown, 0.95),
                sample_quantile(&counter.shown, 0.95), 0);
    table_ratio("key to last changed cell, p99", "ms", sample_quantile(&desk.shown, 0.99),
                sample_quantile(&counter.shown, 0.99), 1.3);
    table_ratio("  against a bare panel, median", "ms", sample_median(&desk.shown),
                sample_median(&panel.shown), 1.15);
    table_ratio("  against a bare panel, p95", "ms", sample_quantile(&desk.shown, 0.95),
                sample_quantile(&panel.shown, 0.95), 1.25);
    table_ratio("  against a bare echo, median", "ms", sample_median(&desk.shown),
                sample_median(&echo.shown), 0);
    table_ratio("key to saved, median", "ms", sample_median(&saved), sample_median(&commits), 1.5);
    table_ratio("key to saved, p99", "ms", sample_quantile(&saved, 0.99),
                sample_quantile(&commits, 0.99), 0);
    table_limit("bytes a strike, median", "", sample_median(&bytes), 200);
    table_limit("bytes a strike, p95", "", sample_quantile(&bytes, 0.95), 0);
    table_limit("resident memory after them", "MB", (double)usage.rss_kb / 1024, 8);
    table_limit("  of which the program's own", "MB", (double)usage.anon_kb / 1024, 0);

    sample_release(&saved);
    sample_release(&bytes);
    sample_release(&commits);
    sample_release(&control);
    sample_release(&sorted);
    commit_close(commit);
    close(second);
    player_close(&echo);
    player_close(&panel);
    player_close(&counter);
    ok = rig_leave(desk.vt) == 0 && ok;
    desk.vt = NULL;
    player_close(&desk);
    return ok;
}

static bool measure_bursts(const struct rig *rig, const struct plan *plan)
{
    struct player desk, counter;
    struct sample saved = {0};
    char keys[BURST + 1] = "", counted[BURST + 1];
    char *all = calloc((size_t)plan->bursts, sizeof keys);
    bool ok = true;

    for (int i = 0; i < BURST; i++) {
        keys[i] = pad[i % PAD_KEYS];
    }
    if (all == NULL) {
        harness_die("bursts");
    }
    for (int i = 0; i < plan->bursts; i++) {
        strcat(all, keys);
    }
    memset(counted, 'x', BURST);
    counted[BURST] = '\0';
    open_desk(&desk, rig, "2", NULL);
    open_floor(&counter, rig, "counter");
    long entries = rig_settled(desk.vt) + 1;
    vt_press(desk.vt, "Enter");
    ok = rig_wait_saved(desk.vt, entries);
    for (int i = 0; i < plan->bursts && ok; i++) {
        entries += BURST;
        struct awaited awaited = {&desk, entries, 0};
        int64_t start = vt_now();
        ok = player_hit(&desk, keys, BURST, is_saved, &awaited) &&
             player_hit(&counter, counted, 50, NULL, NULL);
        sample_add(&saved, (double)(awaited.saved_ns - start) / 1e6);
        vt_watch(desk.vt, 50);
    }
    ok = ok && rig_logged(rig, "saltglass-4/2", all, (size_t)plan->bursts * BURST);

    table_title("20 strikes in one write");
    table_ratio("shown, median", "ms", sample_median(&desk.shown), sample_median(&counter.shown),
                0);
    table_limit("shown, median", "ms", sample_median(&desk.shown), 15);
    table_limit("saved, median", "ms", sample_median(&saved), 15);
    table_limit("saved, p95", "ms", sample_quantile(&saved, 0.95), 0);
    free(all);
    sample_release(&saved);
    player_close(&counter);
    ok = rig_leave(desk.vt) == 0 && ok;
    desk.vt = NULL;
    player_close(&desk);
    return ok;
}

static bool measure_idle(const struct rig *rig, const struct plan *plan)
{
    struct player desk;
    open_desk(&desk, rig, "7", NULL);
    long entries = rig_settled(desk.vt) + 1;
    vt_press(desk.vt, "Enter");
    bool ok = rig_wait_saved(desk.vt, entries);
    vt_watch(desk.vt, 3000); /* the notice goes, the writer rests */
    struct usage before = player_usage(&desk);
    int64_t bytes = vt_bytes(desk.vt);
    vt_watch(desk.vt, plan->idle_seconds * 1000);
    struct usage after = player_usage(&desk);
    double seconds = plan->idle_seconds;

    table_title("idle, the clock running");
    table_limit("wake-ups a second, all threads", "",
                (double)(after.voluntary_switches - before.voluntary_switches) / seconds, 4);
    table_limit("share of a core", "%", (after.cpu_ms - before.cpu_ms) / seconds / 10, 0.1);
    table_limit("bytes a second", "", (double)(vt_bytes(desk.vt) - bytes) / seconds, 0);
    table_limit("resident memory", "MB", (double)after.rss_kb / 1024, 8);
    ok = rig_leave(desk.vt) == 0 && ok;
    desk.vt = NULL;
    player_close(&desk);
    return ok;
}

/* A database of so many bouts, on cards of 100. */
static void init_large(struct rig *rig, const char *card, int bouts)
{
    rig_init(rig, PROGRAM, card);
    char path[512];
    snprintf(path, sizeof path, "%s/many.ini", rig->folder);
    for (int i = 0; i < bouts / 100; i++) {
        FILE *file = fopen(path, "w");
        if (file == NULL) {
            harness_die(path);
        }
        fprintf(file, "[card]\nid = many-%d\ntitle = Many %d\ndate = 2026-01-01\nvenue = Hall\n", i,
                i);
        for (int j = 1; j <= 100; j++) {
            fprintf(file,
                    "[bout %d]\nweight = 70 kg\nrules = kickboxing\nred.name = Red %d-%d\n"
                    "red.short = R %d\nred.stance = orthodox\nblue.name = Blue %d-%d\n"
                    "blue.short = B %d\nblue.stance = southpaw\n",
                    j, i, j, j, i, j, j);
        }
        if (fclose(file) != 0) {
            harness_die(path);
        }
        rig_load(rig, path);
    }
}

static void measure_starts(const struct rig *rig, const struct plan *plan)
{
    struct rig large;
    struct sample small_ms = {0}, large_ms = {0}, counter_ms = {0}, panel_ms = {0};
    struct player player;
    const char *counter[] = {FLOOR, "counter", NULL}, *panel[] = {FLOOR, "panel", NULL};
    double ms = 0;

    init_large(&large, CARD, plan->bouts);
    for (int i = 0; i < plan->starts; i++) {
        open_desk(&player, rig, "4", &ms);
        sample_add(&small_ms, ms);
        player_close(&player);
        sample_add(&counter_ms, player_open(&player, counter, rig->folder, "ready"));
        player_close(&player);
        open_desk(&player, &large, "many-1/50", &ms);
        sample_add(&large_ms, ms);
        player_close(&player);
        sample_add(&panel_ms, player_open(&player, panel, rig->folder, "ready"));
        player_close(&player);
    }
    table_title("first full screen, from the fork");
    table_limit("7 bouts, median", "ms", sample_median(&small_ms), 50);
    table_limit("7 bouts, p95", "ms", sample_quantile(&small_ms, 0.95), 0);
    char what[40];
    snprintf(what, sizeof what, "%d bouts, median", plan->bouts);
    table_limit(what, "ms", sample_median(&large_ms), 50);
    table_ratio("  against 7 bouts", "ms", sample_median(&large_ms), sample_median(&small_ms), 0);
    table_plain("floor: bare counter, median", "ms", sample_median(&counter_ms));
    table_plain("floor: bare panel, median", "ms", sample_median(&panel_ms));
    sample_release(&small_ms);
    sample_release(&large_ms);
    sample_release(&counter_ms);
    sample_release(&panel_ms);
    rig_release(&large);
}

int main(int argc, char **argv)
{
    struct plan plan = {
        .strikes = 2000, .bursts = 40, .starts = 30, .idle_seconds = 30, .bouts = 10000};
    struct rig rig;

    if (argc == 2 && strcmp(argv[1], "--smoke") == 0) {
        plan =
            (struct plan){.strikes = 10, .bursts = 2, .starts = 2, .idle_seconds = 1, .bouts = 300};
    } else if (argc == 3 && strcmp(argv[1], "--strikes") == 0 && atoi(argv[2]) > 0) {
        plan.strikes = atoi(argv[2]);
    } else if (argc != 1) {
        fputs("usage: bench [--smoke | --strikes N]\n", stderr);
        return 2;
    }
    rig_init(&rig, PROGRAM, CARD);
    bool ok = measure_answers(&rig, &plan);
    ok = measure_bursts(&rig, &plan) && ok;
    ok = measure_idle(&rig, &plan) && ok;
    measure_starts(&rig, &plan);
    rig_release(&rig);
    if (!ok) {
        fputs("strikes were lost, out of order, or not answered\n", stderr);
    }
    return ok ? 0 : 1;
}
