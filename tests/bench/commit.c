/* commit.c: single-row commits under WAL and synchronous=FULL. */
#include "commit.h"

#include <stdio.h>
#include <stdlib.h>

#include <sqlite3.h>

#include "base.h"
#include "vt.h"

struct commit {
    sqlite3 *db;
    sqlite3_stmt *insert;
    sqlite3_int64 row;
};

static void check(const struct commit *commit, int code)
{
    if (code != SQLITE_OK && code != SQLITE_ROW && code != SQLITE_DONE) {
        harness_die(commit->db != NULL ? sqlite3_errmsg(commit->db) : "sqlite3");
    }
}

struct commit *commit_open(const char *folder)
{
    char path[512];
    struct commit *commit = calloc(1, sizeof *commit);
    if (commit == NULL) {
        harness_die("commit_open");
    }
    snprintf(path, sizeof path, "%s/floor.db", folder);
    check(commit, sqlite3_open(path, &commit->db));
    check(commit, sqlite3_exec(commit->db,
                               "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
                               "CREATE TABLE entry(desk INTEGER, seq INTEGER, utc_ms INTEGER,"
                               " round INTEGER, elapsed_ms INTEGER, content TEXT,"
                               " PRIMARY KEY(desk, seq)) STRICT, WITHOUT ROWID",
                               NULL, NULL, NULL));
    check(commit, sqlite3_prepare_v2(commit->db,
                                     "INSERT INTO entry VALUES(1, ?1, ?1, 1, ?1, "
                                     "'red left_leg body landed orthodox open')",
                                     -1, &commit->insert, NULL));
    return commit;
}

double commit_one(struct commit *commit)
{
    int64_t start = vt_now();
    check(commit, sqlite3_bind_int64(commit->insert, 1, ++commit->row));
    check(commit, sqlite3_step(commit->insert));
    check(commit, sqlite3_reset(commit->insert));
    return (double)(vt_now() - start) / 1e6;
}

void commit_close(struct commit *commit)
{
    sqlite3_finalize(commit->insert);
    sqlite3_close(commit->db);
    free(commit);
}
