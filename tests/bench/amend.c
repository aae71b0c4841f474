/* amend.c: how soon an amendment anywhere in a long bout is on the screen, through a
 * pseudo-terminal, beside a bare key counter in the same run. The log is walked from the newest
 * entry to the first; on the way entries are amended, voided, brought back and inserted before.
 *
 * bench_amend [ENTRIES [SAMPLES]] */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base.h"
#include "player.h"
#include "rig.h"
#include "run.h"
#include "table.h"

#define SETTLE_MS 30 /* after a key; what is painted later is not missed */
#define FRAME_MS  16

static const char pad[] = "qWerTasDfgzVbuiOpyHjklmn"; /* no key follows itself */

/* Tags so many strikes, a third in each round, by a key script. */
static void tag(const struct rig *rig, int entries)
{
    static struct run result;
    char path[512];
    snprintf(path, sizeof path, "%s/long.keys", rig->folder);
    FILE *file = fopen(path, "w");
    if (file == NULL) {
        harness_die(path);
    }
    for (int round = 0; round < 3; round++) {
        double begins = 1 + round * 240;
        fprintf(file, "%.3f Enter\n", begins);
        for (int i = 0; i < entries / 3; i++) {
            fprintf(file, "%.3f %c\n", begins + 0.1 + i * 179.0 / (entries / 3.0),
                    pad[(size_t)i % (sizeof pad - 1)]);
        }
    }
    if (fclose(file) != 0) {
        harness_die(path);
    }
    const char *argv[] = {rig->program, "--db",       rig->db,  "desk", "1",
                          "--operator", "ana",        "--keys", path,   "--speed",
                          "max",        "--headless", NULL};
    run(&result, rig->folder, argv);
    if (result.status != 0) {
        fputs(result.out, stderr);
        harness_die("long.keys");
    }
}

int main(int argc, char **argv)
{
    int entries = argc > 1 ? atoi(argv[1]) : 1500;
    int samples = argc > 2 ? atoi(argv[2]) : 500;
    struct rig rig;
    struct player desk, counter;
    const char *floor[] = {FLOOR, "counter", NULL};
    if (entries < 30 || samples < 1 || samples > 100000) {
        fputs("usage: bench_amend [ENTRIES [SAMPLES]]\n", stderr);
        return 2;
    }
    rig_init(&rig, PROGRAM, CARD);
    tag(&rig, entries);
    const char *open[] = {rig.program, "--db", rig.db, "desk", "1", "--operator", "ana", NULL};
    player_open(&desk, open, rig.folder, RIG_READY);
    rig_saved_place(desk.vt, &desk.row, &desk.column);
    player_open(&counter, floor, rig.folder, "ready");
    vt_press(desk.vt, "Up");
    bool ok = vt_wait_text(desk.vt, "LOG", RIG_WAIT_MS);
    int walked = 0;
    for (int i = 0; i < samples && ok; i++) {
        for (int to = (int)((int64_t)entries * i / samples); walked < to; walked++) {
            vt_press(desk.vt, "Down");
        }
        vt_watch(desk.vt, 100); /* no repeat of the same key, and the walk is painted */
        char key[2] = {pad[(size_t)i % (sizeof pad - 1)], '\0'};
        if (i % 10 == 3) {
            vt_type(desk.vt, "+");
            ok = vt_wait_text(desk.vt, "INSERT", RIG_WAIT_MS);
        }
        char erase[16] = "\033[3~"; /* Delete: voids, and at the next turn brings back */
        bool voids = i % 10 == 6 || i % 10 == 7;
        ok = ok && player_hit(&desk, voids ? erase : key, SETTLE_MS, NULL, NULL) &&
             player_hit(&counter, "x", SETTLE_MS, NULL, NULL);
    }
    char title[64];
    snprintf(title, sizeof title, "amendments in a bout of %d entries", entries);
    table_title(title);
    table_limit("key to last changed cell, median", "ms", sample_median(&desk.shown), 0);
    table_limit("key to last changed cell, p99", "ms", sample_quantile(&desk.shown, 0.99),
                FRAME_MS);
    table_limit("slowest", "ms", sample_quantile(&desk.shown, 1), 0);
    table_plain("floor: bare counter, median", "ms", sample_median(&counter.shown));
    table_plain("floor: bare counter, p99", "ms", sample_quantile(&counter.shown, 0.99));
    long written = rig_settled(desk.vt);
    table_plain("entries written by them", "",
                (double)rig_number(&rig,
                                   "SELECT count(*) FROM entry WHERE act IN ('amend', 'void', "
                                   "'restore') OR at_ms <> utc_ms"));
    ok = ok && written > 0;
    player_close(&counter);
    player_close(&desk);
    rig_release(&rig);
    return ok ? 0 : 1;
}
