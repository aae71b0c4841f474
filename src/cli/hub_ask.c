/* hub_ask.c: commands that ask a log, asked of a hub: the bout is brought into a log that lasts as
 * long as the command. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/hub_cmds.h"
#include "cli/hub_place.h"
#include "ringtally/base/when.h"
#include "ringtally/hub/hub_read.h"
#include "ringtally/sheet/history_sheet.h"

static const struct {
    const char *name;
    command *run;
} readers[] = {{"counts", command_counts},
               {"sheet", command_sheet},
               {"remarks", command_remarks},
               {"log", command_log}};

command *hub_reading_command(const char *name)
{
    for (size_t i = 0; i < sizeof readers / sizeof readers[0]; i++) {
        if (strcmp(readers[i].name, name) == 0) {
            return readers[i].run;
        }
    }
    return NULL;
}

/* Takes --hub URI out of the words. */
static int take_uri(const struct call *call, struct call *rest, const char **uri, struct error *err)
{
    *rest = *call;
    *uri = NULL;
    rest->count = 0;
    rest->words = calloc((size_t)call->count + 1, sizeof *rest->words);
    if (!rest->words) {
        return error_memory(err);
    }
    for (int i = 0; i < call->count; i++) {
        if (strcmp(call->words[i], "--hub") == 0 && i + 1 < call->count) {
            *uri = call->words[++i];
        } else if (strncmp(call->words[i], "--hub=", 6) == 0) {
            *uri = call->words[i] + 6;
        } else {
            rest->words[rest->count++] = call->words[i];
        }
    }
    if (!*uri || call->db) {
        return error_set(err, ERROR_USAGE,
                         *uri ? "--db and --hub: one of them" : "--hub needs a value");
    }
    for (int i = 0; i < rest->count; i++) {
        if (strcmp(rest->words[i], "--follow") == 0) {
            return error_set(err, ERROR_USAGE,
                             "--follow goes with --db: `hub follow` keeps one current");
        }
    }
    return 0;
}

/* The bout among the words: the first that is no option. Options that take a value are told by the
 * command itself; a bout is a number, or has a slash. */
static const char *find_ref(const struct call *call)
{
    for (int i = 0; i < call->count; i++) {
        char card[48];
        int number = 0;
        bool value = i > 0 && strncmp(call->words[i - 1], "--", 2) == 0 &&
                     !strchr(call->words[i - 1], '=') && strcmp(call->words[i - 1], "--all") != 0 &&
                     strcmp(call->words[i - 1], "--bom") != 0 &&
                     strcmp(call->words[i - 1], "--cards") != 0;
        if (!value && call->words[i][0] != '-' &&
            bout_ref_parse(card, &number, call->words[i], NULL) == 0) {
            return call->words[i];
        }
    }
    return NULL;
}

/* What the fighters of a bout did before: remarks speak of it. */
static int bring_former(struct hub *hub, struct log *log, const char *ref, struct error *err)
{
    struct bout bout;
    int code = log_bout_find(log, ref, &bout, err);
    for (int corner = 0; corner < CORNER_COUNT && !code; corner++) {
        struct hub_fought *fought = NULL;
        size_t count = 0;
        code = hub_fighter_bouts(hub, bout.fighter[corner].name, &fought, &count, err);
        for (size_t i = 0; i < count && !code; i++) {
            char name[64];
            snprintf(name, sizeof name, "%s/%d", fought[i].of.bout.card, fought[i].of.bout.number);
            code = hub_bring(hub, log, name, err);
        }
        hub_fought_free(fought, count);
    }
    return code;
}

static int bring(const char *uri, const char *path, const char *ref, bool former, struct error *err)
{
    struct hub *hub = NULL;
    struct log *log = NULL;
    int code = hub_open(&hub, uri, HUB_READ, err);
    code = code ? code : log_open(&log, path, LOG_CREATE, NULL, err);
    code = code ? code : log_passing(log, err);
    code = code ? code : hub_bring(hub, log, ref, err);
    code = code || !former ? code : bring_former(hub, log, ref, err);
    log_close(log);
    hub_close(hub);
    return code;
}

int hub_command_read(const struct call *call, command *run, bool former, struct error *err)
{
    const char *uri = NULL;
    struct hub_place_dir place = {.folder = ""};
    struct call rest;
    int code = take_uri(call, &rest, &uri, err);
    const char *ref = code ? NULL : find_ref(&rest);
    if (!code && !ref) {
        code = error_set(err, ERROR_USAGE, "with --hub a bout is needed: CARDID/NUMBER or NUMBER");
    }
    code = code ? code : hub_place_new(&place, err);
    code = code ? code : bring(uri, place.path, ref, former, err);
    rest.db = place.path;
    code = code ? code : run(&rest, err);
    hub_place_remove(&place);
    free(rest.words);
    return code;
}

/* The folds of a fighter's bouts, each from the moment on at which something of it comes. */
struct folding {
    struct hub_fought *fought;
    struct fold **folds; /* NULL: nothing came yet */
    size_t count;
    struct rules_kept kept;
};

static int begin_fold(struct folding *folding, size_t which, struct error *err)
{
    const struct hub_fought *of = &folding->fought[which];
    int code = data_keep_rules(&folding->kept, &of->of.bout, err);
    if (code || folding->folds[which]) {
        return code;
    }
    struct clock_plan plan = clock_plan(&folding->kept.rules, of->of.bout.rounds);
    struct fold *fold = fold_new(&plan, &of->of.bout, FOLD_OFFICIAL);
    folding->folds[which] = fold;
    code = fold ? 0 : error_memory(err);
    for (int i = 0; i < of->desk_count && !code; i++) {
        code = fold_desk(fold, &of->desks[i]) ? error_memory(err) : 0;
    }
    return code;
}

static int take_entries(void *user, size_t which, const struct entry *entries, size_t count,
                        struct error *err)
{
    struct folding *folding = user;
    int code = begin_fold(folding, which, err);
    return code                                                  ? code
           : fold_add_all(folding->folds[which], entries, count) ? error_memory(err)
                                                                 : 0;
}

static int add_bout(struct history *out, struct folding *folding, size_t which, struct error *err)
{
    const struct hub_fought *from = &folding->fought[which];
    int code = begin_fold(folding, which, err);
    struct fold *fold = folding->folds[which];
    struct desk_sign *signs = calloc((size_t)from->desk_count + 1, sizeof *signs);
    code = code || signs ? code : error_memory(err);
    if (!code) {
        struct sheet_view view = {.bout = &from->of.bout,
                                  .rules = &folding->kept.rules,
                                  .fold = fold,
                                  .signs = signs,
                                  .now_ms = fold_now(fold, when_now())};
        code = history_add(out, &view, (enum corner)from->of.corner, from->of.title, from->of.date,
                           err);
    }
    free(signs);
    return code;
}

static int make_history(struct history *out, struct hub *hub, const char *name, struct error *err)
{
    struct folding folding = {.count = 0};
    snprintf(out->name, sizeof out->name, "%s", name);
    int code = hub_fighter_bouts(hub, name, &folding.fought, &folding.count, err);
    folding.folds = calloc(folding.count + 1, sizeof(struct fold *));
    code = code || folding.folds ? code : error_memory(err);
    code = code ? code
                : hub_fought_read(hub, folding.fought, folding.count, take_entries, &folding, err);
    for (size_t i = 0; i < folding.count && !code; i++) {
        code = add_bout(out, &folding, i, err);
    }
    for (size_t i = 0; i < folding.count && folding.folds; i++) {
        fold_free(folding.folds[i]);
    }
    free(folding.folds);
    hub_fought_free(folding.fought, folding.count);
    return code;
}

int hub_command_history(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json"};
    static int (*const writers[])(struct buf *, const struct history *,
                                  struct error *) = {history_table, history_json};
    const char *others[1] = {NULL};
    const char *format = "table", *uri = NULL;
    const struct cli_option options[] = {
        {"--format", &format, NULL}, {"--hub", &uri, NULL}, {NULL, NULL, NULL}};
    struct history history = {.count = 0};
    struct hub *hub = NULL;
    struct buf out = BUF_INIT;
    char name[96] = "";
    int count = 0, choice = 0;
    int code = cli_words(call, options, others, 1, &count, err);
    if (!code && count == 0) {
        code = error_set(err, ERROR_USAGE, "history FIGHTER is needed");
    }
    code = code ? code : cli_choice(&choice, "--format", format, formats, 2, err);
    code = code ? code : hub_open(&hub, uri, HUB_READ, err);
    code = code ? code : hub_fighter_find(hub, others[0], name, err);
    code = code ? code : make_history(&history, hub, name, err);
    code = code ? code : writers[choice](&out, &history, err);
    code = code ? code : cli_write(NULL, out.text, out.size, err);
    buf_release(&out);
    history_release(&history);
    hub_close(hub);
    return code;
}

int hub_command_same(const struct call *call, struct error *err)
{
    const char *words[3] = {NULL};
    const char *by = NULL;
    bool not_same = false;
    const struct cli_option options[] = {
        {"--by", &by, NULL}, {"--not", NULL, &not_same}, {NULL, NULL, NULL}};
    struct hub *hub = NULL;
    struct buf out = BUF_INIT;
    int count = 0;
    int code = cli_words(call, options, words, 3, &count, err);
    if (!code && count != 1 && (count != 3 || !by || !*by)) {
        code = error_set(err, ERROR_USAGE,
                         "hub same URI, or hub same URI NAME OTHER --by WHO is needed");
    }
    code = code ? code : hub_open(&hub, words[0], count == 1 ? HUB_READ : HUB_WRITE, err);
    if (!code && count == 1) {
        code = hub_same_list(hub, &out, err);
        code = code || !out.size ? code : cli_write(NULL, out.text, out.size, err);
    } else if (!code) {
        code = hub_same_say(hub, words[1], words[2], !not_same, by, err);
    }
    buf_release(&out);
    hub_close(hub);
    return code;
}
