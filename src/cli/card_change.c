/* card_change.c: `ringtally card edit|swap|drop`: one bout of a card that is loaded. */
#include <stdio.h>
#include <string.h>

#include "cli/cmd_card.h"
#include "ringtally/screen/screen.h"

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
        code = cli_ask(&yes, call->yes, "Swap the corners?", err);
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
        code = cli_ask(&yes, call->yes, question, err);
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

/* What the form works on. */
struct editing {
    const struct card_call *call;
    struct log *log;
    struct bout before; /* as it is in the database; id 0: not there yet */
};

/* Other people over logged strikes: said, and done at the second Enter. */
static int ask_replace(const struct editing *editing, const struct bout *bout, int64_t entries,
                       struct error *err)
{
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const char *was = editing->before.fighter[corner].name;
        const char *is = bout->fighter[corner].name;
        if (entries > 0 && fighter_is_other(was, is)) {
            return error_set(err, ERROR_FAILED,
                             "%lld entries are logged with %s in %s: Enter again gives them to %s",
                             (long long)entries, was, corner_names[corner], is);
        }
    }
    return 0;
}

static int save_bout(void *user, const struct bout *bout, bool again, struct error *err)
{
    struct editing *editing = user;
    const char *const leaving[] = {editing->before.fighter[CORNER_RED].name,
                                   editing->before.fighter[CORNER_BLUE].name, NULL};
    const struct card_change change = {leaving, data_bout_rounds};
    struct bout_state state = {0};
    int code = card_check_rules(bout, err);
    if (!code && editing->before.id) {
        code = data_bout_state(&state, editing->log, &editing->before, err);
    }
    if (!code && !again) {
        code = ask_replace(editing, bout, state.entries, err);
    }
    if (!code && state.signer[0]) {
        code = error_set(err, ERROR_FAILED, "the bout is signed, by %s: reopen it first",
                         state.signer);
    }
    code = code ? code : log_bout_replace(editing->log, bout, &change, err);
    if (!code && state.entries > 0) {
        code = card_note_replaced(editing->call, &editing->before, bout, err);
    }
    return code;
}

/* The bout that is called for; a number that its card has not makes a new one. */
static int find_or_make(struct bout *out, struct log *log, const char *ref, struct error *err)
{
    char id[48];
    int number = 0;
    struct card card = {0};
    struct error why = {0};
    int code = log_bout_find(log, ref, out, &why);
    if (code != ERROR_MISSING) {
        return code ? error_set(err, code, "%s", why.text) : 0;
    }
    code = bout_ref_parse(id, &number, ref, err);
    code = code ? code : log_card_get(log, id, &card, err);
    if (!code) {
        *out = (struct bout){.number = number};
        memcpy(out->card, card.id, sizeof card.id);
        if (card.bouts > 0) { /* an evening has mostly one rule set */
            memcpy(out->rules, card.bout[card.bouts - 1].rules, sizeof out->rules);
        }
    }
    card_release(&card);
    return code;
}

/* The number of the bout that `end` leads to. */
static int next_number(int *out, struct log *log, const struct bout *bout, enum form_end end,
                       struct error *err)
{
    struct card card = {0};
    int code = log_card_get(log, bout->card, &card, err);
    *out = bout->number;
    for (int i = 0; i < card.bouts && !code; i++) { /* by number */
        int number = card.bout[i].number;
        if (end == FORM_NEXT && number > bout->number) {
            *out = number;
            break;
        }
        if (end == FORM_PREVIOUS && number < bout->number) {
            *out = number;
        }
        if (end == FORM_NEW && number >= *out) {
            *out = number + 1;
        }
    }
    card_release(&card);
    return code;
}

/* Goes where the form was left to: false where it was left for good. */
static bool go_on(struct bout *bout, struct log *log, enum form_end end, char *note, size_t size,
                  int *code, struct error *err)
{
    char ref[64];
    int number = 0;
    struct error why = {0};
    if (end == FORM_LEFT || end == FORM_SAVED) {
        return false;
    }
    note[0] = '\0';
    if (end == FORM_DROP) {
        if (bout->id && log_bout_drop(log, bout, &why)) {
            snprintf(note, size, "%s", why.text);
            return true;
        }
        snprintf(note, size, "bout %d is off the card", bout->number);
    }
    *code = next_number(&number, log, bout, end == FORM_DROP ? FORM_PREVIOUS : end, err);
    if (!*code && end == FORM_DROP && number == bout->number) {
        *code = next_number(&number, log, bout, FORM_NEXT, err);
    }
    snprintf(ref, sizeof ref, "%s/%d", bout->card, number);
    *code = *code ? *code : find_or_make(bout, log, ref, err);
    return !*code;
}

int card_edit(const struct card_call *call, struct error *err)
{
    struct editing editing = {.call = call};
    struct buf rules = BUF_INIT;
    struct bout bout;
    char note[512] = "";
    int end = FORM_LEFT;
    int code = data_log_open(&editing.log, call->call->db, LOG_WRITE, err);
    code = code ? code : find_or_make(&bout, editing.log, call->words[1], err);
    cli_rules_names(&rules);
    if (!code && rules.failed) {
        code = error_memory(err);
    }
    code = code ? code : screen_open(err);
    while (!code) {
        editing.before = bout;
        struct form_setup setup = {.rules = rules.text ? rules.text : "",
                                   .is_new = bout.id == 0,
                                   .note = note,
                                   .save = save_bout,
                                   .user = &editing};
        end = screen_bout_form(&bout, &setup, err);
        code = end < 0 ? end : 0;
        if (code || !go_on(&bout, editing.log, (enum form_end)end, note, sizeof note, &code, err)) {
            break;
        }
    }
    screen_close();
    if (!code) {
        printf("bout %s/%d: %s\n", bout.card, bout.number,
               end == FORM_SAVED ? "saved" : "left unchanged");
    }
    buf_release(&rules);
    log_close(editing.log);
    return code;
}
