/* hub_link.h: the connection behind a struct hub: named statements, deadlines, errors in one line.
 * For src/hub only.
 */
#ifndef RINGTALLY_HUB_HUB_LINK_H
#define RINGTALLY_HUB_HUB_LINK_H

#include <stddef.h>
#include <stdint.h>

#include <libpq-fe.h>

#include "ringtally/base/buf.h"
#include "ringtally/hub/hub.h"

/* In the order in which hub_entry.c writes them. */
#define ENTRY_COLUMNS                                                                              \
    "desk, seq, utc_ms, at_ms, kind, act, code, subject_desk, subject_seq, undoes_desk, "          \
    "undoes_seq, round, elapsed_ms, off_clock, review, accepted, unsure, corner, limb, target, "   \
    "stance, position, outcome, spinning, jumping, knockdown, value, text, prior"

/* In the order in which it reads them, all but the digest, which only a log needs. What is mostly
 * all false comes as one number, or as nothing: a server spends most of a long answer on writing
 * out columns. */
#define ENTRY_CONTENT                                                                              \
    "desk, seq, utc_ms, at_ms, kind, act, code, subject_desk, subject_seq, undoes_desk, "          \
    "undoes_seq, round, elapsed_ms, corner, limb, target, stance, position, outcome, value, "      \
    "text, "                                                                                       \
    "CASE WHEN off_clock OR review OR accepted OR unsure OR spinning OR jumping OR knockdown "     \
    "THEN off_clock::int + 2 * review::int + 4 * accepted::int + 8 * unsure::int + "               \
    "16 * (spinning IS TRUE)::int + 32 * (jumping IS TRUE)::int + "                                \
    "64 * (knockdown IS TRUE)::int END"
#define ENTRY_FIELDS 22 /* of ENTRY_CONTENT */

enum hub_sql {
    HUB_THERE,
    HUB_VERSION,
    HUB_CARD_SAVE,
    HUB_CARD_GET,
    HUB_BOUT_SAVE,
    HUB_BOUT_GET,
    HUB_BOUT_LIST,
    HUB_BOUT_RAISE,
    HUB_CORNER_SAVE,
    HUB_CORNER_GET,
    HUB_JUDGE_SAVE,
    HUB_JUDGE_GET,
    HUB_DESK_SAVE,
    HUB_DESK_GET,
    HUB_RUNS,
    HUB_ENTRY_SAVE,
    HUB_ENTRY_SINCE,
    HUB_ENTRY_NAMED,
    HUB_SEAL_SAVE,
    HUB_SEAL_GET,
    HUB_CARD_NEWEST,
    HUB_STANDBY,
    HUB_FIGHTER_SAME,
    HUB_FIGHTER_LIKE,
    HUB_FIGHTER_NAMES,
    HUB_FIGHTER_BOUTS,
    HUB_FIGHTER_DESKS,
    HUB_SAME_LIST,
    HUB_SAME_SAVE,
    HUB_SQL_COUNT
};

struct hub {
    PGconn *conn;
    char name[256];
    uint8_t runs[HUB_SQL_COUNT]; /* 1: it ran; 2: it is prepared */
    bool (*idle)(void *user); /* while an answer is waited for, each second and at a signal; false:
                                 the wait ends. May be NULL */
    void *idle_user;
    bool refuses; /* the last error was the server's word on what this role may do or what the
                     schema is: no other bout would be spared */
};

/* Runs a statement with its parameters (as text; NULL: SQL NULL) and waits for the answer. NULL on
 * error, whose code link_failed tells (`err` is not NULL here); else the caller clears it. One that
 * runs again is prepared: a command that asks once does not go there twice. */
PGresult *link_run(struct hub *hub, enum hub_sql id, const char *const *values, struct error *err);
int link_failed(const struct error *err);
/* Runs a text of one or more statements. */
int link_script(struct hub *hub, const char *text, struct error *err);
/* BEGIN; and COMMIT where `code` is 0, else ROLLBACK. Returns code, or why the commit failed. */
int link_begin(struct hub *hub, struct error *err);
int link_end(struct hub *hub, int code, struct error *err);
/* Runs a query as COPY and gives each row to `take` while the server still reads on: its columns as
 * text (NULL: SQL NULL), `columns` of them, good until it returns. Ends with the first that `take`
 * refuses. */
typedef int link_take(void *user, const char *const *row, struct error *err);
int link_copy(struct hub *hub, const char *query, int columns, link_take *take, void *user,
              struct error *err);
/* For link_copy: the last of the answers to what was sent, or the beginning of a copy, NULL on
 * error; and waits until more came from the server. */
PGresult *link_answer(struct hub *hub, struct error *err);
int link_more(struct hub *hub, struct error *err);
int link_cut(struct hub *hub, struct error *err); /* the error that libpq has words for */
/* Waits for a notification of what others did, or for `ms`; 0: takes what was read already. 1: one
 * came, its payload is in out[size]; 0: none. */
int link_wait(struct hub *hub, int ms, char *out, size_t size, struct error *err);

/* Refuses a server without the schema, or with another version than this program's. */
int hub_check_version(struct hub *hub, struct error *err);

/* A column as a number (NULL: 0), a flag; as a text fit to be shown, false where it was too long.
 */
int64_t link_number(const PGresult *rows, int row, int column);
bool link_flag(const PGresult *rows, int row, int column);
bool link_text(char *out, size_t size, const PGresult *rows, int row, int column);
/* The same of a column in hand. */
int64_t field_number(const char *field);
bool field_flag(const char *field);
bool field_text(char *out, size_t size, const char *field);

/* Bytes as PostgreSQL writes them ("\x0f..."): adds them; and reads a column that holds just so
 * many, false where it does not. */
void add_bytes(struct buf *out, const unsigned char *bytes, size_t size);
bool link_bytes(unsigned char *out, size_t size, const PGresult *rows, int row, int column);

/* Adds an element to the text of an array. */
void array_text(struct buf *array, const char *text); /* NULL: null */
void array_number(struct buf *array, int64_t number);
void array_end(struct buf *array);

#endif
