/* file.c: files read whole, and written beside and renamed. */
#include "ringtally/base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "ringtally/base/grow.h"

#define FILE_MAX   ((size_t)64 << 20)
#define READ_LEAST 4096 /* room for that much more before each read */

int file_read(char **out, size_t *size, const char *path, struct error *err)
{
    int code = 0;
    char *text = NULL;
    size_t used = 0, room = 0;
    int fd = strcmp(path, "-") == 0 ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        return error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    for (;;) {
        if (!grow_array(&text, 1, used, READ_LEAST, &room)) {
            code = error_memory(err);
            goto cleanup;
        }
        ssize_t got = read(fd, text + used, room - used - 1);
        if (got < 0 && errno == EINTR) {
            continue;
        }
        if (got < 0) {
            code = error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
            goto cleanup;
        }
        if (got == 0) {
            break;
        }
        used += (size_t)got;
        if (used > FILE_MAX) {
            code = error_set(err, ERROR_FAILED, "%s: larger than 64 MiB", path);
            goto cleanup;
        }
    }
    text[used] = '\0';
    *out = text;
    *size = used;
    text = NULL;

cleanup:
    free(text);
    if (fd != STDIN_FILENO) {
        close(fd);
    }
    return code;
}

static bool write_all(int fd, const char *text, size_t size)
{
    for (size_t done = 0; done < size;) {
        ssize_t wrote = write(fd, text + done, size - done);
        if (wrote < 0 && errno != EINTR) {
            return false;
        }
        done += wrote > 0 ? (size_t)wrote : 0;
    }
    return true;
}

/* A device or a pipe has no half-written state, and must not be replaced by a file. */
static int write_through(const char *path, const char *text, size_t size, struct error *err)
{
    int fd = open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY);
    bool done = fd >= 0 && write_all(fd, text, size);
    int cause = errno;
    if (fd >= 0 && close(fd) && done) {
        done = false;
        cause = errno;
    }
    return done ? 0 : error_set(err, ERROR_FAILED, "%s: %s", path, strerror(cause));
}

/* Opens a file that is not there yet, never through a link. */
static int open_new(const char *path, mode_t mode)
{
    return open(path, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, mode);
}

void file_sync_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    size_t size = slash ? (size_t)(slash - path) : 0;
    char *folder = malloc(size + 2);
    if (!folder) {
        return;
    }
    snprintf(folder, size + 2, "%.*s", slash ? (int)size : 1, slash ? path : ".");
    int fd = open(slash == path ? "/" : folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        fsync(fd);
        close(fd);
    }
    free(folder);
}

static int fail(const char *path, struct error *err)
{
    return error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
}

/* Opens a file of a new name: `stem` and a number. */
static int open_beside(char *beside, size_t room, const char *stem, mode_t mode)
{
    int fd = -1;
    for (int i = 0; i < 1000 && fd < 0; i++) {
        snprintf(beside, room, "%s.%ld-%d", stem, (long)getpid(), i);
        fd = open_new(beside, mode);
        if (fd < 0 && errno != EEXIST) {
            break;
        }
    }
    return fd;
}

/* Writes into a file beside, whose name begins with `stem`, and renames that to `path`. A file that
 * is there keeps its permissions. */
static int replace(const char *path, const char *stem, const char *text, size_t size, mode_t mode,
                   bool sync, struct error *err)
{
    struct stat there = {0};
    size_t room = strlen(stem) + 32;
    char *beside = malloc(room);
    if (!beside) {
        return error_memory(err);
    }
    int code = 0;
    int fd = open_beside(beside, room, stem, mode);
    if (fd < 0) {
        code = fail(path, err);
        free(beside);
        return code;
    }
    bool done = write_all(fd, text, size) &&
                (stat(path, &there) || fchmod(fd, there.st_mode & 07777) == 0) &&
                (!sync || fsync(fd) == 0);
    code = done ? 0 : fail(path, err);
    if (close(fd) && !code) {
        code = fail(path, err);
    }
    if (!code && rename(beside, path)) {
        code = fail(path, err);
    }
    if (code) {
        unlink(beside);
    } else if (sync) {
        file_sync_name(path);
    }
    free(beside);
    return code;
}

static int write_file(const char *path, const char *text, size_t size, mode_t mode,
                      struct error *err)
{
    struct stat named = {0}, there = {0};
    bool link = lstat(path, &named) == 0 && S_ISLNK(named.st_mode);
    if (stat(path, &there) == 0 && !S_ISREG(there.st_mode)) {
        return write_through(path, text, size, err);
    }
    if (link) { /* not replaced, and not followed to wherever somebody made it lead */
        return error_set(err, ERROR_FAILED, "%s: this is a link: name the file that it leads to",
                         path);
    }
    return replace(path, path, text, size, mode, true, err);
}

int file_write(const char *path, const char *text, size_t size, struct error *err)
{
    return write_file(path, text, size, 0666, err);
}

int file_write_private(const char *path, const char *text, size_t size, struct error *err)
{
    return write_file(path, text, size, 0600, err);
}

int file_write_new(const char *path, const char *text, size_t size, struct error *err)
{
    int fd = open_new(path, 0600);
    if (fd < 0) {
        return fail(path, err);
    }
    int code = write_all(fd, text, size) && fsync(fd) == 0 ? 0 : fail(path, err);
    if (close(fd) && !code) {
        code = fail(path, err);
    }
    if (code) {
        unlink(path);
    } else {
        file_sync_name(path);
    }
    return code;
}

int file_replace(const char *folder, const char *name, const char *text, size_t size,
                 struct error *err)
{
    size_t room = strlen(folder) + strlen(name) + 16;
    char *path = malloc(room);
    char *stem = malloc(room);
    int code = path && stem ? 0 : error_memory(err);
    if (!code) {
        snprintf(path, room, "%s/%s", folder, name);
        snprintf(stem, room, "%s/.%s", folder, name);
        code = replace(path, stem, text, size, 0666, false, err);
    }
    free(stem);
    free(path);
    return code;
}

int file_make_folders(const char *path, struct error *err)
{
    int code = 0;
    char *folder = malloc(strlen(path) + 1);
    if (!folder) {
        return error_memory(err);
    }
    for (const char *slash = strchr(path + 1, '/'); slash && !code;
         slash = strchr(slash + 1, '/')) {
        memcpy(folder, path, (size_t)(slash - path));
        folder[slash - path] = '\0';
        if (mkdir(folder, 0700) == 0) {
            file_sync_name(folder);
        } else if (errno != EEXIST && access(folder, F_OK)) {
            code = error_set(err, ERROR_FAILED, "%s: %s", folder, strerror(errno));
        }
    }
    free(folder);
    return code;
}
