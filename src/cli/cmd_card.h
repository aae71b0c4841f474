/* cmd_card.h: what the files of `ringtally card` share. */
#ifndef RINGTALLY_CLI_CARD_H
#define RINGTALLY_CLI_CARD_H

#include "cli/cli.h"

#define LEAVING_MAX  16
#define NOTE_NAME    44 /* bytes of a name in a note, which has room for two */
#define NOTE_COLUMNS 30

/* The words of the call behind `card`. */
struct card_call {
    const struct call *call;
    const char *words[2]; /* what to do, and on what */
    int count;
    const char *format, *id, *operator_, *out;
    bool history, yes;
    const char *leaving[LEAVING_MAX + 1]; /* --replace; ends with NULL */
};

/* Rules must exist, and go with the bout's terms and rounds, before anything is written; the reason
 * without a place. */
int card_check_rules(const struct bout *bout, struct error *err);
/* The name, cut to what a note has room for. */
void card_note_name(char out[NOTE_NAME], const char *name);
/* Notes in the bout's log that a corner's fighter was replaced, for each who was. */
int card_note_replaced(const struct card_call *call, const struct bout *before,
                       const struct bout *after, struct error *err);

int card_edit(const struct card_call *call, struct error *err);
int card_swap(const struct card_call *call, struct error *err);
int card_drop(const struct card_call *call, struct error *err);

#endif
