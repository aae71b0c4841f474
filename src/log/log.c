/* log.c: opening the database: whose file it is, how new, and what brings it up to date. */
#include "ringtally/log/log.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "ringtally/base/embedded.h"
#include "ringtally/base/file.h"
#include "log/chain_sql.h"
#include "log/verify_sql.h"

#define APPLICATION_ID   0x72746c79 /* "rtly" */
#define CHAIN_VERSION    3          /* the first with digests */
#define BUSY_MS          2000
#define CHECKPOINT_PAGES 200  /* WAL pages from which an idle moment moves them */
#define CHECKPOINT_LIMIT 4000 /* ... and from which any moment does */

static int read_number(struct log *log, const char *text, int *out, struct error *err)
{
    sqlite3_stmt *statement = NULL;
    int code = 0;
    if (sqlite3_prepare_v2(log->db, text, -1, &statement, NULL)) {
        return sql_fail(log, err);
    }
    if (sqlite3_step(statement) == SQLITE_ROW) {
        *out = sqlite3_column_int(statement, 0);
    } else {
        code = sql_fail(log, err);
    }
    sqlite3_finalize(statement);
    return code;
}

/* Refuses what is not ours or too new; *version = 0 where the database is empty. */
static int identify(struct log *log, int *version, struct error *err)
{
    int id = 0, tables = 0;
    int code = read_number(log, "PRAGMA application_id", &id, err);
    code = code ? code : read_number(log, "PRAGMA user_version", version, err);
    code = code ? code : read_number(log, "SELECT count(*) FROM sqlite_schema", &tables, err);
    if (code) {
        return code;
    }
    if (id != APPLICATION_ID && (id || *version || tables)) {
        return error_set(err, ERROR_FAILED, "%s: this database belongs to another program",
                         log->path);
    }
    if (*version < 0 || (id == APPLICATION_ID && *version == 0)) {
        return error_set(err, ERROR_FAILED, "%s: the database is damaged: it has no version",
                         log->path);
    }
    if (*version > schema_newest()) {
        return error_set(err, ERROR_FAILED,
                         "%s: the database has version %d; this ringtally knows up to version %d",
                         log->path, *version, schema_newest());
    }
    return 0;
}

/* Views are derived: they must not stand in the way of a change to what they read. */
static int drop_views(struct log *log, struct error *err)
{
    char *text = NULL;
    sqlite3_stmt *names = NULL;
    int code = 0, result = SQLITE_OK;
    if (sqlite3_prepare_v2(log->db, "SELECT name FROM sqlite_schema WHERE type = 'view'", -1,
                           &names, NULL)) {
        return sql_fail(log, err);
    }
    while (!code && (result = sqlite3_step(names)) == SQLITE_ROW) {
        char *more = sqlite3_mprintf("%z DROP VIEW \"%w\";", text, sqlite3_column_text(names, 0));
        code = more ? 0 : error_memory(err);
        text = more;
    }
    if (!code && result != SQLITE_DONE) {
        code = sql_fail(log, err);
    }
    sqlite3_finalize(names);
    code = code || !text ? code : sql_script(log, text, err);
    sqlite3_free(text);
    return code;
}

/* One step a version, each in one transaction with its version. Another process may be at the same,
 * so the version is asked again inside. */
static int migrate(struct log *log, int version, struct error *err)
{
    int code = 0;
    while (!code && version < schema_newest()) {
        code = sql_begin(log, err);
        if (code) {
            return code;
        }
        code = identify(log, &version, err);
        if (!code && version < schema_newest()) {
            char mark[96] = "";
            snprintf(mark, sizeof mark, "PRAGMA application_id = %d; PRAGMA user_version = %d",
                     APPLICATION_ID, version + 1);
            code = drop_views(log, err);
            code = code ? code : sql_script(log, schema_step(version + 1)->data, err);
            code = code || version + 1 != CHAIN_VERSION ? code : chain_adopt(log, err);
            code = code ? code : sql_script(log, mark, err);
            version++;
        }
        code = sql_end(log, code, err);
    }
    return code;
}

/* One view of views.sql: its text without the semicolon, and its name. */
struct view {
    const char *text;
    int size;
    char name[32];
};

static bool next_view(const char **at, struct view *view)
{
    static const char create[] = "\nCREATE VIEW ";
    const char *found = strstr(*at, create);
    const char *end = found ? strchr(found, ';') : NULL;
    if (!end) {
        return false;
    }
    const char *name = found + sizeof create - 1;
    view->text = found + 1;
    view->size = (int)(end - view->text);
    snprintf(view->name, sizeof view->name, "%.*s", (int)strcspn(name, " \n"), name);
    *at = end;
    return true;
}

static int make_view(struct log *log, const struct view *view, struct error *err)
{
    char *text =
        sqlite3_mprintf("DROP VIEW IF EXISTS \"%w\"; %.*s", view->name, view->size, view->text);
    int code = text ? sql_script(log, text, err) : error_memory(err);
    sqlite3_free(text);
    return code;
}

/* Makes those views anew whose text in the database differs from ours. */
static int renew_views(struct log *log, bool *differ, bool make, struct error *err)
{
    const struct embedded *file = embedded_find("schema/views.sql");
    const char *at = file ? file->data : "";
    struct view view;
    sqlite3_stmt *find = NULL;
    int code = 0;
    *differ = false;
    if (sqlite3_prepare_v2(log->db,
                           "SELECT 1 FROM sqlite_schema WHERE type = 'view' AND name = ?1 AND "
                           "sql = ?2",
                           -1, &find, NULL)) {
        return sql_fail(log, err);
    }
    while (!code && next_view(&at, &view)) {
        if (sqlite3_bind_text(find, 1, view.name, -1, SQLITE_STATIC) ||
            sqlite3_bind_text(find, 2, view.text, view.size, SQLITE_STATIC)) {
            code = sql_fail(log, err);
            break;
        }
        int result = sqlite3_step(find);
        sqlite3_reset(find);
        if (result != SQLITE_ROW && result != SQLITE_DONE) {
            code = sql_fail(log, err);
        } else if (result == SQLITE_DONE) {
            *differ = true;
            code = make ? make_view(log, &view, err) : 0;
        }
    }
    sqlite3_finalize(find);
    return code;
}

/* Of several processes that make the same new database at once, SQLite turns the later ones away at
 * this step without waiting. */
static int enter_wal(struct log *log, struct error *err)
{
    static const struct timespec pause = {.tv_nsec = 10000000};
    for (int waited = 0;; waited += 10) {
        struct error why = {0};
        int code = sql_script(log, "PRAGMA journal_mode = WAL", &why);
        if (code != ERROR_BUSY || waited >= BUSY_MS) {
            return code ? error_set(err, code, "%s", why.text) : 0;
        }
        nanosleep(&pause, NULL);
    }
}

static int prepare_writing(struct log *log, int version, struct error *err)
{
    bool differ = false;
    int code = enter_wal(log, err);
    code = code ? code : migrate(log, version, err);
    code = code ? code : renew_views(log, &differ, false, err);
    if (code || !differ) {
        return code;
    }
    code = sql_begin(log, err);
    if (code) {
        return code;
    }
    return sql_end(log, renew_views(log, &differ, true, err), err);
}

int schema_views_differ(struct log *log, bool *differ, struct error *err)
{
    return renew_views(log, differ, false, err);
}

static int prepare_reading(struct log *log, int version, struct error *err)
{
    if (version == schema_newest()) {
        return 0;
    }
    if (version == 0) {
        return error_set(err, ERROR_FAILED, "%s: the database is empty", log->path);
    }
    return error_set(err, ERROR_FAILED,
                     "%s: the database has version %d; opening a desk or loading a card brings it "
                     "up to version %d",
                     log->path, version, schema_newest());
}

/* Judges' cards are closed: a new database is its owner's alone. SQLite gives the files beside it
 * the same permissions. */
static int make_file(const char *path, struct error *err)
{
    int fd = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (fd < 0) {
        return errno == EEXIST ? 0 : error_set(err, ERROR_FAILED, "%s: %s", path, strerror(errno));
    }
    close(fd);
    file_sync_name(path); /* SQLite syncs the names of the files beside it only */
    return 0;
}

static int check_file(const char *path, enum log_mode mode, struct error *err)
{
    struct stat info;
    if (stat(path, &info)) {
        if (errno == ENOENT && mode == LOG_CREATE) {
            int code = file_make_folders(path, err);
            return code ? code : make_file(path, err);
        }
        return error_set(err, ERROR_FAILED, "%s: %s", path,
                         errno == ENOENT ? "there is no such database" : strerror(errno));
    }
    return S_ISREG(info.st_mode)
               ? 0
               : error_set(err, ERROR_FAILED, "%s: this is no database: no file at all", path);
}

static int recognise(struct log *log, int *version, struct error *err)
{
    int code = identify(log, version, err);
    return code || *version == 0 ? code : schema_check(log, *version, err);
}

/* The file may come from anybody: nothing in it is run that could reach beyond it, pages are
 * checked before they are believed, and nothing in it is larger than a log can be. */
static int harden(struct log *log, struct error *err)
{
    int on = 0, trusted = 1;
    if (sqlite3_db_config(log->db, SQLITE_DBCONFIG_DEFENSIVE, 1, &on) ||
        sqlite3_db_config(log->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, &trusted) || !on || trusted) {
        return sql_fail(log, err);
    }
    sqlite3_limit(log->db, SQLITE_LIMIT_LENGTH, 1 << 20);
    sqlite3_limit(log->db, SQLITE_LIMIT_ATTACHED, 0);
    sqlite3_limit(log->db, SQLITE_LIMIT_WORKER_THREADS, 0);
    return sql_script(log, "PRAGMA cell_size_check = ON", err);
}

static void disconnect(struct log *log)
{
    for (int i = 0; i < SQL_COUNT; i++) {
        sqlite3_finalize(log->statement[i]);
        log->statement[i] = NULL;
    }
    sqlite3_close(log->db);
    log->db = NULL;
}

/* Opens the file (or the URI of one) and recognises it. */
static int connect_to(struct log *log, const char *name, int flags, const char *vfs, int *version,
                      struct error *err)
{
    int result = sqlite3_open_v2(name, &log->db, flags | SQLITE_OPEN_NOMUTEX, vfs);
    if (result) {
        return sql_fail_code(log->path, result, sqlite3_errstr(result), err);
    }
    const char *file = sqlite3_db_filename(log->db, "main");
    free(log->file);
    log->file = malloc(strlen(file) + 1);
    if (!log->file) {
        return error_memory(err);
    }
    memcpy(log->file, file, strlen(file) + 1);
    int code = harden(log, err);
    sqlite3_busy_timeout(log->db, BUSY_MS);
    code = code ? code : sql_begin_read(log, err); /* another process may be at making it */
    if (code) {
        return code;
    }
    code = recognise(log, version, err);
    log->refused = code ? sqlite3_errcode(log->db) & 0xff : SQLITE_OK;
    return sql_end(log, code, err);
}

/* What SQLite says where it cannot make the file by which readers and writers share: the folder is
 * read-only, or the disk is full. */
static bool cannot_share(const struct log *log)
{
    int result = log->refused;
    return result == SQLITE_CANTOPEN || result == SQLITE_READONLY || result == SQLITE_IOERR ||
           result == SQLITE_FULL;
}

/* Whether a file of that end beside the database holds anything. */
static bool has_beside(const struct log *log, const char *end, char *text, size_t room)
{
    struct stat info = {0};
    snprintf(text, room, "%s%s", log->file ? log->file : log->path, end);
    return stat(text, &info) == 0 && info.st_size > 0;
}

/* Reads a file that nobody writes to meanwhile: an archive on a medium that is read-only, a
 * database on a disk that is full. Where a WAL has entries, what the file alone holds is not all,
 * and where a journal stands it may be half of something: not then. */
static int connect_still(struct log *log, const char *vfs, int *version, struct error *err)
{
    size_t room = 3 * strlen(log->path) + (log->file ? strlen(log->file) : 0) + 40;
    char *text = malloc(room);
    if (!text) {
        return error_memory(err);
    }
    int code = has_beside(log, "-wal", text, room) || has_beside(log, "-journal", text, room)
                   ? error_set(err, ERROR_FAILED, "%s: it is not empty", text)
                   : 0;
    size_t used = (size_t)snprintf(text, room, "file:");
    for (const char *at = log->path; *at; at++) {
        used += (size_t)snprintf(text + used, room - used, strchr("?#%", *at) ? "%%%02X" : "%c",
                                 (unsigned char)*at);
    }
    snprintf(text + used, room - used, "?immutable=1");
    disconnect(log);
    code = code ? code
                : connect_to(log, text, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, vfs, version, err);
    free(text);
    return code;
}

int log_open(struct log **out, const char *path, enum log_mode mode, const char *vfs,
             struct error *err)
{
    static const int flags[] = {
        [LOG_READ] = SQLITE_OPEN_READONLY,
        [LOG_WRITE] = SQLITE_OPEN_READWRITE,
        [LOG_CREATE] = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
    };
    int version = 0;
    struct log *log = NULL;
    int code = check_file(path, mode, err);
    if (code) {
        return code;
    }
    log = calloc(1, sizeof *log);
    if (!log) {
        return error_memory(err);
    }
    log->claim_fd = -1;
    log->sign_fd = -1;
    log->path = malloc(strlen(path) + 1);
    if (!log->path) {
        code = error_memory(err);
        goto cleanup;
    }
    memcpy(log->path, path, strlen(path) + 1);
    struct error why = {0};
    code = connect_to(log, path, flags[mode], vfs, &version, &why);
    if (code && mode == LOG_READ && cannot_share(log)) {
        struct error again = {0};
        code = connect_still(log, vfs, &version, &again) ? code : 0;
    }
    if (code) {
        error_set(err, code, "%s", why.text);
        goto cleanup;
    }
    code =
        code ? code : sql_script(log, "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON", err);
    if (!code) {
        code = mode == LOG_READ ? prepare_reading(log, version, err)
                                : prepare_writing(log, version, err);
    }
    if (!code) {
        log_note_file(log);
        *out = log;
        log = NULL;
    }

cleanup:
    log_close(log);
    return code;
}

int log_passing(struct log *log, struct error *err)
{
    return sql_script(log, "PRAGMA synchronous = OFF", err);
}

void log_close(struct log *log)
{
    if (!log) {
        return;
    }
    disconnect(log);
    if (log->claim_fd >= 0) {
        close(log->claim_fd);
    }
    if (log->sign_fd >= 0) {
        close(log->sign_fd);
    }
    free(log->claims);
    free(log->file);
    free(log->path);
    free(log);
}

const char *log_path(const struct log *log)
{
    return log->path;
}

int log_default_path(char *out, size_t size, struct error *err)
{
    const char *named = getenv("RINGTALLY_DB");
    const char *data = getenv("XDG_DATA_HOME");
    const char *home = getenv("HOME");
    int used = 0;
    if (named && named[0]) {
        used = snprintf(out, size, "%s", named);
    } else if (data && data[0] == '/') { /* the specification has relative ones passed over */
        used = snprintf(out, size, "%s/ringtally/ringtally.db", data);
    } else if (home && home[0]) {
        used = snprintf(out, size, "%s/.local/share/ringtally/ringtally.db", home);
    } else {
        return error_set(err, ERROR_FAILED,
                         "where is the database? none of --db, RINGTALLY_DB, XDG_DATA_HOME and "
                         "HOME says so");
    }
    return used >= 0 && (size_t)used < size
               ? 0
               : error_set(err, ERROR_FAILED, "the path of the database is too long");
}

int log_probe(struct log *log, struct error *err)
{
    char text[64];
    int version = 0;
    int code = sql_begin(log, err);
    if (code) {
        return code;
    }
    code = read_number(log, "PRAGMA user_version", &version, err);
    snprintf(text, sizeof text, "PRAGMA user_version = %d", version);
    if (!code && sqlite3_exec(log->db, text, NULL, NULL, NULL)) {
        code = sql_fail(log, err);
    }
    return sql_end(log, code, err);
}

int log_data_version(struct log *log, int64_t *out, struct error *err)
{
    sqlite3_stmt *statement = sql_query(log, SQL_DATA_VERSION, err, "");
    if (!statement) {
        return ERROR_FAILED;
    }
    int code = sql_next(log, statement, err);
    if (code > 0) {
        *out = sqlite3_column_int64(statement, 0);
        sqlite3_reset(statement);
        code = 0;
    }
    return code;
}

static int on_commit(void *user, sqlite3 *db, const char *database, int pages)
{
    (void)db;
    (void)database;
    ((struct log *)user)->wal_pages = pages;
    return SQLITE_OK;
}

void log_hold(struct log *log)
{
    sqlite3_wal_hook(log->db, on_commit, log); /* takes the place of the automatic checkpoint */
}

int log_move(struct log *log, bool idle, struct error *err)
{
    if (log->wal_pages < (idle ? CHECKPOINT_PAGES : CHECKPOINT_LIMIT)) {
        return 0;
    }
    log->wal_pages = 0;
    int result = sqlite3_wal_checkpoint_v2(log->db, NULL, SQLITE_CHECKPOINT_PASSIVE, NULL, NULL);
    return result && result != SQLITE_BUSY ? sql_fail(log, err) : 0;
}
