/* cmd_verify.c: whether records are whole and as they were signed. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/digest.h"
#include "ringtally/log/verify.h"

/* "3 entries" */
static void put_count(struct buf *out, int64_t count, const char *one, const char *many)
{
    buf_addf(out, "%" PRId64 " %s", count, count == 1 ? one : many);
}

static void put_seal(struct buf *out, const struct verified *found, const char *signer)
{
    buf_addf(out, "; signed by %s, ", signer);
    if (found->seal.kind == SEAL_KEYED) {
        buf_addf(out, "key %s", found->seal.key);
    } else {
        buf_adds(out, found->seal.kind == SEAL_UNKEYED ? "sealed without a key"
                                                       : "before there were seals");
    }
    if (found->since > 0) {
        buf_adds(out, ", ");
        put_count(out, found->since, "entry", "entries");
        buf_adds(out, " since");
    }
}

/* One bout in one line; *whole: nothing was found. */
static int verify_one(struct buf *out, const struct call *call, const char *ref, const char *key,
                      bool *whole, struct error *err)
{
    struct reading reading = {0};
    struct verified found = {0};
    struct buf faults = BUF_INIT;
    int code = cli_reading(&reading, call, ref, NULL, err);
    code =
        code ? code : verify_bout(reading.log, &reading.bout, reading.fold, &found, &faults, err);
    if (!code) {
        const struct entry *signature = fold_signed(reading.fold);
        if (key && (found.seal.kind != SEAL_KEYED || strcmp(found.seal.key, key) != 0)) {
            buf_addf(&faults, "%sit is not signed with the key that was asked for",
                     faults.size ? "; " : "");
        }
        *whole = faults.size == 0;
        buf_addf(out, "%s/%d: %s", reading.bout.card, reading.bout.number,
                 *whole ? "whole: " : "NOT WHOLE: ");
        if (!*whole) {
            buf_addf(out, "%s; ", faults.failed ? "" : faults.text);
        }
        put_count(out, found.entries, "entry", "entries");
        buf_adds(out, " of ");
        put_count(out, found.desks, "desk", "desks");
        if (found.unchained) {
            buf_addf(out, ", %" PRId64 " of them without a digest", found.unchained);
        }
        if (found.made_later) {
            buf_adds(out, ", digests made later than the entries");
        }
        if (found.views_differ) {
            buf_adds(out, "; the views are another version's and were not compared");
        }
        if (signature) {
            put_seal(out, &found, signature->text);
        } else {
            buf_adds(out, "; not signed");
        }
        buf_adds(out, "\n");
    }
    buf_release(&faults);
    reading_release(&reading);
    return code;
}

/* A bout that cannot be read is told of like any other. */
static int verify_and_print(const struct call *call, const char *ref, const char *key, bool *whole,
                            struct error *err)
{
    struct buf line = BUF_INIT;
    struct error why = {0};
    *whole = false;
    int code = verify_one(&line, call, ref, key, whole, &why);
    if (code == ERROR_MEMORY || line.failed) {
        code = error_memory(err);
    } else if (code) {
        buf_addf(&line, "%s: NOT WHOLE: %s\n", ref, why.text);
        code = 0;
    }
    code = code ? code : cli_write(NULL, line.text, line.size, err);
    buf_release(&line);
    return code;
}

static int verify_card(const struct call *call, struct log *log, const char *id, const char *key,
                       int *broken, struct error *err)
{
    struct card card = {0};
    struct error why = {0};
    int code = log_card_get(log, id, &card, &why);
    if (code) {
        printf("%s: NOT WHOLE: %s\n", id, why.text);
        ++*broken;
        code = code == ERROR_MEMORY ? error_memory(err) : 0;
    }
    for (int i = 0; i < card.bouts && !code; i++) {
        char ref[80];
        int64_t entries = 0;
        bool whole = false;
        snprintf(ref, sizeof ref, "%s/%d", id, card.bout[i].number);
        if (log_bout_entries(log, card.bout[i].id, &entries, NULL) == 0 && entries == 0) {
            continue;
        }
        code = verify_and_print(call, ref, key, &whole, err);
        *broken += !whole;
    }
    card_release(&card);
    return code;
}

static int verify_all(const struct call *call, struct log *log, const char *key, int *broken,
                      struct error *err)
{
    char(*ids)[48] = NULL;
    size_t count = 0;
    int code = log_card_ids(log, &ids, &count, err);
    for (size_t i = 0; i < count && !code; i++) {
        code = verify_card(call, log, ids[i], key, broken, err);
    }
    free(ids);
    return code;
}

int command_verify(const struct call *call, struct error *err)
{
    unsigned char bytes[KEY_BYTES];
    const char *bout = NULL;
    const char *key = NULL;
    const struct cli_option options[] = {{"--key", &key, NULL}, {NULL, NULL, NULL}};
    struct buf faults = BUF_INIT;
    struct log *log = NULL;
    bool whole = false;
    int count = 0, broken = 0;
    int code = cli_words(call, options, &bout, 1, &count, err);
    if (!code && key && !hex_read(bytes, sizeof bytes, key)) {
        code = error_set(err, ERROR_USAGE, "--key %s: the %d digits of a public key are needed",
                         key, KEY_TEXT - 1);
    }
    code = code ? code : data_log_open(&log, call->db, LOG_READ, err);
    code = code ? code : verify_file(log, &faults, err);
    if (!code && faults.size) {
        printf("%s: NOT WHOLE: %s\n", log_path(log), faults.failed ? "" : faults.text);
        broken++;
    }
    if (!code && bout) {
        code = verify_and_print(call, bout, key, &whole, err);
        broken += !whole;
    } else if (!code) {
        code = verify_all(call, log, key, &broken, err);
    }
    buf_release(&faults);
    log_close(log);
    return code || !broken ? code : error_set(err, ERROR_FAILED, "not all of it is whole");
}
