/* hub_floor.c: the least that a follower of a hub can be: libpq connected and listening, the
 * database open and read once, waiting. For its memory.
 *
 * hub_floor DB URI      says "ready"; ends when stdin does
 */
#include <stdbool.h>
#include <stdio.h>
#include <unistd.h>

#include <libpq-fe.h>
#include <sqlite3.h>

static int read_log(sqlite3 *db)
{
    return sqlite3_exec(db,
                        "PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; "
                        "PRAGMA cell_size_check = ON; SELECT count(*), max(arrival) FROM entry",
                        NULL, NULL, NULL);
}

int main(int argc, char **argv)
{
    sqlite3 *db = NULL;
    char byte = 0;
    if (argc != 3) {
        fputs("usage: hub_floor DB URI\n", stderr);
        return 2;
    }
    PGconn *hub = PQconnectdb(argv[2]);
    PGresult *said = PQexec(hub, "LISTEN ringtally");
    bool ok = PQresultStatus(said) == PGRES_COMMAND_OK &&
              sqlite3_open_v2(argv[1], &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) ==
                  SQLITE_OK &&
              read_log(db) == SQLITE_OK;
    PQclear(said);
    if (ok) {
        puts("ready");
        fflush(stdout);
        ok = read(STDIN_FILENO, &byte, 1) == 0;
    }
    sqlite3_close(db);
    PQfinish(hub);
    return ok ? 0 : 1;
}
