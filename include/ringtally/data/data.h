/* data.h: a bout with all that belongs to it: the one way to its database, its rules with the terms
 * it differs by, its fold at a moment, a desk of one's own, entries from outside a console.
 *
 * Whoever needs a bout's rules asks here; rules_parse alone knows nothing of a bout's terms.
 */
#ifndef RINGTALLY_DATA_DATA_H
#define RINGTALLY_DATA_DATA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/rules.h"
#include "ringtally/data/air.h"
#include "ringtally/log/log.h"
#include "ringtally/tally/records.h"
#include "ringtally/sheet/sheet.h"

/* Opens the database; `db` NULL: the default one. */
int data_log_open(struct log **out, const char *db, enum log_mode mode, struct error *err);

/* Where the user's own data file or folder of that name would be; "" where there can be none. */
void data_own_path(char *out, size_t size, const char *name);
/* What a user wants of a desk: ringtally/desk.ini under $XDG_CONFIG_HOME, all yes without it. */
struct desk_settings {
    bool bell, flash; /* [alarm] bell, flash = yes|no */
};
int data_settings(struct desk_settings *out, struct error *err);

/* Reads FOLDER/ID.ini: the user's own file under $XDG_CONFIG_HOME/ringtally/ comes before the
 * built-in one. *text is malloc'd; `file` becomes its name for messages. */
int data_file(char **text, size_t *size, char file[4096], const char *folder, const char *id,
              struct error *err);
/* A rule set by its name. */
int data_rules(struct rules *out, const char *id, struct error *err);
/* The rule set of a bout, with the terms that it differs by. */
int data_bout_rules(struct rules *out, const struct bout *bout, struct error *err);
/* The same for many bouts in turn, whose rules are mostly the same: read again only where they
 * differ. Begin with {.known = false}; kept->rules holds until the next call. */
struct rules_kept {
    struct bout of;
    struct rules rules;
    bool known;
};
int data_keep_rules(struct rules_kept *kept, const struct bout *bout, struct error *err);
/* Its rounds by these; ROUND_MAX where its rules are not known here. */
int data_bout_rounds(const struct bout *bout);

/* How a bout stands: what is tagged, which desks are open, who signed it, what was announced. */
int data_bout_state(struct bout_state *out, struct log *log, const struct bout *bout,
                    struct error *err);

/* A bout as it stands, and all that a sheet speaks of. */
struct reading {
    struct log *log;
    struct card card;
    struct bout bout;
    struct rules rules;
    struct fold *fold; /* what is told: all, but for what `air` keeps back */
    struct desk_sign *signs;
    struct air *air; /* NULL: nothing is kept back */
    struct gate_state gate;
    struct seal_state seal; /* where it is signed */
    struct sheet_view view;
    struct former former; /* after reading_former */
};

/* What the last FORMER_MOST bouts before this one have most of, and all of either fighter: of bouts
 * that are over, by official strikes. One bout costs about a millisecond. Released by
 * former_release. */
#define FORMER_MOST 200
int data_former(struct former *out, struct log *log, const struct bout *bout, struct error *err);

/* Opens the database read-only and folds the bout. `round` 0: the whole bout. Release it in any
 * case. */
int reading_open(struct reading *out, const char *db, const char *ref, int round,
                 struct error *err);
/* The same as it goes on air. */
int reading_open_air(struct reading *out, const char *db, const char *ref, int round,
                     struct air *air, struct error *err);
/* Folds the bout anew. On error what was read before stays. */
int reading_refresh(struct reading *reading, struct error *err);
/* Only the moment and the signs of life anew. */
int reading_look(struct reading *reading, struct error *err);
/* Reads the former bouts, once, so that remarks can speak of records. */
int reading_former(struct reading *reading, struct error *err);
void reading_release(struct reading *reading);

/* A new desk row of an operator on a bout, at the end of the table that log_desks gives; *self =
 * its index. Continues the operator's former desk of the same corners and role where nobody is at
 * it. Claimed for this process. */
struct desk_open {
    const char *operator_;
    uint8_t corners;
    bool shadow;
    bool recording; /* it tags from one: a chain of its own, named OPERATOR-rec */
};
int data_desk_open(struct log *log, const struct bout *bout, const struct desk_open *how,
                   struct desk_row **desks, int *count, int *self, struct error *err);
/* Appends entries to the bout of `reading`, from a desk of the operator's own that is official for
 * nothing. Sets name, subject, utc_ms and the time on the round clock, and round and at_ms where
 * those are 0. */
int data_append(const char *db, const struct reading *reading, const char *operator_,
                struct entry *entries, size_t entry_count, struct error *err);
/* The same for one entry that signs the record, with its seal; `keys` NULL: unkeyed. */
int data_sign(const char *db, const struct reading *reading, const char *operator_,
              struct entry *entry, const struct keypair *keys, struct error *err);

#endif
