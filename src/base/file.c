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

#define FILE_MAX ((size_t)64 << 20)

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
        if (used + 1 >= room) {
            room = room ? room * 2 : 16384;
            char *more = realloc(text, room);
            if (!more) {
                code = error_memory(err);
                goto cleanup;
            }
            text = more;
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

/* Writes into `beside`, whose name ends in six X, and renames that to `path`. */
static int replace(const char *path, char *beside, const char *text, size_t size, bool sync,
                   struct error *err)
{
    int code = 0;
    int fd = mkstemp(beside);
    if (fd < 0) {
        return error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    if (!write_all(fd, text, size)) {
        goto failed;
    }
    mode_t mask = umask(0);
    umask(mask);
    if (fchmod(fd, 0666 & ~mask) || (sync && fsync(fd))) {
        goto failed;
    }
    int closed = close(fd);
    fd = -1;
    if (closed || rename(beside, path)) {
        goto failed;
    }
    return 0;

failed:
    code = error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    unlink(beside);
    if (fd >= 0) {
        close(fd);
    }
    return code;
}

int file_write(const char *path, const char *text, size_t size, struct error *err)
{
    struct stat there = {0};
    if (stat(path, &there) == 0 && !S_ISREG(there.st_mode)) {
        return write_through(path, text, size, err);
    }
    size_t room = strlen(path) + 8;
    char *beside = malloc(room);
    if (!beside) {
        return error_memory(err);
    }
    snprintf(beside, room, "%s.XXXXXX", path);
    int code = replace(path, beside, text, size, true, err);
    free(beside);
    return code;
}

int file_replace(const char *folder, const char *name, const char *text, size_t size,
                 struct error *err)
{
    size_t room = strlen(folder) + strlen(name) + 16;
    char *path = malloc(room);
    char *beside = malloc(room);
    int code = 0;
    if (!path || !beside) {
        code = error_memory(err);
        goto cleanup;
    }
    snprintf(path, room, "%s/%s", folder, name);
    snprintf(beside, room, "%s/.%s.XXXXXX", folder, name);
    code = replace(path, beside, text, size, false, err);

cleanup:
    free(beside);
    free(path);
    return code;
}
