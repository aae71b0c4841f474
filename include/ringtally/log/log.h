/* log.h: the durable log in SQLite: cards, bouts, desks, entries.
 *
 * WAL, synchronous=FULL, foreign keys, STRICT tables; application_id and user_version say whose
 * file it is and how new. A file of another program, a newer version or something that is no
 * database is refused by name. Migrations are schema/NNN-*.sql, one step a version, each in one
 * transaction with its version bump. A `struct log` belongs to one thread at a time.
 */
#ifndef RINGTALLY_LOG_LOG_H
#define RINGTALLY_LOG_LOG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/bout/card.h"
#include "ringtally/bout/entry.h"
#include "ringtally/base/error.h"
#include "ringtally/base/keypair.h"
#include "ringtally/tally/fold.h"

struct log;

enum log_mode {
    LOG_READ,   /* must exist; opened read-only: nothing can be written through it */
    LOG_WRITE,  /* must exist */
    LOG_CREATE, /* made where missing, its folder too */
};

/* `vfs` NULL: SQLite's default. Waits up to 2 s for another writer, then ERROR_BUSY. */
int log_open(struct log **out, const char *path, enum log_mode mode, const char *vfs,
             struct error *err);
void log_close(struct log *log);
/* For a log that lasts no longer than its command: from now on nothing waits for the disk. */
int log_passing(struct log *log, struct error *err);
/* From now on a union (merge, import) asks whether a bout that is not here yet can be counted here,
 * and is refused where that returns an error. */
void log_ask_rules(struct log *log, int (*known)(const struct bout *bout, struct error *err));
/* Closes it; where the files that were opened stand no more at its path, without touching what
 * stands there. */
void log_leave(struct log *log);
/* Whether the files that were opened, the database and its WAL, still stand at its path: 0, or
 * ERROR_LOST and what became of them. */
int log_check(struct log *log, struct error *err);
const char *log_path(const struct log *log);
/* Whether a file of that name is the database itself, or one that stands beside it and belongs to
 * it; or any other database of SQLite's. Such a file is no place to write anything else to. */
bool log_owns(const struct log *log, const char *path); /* log NULL: any database */

/* Where the database is without --db: RINGTALLY_DB, else $XDG_DATA_HOME/ringtally/ringtally.db,
 * else under $HOME. */
int log_default_path(char *out, size_t size, struct error *err);

/* Cards. Saving replaces fields and adds bouts, in one transaction; a bout that the new card leaves
 * out is removed only while it has no entries and no desk is open on it, else the whole save is
 * refused and the bout named. So it is, under logged entries, where the rules change, a fighter
 * changes corners, another person takes a corner, or (by `change`) the rounds become fewer than
 * those that have entries. */
int log_card_save(struct log *log, const struct card *card, struct error *err);
int log_bout_save(struct log *log, const struct bout *bout,
                  struct error *err); /* one bout, same rules */
/* What a change of a card may do under logged entries, and what the log cannot know. */
struct card_change {
    const char *const *leaving; /* who may be replaced; ends with NULL. NULL: nobody */
    /* The rounds of a bout by its rules and terms. NULL: rounds are not looked at. */
    int (*rounds)(const struct bout *bout);
};
int log_card_replace(struct log *log, const struct card *card, const struct card_change *change,
                     struct error *err);
int log_bout_replace(struct log *log, const struct bout *bout, const struct card_change *change,
                     struct error *err);
/* Both fighters change places, whatever is logged: entries belong to a corner. *bout becomes as it
 * then is. */
int log_bout_swap(struct log *log, struct bout *bout, struct error *err);
/* Takes a bout off its card, on the terms of a card that leaves it out. */
int log_bout_drop(struct log *log, const struct bout *bout, struct error *err);
/* Fills *out (released by card_release). id "" = the newest card (loaded last). */
int log_card_get(struct log *log, const char *id, struct card *out, struct error *err);
int log_card_ids(struct log *log, char (**out)[48], size_t *count,
                 struct error *err); /* newest first; caller frees */
/* The bout of "CARDID/NUMBER" or "NUMBER". */
int log_bout_find(struct log *log, const char *ref, struct bout *out, struct error *err);
/* Entries that a bout has. */
int log_bout_entries(struct log *log, int64_t bout, int64_t *out, struct error *err);
/* UTC of its newest entry; 0: it has none. */
int log_bout_newest(struct log *log, int64_t bout, int64_t *out, struct error *err);

/* Desks. Writes a new row; desk->id is set, an empty uid gets random digits, an empty name the
 * operator's (with -2, -3 where that is taken on this bout). `continues` = id of the desk that it
 * goes on from, 0: none. */
int log_desk_new(struct log *log, int64_t bout, struct desk_row *desk, int64_t continues,
                 struct error *err);
/* All desks of the bout, the order of their ids; caller frees *out. The index in it is
 * `entry_name.desk`. */
int log_desks(struct log *log, int64_t bout, struct desk_row **out, int *count, struct error *err);

/* Claims the desk for this process until it ends, however it ends. ERROR_BUSY: another process has
 * it. (A lock on byte `id` of FILE.desks, since the kernel forgets it at kill -9. POSIX drops it
 * also when any other handle of the same process that asked or claimed is closed: claim and ask on
 * one handle.) */
int log_desk_claim(struct log *log, int64_t desk_id, struct error *err);
bool log_desk_is_live(struct log *log, int64_t desk_id);
/* Whether any desk of any bout is open. */
bool log_is_in_use(struct log *log);

/* Entries, all in one transaction, durable when it returns 0. `desks` maps entry desk indexes to
 * ids. An entry without prior gets it (chain.h). */
int log_append(struct log *log, const struct desk_row *desks, const struct entry *entries,
               size_t count, struct error *err);

/* A signature's seal (seal.h): all that the bout holds, the entry that signs it too. */
struct log_sign {
    int64_t bout;
    const struct keypair *keys; /* NULL: unkeyed */
};

/* The same for what a person is told of at once, and with the seal of the first entry, if any:
 * where it fails, it is looked over a new connection whether the entries are there all the same,
 * and then they are made durable, else written once more. 0: they are there. */
int log_append_surely(struct log *log, const struct desk_row *desks, int desk_count,
                      const struct entry *entries, size_t count, const struct log_sign *sign,
                      struct error *err);

/* What is to be written to one bout: its desks, as log_desks gives them and new ones (id 0) behind
 * them, and entries of theirs. */
struct log_part {
    int64_t bout;
    int64_t known; /* entries that the bout had when this was planned */
    struct desk_row *desks;
    int desk_count;
    const struct entry *entries;
    size_t entry_count;
};
/* All of it in one transaction, durable when it returns 0; the new desks get their ids. ERROR_BUSY:
 * a bout has other entries than were known. */
int log_append_parts(struct log *log, struct log_part *parts, int count, struct error *err);

/* How many of these entries the database does not hold just as they are given; desks are found by
 * their uid. */
int log_lacks(struct log *log, const struct desk_row *desks, int desk_count,
              const struct entry *entries, size_t count, size_t *lacking, struct error *err);

/* A number that changes whenever another connection has committed. */
int log_data_version(struct log *log, int64_t *out, struct error *err);

/* The whole bout as it stands: bout, desks, entries, folded. `whose` as for fold_new. *out is freed
 * by fold_free. */
int log_fold(struct log *log, const struct bout *bout, const struct clock_plan *plan, int whose,
             struct fold **out, struct error *err);

/* What a merge brought. */
struct log_merged {
    size_t added;      /* entries that were new */
    int64_t newest_ms; /* UTC of the newest entry in the bouts that brought any; 0: none did */
};
/* Unions the other database's cards, bouts, desks and entries into this one: again and again, in
 * any order, with the same result. A bout that is here already keeps its fields. First all is read
 * and compared, and where two different entries have one name the whole is refused, naming both;
 * then each bout is written in a transaction of its own, so that a desk that writes meanwhile waits
 * for one bout at most. */
int log_merge(struct log *log, struct log *other, struct log_merged *out, struct error *err);

/* Writes its version once more, durably: whether the database takes anything now. */
int log_probe(struct log *log, struct error *err);

/* Copies the whole database, what its WAL holds too, into a new file, which is there whole or not
 * at all. Desks may write meanwhile. */
int log_backup(struct log *log, const char *path, struct error *err);

#endif
