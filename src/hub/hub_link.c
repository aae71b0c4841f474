/* hub_link.c: libpq: connecting safely, statements with a deadline, messages in one line. */
#include "hub/hub_link.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/digest.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/text.h"

#define ANSWER_MS 10000 /* a server that says nothing for so long is gone */
#define IDLE_MS   1000

static const struct {
    const char *text;
    int values;
} texts[HUB_SQL_COUNT] = {
    [HUB_THERE] = {"SELECT to_regclass('hub_version') IS NOT NULL", 0},
    [HUB_VERSION] = {"SELECT max(version) FROM hub_version", 0},
    [HUB_CARD_SAVE] = {"INSERT INTO card (id, title, date, venue) VALUES ($1, $2, $3, $4) "
                       "ON CONFLICT DO NOTHING",
                       4},
    [HUB_CARD_GET] = {"SELECT id, title, date, venue FROM card WHERE id = $1", 1},
    [HUB_BOUT_SAVE] = {"INSERT INTO bout (card, number, weight, rules, rounds, terms, referee) "
                       "VALUES ($1, $2, $3, $4, nullif($5::int, 0), $6, $7) "
                       "ON CONFLICT (card, number) DO NOTHING RETURNING id",
                       7},
    [HUB_BOUT_GET] = {"SELECT id, arrivals, weight, rules, rounds, terms, referee FROM bout "
                      "WHERE card = $1 AND number = $2",
                      2},
    [HUB_BOUT_LIST] = {"SELECT card, number, arrivals FROM bout WHERE card = ANY ($1::text[]) "
                       "ORDER BY id",
                       1},
    [HUB_BOUT_RAISE] = {"UPDATE bout SET arrivals = arrivals + 1 WHERE id = $1", 1},
    [HUB_CORNER_SAVE] = {"INSERT INTO corner (bout, corner, name, name_key, short_name, stance, "
                         "origin, record) VALUES ($1, $2, $3, $4, $5, $6, $7, $8) "
                         "ON CONFLICT DO NOTHING",
                         8},
    [HUB_CORNER_GET] = {"SELECT corner, name, short_name, stance, origin, record FROM corner "
                        "WHERE bout = $1",
                        1},
    [HUB_JUDGE_SAVE] = {"INSERT INTO judge (bout, seat, name) VALUES ($1, $2, $3) "
                        "ON CONFLICT DO NOTHING",
                        3},
    [HUB_JUDGE_GET] = {"SELECT name FROM judge WHERE bout = $1 ORDER BY seat", 1},
    [HUB_DESK_SAVE] =
        {"INSERT INTO desk (uid, bout, operator, name, corners, shadow, opened_ms, continues) "
         "VALUES ($1, $2, $3, $4, $5, $6, $7, "
         "(SELECT coalesce(continues, id) FROM desk WHERE uid = $8)) ON CONFLICT (uid) DO NOTHING",
         8},
    [HUB_DESK_GET] = {"SELECT id, uid, operator, name, corners, shadow, opened_ms, continues "
                      "FROM desk WHERE bout = $1 ORDER BY id",
                      1},
    /* A desk's numbers as runs without a gap: mostly one. */
    [HUB_RUNS] = {"SELECT desk, min(seq), max(seq) FROM (SELECT desk, seq, "
                  "seq - row_number() OVER (PARTITION BY desk ORDER BY seq) AS run "
                  "FROM entry WHERE bout = $1) AS numbered GROUP BY desk, run ORDER BY 1, 2",
                  1},
    [HUB_ENTRY_SAVE] =
        {"WITH place AS (UPDATE bout SET arrivals = arrivals + $2 WHERE id = $1 "
         "RETURNING arrivals - $2 AS base), "
         "fresh AS (INSERT INTO entry (bout, arrival, " ENTRY_COLUMNS ") "
         "SELECT $1, place.base + n.place, " ENTRY_COLUMNS " FROM place, unnest($3::bigint[], "
         "$4::bigint[], $5::bigint[], $6::bigint[], $7::text[], $8::text[], $9::text[], "
         "$10::bigint[], $11::bigint[], $12::bigint[], $13::bigint[], $14::int[], $15::int[], "
         "$16::boolean[], $17::boolean[], $18::boolean[], $19::boolean[], $20::text[], "
         "$21::text[], $22::text[], $23::text[], $24::text[], $25::text[], $26::boolean[], "
         "$27::boolean[], $28::boolean[], $29::bigint[], $30::text[], $31::bytea[]) "
         "WITH ORDINALITY AS n (" ENTRY_COLUMNS ", place) "
         "ON CONFLICT (bout, desk, seq) DO NOTHING RETURNING 1) "
         "SELECT (SELECT base FROM place), (SELECT count(*) FROM fresh)",
         31},
    [HUB_ENTRY_SINCE] = {"SELECT arrival, " ENTRY_CONTENT ", prior FROM entry "
                         "WHERE bout = $1 AND arrival > $2 ORDER BY arrival LIMIT $3",
                         3},
    [HUB_ENTRY_NAMED] = {"SELECT arrival, " ENTRY_CONTENT ", prior FROM "
                         "unnest($2::bigint[], $3::bigint[], $4::bigint[]) AS n (of, low, high) "
                         "JOIN entry ON bout = $1 AND desk = of AND seq BETWEEN low AND high "
                         "ORDER BY arrival",
                         4},
    [HUB_SEAL_SAVE] = {"INSERT INTO seal (bout, statement, digest, signature) "
                       "VALUES ($1, $2, $3, $4) ON CONFLICT (bout, digest) DO NOTHING",
                       4},
    [HUB_SEAL_GET] = {"SELECT statement, digest, signature FROM seal WHERE bout = $1 ORDER BY id",
                      1},
    [HUB_STANDBY] = {"SELECT pg_is_in_recovery()", 0},
    [HUB_CARD_NEWEST] = {"SELECT id FROM card ORDER BY loaded DESC LIMIT $1", 1},
    /* The same but for case and accents. */
    [HUB_FIGHTER_SAME] = {"SELECT DISTINCT name FROM corner WHERE name = $2 OR name_key = $1 "
                          "ORDER BY 1",
                          2},
    /* A word of the name begins so: a look at all names, in the index that has them. */
    [HUB_FIGHTER_LIKE] = {"SELECT name FROM (SELECT DISTINCT name_key, name FROM corner) AS n "
                          "WHERE starts_with(name_key, $1) OR strpos(name_key, ' ' || $1) > 0 "
                          "ORDER BY 1 LIMIT 50",
                          1},
    /* All names that were said to be the same person's, by the newest word about each pair. */
    [HUB_FIGHTER_NAMES] =
        {"WITH RECURSIVE names (name) AS (SELECT $1::text UNION SELECT word.other FROM names, "
         "LATERAL (SELECT DISTINCT ON (pair.other) pair.other, pair.same FROM "
         "(SELECT CASE s.name WHEN names.name THEN s.other ELSE s.name END, s.same, s.id "
         "FROM same_person AS s WHERE names.name IN (s.name, s.other)) AS pair (other, same, id) "
         "ORDER BY pair.other, pair.id DESC) AS word WHERE word.same) SELECT name FROM names",
         1},
    [HUB_FIGHTER_BOUTS] =
        {"SELECT bout.id, bout.card, bout.number, own.corner, card.title, card.date, bout.rules, "
         "bout.rounds, bout.terms, own.name, own.short_name, other.name, other.short_name "
         "FROM corner AS own JOIN bout ON bout.id = own.bout JOIN card ON card.id = bout.card "
         "JOIN corner AS other ON other.bout = own.bout AND other.corner <> own.corner "
         "WHERE own.name = ANY ($1::text[]) "
         "ORDER BY card.date DESC, card.loaded DESC, bout.number DESC",
         1},
    [HUB_FIGHTER_DESKS] = {"SELECT bout, id, uid, operator, name, corners, shadow, opened_ms, "
                           "continues FROM desk WHERE bout = ANY ($1::bigint[]) ORDER BY bout, id",
                           1},
    /* Names that may be one person's: the same key, the same words in another order, or the same
     * letters with other gaps and marks between; not two who were on one card on one date. */
    [HUB_SAME_LIST] =
        {"WITH n AS (SELECT corner.name, min(name_key) AS key, count(*) AS bouts, min(date) AS "
         "first, "
         "max(date) AS last FROM corner JOIN bout ON bout.id = corner.bout "
         "JOIN card ON card.id = bout.card GROUP BY corner.name), "
         "k AS (SELECT *, regexp_replace(key, '[^[:alnum:]]', '', 'g') AS letters, "
         "(SELECT string_agg(w, ' ' ORDER BY w) FROM regexp_split_to_table(key, "
         "'[^[:alnum:]]+') AS w) AS words FROM n) "
         "SELECT a.name, a.bouts, a.first, a.last, b.name, b.bouts, b.first, b.last "
         "FROM k AS a JOIN k AS b ON a.name < b.name AND "
         "(a.letters = b.letters OR a.words = b.words) "
         "WHERE NOT EXISTS (SELECT FROM same_person AS s WHERE "
         "(s.name, s.other) IN ((a.name, b.name), (b.name, a.name))) AND "
         "NOT EXISTS (SELECT FROM corner AS x JOIN bout AS p ON p.id = x.bout JOIN bout AS q "
         "ON q.card = p.card JOIN corner AS y ON y.bout = q.id "
         "WHERE x.name = a.name AND y.name = b.name) ORDER BY 1, 5",
         0},
    [HUB_SAME_SAVE] = {"INSERT INTO same_person (name, other, same, said_by) "
                       "VALUES ($1, $2, $3, $4)",
                       4},
};

/* libpq's message as one line. */
static void one_line(char *out, size_t size, const char *text)
{
    size_t used = 0;
    for (; text && *text && used + 3 < size; text++) {
        if (*text != '\n' && *text != '\t') {
            out[used++] = *text;
        } else if (used && text[1] && out[used - 1] != ' ') {
            out[used++] = ' ';
        }
    }
    while (used && out[used - 1] == ' ') {
        used--;
    }
    out[used] = '\0';
}

static int fail_away(struct hub *hub, const char *why, struct error *err)
{
    char line[400];
    one_line(line, sizeof line, why);
    return error_set(err, ERROR_AWAY, "hub %s: %s", hub->name, line[0] ? line : "the line is cut");
}

/* SQLSTATE classes (PostgreSQL's manual, appendix A) that pass by themselves: connection (08),
 * transaction rolled back (40), resources (53), the server stops or starts (57P), read-only since a
 * standby was met (25006). */
static bool passes(const char *state)
{
    return !state || strncmp(state, "08", 2) == 0 || strncmp(state, "40", 2) == 0 ||
           strncmp(state, "53", 2) == 0 || strncmp(state, "57P", 3) == 0 ||
           strcmp(state, "25006") == 0;
}

static void no_notice(void *user, const PGresult *notice)
{
    (void)user;
    (void)notice;
}

int link_cut(struct hub *hub, struct error *err)
{
    return fail_away(hub, PQerrorMessage(hub->conn), err);
}

static int fail_answer(struct hub *hub, const PGresult *answer, struct error *err)
{
    const char *state = answer ? PQresultErrorField(answer, PG_DIAG_SQLSTATE) : NULL;
    if (PQstatus(hub->conn) == CONNECTION_BAD || passes(state)) {
        return fail_away(hub, PQerrorMessage(hub->conn), err);
    }
    hub->refuses = strncmp(state, "23", 2) != 0;
    if (strcmp(state, "42501") == 0) {
        return error_set(err, ERROR_FAILED, "hub %s: role %s may not do this: %s", hub->name,
                         PQuser(hub->conn), PQresultErrorField(answer, PG_DIAG_MESSAGE_PRIMARY));
    }
    return error_set(err, ERROR_FAILED, "hub %s: %s", hub->name,
                     PQresultErrorField(answer, PG_DIAG_MESSAGE_PRIMARY));
}

int link_more(struct hub *hub, struct error *err)
{
    struct pollfd wait = {.fd = PQsocket(hub->conn), .events = POLLIN};
    int got = poll(&wait, 1, ANSWER_MS);
    if (got == 0 || (got < 0 && errno != EINTR)) {
        return fail_away(hub, got == 0 ? "no answer" : strerror(errno), err);
    }
    return PQconsumeInput(hub->conn) ? 0 : link_cut(hub, err);
}

/* Sends what waits, and takes what came, until an answer is whole. */
static int await(struct hub *hub, struct error *err)
{
    int64_t now = mono_ms(), until = now + ANSWER_MS, idle_at = now + IDLE_MS;
    for (;;) {
        int left = PQflush(hub->conn);
        if (left < 0 || !PQconsumeInput(hub->conn)) {
            return link_cut(hub, err);
        }
        if (left == 0 && !PQisBusy(hub->conn)) {
            return 0;
        }
        now = mono_ms();
        struct pollfd wait = {.fd = PQsocket(hub->conn),
                              .events = (short)(POLLIN | (left ? POLLOUT : 0))};
        if (now >= until) {
            return fail_away(hub, "no answer", err);
        }
        int got = poll(&wait, 1, (int)(idle_at < until ? idle_at - now : until - now));
        if (got < 0 && errno != EINTR) {
            return fail_away(hub, strerror(errno), err);
        }
        if (got < 0 || mono_ms() >= idle_at) {
            idle_at = mono_ms() + IDLE_MS;
            if (hub->idle && !hub->idle(hub->idle_user)) {
                return fail_away(hub, "told to end", err);
            }
        }
    }
}

PGresult *link_answer(struct hub *hub, struct error *err)
{
    PGresult *kept = NULL;
    for (bool copies = false; !copies;) {
        if (await(hub, err)) {
            PQclear(kept);
            return NULL;
        }
        PGresult *answer = PQgetResult(hub->conn);
        if (!answer) {
            break;
        }
        if (kept && PQresultStatus(kept) == PGRES_FATAL_ERROR) {
            PQclear(answer);
        } else {
            PQclear(kept);
            kept = answer;
            copies = PQresultStatus(kept) == PGRES_COPY_OUT;
        }
    }
    ExecStatusType status = kept ? PQresultStatus(kept) : PGRES_FATAL_ERROR;
    if (status == PGRES_TUPLES_OK || status == PGRES_COMMAND_OK || status == PGRES_EMPTY_QUERY ||
        status == PGRES_COPY_OUT) {
        return kept;
    }
    fail_answer(hub, kept, err);
    PQclear(kept);
    return NULL;
}

PGresult *link_run(struct hub *hub, enum hub_sql id, const char *const *values, struct error *err)
{
    char name[16];
    snprintf(name, sizeof name, "q%d", (int)id);
    if (hub->runs[id] == 1) {
        PGresult *made =
            PQsendPrepare(hub->conn, name, texts[id].text, 0, NULL) ? link_answer(hub, err) : NULL;
        if (!made) {
            link_cut(hub, err);
            return NULL;
        }
        PQclear(made);
        hub->runs[id] = 2;
    }
    int sent = hub->runs[id]
                   ? PQsendQueryPrepared(hub->conn, name, texts[id].values, values, NULL, NULL, 0)
                   : PQsendQueryParams(hub->conn, texts[id].text, texts[id].values, NULL, values,
                                       NULL, NULL, 0);
    if (!sent) {
        link_cut(hub, err);
        return NULL;
    }
    hub->runs[id] = hub->runs[id] ? hub->runs[id] : 1;
    return link_answer(hub, err);
}

int link_failed(const struct error *err)
{
    return err->code ? err->code : ERROR_FAILED;
}

int link_script(struct hub *hub, const char *text, struct error *err)
{
    PGresult *done = PQsendQuery(hub->conn, text) ? link_answer(hub, err) : NULL;
    if (!done) {
        fail_away(hub, PQerrorMessage(hub->conn), err); /* where nothing was said yet */
        return link_failed(err);
    }
    PQclear(done);
    return 0;
}

int link_begin(struct hub *hub, struct error *err)
{
    return link_script(hub, "BEGIN", err);
}

int link_end(struct hub *hub, int code, struct error *err)
{
    if (code) {
        struct error ignored = {0};
        link_script(hub, "ROLLBACK", &ignored);
        return code;
    }
    return link_script(hub, "COMMIT", err);
}

/* The next that somebody else caused. */
static PGnotify *next_notice(struct hub *hub)
{
    PGnotify *news = PQnotifies(hub->conn);
    while (news && news->be_pid == PQbackendPID(hub->conn)) {
        PQfreemem(news);
        news = PQnotifies(hub->conn);
    }
    return news;
}

int link_wait(struct hub *hub, int ms, char *out, size_t size, struct error *err)
{
    PGnotify *news = next_notice(hub);
    if (!news && ms > 0) {
        struct pollfd wait = {.fd = PQsocket(hub->conn), .events = POLLIN};
        if (poll(&wait, 1, ms) < 0 && errno != EINTR) {
            return fail_away(hub, strerror(errno), err);
        }
        if (!PQconsumeInput(hub->conn) || PQstatus(hub->conn) == CONNECTION_BAD) {
            return fail_away(hub, PQerrorMessage(hub->conn), err);
        }
        news = next_notice(hub);
    }
    if (!news) {
        return 0;
    }
    snprintf(out, size, "%s", news->extra);
    PQfreemem(news);
    return 1;
}

/* Whether all that a connection could go to is this machine. */
static bool is_local(const char *hosts)
{
    while (*hosts) {
        size_t size = strcspn(hosts, ",");
        static const char *const near[] = {"localhost", "127.0.0.1", "::1"};
        bool local = size == 0 || hosts[0] == '/' || hosts[0] == '@';
        for (size_t i = 0; i < sizeof near / sizeof near[0]; i++) {
            local = local || (size == strlen(near[i]) && strncmp(hosts, near[i], size) == 0);
        }
        if (!local) {
            return false;
        }
        hosts += size + (hosts[size] == ',');
    }
    return true;
}

/* Of what the URI says: whether a password is in it, and whether TLS must prove who the server is.
 */
static int look_at_uri(const char *uri, bool *prove, struct error *err)
{
    char line[300];
    char *why = NULL;
    const char *host = NULL, *address = NULL;
    bool secret = false, service = false;
    PQconninfoOption *options = PQconninfoParse(uri, &why);
    if (!options) {
        one_line(line, sizeof line, why ? why : "out of memory");
        PQfreemem(why);
        /* The parser's message may quote the text, and so what is secret in it. */
        return error_set(err, ERROR_USAGE, "the hub's URI cannot be read: %s",
                         strstr(uri, "password") || strchr(uri, '@') ? "see libpq's manual" : line);
    }
    for (const PQconninfoOption *option = options; option->keyword; option++) {
        const char *value = option->val && *option->val ? option->val : NULL;
        secret = secret || (value && (strcmp(option->keyword, "password") == 0 ||
                                      strcmp(option->keyword, "sslpassword") == 0));
        service = service || (value && strcmp(option->keyword, "service") == 0);
        host = strcmp(option->keyword, "host") == 0 ? value : host;
        address = strcmp(option->keyword, "hostaddr") == 0 ? value : address;
    }
    /* A service file may name any host; what stands there is libpq's to read. */
    service = service || getenv("PGSERVICE");
    host = host ? host : getenv("PGHOST");
    address = address ? address : getenv("PGHOSTADDR");
    *prove = service || !is_local(host ? host : "") || !is_local(address ? address : "");
    PQconninfoFree(options);
    return secret ? error_set(err, ERROR_USAGE,
                              "the hub's URI holds a password, which everybody on this machine can "
                              "see: put it into the password file (~/.pgpass)")
                  : 0;
}

int hub_open(struct hub **out, const char *uri, enum hub_use use, struct error *err)
{
    bool prove = true;
    int code = look_at_uri(uri, &prove, err);
    struct hub *hub = code ? NULL : calloc(1, sizeof *hub);
    if (!hub) {
        return code ? code : error_memory(err);
    }
    /* What stands before the URI it may say otherwise; the last two it may not. */
    const char *const names[] = {"connect_timeout",
                                 "keepalives_idle",
                                 "keepalives_interval",
                                 "tcp_user_timeout",
                                 "target_session_attrs",
                                 "sslmode",
                                 "dbname",
                                 "client_encoding",
                                 "fallback_application_name",
                                 NULL};
    const char *const values[] = {"5",
                                  "10",
                                  "5",
                                  "20000",
                                  use == HUB_READ ? "any" : "read-write",
                                  prove ? "verify-full" : "prefer",
                                  uri,
                                  "UTF8",
                                  "ringtally",
                                  NULL};
    hub->conn = PQconnectdbParams(names, values, 1);
    if (!hub->conn) {
        free(hub);
        return error_memory(err);
    }
    PQsetNoticeReceiver(hub->conn, no_notice, NULL);
    const char *host = PQhost(hub->conn);
    const char *name = PQdb(hub->conn);
    snprintf(hub->name, sizeof hub->name, "%s/%s", host && *host ? host : "?", name ? name : "?");
    if (PQstatus(hub->conn) != CONNECTION_OK) {
        char line[400];
        one_line(line, sizeof line, PQerrorMessage(hub->conn));
        code = error_set(err, ERROR_AWAY, "hub: %s", line);
    } else if (PQsetnonblocking(hub->conn, 1)) {
        code = fail_away(hub, PQerrorMessage(hub->conn), err);
    } else if (use != HUB_MAKE) {
        code = hub_check_version(hub, err);
    }
    if (code) {
        hub_close(hub);
        return code;
    }
    *out = hub;
    return 0;
}

void hub_close(struct hub *hub)
{
    if (hub) {
        PQfinish(hub->conn);
        free(hub);
    }
}

const char *hub_name(const struct hub *hub)
{
    return hub->name;
}

int64_t field_number(const char *field)
{
    return field ? strtoll(field, NULL, 10) : 0;
}

bool field_flag(const char *field)
{
    return field && field[0] == 't';
}

bool field_text(char *out, size_t size, const char *field)
{
    if (text_clean(out, size, field)) {
        return true;
    }
    snprintf(out, size, "%s", field);
    text_defuse(out);
    return strlen(field) < size;
}

int64_t link_number(const PGresult *rows, int row, int column)
{
    return field_number(PQgetvalue(rows, row, column));
}

bool link_flag(const PGresult *rows, int row, int column)
{
    return field_flag(PQgetvalue(rows, row, column));
}

bool link_text(char *out, size_t size, const PGresult *rows, int row, int column)
{
    return field_text(out, size, PQgetvalue(rows, row, column));
}

void add_bytes(struct buf *out, const unsigned char *bytes, size_t size)
{
    char text[2 * 64 + 1];
    buf_adds(out, "\\x");
    hex_write(text, bytes, size);
    buf_adds(out, text);
}

bool link_bytes(unsigned char *out, size_t size, const PGresult *rows, int row, int column)
{
    size_t got = 0;
    unsigned char *bytes =
        PQunescapeBytea((const unsigned char *)PQgetvalue(rows, row, column), &got);
    bool fits = bytes && got == size;
    if (fits) {
        memcpy(out, bytes, size);
    }
    PQfreemem(bytes);
    return fits;
}

static void array_next(struct buf *array)
{
    buf_adds(array, array->size ? "," : "{");
}

void array_text(struct buf *array, const char *text)
{
    array_next(array);
    if (!text) {
        buf_adds(array, "NULL");
        return;
    }
    buf_adds(array, "\"");
    for (; *text; text++) {
        if (*text == '"' || *text == '\\') {
            buf_adds(array, "\\");
        }
        buf_add(array, text, 1);
    }
    buf_adds(array, "\"");
}

void array_number(struct buf *array, int64_t number)
{
    array_next(array);
    buf_addf(array, "%lld", (long long)number);
}

void array_end(struct buf *array)
{
    buf_adds(array, array->size ? "}" : "{}");
}
