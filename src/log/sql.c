/* sql.c: prepared statements, transactions and messages of SQLite. */
#include "log/sql.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"

/* One list serves writing, comparing and reading: log_entry.c binds and reads in this order. */
#define ENTRY_COLUMNS                                                                              \
    "utc_ms, at_ms, kind, act, code, subject_desk, subject_seq, undoes_desk, undoes_seq, round, "  \
    "elapsed_ms, off_clock, review, accepted, unsure, corner, limb, target, stance, position, "    \
    "outcome, spinning, jumping, knockdown, value, text"
#define ENTRY_VALUES                                                                               \
    "?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, "     \
    "?22, ?23, ?24, ?25, ?26, ?27, ?28"

static const char *const texts[SQL_COUNT] = {
    [SQL_BEGIN_READ] = "BEGIN",
    [SQL_BEGIN] = "BEGIN IMMEDIATE",
    [SQL_COMMIT] = "COMMIT",
    [SQL_ROLLBACK] = "ROLLBACK",
    [SQL_DATA_VERSION] = "PRAGMA data_version",

    [SQL_CARD_SAVE] =
        "INSERT INTO card (id, title, date, venue, loaded) "
        "VALUES (?1, ?2, ?3, ?4, (SELECT ifnull(max(loaded), 0) + 1 FROM card)) "
        "ON CONFLICT (id) DO UPDATE SET title = excluded.title, date = excluded.date, "
        "venue = excluded.venue, loaded = excluded.loaded",
    [SQL_CARD_GET] = "SELECT id, title, date, venue FROM card WHERE id = ?1",
    [SQL_CARD_NEWEST] = "SELECT id FROM card ORDER BY loaded DESC LIMIT 1",
    [SQL_CARD_IDS] = "SELECT id FROM card ORDER BY loaded DESC",
    [SQL_CARD_BOUTS] = "SELECT id, number FROM bout WHERE card = ?1 ORDER BY number",

    [SQL_BOUT_SAVE] =
        "INSERT INTO bout (card, number, weight, rules, rounds, referee, terms) "
        "VALUES (?1, ?2, ?3, ?4, nullif(?5, 0), ?6, ?7) "
        "ON CONFLICT (card, number) DO UPDATE SET weight = excluded.weight, "
        "rules = excluded.rules, rounds = excluded.rounds, referee = excluded.referee, "
        "terms = excluded.terms "
        "RETURNING id",
    [SQL_BOUT_GET] = "SELECT id, weight, rules, rounds, referee, terms FROM bout "
                     "WHERE card = ?1 AND number = ?2",
    [SQL_BOUT_DELETE] = "DELETE FROM bout WHERE id = ?1",
    [SQL_BOUT_DELETE_DESKS] = "DELETE FROM desk WHERE bout = ?1",
    [SQL_BOUT_ENTRIES] = "SELECT count(*), ifnull(max(entry.round), 0) FROM desk "
                         "JOIN entry ON entry.desk = desk.id WHERE desk.bout = ?1",
    /* Moments never fall within a desk, so its last entry is its newest. */
    [SQL_BOUT_NEWEST] = "SELECT ifnull(max((SELECT utc_ms FROM entry WHERE desk = desk.id "
                        "ORDER BY seq DESC LIMIT 1)), 0) FROM desk WHERE bout = ?1",
    [SQL_CORNER_SAVE] =
        "INSERT INTO corner (bout, corner, name, short_name, stance, origin, record) "
        "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) "
        "ON CONFLICT (bout, corner) DO UPDATE SET name = excluded.name, "
        "short_name = excluded.short_name, stance = excluded.stance, origin = excluded.origin, "
        "record = excluded.record",
    [SQL_CORNER_GET] =
        "SELECT corner, name, short_name, stance, origin, record FROM corner WHERE bout = ?1",
    [SQL_FIGHTER_THERE] = "SELECT 1 FROM corner WHERE name = ?1 LIMIT 1",
    [SQL_FIGHTER_NAMES] = /* one seek a name, however many bouts it has */
    "WITH RECURSIVE n (name) AS (SELECT min(name) FROM corner UNION ALL "
    "SELECT (SELECT min(name) FROM corner WHERE name > n.name) FROM n WHERE name IS NOT NULL) "
    "SELECT name FROM n WHERE name IS NOT NULL",
    [SQL_FIGHTER_BOUTS] =
        "SELECT bout.card, bout.number, corner.corner, card.title, card.date FROM corner "
        "JOIN bout ON bout.id = corner.bout JOIN card ON card.id = bout.card "
        "WHERE corner.name = ?1 ORDER BY card.date DESC, card.loaded DESC, bout.number DESC",
    [SQL_FORMER_BOUTS] = "SELECT bout.card, bout.number FROM bout JOIN card ON card.id = bout.card "
                         "WHERE (card.date, card.loaded, bout.number) < (SELECT c.date, c.loaded, "
                         "b.number FROM bout "
                         "AS b JOIN card AS c ON c.id = b.card WHERE b.id = ?1) AND "
                         "EXISTS (SELECT 1 FROM desk WHERE desk.bout = bout.id) "
                         "ORDER BY card.date DESC, card.loaded DESC, bout.number DESC LIMIT ?2",
    [SQL_JUDGE_DELETE] = "DELETE FROM judge WHERE bout = ?1",
    [SQL_JUDGE_SAVE] = "INSERT INTO judge (bout, seat, name) VALUES (?1, ?2, ?3)",
    [SQL_JUDGE_GET] = "SELECT name FROM judge WHERE bout = ?1 ORDER BY seat",

    [SQL_DESK_SAVE] =
        "INSERT INTO desk (uid, bout, operator, name, corners, shadow, opened_ms, continues) "
        "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, "
        "(SELECT ifnull(continues, id) FROM desk WHERE id = ?8 AND bout = ?2)) "
        "RETURNING id, continues",
    [SQL_DESK_GET] = "SELECT id, uid, operator, name, corners, shadow, opened_ms, continues "
                     "FROM desk WHERE bout = ?1 ORDER BY id",
    [SQL_DESK_NAMES] = "SELECT count(*) FROM desk WHERE bout = ?1 AND name = ?2",
    [SQL_DESK_BY_UID] = "SELECT id, bout FROM desk WHERE uid = ?1",

    [SQL_ENTRY_SAVE] = "INSERT INTO entry (desk, seq, " ENTRY_COLUMNS
                       ", prior) VALUES (?1, ?2, " ENTRY_VALUES ", ?29)",
    [SQL_ENTRY_FIND] = "SELECT 1 FROM entry WHERE desk = ?1 AND seq = ?2",
    [SQL_ENTRY_PAIR] = "SELECT " ENTRY_COLUMNS ", " ENTRY_VALUES " FROM entry "
                       "WHERE desk = ?1 AND seq = ?2",
    [SQL_ENTRY_SAME] = "SELECT 1 FROM entry WHERE desk = ?1 AND seq = ?2 AND (" ENTRY_COLUMNS
                       ") IS (" ENTRY_VALUES ")",
    [SQL_ENTRY_ALL] = "SELECT arrival, entry.desk, seq, " ENTRY_COLUMNS ", prior FROM desk "
                      "JOIN entry ON entry.desk = desk.id WHERE desk.bout = ?1 AND arrival > ?2 "
                      "AND arrival <= ?3 ORDER BY desk.id, seq",
    [SQL_ENTRY_NEWS] = "SELECT arrival, entry.desk, seq, " ENTRY_COLUMNS ", prior FROM entry "
                       "CROSS JOIN desk ON desk.id = entry.desk "
                       "WHERE arrival > ?2 AND arrival <= ?3 AND desk.bout = ?1 ORDER BY arrival",
    /* As chain.c feeds them: desks by their uid. */
    [SQL_CHAIN_ROWS] =
        "SELECT arrival, (SELECT uid FROM desk WHERE id = entry.desk), seq, prior, utc_ms, at_ms, "
        "kind, act, code, (SELECT uid FROM desk WHERE id = subject_desk), subject_seq, "
        "(SELECT uid FROM desk WHERE id = undoes_desk), undoes_seq, round, elapsed_ms, off_clock, "
        "review, accepted, unsure, corner, limb, target, stance, position, outcome, spinning, "
        "jumping, knockdown, value, text "
        "FROM entry WHERE desk = ?1 AND seq >= ?2 ORDER BY seq",
    [SQL_CHAIN_DESK] = "SELECT uid, card, number, operator, desk.name, corners, shadow, opened_ms, "
                       "(SELECT uid FROM desk AS root WHERE root.id = desk.continues) "
                       "FROM desk JOIN bout ON bout.id = desk.bout WHERE desk.id = ?1",
    [SQL_CHAIN_SET] = "UPDATE entry SET prior = ?2 WHERE arrival = ?1",
    [SQL_CHAIN_DESKS] = "SELECT min(id) FROM desk WHERE id > ?1",
    [SQL_CHAIN_BOUTS] = "SELECT min(bout) FROM desk WHERE bout > ?1 AND "
                        "EXISTS (SELECT 1 FROM entry WHERE entry.desk = desk.id)",
    /* What is said of a bout beside its entries. */
    [SQL_SEAL_BOUT] =
        "WITH b AS (SELECT * FROM bout WHERE id = ?1), c AS (SELECT * FROM card WHERE id = "
        "(SELECT card FROM b)), p AS (SELECT * FROM corner WHERE bout = ?1) "
        "SELECT 1 AS at, 'title' AS what, title AS value FROM c UNION ALL "
        "SELECT 2, 'date', date FROM c UNION ALL SELECT 3, 'venue', venue FROM c UNION ALL "
        "SELECT 4, 'weight', weight FROM b UNION ALL SELECT 5, 'rules', rules FROM b UNION ALL "
        "SELECT 6, 'rounds', ifnull(rounds, 0) FROM b UNION ALL "
        "SELECT 7, 'terms', terms FROM b UNION ALL SELECT 8, 'referee', referee FROM b UNION ALL "
        "SELECT 9, 'judge.' || seat, name FROM judge WHERE bout = ?1 UNION ALL "
        "SELECT 10, corner || '.name', name FROM p UNION ALL "
        "SELECT 11, corner || '.short', short_name FROM p UNION ALL "
        "SELECT 12, corner || '.stance', stance FROM p UNION ALL "
        "SELECT 13, corner || '.from', origin FROM p UNION ALL "
        "SELECT 14, corner || '.record', record FROM p ORDER BY at, what",
    [SQL_SEAL_DESKS] = "SELECT id, uid, name, (SELECT count(*) FROM entry WHERE desk = desk.id), "
                       "(SELECT ifnull(max(seq), 0) FROM entry WHERE desk = desk.id) "
                       "FROM desk WHERE bout = ?1 ORDER BY uid",
    [SQL_SEAL_NAME] = "SELECT name FROM bout WHERE id = ?1",
    [SQL_SEAL_SIGN] = "SELECT e.code, d.uid, e.seq FROM desk AS d JOIN entry AS e ON e.desk = d.id "
                      "WHERE d.bout = ?1 AND e.kind = 'sign' "
                      "ORDER BY e.utc_ms DESC, d.uid DESC, e.seq DESC LIMIT 1",
    [SQL_SEAL_UPTO] = "SELECT count(*) FROM entry WHERE desk = ?1 AND seq <= ?2",
    [SQL_SEAL_SAVE] = "INSERT INTO seal (bout, statement, digest, signature) "
                      "VALUES (?1, ?2, ?3, ?4)",
    [SQL_SEAL_THERE] = "SELECT 1 FROM seal WHERE statement = ?1",
    [SQL_SEAL_GET] = "SELECT statement, digest, signature FROM seal WHERE bout = ?1 ORDER BY id",
    [SQL_DESK_UNTIL] = "SELECT ifnull(max(entry.desk), 0) FROM desk "
                       "JOIN entry ON entry.desk = desk.id WHERE desk.bout = ?1 AND arrival <= ?2",
    [SQL_ENTRY_LAST] = "SELECT ifnull(max(arrival), 0) FROM entry",
    [SQL_ENTRY_BEFORE] = "SELECT ifnull((SELECT min(arrival) - 1 FROM entry WHERE utc_ms > ?1), "
                         "(SELECT ifnull(max(arrival), 0) FROM entry))",
    [SQL_NEWEST] = "SELECT (SELECT ifnull(max(arrival), 0) FROM entry), "
                   "(SELECT ifnull(max(id), 0) FROM desk)",
    [SQL_BOUTS_SINCE] =
        "SELECT DISTINCT bout.id FROM desk JOIN bout ON bout.id = desk.bout "
        "WHERE (desk.id IN (SELECT desk FROM entry WHERE arrival > ?1) OR desk.id > ?2) AND "
        "(?3 = '' OR bout.card = ?3) ORDER BY bout.id",
    [SQL_BOUT_NAME] = "SELECT card, number FROM bout WHERE id = ?1",
    [SQL_CHECK_FILE] = "PRAGMA integrity_check(3)",
    [SQL_CHECK_REFERENCES] = "SELECT DISTINCT \"table\" FROM pragma_foreign_key_check",
    /* Entries about entries that are not here. */
    [SQL_CHECK_NAMES] =
        "SELECT own.name, e.seq, (SELECT name FROM desk WHERE id = n.desk), n.seq "
        "FROM desk AS own JOIN entry AS e ON e.desk = own.id "
        "JOIN (SELECT arrival, subject_desk AS desk, subject_seq AS seq FROM entry "
        "WHERE subject_desk IS NOT NULL UNION SELECT arrival, undoes_desk, undoes_seq FROM entry "
        "WHERE undoes_desk IS NOT NULL) AS n ON n.arrival = e.arrival "
        "WHERE own.bout = ?1 AND NOT EXISTS "
        "(SELECT 1 FROM entry AS s WHERE s.desk = n.desk AND s.seq = n.seq)",
    [SQL_CHECK_TOTALS] = "SELECT round, corner, attempted, landed, blocked, unsure, knockdowns "
                         "FROM round_total WHERE bout = ?1",
    [SQL_CHECK_STRIKES] =
        "SELECT desk, seq, round, elapsed_ms, corner, limb, target, stance, position, outcome, "
        "spinning, jumping, knockdown, review, off_clock, unsure, at_ms, official FROM strike "
        "WHERE bout = ?1",
    [SQL_UNITE] = "INSERT INTO uniting VALUES (1)",
    [SQL_UNITED] = "DELETE FROM uniting",
};

int sql_fail_code(const char *path, int result, const char *detail, struct error *err)
{
    int code = ERROR_FAILED;
    const char *words = NULL;
    switch (result & 0xff) {
    case SQLITE_NOMEM:
        return error_memory(err);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        code = ERROR_BUSY;
        words = "another program is writing to it and does not finish";
        break;
    case SQLITE_NOTADB:
        words = "this is no database";
        break;
    case SQLITE_FULL:
        words = "the disk is full";
        break;
    case SQLITE_READONLY:
        words = "the file or its disk is read-only";
        break;
    case SQLITE_IOERR:
        words = "the disk reports an error";
        break;
    case SQLITE_CANTOPEN:
        words = "it cannot be opened";
        break;
    case SQLITE_PROTOCOL:
        words = "it cannot be locked: its disk refuses";
        break;
    case SQLITE_CORRUPT:
        words = "the database is damaged";
        break;
    default:
        return error_set(err, code, "%s: %s", path, detail);
    }
    return error_set(err, code, "%s: %s", path, words);
}

int sql_fail(const struct log *log, struct error *err)
{
    int result = sqlite3_errcode(log->db);
    bool refused = (result & 0xff) == SQLITE_IOERR || (result & 0xff) == SQLITE_CANTOPEN;
    if (refused && sqlite3_system_errno(log->db) == EROFS) { /* after errors a kernel makes it so */
        result = SQLITE_READONLY;
    }
    return sql_fail_code(log->path, result, sqlite3_errmsg(log->db), err);
}

static bool bind(sqlite3_stmt *statement, const char *format, va_list args)
{
    int result = SQLITE_OK;
    for (int i = 1; *format && result == SQLITE_OK; i++, format++) {
        switch (*format) {
        case 'd':
            result = sqlite3_bind_int(statement, i, va_arg(args, int));
            break;
        case 'l':
            result = sqlite3_bind_int64(statement, i, va_arg(args, int64_t));
            break;
        case 'b': {
            const void *bytes = va_arg(args, const void *);
            int size = va_arg(args, int);
            result = sqlite3_bind_blob(statement, i, bytes, size, SQLITE_TRANSIENT);
            break;
        }
        default:
            result =
                sqlite3_bind_text(statement, i, va_arg(args, const char *), -1, SQLITE_TRANSIENT);
            break;
        }
    }
    return result == SQLITE_OK;
}

static sqlite3_stmt *query(struct log *log, enum sql id, struct error *err, const char *format,
                           va_list args)
{
    sqlite3_stmt *statement = log->statement[id];
    if (!statement) {
        if (sqlite3_prepare_v3(log->db, texts[id], -1, SQLITE_PREPARE_PERSISTENT, &statement,
                               NULL)) {
            sql_fail(log, err);
            return NULL;
        }
        log->statement[id] = statement;
    }
    sqlite3_reset(statement); /* its error, if any, was reported when it was stepped */
    if (!bind(statement, format, args)) {
        sql_fail(log, err);
        return NULL;
    }
    return statement;
}

sqlite3_stmt *sql_query(struct log *log, enum sql id, struct error *err, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    sqlite3_stmt *statement = query(log, id, err, format, args);
    va_end(args);
    return statement;
}

int sql_next(struct log *log, sqlite3_stmt *statement, struct error *err)
{
    int result = sqlite3_step(statement);
    if (result == SQLITE_ROW) {
        return 1;
    }
    int code = result == SQLITE_DONE ? 0 : sql_fail(log, err);
    sqlite3_reset(statement);
    return code;
}

int sql_run(struct log *log, enum sql id, struct error *err, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    sqlite3_stmt *statement = query(log, id, err, format, args);
    va_end(args);
    if (!statement) {
        return ERROR_FAILED;
    }
    int code = 0;
    do {
        code = sql_next(log, statement, err);
    } while (code > 0);
    return code;
}

int sql_script(struct log *log, const char *text, struct error *err)
{
    return sqlite3_exec(log->db, text, NULL, NULL, NULL) ? sql_fail(log, err) : 0;
}

/* As nearly all texts are: nothing to clean. */
static bool is_plain(const char *text, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        if (text[i] < ' ' || text[i] > '~') {
            return false;
        }
    }
    return true;
}

void sql_text(char *out, size_t size, sqlite3_stmt *statement, int column)
{
    const char *text = (const char *)sqlite3_column_text(statement, column);
    size_t length = text ? strlen(text) : 0;
    if (length < size && is_plain(text, length)) {
        memcpy(out, text ? text : "", length + 1);
    } else if (!text_clean(out, size, text)) {
        snprintf(out, size, "%s", text);
        text_defuse(out); /* a character that was cut as well */
    }
}

int sql_begin(struct log *log, struct error *err)
{
    return sql_run(log, SQL_BEGIN, err, "");
}

int sql_begin_read(struct log *log, struct error *err)
{
    return sql_run(log, SQL_BEGIN_READ, err, "");
}

int sql_end(struct log *log, int code, struct error *err)
{
    if (!code) {
        code = sql_run(log, SQL_COMMIT, err, "");
    }
    /* SQLite itself may have rolled back already; then there is nothing left to do. */
    if (code && !sqlite3_get_autocommit(log->db)) {
        sql_run(log, SQL_ROLLBACK, NULL, "");
    }
    if (code) {
        log->head.desk = 0; /* it may be of an entry that is not there */
    }
    return code;
}
