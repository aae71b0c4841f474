/* log_backup.c: a copy of the whole database, made while desks write. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/file.h"
#include "log/sql.h"

static int copy_all(struct log *log, const char *path, struct error *err)
{
    sqlite3 *target = NULL;
    int result = sqlite3_open_v2(path, &target, SQLITE_OPEN_READWRITE, NULL);
    if (!result) {
        sqlite3_busy_timeout(target, 2000);
        sqlite3_backup *backup = sqlite3_backup_init(target, "main", log->db, "main");
        if (backup) { /* in one step, so that it is one state of the log; readers hold nobody up */
            sqlite3_backup_step(backup, -1);
            result = sqlite3_backup_finish(backup);
        } else {
            result = sqlite3_errcode(target);
        }
    }
    int code = result ? sql_fail_code(path, result, target ? sqlite3_errmsg(target) : "", err) : 0;
    /* One file: whoever opens it makes it a database with a WAL again. */
    if (!code && sqlite3_exec(target, "PRAGMA journal_mode = DELETE", NULL, NULL, NULL)) {
        code = sql_fail_code(path, sqlite3_errcode(target), sqlite3_errmsg(target), err);
    }
    sqlite3_close(target);
    return code;
}

int log_backup(struct log *log, const char *path, struct error *err)
{
    size_t room = strlen(path) + 32;
    char *beside = malloc(room);
    if (!beside) {
        return error_memory(err);
    }
    snprintf(beside, room, "%s.%ld-part", path, (long)getpid());
    int code = 0;
    int fd = access(path, F_OK) == 0
                 ? -1
                 : open(beside, O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0600);
    if (fd < 0) {
        code = error_set(err, ERROR_FAILED, "%s: %s", path,
                         access(path, F_OK) == 0 ? "there is a file of that name already"
                                                 : strerror(errno));
        free(beside);
        return code;
    }
    close(fd);
    code = copy_all(log, beside, err);
    /* Linked, not renamed: a file that came there meanwhile is not lost. */
    if (!code && link(beside, path) && (errno == EEXIST || rename(beside, path))) {
        code = error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    unlink(beside);
    free(beside);
    if (!code) {
        file_sync_name(path);
    }
    return code;
}
