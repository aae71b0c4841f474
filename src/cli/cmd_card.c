/* cmd_card.c: `ringtally card`: a new card, loading, showing. */
#include "cli/cmd_card.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cli/cmd_history.h"
#include "ringtally/bout/cautions.h"
#include "ringtally/base/buf.h"
#include "ringtally/base/embedded.h"
#include "ringtally/base/file.h"
#include "ringtally/base/ini.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "ringtally/sheet/sheet.h"

int card_check_rules(const struct bout *bout, struct error *err)
{
    struct rules rules;
    struct error why = {0};
    int code = data_bout_rules(&rules, bout, &why);
    return code ? error_set(err, code, "bout %d: %s", bout->number, why.text) : 0;
}

/* All that is wrong with the file, a line each. */
static int find_faults(struct buf *faults, struct card *card, const char *text, size_t size,
                       const char *file, struct error *err)
{
    int code = card_parse_all(card, text, size, file, faults, err);
    for (int i = 0; !code && i < card->bouts; i++) {
        struct error why = {0};
        struct error placed = {0};
        if (card->bout[i].rules[0] && card_check_rules(&card->bout[i], &why)) {
            ini_fail(&(struct ini_place){file, card->bout[i].line}, &placed, "%s", why.text);
            ini_fault(faults, placed.text);
        }
    }
    return !code && faults->failed ? error_memory(err) : code;
}

static int fault_count(const struct buf *faults)
{
    int lines = 0;
    for (size_t i = 0; i < faults->size; i++) {
        lines += faults->text[i] == '\n';
    }
    return lines;
}

/* The card as it was: what is logged on a fighter who goes is noted. */
static int read_former(struct card *out, struct log *log, const char *id, struct error *err)
{
    struct error why = {0};
    int code = log_card_get(log, id, out, &why);
    return code == 0 || code == ERROR_MISSING ? 0 : error_set(err, code, "%s", why.text);
}

void card_note_name(char out[NOTE_NAME], const char *name)
{
    char fitted[NOTE_NAME];
    text_fit(fitted, sizeof fitted, name, NOTE_COLUMNS, false);
    if (!text_clean(out, NOTE_NAME, fitted)) { /* drops the padding */
        out[0] = '\0';
    }
}

int card_note_replaced(const struct card_call *call, const struct bout *before,
                       const struct bout *after, struct error *err)
{
    int code = 0;
    for (int corner = 0; corner < CORNER_COUNT && !code; corner++) {
        const char *was = before->fighter[corner].name;
        const char *is = after->fighter[corner].name;
        struct reading reading = {0};
        struct entry entry = {.kind = ENTRY_NOTE};
        char ref[64];
        char old[NOTE_NAME];
        char fresh[NOTE_NAME];
        if (!fighter_is_other(was, is)) {
            continue;
        }
        snprintf(ref, sizeof ref, "%s/%d", after->card, after->number);
        card_note_name(old, was);
        card_note_name(fresh, is);
        snprintf(entry.text, sizeof entry.text, "card: %s is %s, was %s", corner_names[corner],
                 fresh, old);
        code = reading_open(&reading, call->call->db, ref, 0, err);
        if (!code) {
            code = data_append(call->call->db, &reading, cli_operator(call->operator_), &entry, 1,
                               err);
        }
        reading_release(&reading);
    }
    return code;
}

/* Bouts on which entries are logged and a corner is another's now: refused where the record is
 * signed, noted where it is not. */
static int each_replaced(const struct card_call *call, struct log *log, const struct card *former,
                         const struct card *card, bool note, struct error *err)
{
    int code = 0;
    for (int i = 0; i < former->bouts * card->bouts && !code; i++) {
        const struct bout *before = &former->bout[i / card->bouts];
        const struct bout *after = &card->bout[i % card->bouts];
        struct bout_state state;
        bool other = false;
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            other = other ||
                    fighter_is_other(before->fighter[corner].name, after->fighter[corner].name);
        }
        if (before->number != after->number || !other) {
            continue;
        }
        code = data_bout_state(&state, log, before, err);
        if (!code && note && state.entries > 0) {
            code = card_note_replaced(call, before, after, err);
        } else if (!code && state.signer[0]) {
            code = error_set(err, ERROR_FAILED, "bout %s/%d is signed, by %s: reopen it first",
                             before->card, before->number, state.signer);
        }
    }
    return code;
}

static int load(const struct card_call *call, struct error *err)
{
    const char *file = call->words[1];
    const struct card_change change = {call->leaving, data_bout_rounds};
    struct card card = {0};
    struct card former = {0};
    struct log *log = NULL;
    struct buf faults = BUF_INIT;
    char *text = NULL;
    size_t size = 0;
    int code = file_read(&text, &size, file, err);
    code = code ? code : find_faults(&faults, &card, text, size, file, err);
    int wrong = fault_count(&faults);
    if (!code && wrong == 1) {
        code = error_set(err, ERROR_FAILED, "%.*s", (int)faults.size - 1, faults.text);
    } else if (!code && wrong > 1) {
        fputs(faults.text, stderr);
        code = error_set(err, ERROR_FAILED, "%s: %d things are wrong; nothing was loaded", file,
                         wrong);
    }
    code = code ? code : data_log_open(&log, call->call->db, LOG_CREATE, err);
    code = code ? code : read_former(&former, log, card.id, err);
    code = code ? code : each_replaced(call, log, &former, &card, false, err);
    code = code ? code : log_card_replace(log, &card, &change, err);
    if (!code) {
        printf("card %s: %d %s in %s\n", card.id, card.bouts, card.bouts == 1 ? "bout" : "bouts",
               log_path(log));
        code = each_replaced(call, log, &former, &card, true, err);
    }
    log_close(log);
    card_release(&card);
    card_release(&former);
    buf_release(&faults);
    free(text);
    return code;
}

static int show(const struct card_call *call, bool json, struct error *err)
{
    struct card card = {0};
    struct log *log = NULL;
    struct bout_state *states = NULL;
    struct buf out = BUF_INIT;
    int code = data_log_open(&log, call->call->db, LOG_READ, err);
    code = code ? code : log_card_get(log, call->id, &card, err);
    if (!code && card.bouts > 0) {
        states = calloc((size_t)card.bouts, sizeof *states);
        code = states ? 0 : error_memory(err);
    }
    for (int i = 0; i < card.bouts && !code; i++) {
        code = data_bout_state(&states[i], log, &card.bout[i], err);
    }
    if (!code) {
        code = json ? card_json(&out, &card, states, err) : card_table(&out, &card, states, err);
    }
    if (!code && call->history) {
        code = cli_history_pairs(&out, log, &card, err);
        buf_adds(&out, "\n");
        buf_add_wrapped(&out, caution_history, 0, 80);
    }
    if (!code) {
        code = cli_write(NULL, out.text, out.size, err);
    }
    buf_release(&out);
    free(states);
    log_close(log);
    card_release(&card);
    return code;
}

/* The template with the day and the rule sets put in. */
static void fill_template(struct buf *out, const char *text)
{
    char day[16] = "";
    time_t now = (time_t)(when_now() / 1000);
    struct tm local = {0};
    struct buf rules = BUF_INIT;
    cli_rules_names(&rules);
    if (localtime_r(&now, &local)) {
        strftime(day, sizeof day, "%Y-%m-%d", &local);
    }
    const struct {
        const char *mark, *text;
    } marks[] = {{"@DATE@", day}, {"@RULES@", rules.text ? rules.text : ""}};
    for (const char *at = text; *at;) {
        size_t step = strcspn(at, "@");
        buf_add(out, at, step);
        at += step;
        size_t skip = *at == '@';
        for (size_t i = 0; i < sizeof marks / sizeof *marks && *at; i++) {
            if (strncmp(at, marks[i].mark, strlen(marks[i].mark)) == 0) {
                buf_adds(out, marks[i].text);
                skip = strlen(marks[i].mark);
            }
        }
        at += skip;
    }
    out->failed = out->failed || rules.failed;
    buf_release(&rules);
}

static int new_card(const struct card_call *call, struct error *err)
{
    const struct embedded *template = embedded_find("card.ini");
    struct buf out = BUF_INIT;
    int code = 0;
    if (!template) {
        return error_set(err, ERROR_FAILED, "the template is not built in");
    }
    if (call->out && access(call->out, F_OK) == 0) {
        return error_set(err, ERROR_FAILED, "%s is there already", call->out);
    }
    fill_template(&out, template->data);
    code = out.failed ? error_memory(err) : cli_write(call->out, out.text, out.size, err);
    buf_release(&out);
    return code;
}

/* --replace may be said for each of several: taken out of the words before the rest is read. */
static int take_leaving(struct card_call *out, char **words, int *count, struct error *err)
{
    int named = 0;
    int kept = 0;
    for (int i = 0; i < *count; i++) {
        if (strcmp(words[i], "--replace") != 0) {
            words[kept++] = words[i];
        } else if (i + 1 == *count) {
            return error_set(err, ERROR_USAGE, "--replace needs a value");
        } else if (named == LEAVING_MAX) {
            return error_set(err, ERROR_USAGE, "--replace more than %d times", LEAVING_MAX);
        } else {
            out->leaving[named++] = words[++i];
        }
    }
    *count = kept;
    return 0;
}

int command_card(const struct call *call, struct error *err)
{
    static const char *const formats[] = {"table", "json"};
    struct card_call card = {.format = "table", .id = ""};
    struct call rest = *call;
    const struct cli_option options[] = {{"--format", &card.format, NULL},
                                         {"--card", &card.id, NULL},
                                         {"--operator", &card.operator_, NULL},
                                         {"-o", &card.out, NULL},
                                         {"--history", NULL, &card.history},
                                         {"--yes", NULL, &card.yes},
                                         {NULL, NULL, NULL}};
    int json = 0;
    int code = take_leaving(&card, rest.words, &rest.count, err);
    code = code ? code : cli_words(&rest, options, card.words, 2, &card.count, err);
    if (code) {
        return code;
    }
    card.call = &rest;
    const char *what = card.count > 0 ? card.words[0] : "";
    if (card.count == 1 && strcmp(what, "new") == 0) {
        return new_card(&card, err);
    }
    if (card.count == 1 && strcmp(what, "show") == 0) {
        code = cli_choice(&json, "--format", card.format, formats, 2, err);
        if (!code && card.history && json) {
            code = error_set(err, ERROR_USAGE,
                             "--history goes with the table; history FIGHTER "
                             "--format json is for machines");
        }
        return code ? code : show(&card, json, err);
    }
    static const struct {
        const char *name;
        int (*run)(const struct card_call *call, struct error *err);
    } acts[] = {{"load", load}, {"edit", card_edit}, {"swap", card_swap}, {"drop", card_drop}};
    for (size_t i = 0; i < sizeof acts / sizeof *acts; i++) {
        if (card.count == 2 && strcmp(what, acts[i].name) == 0) {
            return acts[i].run(&card, err);
        }
    }
    return error_set(err, ERROR_USAGE,
                     "card new, card load FILE, card show, card edit BOUT, card swap BOUT or card "
                     "drop BOUT is needed; card --help says more");
}
