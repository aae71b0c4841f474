/* hub_seal.c: seals to and from the hub. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hub/hub_log.h"

#define NUMBER 24

int hub_seal_put(struct hub *hub, int64_t bout, const struct log_seal *seal, struct error *err)
{
    char of[NUMBER];
    struct buf digest = BUF_INIT, signature = BUF_INIT;
    snprintf(of, sizeof of, "%lld", (long long)bout);
    add_bytes(&digest, seal->digest, sizeof seal->digest);
    if (seal->has_signature) {
        add_bytes(&signature, seal->signature, sizeof seal->signature);
    }
    const char *const values[] = {of, seal->statement, digest.text,
                                  seal->has_signature ? signature.text : NULL};
    bool failed = digest.failed || signature.failed;
    PGresult *done = failed ? NULL : link_run(hub, HUB_SEAL_SAVE, values, err);
    int code = done ? 0 : failed ? error_memory(err) : link_failed(err);
    PQclear(done);
    buf_release(&digest);
    buf_release(&signature);
    return code;
}

int hub_seals(struct hub *hub, int64_t bout, struct log_seal **out, size_t *count,
              struct error *err)
{
    char of[NUMBER];
    const char *const values[] = {of};
    snprintf(of, sizeof of, "%lld", (long long)bout);
    PGresult *rows = link_run(hub, HUB_SEAL_GET, values, err);
    size_t there = rows ? (size_t)PQntuples(rows) : 0;
    struct log_seal *seals = rows ? calloc(there + 1, sizeof *seals) : NULL;
    int code = seals ? 0 : rows ? error_memory(err) : link_failed(err);
    for (size_t i = 0; i < there && seals && !code; i++) {
        struct log_seal *seal = &seals[i];
        seal->statement = strdup(PQgetvalue(rows, (int)i, 0));
        seal->has_signature = !PQgetisnull(rows, (int)i, 2);
        bool fits = link_bytes(seal->digest, sizeof seal->digest, rows, (int)i, 1) &&
                    (!seal->has_signature ||
                     link_bytes(seal->signature, sizeof seal->signature, rows, (int)i, 2));
        code = !seal->statement ? error_memory(err)
               : fits           ? 0
                      : error_set(err, ERROR_FAILED, "hub %s: a seal is damaged", hub->name);
    }
    PQclear(rows);
    if (code) {
        log_seals_free(seals, there);
        return code;
    }
    *out = seals;
    *count = there;
    return 0;
}
