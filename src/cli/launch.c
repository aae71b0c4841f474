/* launch.c: hands over to a program that lies beside this one. What such a program links (HTTP,
 * PostgreSQL) stays out of the desk that way. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/cli.h"

/* "FOLDER/NAME" where that can be run; else NULL. The caller frees. */
static char *program_in(const char *folder, size_t size, const char *name)
{
    size_t room = size + strlen(name) + 2;
    char *path = malloc(room);
    if (!path) {
        return NULL;
    }
    snprintf(path, room, "%.*s/%s", (int)size, folder, name);
    if (access(path, X_OK)) {
        free(path);
        path = NULL;
    }
    return path;
}

static char *program_beside(const char *file, const char *name)
{
    const char *slash = file ? strrchr(file, '/') : NULL;
    return slash ? program_in(file, (size_t)(slash - file), name) : NULL;
}

/* Beside this program as it was called, beside the file that a link of that name leads to, or in
 * PATH. */
static char *find_program(const char *self, const char *name)
{
    char *path = NULL;
    if (strchr(self, '/')) {
        char *real = realpath(self, NULL);
        path = program_beside(self, name);
        path = path ? path : program_beside(real, name);
        free(real);
    }
    const char *folders = getenv("PATH");
    while (!path && folders && *folders) {
        size_t size = strcspn(folders, ":");
        path = size ? program_in(folders, size, name) : NULL;
        folders += size + (folders[size] == ':');
    }
    return path;
}

int cli_launch(const struct call *call, const char *name, const char *command_, struct error *err)
{
    static char option[] = "--db";
    int code = 0;
    int used = 1;
    char first[32] = "";
    char **words = calloc((size_t)call->count + 5, sizeof *words);
    char *path = find_program(call->self, name);
    if (!words) {
        code = error_memory(err);
        goto cleanup;
    }
    if (!path) {
        code = error_set(err, ERROR_FAILED, "%s is neither beside %s nor in PATH: is it installed?",
                         name, call->self);
        goto cleanup;
    }
    words[0] = path;
    if (call->db) {
        words[used++] = option;
        words[used++] = call->db;
    }
    if (command_) {
        snprintf(first, sizeof first, "%s", command_);
        words[used++] = first;
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

int command_feed(const struct call *call, struct error *err)
{
    return cli_launch(call, "ringtally-feed", NULL, err);
}

int command_hub(const struct call *call, struct error *err)
{
    return cli_launch(call, "ringtally-hub", NULL, err);
}
