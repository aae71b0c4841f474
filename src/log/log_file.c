/* log_file.c: whether the files that a connection works on are still those that its path leads to.
 *
 * SQLite goes on with the files that it opened, whatever is put at their place: a database that was
 * deleted, moved or replaced takes commits as before, and nobody finds them afterwards.
 */
#include "ringtally/log/log.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "log/sql.h"

/* "FILE-wal"; NULL: out of memory. */
static char *wal_path(const struct log *log)
{
    size_t size = strlen(log->file) + sizeof "-wal";
    char *out = malloc(size);
    if (out) {
        snprintf(out, size, "%s-wal", log->file);
    }
    return out;
}

static bool stat_wal(const struct log *log, struct stat *out)
{
    char *path = wal_path(log);
    bool there = path && stat(path, out) == 0;
    free(path);
    return there;
}

static bool same(const struct stat *a, const struct stat *b)
{
    return a->st_dev == b->st_dev && a->st_ino == b->st_ino;
}

/* (The database itself is never opened here: closing it would drop SQLite's locks on it.) */
static bool is_database(const char *path)
{
    char begins[16] = "";
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    ssize_t got = fd < 0 ? -1 : read(fd, begins, sizeof begins);
    if (fd >= 0) {
        close(fd);
    }
    return got == sizeof begins && memcmp(begins, "SQLite format 3", sizeof begins) == 0;
}

/* What lies beside a database: the first of these is itself. */
static const char *const ends[] = {"",       "-wal",  "-shm",      "-journal", ".desks",
                                   ".signs", ".feed", ".feed-new", ".hub",     ".hub-new"};

/* Of any database, by its name. */
static bool is_beside(const char *path)
{
    size_t size = strlen(path);
    char *name = malloc(size + 1);
    bool is = !name; /* without memory, rather not */
    for (size_t i = 0; name && i < sizeof ends / sizeof *ends && !is; i++) {
        size_t end = strlen(ends[i]);
        if (size > end && strcmp(path + size - end, ends[i]) == 0) {
            snprintf(name, size + 1, "%.*s", (int)(size - end), path);
            is = is_database(name);
        }
    }
    free(name);
    return is;
}

bool log_owns(const struct log *log, const char *path)
{
    struct stat info = {0}, other = {0};
    if (stat(path, &info) || !S_ISREG(info.st_mode)) {
        return false;
    }
    if (!log) {
        return is_beside(path);
    }
    size_t room = strlen(log->file) + 16;
    char *name = malloc(room);
    bool owns = !name; /* without memory, rather not */
    for (size_t i = 0; name && i < sizeof ends / sizeof *ends && !owns; i++) {
        snprintf(name, room, "%s%s", log->file, ends[i]);
        owns = stat(name, &other) == 0 && same(&info, &other);
    }
    free(name);
    return owns || is_database(path);
}

int log_open_beside(struct log *log, const char *end, int flags)
{
    struct stat info = {0};
    size_t room = strlen(log->file) + strlen(end) + 1;
    char *path = malloc(room);
    if (!path) {
        errno = ENOMEM;
        return -1;
    }
    snprintf(path, room, "%s%s", log->file, end);
    mode_t mode = stat(log->file, &info) == 0 ? info.st_mode & 0666 : 0600;
    int fd = open(path, flags | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, mode);
    free(path);
    if (fd >= 0 && (fstat(fd, &info) || !S_ISREG(info.st_mode))) {
        close(fd);
        errno = EINVAL;
        fd = -1;
    }
    return fd;
}

void log_note_file(struct log *log)
{
    struct stat info = {0};
    if (stat(log->path, &info) == 0) {
        log->found.device = info.st_dev;
        log->found.inode = info.st_ino;
        log->found.size = info.st_size;
    }
    if (stat_wal(log, &info)) {
        log->found.wal_device = info.st_dev;
        log->found.wal_inode = info.st_ino;
    }
}

int log_same_file(const char *path, const struct log_file *wanted, struct error *err)
{
    struct stat info = {0};
    if (stat(path, &info)) {
        return error_set(err, ERROR_LOST, "%s: %s", path,
                         errno == ENOENT ? "the database is gone" : strerror(errno));
    }
    if (info.st_dev != wanted->device || info.st_ino != wanted->inode) {
        return error_set(err, ERROR_LOST, "%s: the database was replaced", path);
    }
    return info.st_size >= wanted->size
               ? 0
               : error_set(err, ERROR_LOST, "%s: the database was cut short", path);
}

int log_check(struct log *log, struct error *err)
{
    struct stat info = {0};
    int code = log_same_file(log->path, &log->found, err);
    if (code) {
        return code;
    }
    if (stat(log->path, &info) == 0 && info.st_size > log->found.size) {
        log->found.size = info.st_size;
    }
    bool there = stat_wal(log, &info);
    if (!log->found.wal_inode) { /* a reader came before the first writer */
        log->found.wal_device = there ? info.st_dev : 0;
        log->found.wal_inode = there ? info.st_ino : 0;
        return 0;
    }
    return there && info.st_dev == log->found.wal_device && info.st_ino == log->found.wal_inode
               ? 0
               : error_set(err, ERROR_LOST, "%s: its -wal file, with the newest entries, is gone",
                           log->path);
}

void log_let_go(struct log *log)
{
    struct stat info = {0};
    bool cut = stat(log->path, &info) == 0 && info.st_ino == log->found.inode &&
               info.st_dev == log->found.device && info.st_size < log->found.size;
    if (!cut) { /* into a file that was cut it would bring pages without what they belong to */
        sqlite3_wal_checkpoint_v2(log->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
    }
    sqlite3_db_config(log->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
}

void log_leave(struct log *log)
{
    if (log && log_check(log, NULL)) {
        log_let_go(log);
    }
    log_close(log);
}
