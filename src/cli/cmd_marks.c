/* cmd_marks.c: `ringtally marks` and `ringtally sync`: a bout's moments in a recording's time code.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/sheet/marks_sheet.h"
#include "ringtally/base/when.h"

#define LEAD_MAX_MS 600000
#define GAP_MAX_MS  60000
#define TOP_MAX     1000
#define RATE        "25" /* where neither the call nor the log names one */

struct marks_call {
    const char *bout, *format, *kinds, *rate, *start, *sync;
    const char *first_frame, *lead_in, *lead_out, *gap, *top;
    const char *path;
};

static int read_kinds(unsigned *out, const char *list, struct error *err)
{
    unsigned kinds = 0;
    while (*list || !kinds) {
        char word[24] = "";
        int index = 0;
        size_t length = strcspn(list, ",");
        snprintf(word, sizeof word, "%.*s", length < sizeof word ? (int)length : 23, list);
        int code = cli_choice(&index, "--kinds", word, mark_kind_names, MARK_KINDS, err);
        if (code) {
            return code;
        }
        kinds |= 1u << index;
        list += length + (list[length] == ',');
    }
    *out = kinds;
    return 0;
}

static int read_plan(struct marks_plan *out, const struct marks_call *words, struct error *err)
{
    int code = words->kinds ? read_kinds(&out->kinds, words->kinds, err) : 0;
    if (!code && words->lead_in) {
        code = cli_seconds(&out->lead_in_ms, "--lead-in", words->lead_in, 0, LEAD_MAX_MS, err);
    }
    if (!code && words->lead_out) {
        code = cli_seconds(&out->lead_out_ms, "--lead-out", words->lead_out, 0, LEAD_MAX_MS, err);
    }
    if (!code && words->gap) {
        code = cli_seconds(&out->gap_ms, "--gap", words->gap, 0, GAP_MAX_MS, err);
    }
    if (!code && words->top) {
        code = cli_number(&out->top, "--top", words->top, 0, TOP_MAX, err);
    }
    return code;
}

/* --sync TC@MOMENT: nothing is written for it. */
static int said_sync(struct sync_point *out, const struct timecode_rate *rate, const char *word,
                     struct error *err)
{
    char label[TIMECODE_SIZE];
    const char *at = strchr(word, '@');
    snprintf(label, sizeof label, "%.*s", (int)(at - word), word);
    out->rate = rate;
    out->utc_ms = when_parse(at + 1);
    int code = at - word >= (long)sizeof label ? ERROR_USAGE
                                               : timecode_parse(&out->frame, rate, label, err);
    if (code || out->utc_ms < 0) {
        return error_set(err, ERROR_USAGE,
                         "--sync %s: a time code and its moment are needed, as "
                         "10:00:00:00@2026-12-05T20:15:30.250Z, or a bout",
                         word);
    }
    return 0;
}

/* --sync BOUT: one recording of the evening, read off once. */
static int other_sync(struct sync_point *out, const struct call *call, const char *ref,
                      struct error *err)
{
    struct reading other = {0};
    int code = cli_reading(&other, call, ref, NULL, err);
    if (!code && !marks_sync(out, other.fold)) {
        code = error_set(err, ERROR_FAILED, "%s/%d has no sync point", other.bout.card,
                         other.bout.number);
    }
    reading_release(&other);
    return code;
}

/* The sync point that counts: the one said with the call, else the newest in the log. */
static int find_sync(struct marks_view *view, const struct call *call,
                     const struct marks_call *words, struct error *err)
{
    const struct bout *bout = view->sheet->bout;
    const struct timecode_rate *rate = NULL;
    struct sync_point *sync = &view->sync;
    bool logged = marks_sync(sync, view->sheet->fold);
    if (words->rate && !(rate = timecode_rate_find(words->rate, err))) {
        return ERROR_USAGE;
    }
    const struct timecode_rate *said = rate     ? rate
                                       : logged ? sync->rate
                                                : timecode_rate_find(RATE, err);
    if (words->start && words->sync) {
        return error_set(err, ERROR_USAGE, "--start, --sync: one of them");
    }
    if (words->sync && strchr(words->sync, '@')) {
        view->source = MARKS_FROM_CALL;
        return said_sync(sync, said, words->sync, err);
    }
    if (words->sync) {
        view->source = MARKS_FROM_BOUT;
        int code = other_sync(sync, call, words->sync, err);
        return code || !rate ? code : sync_convert(sync, rate, err);
    }
    if (words->start) {
        view->source = MARKS_FROM_START;
        sync->rate = said;
        rate = said;
        int code = timecode_parse(&sync->frame, rate, words->start, err);
        if (!code && !marks_first_bell(&sync->utc_ms, view->sheet->fold)) {
            code =
                error_set(err, ERROR_FAILED,
                          "%s/%d: its clock has not started: there is no first bell to count from",
                          bout->card, bout->number);
        }
        return code;
    }
    if (!logged) {
        return error_set(
            err, ERROR_FAILED,
            "%s/%d has no sync point: read the time code off with `ringtally sync`, say that of "
            "the first bell with --start, or one and its moment, or another bout of the same "
            "recording, with --sync",
            bout->card, bout->number);
    }
    return rate ? sync_convert(sync, rate, err) : 0;
}

int command_marks(const struct call *call, struct error *err)
{
    struct marks_call words = {.format = "csv"};
    const struct cli_option options[] = {
        {"--format", &words.format, NULL},   {"--kinds", &words.kinds, NULL},
        {"--rate", &words.rate, NULL},       {"--start", &words.start, NULL},
        {"--sync", &words.sync, NULL},       {"--first-frame", &words.first_frame, NULL},
        {"--lead-in", &words.lead_in, NULL}, {"--lead-out", &words.lead_out, NULL},
        {"--gap", &words.gap, NULL},         {"--top", &words.top, NULL},
        {"-o", &words.path, NULL},           {NULL, NULL, NULL}};
    struct reading reading = {0};
    struct marks_plan plan = marks_plan_default;
    struct marks_view view = {.plan = &plan, .first_frame = -1};
    struct mark *marks = NULL;
    struct buf out = BUF_INIT;
    int count = 0;
    int format = 0;
    int code = cli_words(call, options, &words.bout, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "marks BOUT is needed");
    }
    code = code ? code
                : cli_choice(&format, "--format", words.format, marks_format_names, MARKS_FORMATS,
                             err);
    code = code ? code : read_plan(&plan, &words, err);
    code = code ? code : cli_reading(&reading, call, words.bout, NULL, err);
    view.sheet = &reading.view;
    code = code ? code : find_sync(&view, call, &words, err);
    if (!code && words.first_frame) {
        code = timecode_parse(&view.first_frame, view.sync.rate, words.first_frame, err);
    }
    code = code ? code : marks_find(&marks, &view.count, reading.fold, &plan, err);
    view.marks = marks;
    code = code ? code : marks_write(&out, &view, (enum marks_format)format, err);
    code = code ? code : cli_output(&reading, words.path, false, out.text, out.size, err);
    buf_release(&out);
    free(marks);
    reading_release(&reading);
    return code;
}

int command_sync(const struct call *call, struct error *err)
{
    const char *bout = NULL;
    const char *label = NULL;
    const char *rate = RATE;
    const char *at = NULL;
    const char *operator_ = NULL;
    bool now = false;
    const struct cli_option options[] = {
        {"--timecode", &label, NULL}, {"--rate", &rate, NULL},          {"--at", &at, NULL},
        {"--now", NULL, &now},        {"--operator", &operator_, NULL}, {NULL, NULL, NULL}};
    /* The moment is that of the call, not of the end of reading the log. */
    struct sync_point sync = {.utc_ms = when_now()};
    struct reading reading = {0};
    struct entry entry = {.kind = ENTRY_NOTE};
    char text[SYNC_SIZE], when[WHEN_SIZE];
    int count = 0;
    int code = cli_words(call, options, &bout, 1, &count, err);
    if (!code && (count == 0 || !label || (at && now))) {
        code =
            error_set(err, ERROR_USAGE, "sync BOUT --timecode TC [--at MOMENT | --now] is needed");
    }
    if (!code && !(sync.rate = timecode_rate_find(rate, err))) {
        code = ERROR_USAGE;
    }
    code = code ? code : timecode_parse(&sync.frame, sync.rate, label, err);
    if (!code && at && (sync.utc_ms = when_parse(at)) < 0) {
        code = error_set(err, ERROR_USAGE,
                         "--at %s: a moment like 2026-12-05T20:15:30.250Z is needed", at);
    }
    code = code ? code : cli_reading(&reading, call, bout, NULL, err);
    if (!code) {
        entry.at_ms = sync.utc_ms;
        snprintf(entry.text, sizeof entry.text, "%s", sync_print(text, &sync));
        code = data_append(call->db, &reading, cli_operator(operator_), &entry, 1, err);
    }
    if (!code) {
        printf("%s/%d: time code %s at %s frames a second is %s\n", reading.bout.card,
               reading.bout.number, label, sync.rate->name, when_rfc3339(when, sync.utc_ms));
    }
    reading_release(&reading);
    return code;
}
