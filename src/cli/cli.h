/* cli.h: what the commands share. */
#ifndef RINGTALLY_CLI_H
#define RINGTALLY_CLI_H

#include <stdbool.h>
#include <stddef.h>

#include "ringtally/keymap.h"
#include "ringtally/log.h"
#include "ringtally/rules.h"
#include "ringtally/sheet.h"

/* The words of a call behind the command's name. */
struct call {
    const char *self; /* how this program was called: argv[0] */
    char *db;         /* --db, or NULL */
    char **words;
    int count;
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

int cli_log_open(struct log **out, const struct call *call, enum log_mode mode, struct error *err);

/* Rule sets and key maps: the user's own file under $XDG_CONFIG_HOME/ringtally/ comes before the
 * built-in one. */
int cli_rules(struct rules *out, const char *id, struct error *err);
/* The rule set of a bout, with the terms that it differs by. */
int cli_bout_rules(struct rules *out, const struct bout *bout, struct error *err);
int cli_keymap(struct keymap *out, const char *id, struct error *err);

/* Writes to the file (beside, then renamed), or to standard output where path is NULL. */
int cli_write(const char *path, const char *text, size_t size, struct error *err);

/* A bout as it stands, and all that a sheet speaks of. */
struct reading {
    struct log *log;
    struct card card;
    struct bout bout;
    struct rules rules;
    struct fold *fold;
    struct desk_sign *signs;
    struct sheet_view view;
};

/* Opens the database read-only and folds the bout. `round` may be NULL. Release it in any case. */
int reading_open(struct reading *out, const struct call *call, const char *ref, const char *round,
                 struct error *err);
/* Folds the bout anew. On error what was read before stays. */
int reading_refresh(struct reading *reading, struct error *err);
/* Only the moment and the signs of life anew. */
int reading_look(struct reading *reading, struct error *err);
void reading_release(struct reading *reading);
/* Counts as JSON, a line whenever something changed, and a heartbeat line every so many seconds,
 * until standard output is closed. */
int cli_follow(struct reading *reading, int heartbeat_s, struct error *err);

/* A new desk row of an operator on a bout, at the end of the table that log_desks gives; *self =
 * its index. Continues the operator's former desk of the same corners and role where nobody is at
 * it. Claimed for this process. */
struct desk_open {
    const char *operator_;
    uint8_t corners;
    bool shadow;
};
int cli_desk_open(struct log *log, const struct bout *bout, const struct desk_open *how,
                  struct desk_row **desks, int *count, int *self, struct error *err);
/* Appends entries to the bout of `reading`, from a desk of the operator's own that is official for
 * nothing. Sets name, subject, utc_ms and the time on the round clock, and round and at_ms where
 * those are 0. */
int cli_append(const struct call *call, const struct reading *reading, const char *operator_,
               struct entry *entries, size_t entry_count, struct error *err);
/* --operator, else the login name. */
const char *cli_operator(const char *option);

typedef int command(const struct call *call, struct error *err);
command command_history, command_card, command_desk, command_counts, command_sheet, command_log,
    command_export_log, command_import_log, command_merge, command_sign, command_result,
    command_scores, command_reopen, command_callouts, command_agree, command_marks, command_sync,
    command_drop, command_feed;

#endif
