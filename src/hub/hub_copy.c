/* hub_copy.c: rows of a query as they come, by COPY: no answer is gathered first. */
#include <stdlib.h>

#include "hub/hub_link.h"
#include "ringtally/base/buf.h"

#define COLUMNS_MAX 40

/* The byte that a letter behind a backslash stands for (PostgreSQL's manual, COPY, text format). */
static char escaped(char letter)
{
    switch (letter) {
    case 'b':
        return '\b';
    case 'f':
        return '\f';
    case 'n':
        return '\n';
    case 'r':
        return '\r';
    case 't':
        return '\t';
    case 'v':
        return '\v';
    default:
        return letter;
    }
}

/* Cuts a line into its columns, in place: nothing gets longer. False: there are not so many. */
static bool split(char *line, const char **row, int columns)
{
    const char *from = line;
    int count = 0;
    for (bool more = true; more; count++) {
        bool null = from[0] == '\\' && from[1] == 'N';
        const char *field = line;
        while (*from && *from != '\t' && *from != '\n') {
            bool pair = from[0] == '\\' && from[1];
            *line++ = pair ? escaped(from[1]) : from[0];
            from += pair ? 2 : 1;
        }
        more = *from == '\t';
        from += more;
        *line++ = '\0';
        if (count < columns) {
            row[count] = null ? NULL : field;
        }
    }
    return count == columns;
}

/* Rows until the copy ends; once one is refused the rest only goes by. */
static int take_rows(struct hub *hub, int columns, link_take *take, void *user, struct error *err)
{
    const char *row[COLUMNS_MAX];
    int code = 0;
    for (;;) {
        char *line = NULL;
        int size = PQgetCopyData(hub->conn, &line, 1);
        if (size < 0) {
            return code; /* the end, or an error: the answer that follows says which */
        }
        if (size == 0) {
            int cut = link_more(hub, err);
            if (cut) {
                return code ? code : cut;
            }
        } else if (!code) {
            code = split(line, row, columns)
                       ? take(user, row, err)
                       : error_set(err, ERROR_FAILED, "hub %s: a row has other columns", hub->name);
        }
        PQfreemem(line);
    }
}

int link_copy(struct hub *hub, const char *query, int columns, link_take *take, void *user,
              struct error *err)
{
    struct buf text = BUF_INIT;
    buf_addf(&text, "COPY (%s) TO STDOUT", query);
    if (text.failed || columns > COLUMNS_MAX) {
        buf_release(&text);
        return error_memory(err);
    }
    bool sent = PQsendQuery(hub->conn, text.text);
    PGresult *begun = sent ? link_answer(hub, err) : NULL;
    int code = begun ? 0 : sent ? link_failed(err) : link_cut(hub, err);
    buf_release(&text);
    if (begun && PQresultStatus(begun) == PGRES_COPY_OUT) {
        code = take_rows(hub, columns, take, user, err);
        PGresult *ended = link_answer(hub, err);
        code = code || ended ? code : link_failed(err);
        PQclear(ended);
    }
    PQclear(begun);
    return code;
}
