/* cmd_remarks.c: `ringtally remarks`: true sentences about a bout. */
#include "cli/cli.h"
#include "ringtally/sheet/remarks_sheet.h"

#define TOP_MAX 1000

int command_remarks(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"text", "json"};
    static int (*const writers[])(struct buf *, const struct remarks_view *,
                                  struct error *) = {remarks_text, remarks_json};
    const char *others[1] = {NULL};
    const char *format = "text";
    const char *round = NULL;
    const char *top = NULL;
    const struct cli_option options[] = {{"--format", &format, NULL},
                                         {"--round", &round, NULL},
                                         {"--top", &top, NULL},
                                         {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct remarks remarks = {.item = NULL};
    struct remarks_view view = {.remarks = &remarks};
    struct buf out = BUF_INIT;
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, others, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "remarks BOUT is needed");
    }
    code = code ? code : cli_choice(&choice, "--format", format, formats, 2, err);
    if (!code && top) {
        code = cli_number(&view.top, "--top", top, 1, TOP_MAX, err);
    }
    code = code ? code : cli_reading(&reading, call, others[0], round, err);
    if (code) {
        goto cleanup;
    }
    code = reading_former(&reading, err);
    view.bout = &reading.bout;
    view.round = reading.view.round;
    view.now_ms = reading.view.now_ms;
    code = code ? code
                : remarks_init(&remarks, reading.fold, reading.view.signs, reading.view.former,
                               &remark_rule_default, view.now_ms, err);
    code = code ? code : writers[choice](&out, &view, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);
cleanup:
    remarks_release(&remarks);
    buf_release(&out);
    reading_release(&reading);
    return code;
}
