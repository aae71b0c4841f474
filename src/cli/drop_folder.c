/* drop_folder.c: the folder that `ringtally drop` keeps. */
#include "cli/drop_folder.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/osc.h"
#include "ringtally/base/file.h"
#include "ringtally/base/when.h"

static struct put_file *find_file(struct drop_folder *folder, const char *name)
{
    for (int i = 0; i < folder->files; i++) {
        if (strcmp(folder->file[i].name, name) == 0) {
            return &folder->file[i];
        }
    }
    if (folder->files == DROP_FILES) {
        return NULL;
    }
    struct put_file *file = &folder->file[folder->files++];
    snprintf(file->name, sizeof file->name, "%s", name);
    return file;
}

/* NAME.txt is a figure. */
static void send_figure(const struct drop_folder *folder, const struct put_file *file)
{
    size_t size = strlen(file->name);
    if (folder->osc >= 0 && size > 4 && strcmp(file->name + size - 4, ".txt") == 0) {
        char name[DROP_NAME_SIZE];
        snprintf(name, sizeof name, "%.*s", (int)size - 4, file->name);
        osc_send(folder->osc, name, file->text);
    }
}

void drop_folder_send(const struct drop_folder *folder)
{
    for (int i = 0; i < folder->files; i++) {
        if (folder->file[i].text) {
            send_figure(folder, &folder->file[i]);
        }
    }
}

int drop_folder_put(void *user, const char *name, const char *text, size_t size, struct error *err)
{
    struct drop_folder *folder = user;
    struct put_file *file = find_file(folder, name);
    if (!file) {
        return error_set(err, ERROR_FAILED, "%s: one file too many", name);
    }
    if (file->there && file->size == size && memcmp(file->text, text, size) == 0) {
        return 0;
    }
    char *copy = malloc(size + 1);
    if (!copy) {
        return error_memory(err);
    }
    memcpy(copy, text, size);
    copy[size] = '\0';
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder->path, name);
    if (!file->there && log_owns(*folder->log, path)) {
        free(copy);
        return error_set(err, ERROR_FAILED, "%s: this is a database, which would be lost", path);
    }
    free(file->text);
    file->text = copy;
    file->size = size;
    file->there = false;
    send_figure(folder, file); /* whether or not the disk is full */
    int code = file_replace(folder->path, name, text, size, err);
    file->there = !code;
    file->changed_ms = code ? file->changed_ms : when_now();
    return code;
}

/* The kernel lets go of the lock however this process ends. */
static int take_lock(struct drop_folder *folder, struct error *err)
{
    char path[4096];
    struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    if (snprintf(path, sizeof path, "%s/" DROP_LOCK, folder->path) >= (int)sizeof path) {
        return error_set(err, ERROR_FAILED, "%s: a name too long", folder->path);
    }
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0666);
    if (fd < 0) {
        return error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    if (fcntl(fd, F_SETLK, &lock)) {
        bool taken = errno == EACCES || errno == EAGAIN;
        int code = taken ? error_set(err, ERROR_BUSY,
                                     "%s: another drop keeps this folder: one bout, one folder",
                                     folder->path)
                         : error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
        close(fd);
        return code;
    }
    folder->lock = fd;
    return 0;
}

int drop_folder_find(struct drop_folder *folder, struct error *err)
{
    struct stat now = {0};
    if (stat(folder->path, &now) &&
        (errno != ENOENT || mkdir(folder->path, 0777) || stat(folder->path, &now))) {
        return error_set(err, ERROR_FAILED, "%s: %s", folder->path, strerror(errno));
    }
    if (!S_ISDIR(now.st_mode)) {
        return error_set(err, ERROR_FAILED, "%s: not a folder", folder->path);
    }
    bool other = now.st_dev != folder->folder.st_dev || now.st_ino != folder->folder.st_ino;
    if (other && folder->lock >= 0) { /* of a folder that has gone */
        close(folder->lock);
        folder->lock = -1;
    }
    int code = folder->lock < 0 ? take_lock(folder, err) : 0;
    if (code) {
        folder->dirty = true;
        return code;
    }
    folder->folder = now;
    for (int i = 0; i < folder->files; i++) {
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", folder->path, folder->file[i].name);
        if (other || access(path, F_OK)) {
            folder->file[i].there = false;
            folder->dirty = true;
        }
    }
    return 0;
}

int drop_folder_manifest(struct drop_folder *folder, const char *bout, bool fresh,
                         struct error *err)
{
    struct drop_listed *listed = calloc((size_t)folder->files + 1, sizeof *listed);
    int count = 0;
    if (!listed) {
        return error_memory(err);
    }
    for (int i = 0; i < folder->files; i++) {
        const struct put_file *file = &folder->file[i];
        if (file->changed_ms && strcmp(file->name, DROP_MANIFEST) != 0) {
            bool own = strncmp(file->name, "status.", 7) == 0; /* of the folder, not of the bout */
            listed[count++] = (struct drop_listed){file->name, file->size, file->changed_ms,
                                                   file->there && (fresh || own)};
        }
    }
    int code = drop_manifest_file(drop_folder_put, folder, bout, listed, count, err);
    free(listed);
    return code;
}

void drop_folder_release(struct drop_folder *folder)
{
    for (int i = 0; i < folder->files; i++) {
        free(folder->file[i].text);
    }
    if (folder->lock >= 0) {
        close(folder->lock);
    }
    if (folder->osc >= 0) {
        close(folder->osc);
    }
}
