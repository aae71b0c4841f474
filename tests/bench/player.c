/* player.c: programs under measurement. */
#include "player.h"

#include <dirent.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base.h"

#define DEADLINE_MS 10000
#define QUIET_MS    100

static void on_damage(int row, int column, int rows, int columns, int64_t read_ns, void *context)
{
    struct player *player = context;
    /* An erasure may reach to the end of the line. */
    bool aside = rows == 1 && row == player->row && column >= player->column;
    (void)columns;
    if (aside) {
        player->aside_ns = read_ns;
    } else {
        player->changed_ns = read_ns;
    }
}

double player_open(struct player *player, const char *const *argv, const char *home,
                   const char *ready)
{
    *player = (struct player){.row = -1};
    int64_t start = vt_now();
    player->vt = vt_open(&(struct vt_setup){.argv = argv, .home = home});
    vt_on_damage(player->vt, on_damage, player);
    if (!vt_wait_text(player->vt, ready, DEADLINE_MS)) {
        harness_die(argv[0]);
    }
    int64_t before = -1;
    while (before != player->changed_ns) {
        before = player->changed_ns;
        vt_pump(player->vt, QUIET_MS);
    }
    return (double)(player->changed_ns - start) / 1e6;
}

void player_close(struct player *player)
{
    vt_close(player->vt);
    sample_release(&player->shown);
    *player = (struct player){.row = -1};
}

bool player_hit(struct player *player, const char *keys, int settle_ms, vt_condition *done,
                void *context)
{
    int64_t start = vt_now();
    int64_t deadline = start + (int64_t)DEADLINE_MS * 1000000;
    player->changed_ns = 0;
    vt_type(player->vt, keys);
    while (player->changed_ns == 0 || (done != NULL && !done(player->vt, context))) {
        if (!vt_pump(player->vt, 100) || vt_now() > deadline) {
            vt_print(player->vt, "no answer to a key");
            return false;
        }
    }
    int left = settle_ms - (int)((vt_now() - start) / 1000000);
    if (left > 0) {
        vt_watch(player->vt, left);
    }
    sample_add(&player->shown, (double)(player->changed_ns - start) / 1e6);
    return true;
}

/* Adds the number behind `name` in a file of "name: number" lines. */
static int64_t read_field(const char *path, const char *name)
{
    char line[256];
    int64_t value = 0;
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        return 0; /* a thread that has just ended */
    }
    while (fgets(line, sizeof line, file) != NULL) {
        if (strncmp(line, name, strlen(name)) == 0) {
            sscanf(line + strlen(name), "%" SCNd64, &value);
        }
    }
    fclose(file);
    return value;
}

struct usage player_usage(const struct player *player)
{
    struct usage usage = {0};
    char path[512];
    pid_t pid = vt_pid(player->vt);

    snprintf(path, sizeof path, "/proc/%d/status", (int)pid);
    usage.rss_kb = (long)read_field(path, "VmRSS:");
    usage.anon_kb = (long)read_field(path, "RssAnon:");
    snprintf(path, sizeof path, "/proc/%d/task", (int)pid);
    DIR *tasks = opendir(path);
    if (tasks == NULL) {
        harness_die(path);
    }
    for (struct dirent *task = readdir(tasks); task != NULL; task = readdir(tasks)) {
        if (task->d_name[0] == '.') {
            continue;
        }
        snprintf(path, sizeof path, "/proc/%d/task/%.32s/status", (int)pid, task->d_name);
        usage.voluntary_switches += read_field(path, "voluntary_ctxt_switches:");
        snprintf(path, sizeof path, "/proc/%d/task/%.32s/schedstat", (int)pid, task->d_name);
        usage.cpu_ms += (double)read_field(path, "") / 1e6;
    }
    closedir(tasks);
    return usage;
}
