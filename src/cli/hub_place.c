/* hub_place.c: a folder for a log that lasts as long as a command. */
#include "cli/hub_place.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int hub_place_new(struct hub_place_dir *out, struct error *err)
{
    const char *place = getenv("TMPDIR");
    int size = snprintf(out->folder, sizeof out->folder, "%s/ringtally-XXXXXX",
                        place && *place == '/' ? place : "/tmp");
    if (size >= (int)sizeof out->folder || !mkdtemp(out->folder)) {
        int code = error_set(err, ERROR_FAILED, "%s: %s", out->folder, strerror(errno));
        out->folder[0] = '\0';
        return code;
    }
    snprintf(out->path, sizeof out->path, "%s/hub.db", out->folder);
    return 0;
}

void hub_place_remove(const struct hub_place_dir *place)
{
    static const char *const ends[] = {"",       "-wal",  "-shm",     ".desks",
                                       ".signs", ".feed", ".feed-new"};
    char path[4300];
    for (size_t i = 0; i < sizeof ends / sizeof ends[0] && place->folder[0]; i++) {
        snprintf(path, sizeof path, "%s%s", place->path, ends[i]);
        unlink(path);
    }
    if (place->folder[0]) {
        rmdir(place->folder);
    }
}
