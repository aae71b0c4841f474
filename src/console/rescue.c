/* rescue.c: entries that the database does not hold leave as a file. */
#include "ringtally/console/rescue.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "ringtally/base/file.h"

#define PLACES 3
#define TRIES  100 /* names, where one is taken */

/* The folder of the database; "" as such is the one we work in. */
static char *folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    size_t size = slash ? (size_t)(slash - path) + 1 : 0;
    char *out = malloc(size + 3);
    if (out) {
        snprintf(out, size + 3, "%.*s", size ? (int)size : 2, size ? path : "./");
    }
    return out;
}

static bool same_disk(const char *a, const char *b)
{
    struct stat one = {0}, other = {0};
    return stat(a, &one) == 0 && stat(b, &other) == 0 && one.st_dev == other.st_dev;
}

/* Writes under the first free name of a folder. */
static int write_in(char **path, const char *folder, const char *stem, const struct buf *text,
                    struct error *err)
{
    size_t room = strlen(folder) + strlen(stem) + 32;
    char *name = malloc(room);
    int code = name ? ERROR_FAILED : error_memory(err);
    struct stat there = {0};
    for (int i = 1; name && i <= TRIES; i++) {
        struct error why = {0};
        char number[16] = "";
        if (i > 1) {
            snprintf(number, sizeof number, "-%d", i);
        }
        snprintf(name, room, "%s/%s%s.jsonl", folder, stem, number);
        bool taken = lstat(name, &there) == 0;
        code = taken ? error_set(&why, ERROR_FAILED, "%s: the name is taken", name)
                     : file_write_new(name, text->text, text->size, &why);
        if (!taken || i == TRIES) {
            if (code) {
                error_set(err, code, "%s", why.text);
            }
            break;
        }
    }
    if (!code) {
        *path = name;
        name = NULL;
    }
    free(name);
    return code;
}

int rescue_write(char **path, const struct rescue *rescue, const struct entry *entries,
                 size_t count, struct error *err)
{
    struct buf text = BUF_INIT;
    char stem[128];
    char *beside = folder_of(rescue->db);
    const char *file = strrchr(rescue->db, '/');
    const char *temporary = getenv("TMPDIR");
    const char *folders[PLACES] = {beside, getenv("HOME"),
                                   temporary && temporary[0] ? temporary : "/tmp"};
    struct portable portable = {.card = rescue->card,
                                .bout = rescue->bout,
                                .desks = rescue->desks,
                                .desk_count = rescue->desk_count,
                                .entries = entries,
                                .entry_count = count};
    int code = beside ? portable_write(&text, &portable, err) : error_memory(err);
    if (code) {
        goto cleanup;
    }
    snprintf(stem, sizeof stem, "%.64s-ringtally-rescue-%.8s-%lld", file ? file + 1 : rescue->db,
             rescue->uid, (long long)entries[0].name.seq);
    struct error why = {0};
    code = ERROR_FAILED;
    for (int turn = rescue->stalled ? 0 : 1; turn < 2 && code; turn++) {
        for (int i = 0; i < PLACES && code; i++) {
            if (folders[i] && folders[i][0] && (turn == 1 || !same_disk(folders[i], beside))) {
                why = (struct error){0};
                code = write_in(path, folders[i], stem, &text, &why);
            }
        }
    }
    if (code) {
        error_set(err, code, "%s", why.text);
    }

cleanup:
    buf_release(&text);
    free(beside);
    return code;
}
