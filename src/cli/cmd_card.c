/* cmd_card.c: `ringtally card`. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cmd_history.h"
#include "ringtally/base/buf.h"
#include "ringtally/base/file.h"
#include "ringtally/screen/screen.h"
#include "ringtally/sheet/sheet.h"

/* Rules must exist, and know the scheduled rounds, before anything is written. */
static int check_rules(const struct bout *bout, const char *file, struct error *err)
{
    struct rules rules;
    struct error reason = {0};
    if (data_bout_rules(&rules, bout, &reason)) {
        return bout->line ? error_set(err, ERROR_FAILED, "%s:%d: bout %d: %s", file, bout->line,
                                      bout->number, reason.text)
                          : error_set(err, ERROR_FAILED, "%s: bout %d: %s", file, bout->number,
                                      reason.text);
    }
    return 0;
}

static int load(const struct call *call, const char *file, struct error *err)
{
    struct card card = {0};
    struct log *log = NULL;
    char *text = NULL;
    size_t size = 0;
    int code = file_read(&text, &size, file, err);
    if (!code) {
        code = card_parse(&card, text, size, file, err);
    }
    for (int i = 0; !code && i < card.bouts; i++) {
        code = check_rules(&card.bout[i], file, err);
    }
    if (!code) {
        code = data_log_open(&log, call->db, LOG_CREATE, err);
    }
    if (!code) {
        code = log_card_save(log, &card, err);
    }
    if (!code) {
        printf("card %s: %d bouts in %s\n", card.id, card.bouts, log_path(log));
    }
    log_close(log);
    card_release(&card);
    free(text);
    return code;
}

static int show(const struct call *call, const char *id, bool json, bool history, struct error *err)
{
    struct card card = {0};
    struct log *log = NULL;
    struct buf out = BUF_INIT;
    int code = data_log_open(&log, call->db, LOG_READ, err);
    if (!code) {
        code = log_card_get(log, id, &card, err);
    }
    if (!code) {
        code = json ? card_json(&out, &card, err) : card_table(&out, &card, err);
    }
    if (!code && history) {
        code = cli_history_pairs(&out, log, &card, err);
    }
    if (!code) {
        code = cli_write(NULL, out.text, out.size, err);
    }
    buf_release(&out);
    log_close(log);
    card_release(&card);
    return code;
}

static int edit(const struct call *call, const char *ref, struct error *err)
{
    struct log *log = NULL;
    struct bout bout;
    int saved = 0;
    int code = data_log_open(&log, call->db, LOG_WRITE, err);
    if (!code) {
        code = log_bout_find(log, ref, &bout, err);
    }
    if (!code) {
        code = screen_open(err);
    }
    if (!code) {
        saved = screen_bout_form(&bout, err);
        screen_close();
        code = saved < 0 ? saved : 0;
    }
    if (!code && saved) {
        code = check_rules(&bout, "the form", err);
        code = code ? code : log_bout_save(log, &bout, err);
    }
    if (!code) {
        printf("bout %s/%d: %s\n", bout.card, bout.number, saved ? "saved" : "left unchanged");
    }
    log_close(log);
    return code;
}

int command_card(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json"};
    const char *others[2] = {NULL, NULL};
    const char *format = "table";
    const char *id = "";
    bool history = false;
    const struct cli_option options[] = {{"--format", &format, NULL},
                                         {"--card", &id, NULL},
                                         {"--history", NULL, &history},
                                         {NULL, NULL, NULL}};
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, others, 2, &count, err);
    if (code) {
        return code;
    }
    if (count == 2 && strcmp(others[0], "load") == 0) {
        return load(call, others[1], err);
    }
    if (count == 2 && strcmp(others[0], "edit") == 0) {
        return edit(call, others[1], err);
    }
    if (count == 1 && strcmp(others[0], "show") == 0) {
        code = cli_choice(&choice, "--format", format, formats, 2, err);
        if (!code && history && choice == 1) {
            code = error_set(err, ERROR_USAGE,
                             "--history goes with the table; history FIGHTER "
                             "--format json is for machines");
        }
        return code ? code : show(call, id, choice == 1, history, err);
    }
    return error_set(
        err, ERROR_USAGE,
        "card load FILE, card show or card edit BOUT is needed; card --help says more");
}
