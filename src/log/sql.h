/* sql.h: the connection behind a struct log: named statements, transactions, plain-words errors.
 * For src/log only.
 */
#ifndef RINGTALLY_LOG_SQL_H
#define RINGTALLY_LOG_SQL_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

#include <sqlite3.h>

#include "ringtally/base/digest.h"
#include "ringtally/log/exchange.h"
#include "ringtally/log/log.h"

enum sql {
    SQL_BEGIN_READ,
    SQL_BEGIN,
    SQL_COMMIT,
    SQL_ROLLBACK,
    SQL_DATA_VERSION,
    SQL_CARD_SAVE,
    SQL_CARD_GET,
    SQL_CARD_NEWEST,
    SQL_CARD_IDS,
    SQL_CARD_BOUTS,
    SQL_BOUT_SAVE,
    SQL_BOUT_GET,
    SQL_BOUT_DELETE,
    SQL_BOUT_DELETE_DESKS,
    SQL_BOUT_ENTRIES,
    SQL_BOUT_NEWEST,
    SQL_CORNER_SAVE,
    SQL_CORNER_GET,
    SQL_FIGHTER_THERE,
    SQL_FIGHTER_NAMES,
    SQL_FIGHTER_BOUTS,
    SQL_FORMER_BOUTS,
    SQL_JUDGE_DELETE,
    SQL_JUDGE_SAVE,
    SQL_JUDGE_GET,
    SQL_DESK_SAVE,
    SQL_DESK_GET,
    SQL_DESK_NAMES,
    SQL_DESK_BY_UID,
    SQL_ENTRY_SAVE,
    SQL_ENTRY_FIND,
    SQL_ENTRY_PAIR,
    SQL_ENTRY_SAME,
    SQL_ENTRY_ALL,
    SQL_ENTRY_NEWS,
    SQL_CHAIN_ROWS,
    SQL_CHAIN_DESK,
    SQL_CHAIN_SET,
    SQL_CHAIN_DESKS,
    SQL_CHAIN_BOUTS,
    SQL_SEAL_BOUT,
    SQL_SEAL_DESKS,
    SQL_SEAL_NAME,
    SQL_SEAL_SIGN,
    SQL_SEAL_UPTO,
    SQL_SEAL_SAVE,
    SQL_SEAL_THERE,
    SQL_SEAL_GET,
    SQL_ENTRY_LAST,
    SQL_ENTRY_BEFORE,
    SQL_DESK_UNTIL,
    SQL_NEWEST,
    SQL_BOUTS_SINCE,
    SQL_BOUT_NAME,
    SQL_CHECK_FILE,
    SQL_CHECK_REFERENCES,
    SQL_CHECK_NAMES,
    SQL_CHECK_TOTALS,
    SQL_CHECK_STRIKES,
    SQL_UNITE,
    SQL_UNITED,
    SQL_COUNT
};

/* Which files a connection works on. */
struct log_file {
    dev_t device; /* of the database */
    ino_t inode;
    off_t size; /* at the last look: a log never shrinks */
    dev_t wal_device;
    ino_t wal_inode; /* of its WAL; 0: there was none yet */
};

/* Where a desk's chain has come to, so that the next entry need not look. */
struct chain_head {
    int64_t desk, seq; /* desk 0: not known */
    uint8_t digest[32];
};

struct log {
    sqlite3 *db;
    char *path;
    char *file; /* where links led; beside it are the WAL and the files of locks and signs */
    struct log_file found;              /* what was opened */
    sqlite3_stmt *statement[SQL_COUNT]; /* prepared at first use */
    int64_t until;          /* the highest arrival that is read; 0: no limit, -1: none is */
    int refused;            /* what SQLite answered where opening failed */
    struct chain_head head; /* of what this connection put in last */
    int wal_pages;          /* in the WAL file; kept where log_hold was called */
    int (*rules_known)(const struct bout *bout, struct error *err); /* NULL: not asked */
    int claim_fd;                                                   /* FILE.desks; -1: not opened */
    int sign_fd;                                                    /* FILE.signs; -1: not opened */
    int64_t *claims; /* desk ids that this process holds */
    int claim_count;
};

/* "FILE: reason" from what SQLite says about the connection; returns its code. */
int sql_fail(const struct log *log, struct error *err);
/* Makes `err` of a SQLite result. */
int sql_fail_code(const char *path, int result, const char *detail, struct error *err);

/* The statement, with its parameters bound as `format` says: d int, l int64_t, s text, b bytes and
 * their number as an int (NULL: SQL NULL). NULL on error. */
sqlite3_stmt *sql_query(struct log *log, enum sql id, struct error *err, const char *format, ...);
/* 1: a row is there; 0: no more; <0: an error. After the last two the statement is reset. */
int sql_next(struct log *log, sqlite3_stmt *statement, struct error *err);
/* Runs to the end. */
int sql_run(struct log *log, enum sql id, struct error *err, const char *format, ...);
/* Runs a text of several statements that is not in the table. */
int sql_script(struct log *log, const char *text, struct error *err);

/* The text of a column into out[size], fit to be shown: of what no text of ours can hold (control
 * characters, bytes that are no UTF-8) '?' is left, and it ends at a character. */
void sql_text(char *out, size_t size, sqlite3_stmt *statement, int column);

/* A writing transaction (BEGIN IMMEDIATE), and a reading one: all reads see one state. */
int sql_begin(struct log *log, struct error *err);
int sql_begin_read(struct log *log, struct error *err);
/* Commits where `code` is 0, else rolls back. Returns code, or why the commit failed. */
int sql_end(struct log *log, int code, struct error *err);

#define PORTABLE_VERSION 2 /* 1: entries without prior, no seals */

#define CHAIN_ENTRY "ringtally entry 1"
#define CHAIN_DESK  "ringtally desk 1"

extern const char *const log_corners_words[4]; /* what a desk tags, as the table says it */

struct digest;
/* Feeds what an entry says, behind its name and prior, in the order of the columns. */
void log_entry_feed(struct digest *digest, const struct desk_row *desks, const struct entry *entry);

/* Inside the caller's transaction. */
/* A card without its bouts. ERROR_MISSING: there is none of that id. */
int log_card_head(struct log *log, const char *id, struct card *out, struct error *err);
int log_card_there(struct log *log, const char *id, bool *out, struct error *err);
/* out->id is 0 where there is no such bout. */
int log_bout_get(struct log *log, const char *card, int number, struct bout *out,
                 struct error *err);
/* *id = 0: no such desk. */
int log_desk_find(struct log *log, const char *uid, int64_t *id, int64_t *bout, struct error *err);
int log_bout_put(struct log *log, const struct bout *bout, const struct card_change *change,
                 int64_t *id, struct error *err);
int log_card_put(struct log *log, const struct card *card, const struct card_change *change,
                 struct error *err);
/* `from` = where the entry comes from, for the message that it is not what is there already; NULL:
 * it is made here, and whatever digest it was copied with is replaced. */
int log_entry_put(struct log *log, const struct desk_row *desks, const struct entry *entry,
                  const char *from, bool *added, struct error *err);
/* Refuses an entry that is there and says something else; its desk is there. */
int log_entry_check(struct log *log, const struct desk_row *desks, const struct entry *entry,
                    const char *from, struct error *err);
int log_desk_put(struct log *log, int64_t bout, struct desk_row *desk, int64_t continues,
                 struct error *err);

/* Puts in what is not there yet, inside the caller's transaction; *added = entries that were new.
 * Two different entries of one name, a desk of another bout, a bout under other rules, a broken
 * link or seal refuse the whole. */
int union_put(struct log *log, struct union_part *part, size_t *added, struct error *err);

/* Opens a file beside the database ("FILE.desks"), who may read it as who may read the database;
 * never through a link. -1, and errno. */
int log_open_beside(struct log *log, const char *end, int flags);

/* The step that leads to `version`: schema/NNN-*.sql; NULL: there is none. */
const struct embedded *schema_step(int version);
int schema_newest(void);
/* Whether tables, indexes and triggers are those that the steps up to `version` make, to the
 * letter. */
int schema_check(struct log *log, int version, struct error *err);
/* The digest of these, 0 or -1; and of what the newest version's steps make, which a test holds. */
int schema_digest(char out[DIGEST_TEXT], sqlite3 *db);
extern const char schema_made[DIGEST_TEXT];

/* Notes which files the connection works on, once it has read. */
void log_note_file(struct log *log);
/* Whether a file that stands at `path` is that one. */
int log_same_file(const char *path, const struct log_file *wanted, struct error *err);
/* The path at which log_check failed is not this connection's any more: what its WAL holds is moved
 * into the file that was opened, wherever that is now, so that no WAL is left to be taken for
 * another database's; then it writes nothing more, closing included. */
void log_let_go(struct log *log);

/* From now on the WAL is moved into the database only by log_move. */
void log_hold(struct log *log);
/* Moves the WAL into the database where it has grown enough, without waiting for readers. `idle`:
 * nothing waits to be written, so less of it is enough. */
int log_move(struct log *log, bool idle, struct error *err);

#endif
