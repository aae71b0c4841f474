/* cmd_feed.c: `ringtally feed`: hands over to ringtally-feed, which lies beside this program. The
 * HTTP library and what it brings along stay out of the desk that way. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"

#define NAME "ringtally-feed"

/* "FOLDER/ringtally-feed" where that can be run; else NULL. The caller frees. */
static char *program_in(const char *folder, size_t size)
{
    char *path = malloc(size + sizeof "/" NAME);
    if (!path) {
        return NULL;
    }
    memcpy(path, folder, size);
    memcpy(path + size, "/" NAME, sizeof "/" NAME);
    if (access(path, X_OK)) {
        free(path);
        path = NULL;
    }
    return path;
}

static char *program_beside(const char *file)
{
    const char *slash = file ? strrchr(file, '/') : NULL;
    return slash ? program_in(file, (size_t)(slash - file)) : NULL;
}

/* Beside this program as it was called, beside the file that a link of that name leads to, or in
 * PATH. */
static char *find_program(const char *self)
{
    char *path = NULL;
    if (strchr(self, '/')) {
        char *real = realpath(self, NULL);
        path = program_beside(self);
        path = path ? path : program_beside(real);
        free(real);
    }
    const char *folders = getenv("PATH");
    while (!path && folders && *folders) {
        size_t size = strcspn(folders, ":");
        path = size ? program_in(folders, size) : NULL;
        folders += size + (folders[size] == ':');
    }
    return path;
}

int command_feed(const struct call *call, struct error *err)
{
    static char option[] = "--db";
    int code = 0;
    int used = 1;
    char **words = calloc((size_t)call->count + 4, sizeof *words);
    char *path = find_program(call->self);
    if (!words) {
        code = error_memory(err);
        goto cleanup;
    }
    if (!path) {
        code =
            error_set(err, ERROR_FAILED,
                      NAME " is neither beside %s nor in PATH: is the feed installed?", call->self);
        goto cleanup;
    }
    words[0] = path;
    if (call->db) {
        words[used++] = option;
        words[used++] = call->db;
    }
    for (int i = 0; i < call->count; i++) {
        words[used++] = call->words[i];
    }
    execv(path, words);
    code = error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));

cleanup:
    free(path);
    free(words);
    return code;
}
