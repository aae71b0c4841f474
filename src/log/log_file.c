/* log_file.c: whether the files that a connection works on are still those that its path leads to.
 *
 * SQLite goes on with the files that it opened, whatever is put at their place: a database that was
 * deleted, moved or replaced takes commits as before, and nobody finds them afterwards.
 */
#include "ringtally/log/log.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

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
