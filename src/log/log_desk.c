/* log_desk.c: desk rows, and which of them a process holds. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/grow.h"

#include "log/sql.h"

const char *const log_corners_words[4] = {"", "red", "blue", "both"};

/* A name that nobody at this bout has: the operator's, then with -2, -3, ... */
static int choose_name(struct log *log, int64_t bout, struct desk_row *desk, struct error *err)
{
    const char *base = desk->operator_[0] ? desk->operator_ : "desk";
    for (int i = 1;; i++) {
        snprintf(desk->name, sizeof desk->name, i > 1 ? "%s-%d" : "%s", base, i);
        sqlite3_stmt *row = sql_query(log, SQL_DESK_NAMES, err, "ls", bout, desk->name);
        int code = row ? sql_next(log, row, err) : ERROR_FAILED;
        if (code <= 0) {
            return code;
        }
        bool taken = sqlite3_column_int(row, 0) > 0;
        sqlite3_reset(row);
        if (!taken) {
            return 0;
        }
    }
}

static void choose_uid(char uid[33])
{
    unsigned char bytes[16];
    sqlite3_randomness(sizeof bytes, bytes);
    for (size_t i = 0; i < sizeof bytes; i++) {
        snprintf(uid + 2 * i, 3, "%02x", bytes[i]);
    }
}

int log_desk_put(struct log *log, int64_t bout, struct desk_row *desk, int64_t continues,
                 struct error *err)
{
    if (!desk->uid[0]) {
        choose_uid(desk->uid);
    }
    int code = desk->name[0] ? 0 : choose_name(log, bout, desk, err);
    if (code) {
        return code;
    }
    sqlite3_stmt *row = sql_query(log, SQL_DESK_SAVE, err, "slsssdll", desk->uid, bout,
                                  desk->operator_, desk->name, log_corners_words[desk->corners & 3],
                                  (int)desk->shadow, desk->opened_ms, continues);
    code = row ? sql_next(log, row, err) : ERROR_FAILED;
    if (code <= 0) {
        return code;
    }
    desk->id = sqlite3_column_int64(row, 0);
    bool chained = sqlite3_column_type(row, 1) != SQLITE_NULL;
    code = sql_next(log, row, err);
    if (!code && continues && !chained) {
        code = error_set(err, ERROR_FAILED, "%s: the desk to go on from is not of this bout",
                         log->path);
    }
    return code;
}

int log_desk_find(struct log *log, const char *uid, int64_t *id, int64_t *bout, struct error *err)
{
    sqlite3_stmt *row = sql_query(log, SQL_DESK_BY_UID, err, "s", uid);
    int code = row ? sql_next(log, row, err) : ERROR_FAILED;
    *id = 0;
    if (code > 0) {
        *id = sqlite3_column_int64(row, 0);
        *bout = sqlite3_column_int64(row, 1);
        sqlite3_reset(row);
        code = 0;
    }
    return code;
}

int log_desk_new(struct log *log, int64_t bout, struct desk_row *desk, int64_t continues,
                 struct error *err)
{
    int code = sql_begin(log, err);
    return code ? code : sql_end(log, log_desk_put(log, bout, desk, continues, err), err);
}

static int32_t index_of(const struct desk_row *desks, int count, int64_t id)
{
    for (int i = 0; i < count; i++) {
        if (desks[i].id == id) {
            return i;
        }
    }
    return -1;
}

static void read_desk(struct desk_row *desk, sqlite3_stmt *row)
{
    char corners[8] = "";
    *desk = (struct desk_row){.id = sqlite3_column_int64(row, 0)};
    sql_text(desk->uid, sizeof desk->uid, row, 1);
    sql_text(desk->operator_, sizeof desk->operator_, row, 2);
    sql_text(desk->name, sizeof desk->name, row, 3);
    sql_text(corners, sizeof corners, row, 4);
    int mask = name_index(log_corners_words, 4, corners);
    desk->corners = (uint8_t)(mask < 0 ? 0 : mask);
    desk->shadow = sqlite3_column_int(row, 5) != 0;
    desk->opened_ms = sqlite3_column_int64(row, 6);
}

int log_desks(struct log *log, int64_t bout, struct desk_row **out, int *count, struct error *err)
{
    struct desk_row *desks = NULL;
    size_t room = 0;
    int used = 0, code = 0;
    sqlite3_stmt *row = sql_query(log, SQL_DESK_GET, err, "l", bout);
    if (!row) {
        return ERROR_FAILED;
    }
    while ((code = sql_next(log, row, err)) > 0) {
        const char *fault = NULL;
        if (!grow_array(&desks, sizeof *desks, (size_t)used, 1, &room)) {
            code = error_memory(err);
        } else {
            read_desk(&desks[used], row);
            fault = desk_fault(&desks[used]);
        }
        if (fault) {
            code = error_set(err, ERROR_FAILED, "%s: desk %lld: %s", log->path,
                             (long long)desks[used].id, fault);
        }
        if (code < 0) {
            sqlite3_reset(row);
            break;
        }
        desks[used].root = used;
        if (sqlite3_column_type(row, 7) != SQLITE_NULL) {
            int32_t root = index_of(desks, used, sqlite3_column_int64(row, 7));
            desks[used].root = root < 0 ? used : desks[root].root;
        }
        used++;
    }
    if (code) {
        free(desks);
        return code;
    }
    *out = desks;
    *count = used;
    return 0;
}

/* Opens FILE.desks. A read-only folder has no such file, and then nobody has claimed anything. */
static bool open_claims(struct log *log, int flags)
{
    if (log->claim_fd >= 0) {
        return true;
    }
    log->claim_fd = log_open_beside(log, ".desks", flags);
    return log->claim_fd >= 0;
}

static bool holds(const struct log *log, int64_t desk_id)
{
    for (int i = 0; i < log->claim_count; i++) {
        if (log->claims[i] == desk_id) {
            return true;
        }
    }
    return false;
}

int log_desk_claim(struct log *log, int64_t desk_id, struct error *err)
{
    struct flock lock = {
        .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = (off_t)desk_id, .l_len = 1};
    if (holds(log, desk_id)) {
        return 0;
    }
    int64_t *claims = realloc(log->claims, (size_t)(log->claim_count + 1) * sizeof *claims);
    if (!claims) {
        return error_memory(err);
    }
    log->claims = claims;
    if (!open_claims(log, O_RDWR | O_CREAT)) {
        return error_set(err, ERROR_FAILED, "%s.desks: %s", log->path, strerror(errno));
    }
    if (fcntl(log->claim_fd, F_SETLK, &lock)) {
        return errno == EACCES || errno == EAGAIN
                   ? error_set(err, ERROR_BUSY, "another process has this desk open")
                   : error_set(err, ERROR_FAILED, "%s.desks: %s", log->path, strerror(errno));
    }
    log->claims[log->claim_count++] = desk_id;
    return 0;
}

bool log_is_in_use(struct log *log)
{
    struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET}; /* all bytes */
    return log->claim_count > 0 ||
           (open_claims(log, O_RDWR) && fcntl(log->claim_fd, F_GETLK, &lock) == 0 &&
            lock.l_type != F_UNLCK);
}

bool log_desk_is_live(struct log *log, int64_t desk_id)
{
    struct flock lock = {
        .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = (off_t)desk_id, .l_len = 1};
    if (holds(log, desk_id)) {
        return true;
    }
    int flags = sqlite3_db_readonly(log->db, "main") ? O_RDONLY : O_RDWR;
    return open_claims(log, flags) && fcntl(log->claim_fd, F_GETLK, &lock) == 0 &&
           lock.l_type != F_UNLCK;
}
