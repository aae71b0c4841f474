/* card_change.c: `ringtally card edit|swap|drop`: one bout of a card that is loaded. */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cli/cmd_card.h"
#include "ringtally/screen/screen.h"

/* True where the answer is yes; without a terminal to ask at, an error says what answers. */
static int ask(bool *out, const struct card_call *call, const char *question, struct error *err)
{
    char answer[16] = "";
    *out = call->yes;
    if (call->yes) {
        return 0;
    }
    if (!isatty(STDIN_FILENO)) {
        return error_set(err, ERROR_FAILED, "%s --yes answers", question);
    }
    printf("%s [y/N] ", question);
    fflush(stdout);
    *out = fgets(answer, sizeof answer, stdin) && (answer[0] == 'y' || answer[0] == 'Y');
    return 0;
}

/* What a swap does, before it is asked for. */
static void tell_swap(const struct bout *bout, const struct bout_state *state)
{
    printf("bout %s/%d: %s goes from red to blue, %s from blue to red.\n", bout->card, bout->number,
           bout->fighter[CORNER_RED].name, bout->fighter[CORNER_BLUE].name);
    if (state->entries > 0) {
        printf("%lld entries are logged: they stay with their corner, so that what red threw (%s "
               "until now) is then %s's.\n",
               (long long)state->entries, bout->fighter[CORNER_RED].name,
               bout->fighter[CORNER_BLUE].name);
    }
    if (state->desks[0]) {
        printf("open at %s: a desk shows the names as they were until it is opened again.\n",
               state->desks);
    }
}

static int note_swap(const struct card_call *call, const struct bout *bout, struct error *err)
{
    char ref[64];
    char red[NOTE_NAME];
    char blue[NOTE_NAME];
    struct reading reading = {0};
    struct entry entry = {.kind = ENTRY_NOTE};
    snprintf(ref, sizeof ref, "%s/%d", bout->card, bout->number);
    card_note_name(red, bout->fighter[CORNER_RED].name);
    card_note_name(blue, bout->fighter[CORNER_BLUE].name);
    snprintf(entry.text, sizeof entry.text, "card: swapped, red is %s, blue is %s", red, blue);
    int code = reading_open(&reading, call->call->db, ref, 0, err);
    if (!code) {
        code = data_append(call->call->db, &reading, cli_operator(call->operator_), &entry, 1, err);
    }
    reading_release(&reading);
    return code;
}

int card_swap(const struct card_call *call, struct error *err)
{
    struct log *log = NULL;
    struct bout bout;
    struct bout_state state;
    bool yes = false;
    int code = data_log_open(&log, call->call->db, LOG_WRITE, err);
    code = code ? code : log_bout_find(log, call->words[1], &bout, err);
    code = code ? code : data_bout_state(&state, log, &bout, err);
    if (!code && state.signer[0]) {
        code = error_set(err, ERROR_FAILED, "bout %s/%d is signed, by %s: reopen it first",
                         bout.card, bout.number, state.signer);
    }
    if (!code) {
        tell_swap(&bout, &state);
        code = ask(&yes, call, "Swap the corners?", err);
    }
    if (!code && yes) {
        code = log_bout_swap(log, &bout, err);
        if (!code && state.entries > 0) {
            code = note_swap(call, &bout, err);
            if (code) { /* not without its note */
                log_bout_swap(log, &bout, NULL);
            }
        }
    }
    if (!code) {
        printf("bout %s/%d: %s\n", bout.card, bout.number, yes ? "swapped" : "left unchanged");
    }
    log_close(log);
    return code;
}

int card_drop(const struct card_call *call, struct error *err)
{
    struct log *log = NULL;
    struct bout bout;
    char question[320];
    bool yes = false;
    int code = data_log_open(&log, call->call->db, LOG_WRITE, err);
    code = code ? code : log_bout_find(log, call->words[1], &bout, err);
    if (!code) {
        snprintf(question, sizeof question, "Take bout %s/%d (%s - %s) off the card?", bout.card,
                 bout.number, bout.fighter[CORNER_RED].name, bout.fighter[CORNER_BLUE].name);
        code = ask(&yes, call, question, err);
    }
    if (!code && yes) {
        code = log_bout_drop(log, &bout, err);
    }
    if (!code) {
        printf("bout %s/%d: %s\n", bout.card, bout.number, yes ? "dropped" : "left unchanged");
    }
    log_close(log);
    return code;
}

int card_edit(const struct card_call *call, struct error *err)
{
    struct log *log = NULL;
    struct bout bout;
    int saved = 0;
    int code = data_log_open(&log, call->call->db, LOG_WRITE, err);
    if (!code) {
        code = log_bout_find(log, call->words[1], &bout, err);
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
        code = card_check_rules(&bout, err);
        code = code ? code : log_bout_save(log, &bout, err);
    }
    if (!code) {
        printf("bout %s/%d: %s\n", bout.card, bout.number, saved ? "saved" : "left unchanged");
    }
    log_close(log);
    return code;
}
