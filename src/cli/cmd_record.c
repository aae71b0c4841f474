/* cmd_record.c: the log as a record: listed, and carried elsewhere. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/file.h"
#include "ringtally/sheet/log_sheet.h"
#include "ringtally/log/portable.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

#define CLOCK_TOLERANCE_MS 2000 /* between machines whose clocks are both right */

int command_log(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "csv", "json"};
    static int (*const writers[])(struct buf *, const struct log_sheet_view *, struct error *) = {
        log_sheet_table, log_sheet_csv, log_sheet_json};
    const char *bout = NULL;
    const char *format = "table";
    const char *round = NULL;
    bool all = false, bom = false;
    const struct cli_option options[] = {{"--bom", NULL, &bom},
                                         {"--format", &format, NULL},
                                         {"--round", &round, NULL},
                                         {"--all", NULL, &all},
                                         {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct buf out = BUF_INIT;
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, &bout, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "log BOUT is needed");
    }
    code = code ? code : cli_choice(&choice, "--format", format, formats, 3, err);
    code = code ? code : cli_reading(&reading, call, bout, round, err);
    if (!code) {
        cli_bom(&out, bom && strcmp(format, "csv") == 0);
        struct log_sheet_view view = {&reading.bout, reading.fold, reading.view.round, all};
        code = writers[choice](&out, &view, err);
    }
    code = code ? code : cli_write(NULL, out.text, out.size, err);
    buf_release(&out);
    reading_release(&reading);
    return code;
}

int command_export_log(const struct call *call, struct error *err)
{
    const char *bout = NULL;
    const char *path = NULL;
    const struct cli_option options[] = {{"-o", &path, NULL}, {NULL, NULL, NULL}};
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    struct reading reading = {0};
    struct log_seal *seals = NULL;
    struct buf out = BUF_INIT;
    size_t seal_count = 0;
    int count = 0;
    int code = cli_words(call, options, &bout, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "export-log BOUT is needed");
    }
    code = code ? code : cli_reading(&reading, call, bout, NULL, err);
    code = code ? code : log_seals(reading.log, reading.bout.id, &seals, &seal_count, err);
    if (!code) {
        int desk_count = fold_desks(reading.fold, &desks);
        size_t entry_count = fold_entries(reading.fold, &entries);
        struct portable portable = {&reading.card, &reading.bout, desks, desk_count,
                                    entries,       entry_count,   seals, seal_count};
        code = portable_write(&out, &portable, err);
    }
    code = code ? code : cli_output(&reading, path, true, out.text, out.size, err);
    buf_release(&out);
    log_seals_free(seals, seal_count);
    reading_release(&reading);
    return code;
}

int command_import_log(const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{NULL, NULL, NULL}};
    const char *path = NULL;
    struct log *log = NULL;
    char *text = NULL;
    size_t size = 0;
    size_t added = 0;
    int count = 0;
    int code = cli_words(call, options, &path, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "import-log FILE is needed");
    }
    code = code ? code : file_read(&text, &size, path, err);
    /* No database is made for a file that is none. */
    code = code ? code : portable_load(NULL, text, size, path, &added, err);
    code = code ? code : data_log_open(&log, call->db, LOG_CREATE, err);
    code = code ? code : portable_load(log, text, size, path, &added, err);
    if (!code) {
        printf("%zu entries new in %s\n", added, log_path(log));
    }
    log_close(log);
    free(text);
    return code;
}

/* Entries that lie ahead of now were written by a clock that is ahead of this one. */
static void warn_of_clocks(const char *path, const struct log_merged *merged)
{
    int64_t ahead_ms = merged->newest_ms - when_now();
    if (ahead_ms > CLOCK_TOLERANCE_MS) {
        fprintf(stderr,
                "ringtally: the newest entry of %s lies %lld s ahead of this machine's clock: one "
                "of the two clocks is wrong\n",
                path, (long long)(ahead_ms / 1000));
    }
}

int command_merge(const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{NULL, NULL, NULL}};
    const char *path = NULL;
    struct log *log = NULL;
    struct log *other = NULL;
    struct log_merged merged = {0};
    int count = 0;
    int code = cli_words(call, options, &path, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "merge OTHER.db is needed");
    }
    code = code ? code : log_open(&other, path, LOG_READ, NULL, err);
    code = code ? code : data_log_open(&log, call->db, LOG_CREATE, err);
    code = code ? code : log_merge(log, other, &merged, err);
    if (!code) {
        printf("%zu entries new in %s\n", merged.added, log_path(log));
        warn_of_clocks(path, &merged);
    }
    log_close(other);
    log_close(log);
    return code;
}

int command_backup(const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{NULL, NULL, NULL}};
    const char *path = NULL;
    struct log *log = NULL;
    int count = 0;
    int code = cli_words(call, options, &path, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "backup FILE is needed");
    }
    code = code ? code : data_log_open(&log, call->db, LOG_READ, err);
    code = code ? code : log_backup(log, path, err);
    if (!code) {
        printf("%s has all of %s\n", path, log_path(log));
    }
    log_close(log);
    return code;
}
