/* cmd_counts.c: `ringtally counts` and `ringtally sheet`: a bout read from the log and written for
 * somebody. */
#include <string.h>

#include "cli/cli.h"
#include "ringtally/sheet/coach_sheet.h"
#include "ringtally/sheet/sheet.h"

int command_counts(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json", "csv"};
    static int (*const writers[])(struct buf *, const struct sheet_view *,
                                  struct error *) = {counts_table, counts_json, counts_csv};
    const char *others[1] = {NULL};
    const char *format = "table";
    const char *round = NULL;
    const char *every = NULL;
    const char *since = NULL;
    const char *last = NULL;
    struct window_ask window = {.from = WINDOW_NONE};
    bool follow = false, bom = false, seen = false;
    const struct cli_option options[] = {
        {"--format", &format, NULL},   {"--round", &round, NULL}, {"--bom", NULL, &bom},
        {"--since", &since, NULL},     {"--last", &last, NULL},   {"--follow", NULL, &follow},
        {"--heartbeat", &every, NULL}, {"--seen", NULL, &seen},   {NULL, NULL, NULL}};
    int heartbeat_s = 5;
    struct reading reading = {0};
    struct buf out = BUF_INIT;
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, others, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "counts BOUT is needed");
    }
    code = code ? code : cli_choice(&choice, "--format", format, formats, 3, err);
    if (!code && every) {
        code = cli_number(&heartbeat_s, "--heartbeat", every, 1, 3600, err);
    }
    if (!code && round && (since || last)) {
        code = error_set(err, ERROR_USAGE, "--round, --since, --last: one of them");
    }
    code = code ? code : window_parse(&window, since, last, err);
    code = code ? code : cli_reading(&reading, call, others[0], round, err);
    reading.view.window = &window;
    reading.view.seen = seen;
    if (!code && follow) {
        code = cli_follow(&reading, heartbeat_s, err);
    } else if (!code) {
        cli_bom(&out, bom && strcmp(format, "csv") == 0);
        code = writers[choice](&out, &reading.view, err);
        code = code ? code : cli_write(NULL, out.text, out.size, err);
    }
    buf_release(&out);
    reading_release(&reading);
    return code;
}

int command_sheet(const struct call *call, struct error *err)
{
    const char *others[1] = {NULL};
    const char *format = "text";
    const char *round = NULL;
    const char *path = NULL;
    const char *corner = NULL;
    bool cards = false, bom = false, seen = false;
    const struct cli_option options[] = {{"--format", &format, NULL}, {"--for", &corner, NULL},
                                         {"--round", &round, NULL},   {"-o", &path, NULL},
                                         {"--cards", NULL, &cards},   {"--bom", NULL, &bom},
                                         {"--seen", NULL, &seen},     {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct buf out = BUF_INIT;
    int count = 0;
    int choice = 0;
    int whose = CORNER_RED;
    int code = cli_words(call, options, others, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "sheet BOUT is needed");
    }
    if (!code && corner && cards) {
        code = error_set(err, ERROR_USAGE, "--cards goes without --for: a coach's page has none");
    } else if (!code && corner) {
        code = cli_choice(&whose, "--for", corner, corner_names, CORNER_COUNT, err);
        code =
            code ? code
                 : cli_choice(&choice, "--format", format, coach_format_names, COACH_FORMATS, err);
    } else if (!code) {
        code = cli_choice(&choice, "--format", format, sheet_format_names, SHEET_FORMATS, err);
    }
    code = code ? code : cli_reading(&reading, call, others[0], round, err);
    reading.view.cards = cards;
    reading.view.seen = seen;
    if (!code) {
        code = choice == SHEET_HTML && !corner ? reading_former(&reading, err) : 0;
    }
    if (!code) {
        cli_bom(&out, bom && strcmp(format, "csv") == 0);
        code = corner ? coach_sheet_write(&out, &reading.view, (enum corner)whose,
                                          (enum coach_format)choice, err)
                      : sheet_write(&out, &reading.view, (enum sheet_format)choice, err);
    }
    code = code ? code : cli_output(&reading, path, true, out.text, out.size, err);
    buf_release(&out);
    reading_release(&reading);
    return code;
}
