/* callouts.c: `ringtally callouts`: true sentences about a bout. */
#include "cli.h"
#include "ringtally/callouts_sheet.h"

#define TOP_MAX 1000

int command_callouts(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"text", "json"};
    static int (*const writers[])(struct buf *, const struct callouts_view *,
                                  struct error *) = {callouts_text, callouts_json};
    const char *others[1] = {NULL};
    const char *format = "text";
    const char *round = NULL;
    const char *top = NULL;
    const struct cli_option options[] = {{"--format", &format, NULL},
                                         {"--round", &round, NULL},
                                         {"--top", &top, NULL},
                                         {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct callouts callouts = {.item = NULL};
    struct callouts_view view = {.callouts = &callouts};
    struct buf out = BUF_INIT;
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, others, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "callouts BOUT is needed");
    }
    code = code ? code : cli_choice(&choice, "--format", format, formats, 2, err);
    if (!code && top) {
        code = cli_number(&view.top, "--top", top, 1, TOP_MAX, err);
    }
    code = code ? code : reading_open(&reading, call, others[0], round, err);
    if (code) {
        goto cleanup;
    }
    view.bout = &reading.bout;
    view.round = reading.view.round;
    view.now_ms = reading.view.now_ms;
    code = callouts_init(&callouts, reading.fold, &callout_rule_default, view.now_ms, err);
    code = code ? code : writers[choice](&out, &view, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);
cleanup:
    callouts_release(&callouts);
    buf_release(&out);
    reading_release(&reading);
    return code;
}
