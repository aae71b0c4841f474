/* logs.c: what strangers bring: an exported log, and a database with anything in it. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <sqlite3.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/file.h"
#include "ringtally/base/sha256.h"
#include "ringtally/data/data.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/portable.h"
#include "ringtally/log/verify.h"
#include "ringtally/sheet/coach_sheet.h"
#include "ringtally/sheet/log_sheet.h"
#include "ringtally/sheet/marks_sheet.h"
#include "ringtally/sheet/remarks_sheet.h"
#include "ringtally/sheet/sheet.h"
#include "targets.h"

static void path_of(char out[320], const char *name)
{
    snprintf(out, 320, "%s/%s", fuzz_folder(), name);
}

/* A fresh copy of the sound database. */
static void copy_sound(const char *path)
{
    static char *bytes;
    static size_t size;
    static const char *const ends[] = {"-wal", "-shm", "-journal"};
    struct error err = {0};
    char name[340];
    if (!bytes && file_read(&bytes, &size, fuzz_database(), &err)) {
        fuzz_fail("copy", err.text);
    }
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    if (fd < 0 || write(fd, bytes, size) != (ssize_t)size || close(fd)) {
        fuzz_fail("copy", path);
    }
}

static long ask(const char *path, const char *text)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *row = NULL;
    long out = -1;
    if (sqlite3_open(path, &db) == SQLITE_OK &&
        sqlite3_prepare_v2(db, text, -1, &row, NULL) == SQLITE_OK &&
        sqlite3_step(row) == SQLITE_ROW) {
        out = (long)sqlite3_column_int64(row, 0);
    }
    sqlite3_finalize(row);
    sqlite3_close(db);
    return out;
}

/* What came in is a database as sound as before, with all that was there. */
static void check_home(const char *path)
{
    if (ask(path, "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'") ||
        ask(path, "SELECT count(*) FROM pragma_foreign_key_check") ||
        ask(path, "SELECT count(*) FROM entry JOIN desk ON desk.id = entry.desk WHERE "
                  "operator IN ('ana', 'ben') AND seq <= 16") < 32) {
        fuzz_fail("the database at home is not as it was", path);
    }
}

/* Remarks, with what former bouts hold, and each corner's page. */
static void print_remarks(struct reading *reading)
{
    struct error err = {0};
    struct remarks remarks = {0};
    struct remarks_view view = {.bout = &reading->bout, .remarks = &remarks};
    struct buf out = BUF_INIT;
    int code = reading_former(reading, &err);
    code = code ? code
                : remarks_init(&remarks, reading->fold, reading->view.signs, reading->view.former,
                               &remark_rule_default, reading->view.now_ms, &err);
    code = code ? code : remarks_text(&out, &view, &err);
    code = code ? code : remarks_json(&out, &view, &err);
    for (int corner = 0; corner < CORNER_COUNT && !code; corner++) {
        for (int format = 0; format < COACH_FORMATS && !code; format++) {
            code = coach_sheet_write(&out, &reading->view, (enum corner)corner,
                                     (enum coach_format)format, &err);
        }
    }
    fuzz_check(code, &err);
    remarks_release(&remarks);
    buf_release(&out);
}

/* The list of entries in every form, the marks, and what verify finds, which is one line. */
static void print_record(const struct reading *reading)
{
    struct error err = {0};
    struct log_sheet_view view = {&reading->bout, reading->fold, 0, true, false};
    struct marks_plan plan = marks_plan_default;
    struct marks_view marks = {.sheet = &reading->view, .plan = &plan, .first_frame = -1};
    struct mark *found = NULL;
    struct verified verified;
    struct buf out = BUF_INIT, faults = BUF_INIT;
    int code = log_sheet_table(&out, &view, &err);
    code = code ? code : log_sheet_csv(&out, &view, &err);
    code = code ? code : log_sheet_json(&out, &view, &err);
    code = code ? code : marks_find(&found, &marks.count, reading->fold, &plan, &err);
    marks.marks = found;
    for (int format = 0; format < MARKS_FORMATS && !code && marks_sync(&marks.sync, reading->fold);
         format++) {
        code = marks_write(&out, &marks, (enum marks_format)format, &err);
    }
    fuzz_check(code, &err);
    err = (struct error){0};
    code = verify_bout(reading->log, &reading->bout, reading->fold, &verified, &faults, &err);
    code = code ? code : verify_file(reading->log, &faults, &err);
    fuzz_check(code, &err);
    for (size_t i = 0; i < faults.size; i++) {
        if ((unsigned char)faults.text[i] < 0x20) {
            fuzz_fail("what verify found is one line", faults.text);
        }
    }
    free(found);
    buf_release(&out);
    buf_release(&faults);
}

static void print_sheets(const struct reading *reading)
{
    struct error err = {0};
    for (int format = 0; format <= SHEET_HTML; format++) {
        struct buf out = BUF_INIT;
        fuzz_check(sheet_write(&out, &reading->view, (enum sheet_format)format, &err), &err);
        buf_release(&out);
    }
    struct buf counts = BUF_INIT;
    fuzz_check(counts_json(&counts, &reading->view, &err), &err);
    fuzz_check(counts_table(&counts, &reading->view, &err), &err);
    buf_release(&counts);
}

/* What is exported is imported again: what one way out lets through, the way in does, too. */
static void export_again(const struct reading *reading)
{
    struct error err = {0};
    struct log_news news = {0};
    struct buf text = BUF_INIT;
    size_t added = 0;
    if (log_news(reading->log, reading->bout.id, 0, &news, &err)) {
        return;
    }
    struct portable portable = {.card = &reading->card,
                                .bout = &reading->bout,
                                .desks = news.desks,
                                .desk_count = news.desk_count,
                                .entries = news.entries,
                                .entry_count = news.entry_count};
    int code = portable_write(&text, &portable, &err);
    if (!code && portable_load(NULL, text.text, text.size, "again", &added, &err)) {
        fuzz_fail("what was exported is not imported", err.text);
    }
    buf_release(&text);
    log_news_release(&news);
}

static void read_bout(const char *path, const char *ref)
{
    struct reading reading = {0};
    struct error err = {0};
    int code = reading_open(&reading, path, ref, 0, &err);
    fuzz_check(code, &err);
    if (!code) {
        print_sheets(&reading);
        print_record(&reading);
        print_remarks(&reading);
        export_again(&reading);
    }
    reading_release(&reading);
}

/* Lines of the file end with their digest, which no damage meets: it is made anew. */
static char *sealed(const char *text, size_t size, size_t *out_size)
{
    char digest[SHA256_TEXT], *out = malloc(size + 200);
    size_t lines = 0;
    if (!out) {
        abort();
    }
    const char *end = size ? strstr(text, "{\"end\"") : NULL;
    size = end ? (size_t)(end - text) : size;
    memcpy(out, text, size);
    for (size_t i = 0; i < size; i++) {
        lines += text[i] == '\n';
    }
    sha256_text(digest, out, size);
    *out_size = size + (size_t)snprintf(out + size, 200, "{\"end\":%zu,\"sha256\":\"%s\"}\n", lines,
                                        digest);
    return out;
}

static void import(const char *text, size_t size)
{
    char home[320];
    struct log *log = NULL;
    struct error err = {0};
    size_t added = 0;
    path_of(home, "home.db");
    copy_sound(home);
    if (log_open(&log, home, LOG_WRITE, NULL, &err)) {
        fuzz_fail("home", err.text);
    }
    int code = portable_load(log, text, size, "fuzz", &added, &err);
    fuzz_check(code, &err);
    log_close(log);
    check_home(home);
    if (!code) {
        read_bout(home, "1");
    }
}

void fuzz_import(const char *text, size_t size)
{
    size_t sealed_size = 0;
    char *copy = malloc(size + 1);
    if (!copy) {
        return;
    }
    memcpy(copy, text, size);
    copy[size] = '\0';
    size_t added = 0;
    struct error err = {0};
    fuzz_check(portable_load(NULL, copy, size, "fuzz", &added, &err), &err);
    char *whole = sealed(copy, size, &sealed_size);
    err = (struct error){0};
    int code = portable_load(NULL, whole, sealed_size, "fuzz", &added, &err);
    fuzz_check(code, &err);
    if (!code) {
        import(whole, sealed_size);
    }
    free(whole);
    free(copy);
}

/* Where a hostile database may say something else. */
static struct {
    char table[24], column[24];
} columns[96];
static int column_count;

static void list_columns(sqlite3 *db)
{
    sqlite3_stmt *row = NULL;
    if (sqlite3_prepare_v2(db,
                           "SELECT t.name, c.name FROM pragma_table_list AS t JOIN "
                           "pragma_table_xinfo(t.name) AS c WHERE t.type = 'table' AND "
                           "t.name NOT LIKE 'sqlite%' ORDER BY 1, 2",
                           -1, &row, NULL)) {
        fuzz_fail("columns", sqlite3_errmsg(db));
    }
    while (sqlite3_step(row) == SQLITE_ROW && column_count < 96) {
        snprintf(columns[column_count].table, 24, "%s", (const char *)sqlite3_column_text(row, 0));
        snprintf(columns[column_count++].column, 24, "%s",
                 (const char *)sqlite3_column_text(row, 1));
    }
    sqlite3_finalize(row);
}

struct input {
    const unsigned char *at;
    size_t left;
};

static unsigned take(struct input *input)
{
    if (input->left == 0) {
        return 0;
    }
    input->left--;
    return *input->at++;
}

/* A value that is likely to hurt, or any. */
static void bind_value(sqlite3_stmt *row, int at, struct input *input)
{
    static const int64_t numbers[] = {0,         1,         -1,        2,
                                      INT64_MAX, INT64_MIN, INT32_MAX, (int64_t)1 << 32,
                                      255,       3600000,   20,        253402300800000,
                                      99,        1700000000};
    static const char *const words[] = {"",      "strike", "clock",   "official", "sign", "start",
                                        "stop",  "landed", "red",     "blue",     "add",  "void",
                                        "amend", "refine", "restore", "\033[2J",  "\xff", "note"};
    unsigned kind = take(input);
    switch (kind % 5) {
    case 0:
        sqlite3_bind_int64(row, at, numbers[take(input) % (sizeof numbers / sizeof *numbers)]);
        break;
    case 1:
        sqlite3_bind_text(row, at, words[take(input) % (sizeof words / sizeof *words)], -1,
                          SQLITE_STATIC);
        break;
    case 2: {
        size_t size = take(input);
        size = size > input->left ? input->left : size;
        sqlite3_bind_text(row, at, (const char *)input->at, (int)size, SQLITE_STATIC);
        input->at += size;
        input->left -= size;
        break;
    }
    case 3:
        sqlite3_bind_null(row, at);
        break;
    default:
        sqlite3_bind_int64(row, at, (int64_t)(int8_t)take(input));
        break;
    }
}

static void alter(sqlite3 *db, struct input *input)
{
    char text[400];
    sqlite3_stmt *row = NULL;
    unsigned what = take(input);
    int column = (int)take(input) % column_count;
    unsigned which = take(input) % 48;
    const char *table = columns[column].table;
    if (what % 8 == 0) {
        snprintf(
            text, sizeof text,
            "DELETE FROM \"%.23s\" WHERE rowid = (SELECT rowid FROM \"%.23s\" LIMIT 1 OFFSET %u)",
            table, table, which);
    } else if (what % 8 == 1) {
        snprintf(text, sizeof text,
                 "UPDATE OR REPLACE \"%.23s\" SET \"%.23s\" = (SELECT \"%.23s\" FROM \"%.23s\" "
                 "LIMIT 1 OFFSET "
                 "%u) WHERE rowid = (SELECT rowid FROM \"%.23s\" LIMIT 1 OFFSET %u)",
                 table, columns[column].column, columns[column].column, table, take(input) % 48,
                 table, which);
    } else {
        snprintf(text, sizeof text,
                 "UPDATE OR REPLACE \"%.23s\" SET \"%.23s\" = ?1 "
                 "WHERE rowid = (SELECT rowid FROM \"%.23s\" LIMIT 1 OFFSET %u)",
                 table, columns[column].column, table, which);
    }
    if (sqlite3_prepare_v2(db, text, -1, &row, NULL) == SQLITE_OK) {
        if (what % 8 > 1) {
            bind_value(row, 1, input);
        }
        sqlite3_step(row);
    }
    sqlite3_finalize(row);
}

/* Statements, then bytes of the file. */
static void make_hostile(const char *path, struct input *input)
{
    sqlite3 *db = NULL;
    unsigned statements = take(input) % 12, bytes = take(input) % 4;
    copy_sound(path);
    if (sqlite3_open(path, &db) ||
        sqlite3_exec(db, "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON", NULL,
                     NULL, NULL)) {
        fuzz_fail("hostile", sqlite3_errmsg(db));
    }
    sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    if (!column_count) {
        list_columns(db);
    }
    sqlite3_exec(db, "BEGIN", NULL, NULL, NULL);
    for (unsigned i = 0; i < statements; i++) {
        alter(db, input);
    }
    sqlite3_exec(db, "COMMIT; PRAGMA wal_checkpoint(TRUNCATE)", NULL, NULL, NULL);
    sqlite3_close(db);
    int fd = open(path, O_RDWR | O_CLOEXEC);
    for (unsigned i = 0; fd >= 0 && i < bytes; i++) {
        off_t at = (off_t)(take(input) << 9 | take(input) << 1) | (off_t)(take(input) & 1);
        unsigned char byte = (unsigned char)take(input);
        if (pwrite(fd, &byte, 1, at) != 1) {
            fuzz_fail("hostile", path);
        }
    }
    close(fd);
}

void fuzz_hostile(const char *text, size_t size)
{
    char hostile[320], home[320];
    struct input input = {(const unsigned char *)text, size};
    struct log *log = NULL, *other = NULL;
    struct error err = {0};
    struct log_merged merged;
    fuzz_database();
    path_of(hostile, "hostile.db");
    path_of(home, "home.db");
    make_hostile(hostile, &input);
    read_bout(hostile, "1");
    read_bout(hostile, "2");
    copy_sound(home);
    if (log_open(&log, home, LOG_WRITE, NULL, &err)) {
        fuzz_fail("home", err.text);
    }
    int code = log_open(&other, hostile, LOG_READ, NULL, &err);
    fuzz_check(code, &err);
    if (!code) {
        code = log_merge(log, other, &merged, &err);
        fuzz_check(code, &err);
    }
    log_close(other);
    log_close(log);
    check_home(home);
    if (!code) { /* what was let in can be read and carried on */
        read_bout(home, "1");
    }
}
