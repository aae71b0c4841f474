/* cmd_history.c: `ringtally history`: a fighter's bouts in the database; and the same of both
 * fighters of each bout of a card. */
#include "cli/cmd_history.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/log/log_history.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/when.h"

static int add_bout(struct history *out, struct log *log, const struct fighter_bout *from,
                    struct rules_kept *kept, struct error *err)
{
    struct fold *fold = NULL;
    struct desk_sign *signs = NULL;
    const struct desk_row *desks = NULL;
    int desk_count = 0;
    int code = data_keep_rules(kept, &from->bout, err);
    if (!code) {
        struct clock_plan plan = clock_plan(&kept->rules, from->bout.rounds);
        code = log_fold(log, &from->bout, &plan, FOLD_OFFICIAL, &fold, err);
    }
    if (!code) {
        desk_count = fold_desks(fold, &desks);
        signs = calloc((size_t)desk_count + 1, sizeof *signs);
        code = signs ? 0 : error_memory(err);
    }
    if (!code) {
        int64_t now = when_now();
        signs_read(log, desks, desk_count, now, signs);
        struct sheet_view view = {.bout = &from->bout,
                                  .rules = &kept->rules,
                                  .fold = fold,
                                  .signs = signs,
                                  .now_ms = fold_now(fold, now)};
        code = history_add(out, &view, (enum corner)from->corner, from->title, from->date, err);
    }
    free(signs);
    fold_free(fold);
    return code;
}

int cli_history(struct history *out, struct log *log, const char *name, int64_t but,
                struct error *err)
{
    struct fighter_bout *bouts = NULL;
    struct rules_kept kept = {.known = false};
    size_t count = 0;
    memset(out, 0, sizeof *out);
    snprintf(out->name, sizeof out->name, "%s", name);
    int code = log_fighter_bouts(log, name, &bouts, &count, err);
    for (size_t i = 0; i < count && !code; i++) {
        if (bouts[i].bout.id != but) {
            code = add_bout(out, log, &bouts[i], &kept, err);
        }
    }
    free(bouts);
    return code;
}

int cli_history_pairs(struct buf *out, struct log *log, const struct card *card, struct error *err)
{
    int code = 0;
    for (int i = 0; i < card->bouts && !code; i++) {
        const struct bout *bout = &card->bout[i];
        struct history red = {.count = 0}, blue = {.count = 0};
        buf_addf(out, "\n%3d  ", bout->number);
        buf_add_fit(out, bout->fighter[CORNER_RED].name, -26);
        buf_adds(out, "       before      ");
        buf_adds(out, bout->fighter[CORNER_BLUE].name);
        buf_adds(out, "\n");
        code = cli_history(&red, log, bout->fighter[CORNER_RED].name, bout->id, err);
        code =
            code ? code : cli_history(&blue, log, bout->fighter[CORNER_BLUE].name, bout->id, err);
        if (!code && red.logged + blue.logged == 0) {
            buf_adds(out, "     nothing logged of either\n");
        }
        code = code ? code : history_pair(out, &red, &blue, err);
        history_release(&red);
        history_release(&blue);
    }
    return code;
}

int command_history(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json"};
    static int (*const writers[])(struct buf *, const struct history *,
                                  struct error *) = {history_table, history_json};
    const char *others[1] = {NULL};
    const char *format = "table";
    const struct cli_option options[] = {{"--format", &format, NULL}, {NULL, NULL, NULL}};
    struct history history = {.count = 0};
    struct log *log = NULL;
    struct buf out = BUF_INIT;
    char name[96] = "";
    int count = 0;
    int choice = 0;
    int code = cli_words(call, options, others, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "history FIGHTER is needed");
    }
    code = code ? code : cli_choice(&choice, "--format", format, formats, 2, err);
    code = code ? code : data_log_open(&log, call->db, LOG_READ, err);
    code = code ? code : log_fighter_find(log, others[0], name, err);
    code = code ? code : cli_history(&history, log, name, 0, err);
    code = code ? code : writers[choice](&out, &history, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);
    buf_release(&out);
    history_release(&history);
    log_close(log);
    return code;
}
