/* cli.h: what the commands share. */
#ifndef RINGTALLY_CLI_H
#define RINGTALLY_CLI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "ringtally/data/data.h"

/* The words of a call behind the command's name. */
struct call {
    const char *self; /* how this program was called: argv[0] */
    char *db;         /* --db, or NULL */
    char **words;
    int count;
    struct air *air; /* how what is read goes on air; NULL: as it is */
};

/* An option of a command: with `value` it takes the next word, else it sets `flag`. */
struct cli_option {
    const char *name; /* "--round" */
    const char **value;
    bool *flag;
};

/* Sorts the words into options and at most `max` others. The table ends with a NULL name. */
int cli_words(const struct call *call, const struct cli_option *options, const char **others,
              int max, int *count, struct error *err);

/* A whole number within low..high out of an option's value. */
int cli_number(int *out, const char *option, const char *value, int low, int high,
               struct error *err);

/* A span "3" or "0.25" (a point in every locale) as milliseconds within low..high. */
int cli_seconds(int32_t *out_ms, const char *option, const char *value, int32_t low_ms,
                int32_t high_ms, struct error *err);

/* Index of `value` in a table of names, else an error that lists them. */
int cli_choice(int *out, const char *option, const char *value, const char *const *names, int count,
               struct error *err);

/* Writes to the file (beside, then renamed), or to standard output where path is NULL. */
int cli_write(const char *path, const char *text, size_t size, struct error *err);

/* The code of a command that shows what it has entered: done is done, whatever became of showing it;
 * that is said, and is no failure. */
int cli_shown(int code, bool entered, struct error *err);

/* The same for what is told of a bout: not over the database, nor over any other. `closed`: what
 * judges wrote may be in it, and a new file is its owner's alone. */
int cli_output(const struct reading *reading, const char *path, bool closed, const char *text,
               size_t size, struct error *err);

/* --hold and --delay, each of which may be NULL. */
int cli_gate(unsigned *holds, int32_t *delay_ms, const char *hold, const char *delay,
             struct error *err);

/* reading_open with the words of a call; `round` may be NULL. */
int cli_reading(struct reading *out, const struct call *call, const char *ref, const char *round,
                struct error *err);
/* Counts as JSON, a line whenever something changed, and a heartbeat line every so many seconds,
 * until standard output is closed. */
int cli_follow(struct reading *reading, int heartbeat_s, struct error *err);

/* --bom: three bytes by which some spreadsheets know UTF-8, before all else. */
void cli_bom(struct buf *out, bool wanted);

/* Text in lines of 80 columns: words of a call and explanations of options hang. */
void usage_print(FILE *out, const char *text);

/* Adds the names of all rule sets there are, with blanks between. */
void cli_rules_names(struct buf *out);

/* True where the answer is yes; without a terminal to ask at, an error says what answers. `yes`: it
 * is answered already. */
int cli_ask(bool *out, bool yes, const char *question, struct error *err);

/* --operator, else the login name. */
const char *cli_operator(const char *option);

/* Hands over to the program of that name, with --db, then `command_` (NULL: none), then the words
 * of the call; returns only where it cannot. */
int cli_launch(const struct call *call, const char *name, const char *command_, struct error *err);

typedef int command(const struct call *call, struct error *err);
command command_history, command_card, command_desk, command_counts, command_sheet, command_log,
    command_export_log, command_import_log, command_merge, command_backup, command_sign,
    command_verify, command_key, command_result, command_scores, command_reopen, command_remarks,
    command_agree, command_practice, command_marks, command_sync, command_drop, command_feed,
    command_hub, command_rules, command_keys, command_move, command_release;

#endif
