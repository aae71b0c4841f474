/* hub_schema.c: the steps that make the hub's schema, and whether it is this program's. */
#include <stdio.h>
#include <string.h>

#include "hub/hub_link.h"
#include "ringtally/base/embedded.h"

/* One number of our own among the server's advisory locks: "rtly". */
#define LOCK "SELECT pg_advisory_xact_lock(1920232569)"

extern const struct embedded hub_files[]; /* schema/hub/, built in */

/* The step that leads to `version`: schema/hub/NNN-*.sql; NULL: there is none. */
static const struct embedded *step_to(int version)
{
    char prefix[28] = "";
    int size = snprintf(prefix, sizeof prefix, "schema/hub/%03d-", version);
    for (const struct embedded *file = hub_files; file->name; file++) {
        if (strncmp(file->name, prefix, (size_t)size) == 0) {
            return file;
        }
    }
    return NULL;
}

static const struct embedded *find_views(void)
{
    const struct embedded *file = hub_files;
    while (file->name && strcmp(file->name, "schema/hub/views.sql") != 0) {
        file++;
    }
    return file;
}

static int newest(void)
{
    int version = 0;
    while (step_to(version + 1)) {
        version++;
    }
    return version;
}

/* 0: there is no schema. */
static int read_version(struct hub *hub, int *out, struct error *err)
{
    PGresult *row = link_run(hub, HUB_THERE, NULL, err);
    bool there = row && link_flag(row, 0, 0);
    *out = 0;
    if (there) {
        PQclear(row);
        row = link_run(hub, HUB_VERSION, NULL, err);
    }
    if (!row) {
        return link_failed(err);
    }
    *out = there ? (int)link_number(row, 0, 0) : 0;
    PQclear(row);
    return 0;
}

static int refuse_newer(const struct hub *hub, int version, struct error *err)
{
    return error_set(err, ERROR_FAILED,
                     "hub %s: its schema has version %d; this ringtally knows up to version %d",
                     hub->name, version, newest());
}

int hub_check_version(struct hub *hub, struct error *err)
{
    int version = 0;
    int code = read_version(hub, &version, err);
    if (code || version == newest()) {
        return code;
    }
    if (version == 0) {
        return error_set(err, ERROR_FAILED,
                         "hub %s: this database is no hub: `ringtally hub init` makes it one",
                         hub->name);
    }
    return version > newest()
               ? refuse_newer(hub, version, err)
               : error_set(err, ERROR_FAILED,
                           "hub %s: its schema has version %d, this ringtally needs version %d: "
                           "`ringtally hub init` brings it up to date",
                           hub->name, version, newest());
}

static int make(struct hub *hub, int *from, int *to, struct error *err)
{
    char mark[80];
    int code = link_script(hub, LOCK, err);
    code = code ? code : read_version(hub, from, err);
    if (!code && *from > newest()) {
        code = refuse_newer(hub, *from, err);
    }
    /* Views are derived: they must not stand in the way of a change to what they read. */
    code = code || *from == 0
               ? code
               : link_script(hub,
                             "DROP VIEW IF EXISTS round_total, view_blocked, knockdown, "
                             "incident, strike, standing, official_desk",
                             err);
    for (*to = *from; !code && *to < newest(); ++*to) {
        snprintf(mark, sizeof mark, "INSERT INTO hub_version (version) VALUES (%d)", *to + 1);
        code = link_script(hub, step_to(*to + 1)->data, err);
        code = code ? code : link_script(hub, mark, err);
    }
    return code ? code : link_script(hub, find_views()->data, err);
}

int hub_init(struct hub *hub, int *from, int *to, struct error *err)
{
    int code = link_script(hub, "BEGIN", err);
    code = code ? code : make(hub, from, to, err);
    return code ? code : link_script(hub, "COMMIT", err); /* else the end of the line undoes it */
}
