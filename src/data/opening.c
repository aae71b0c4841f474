/* opening.c: a desk row for an operator on a bout. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/data/data.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

#define RECORDING_SUFFIX "-rec"
#define RECORDING_NAME   50 /* bytes of an operator that are part of it */

/* The newest desk of the chain that starts at `root`. */
static int chain_end(const struct desk_row *desks, int count, int root)
{
    int last = root;
    for (int i = root; i < count; i++) {
        last = desks[i].root == root ? i : last;
    }
    return last;
}

static const char *recording_base(const struct desk_row *desk)
{
    return strlen(desk->operator_) <= RECORDING_NAME ? desk->operator_ : "desk";
}

/* A desk on a recording has media time: it never goes on from one that has not, or the other way.
 */
static bool is_on_recording(const struct desk_row *desk)
{
    const char *base = recording_base(desk);
    return strncmp(desk->name, base, strlen(base)) == 0 &&
           strncmp(desk->name + strlen(base), RECORDING_SUFFIX, strlen(RECORDING_SUFFIX)) == 0;
}

/* A name for a desk on a recording that nobody at this bout has. */
static void name_recording(struct desk_row *row, const struct desk_row *desks, int count)
{
    bool taken = true;
    for (int number = 1; taken; number++) {
        char again[16] = "";
        if (number > 1) {
            snprintf(again, sizeof again, "-%d", number);
        }
        snprintf(row->name, sizeof row->name, "%.50s" RECORDING_SUFFIX "%s", recording_base(row),
                 again);
        taken = false;
        for (int i = 0; i < count; i++) {
            taken = taken || strcmp(desks[i].name, row->name) == 0;
        }
    }
}

/* The root of the chain that this session goes on from: same operator, corners and role, and nobody
 * at it; the oldest, so that who had it open twice is who they were first. Claimed here, before
 * anything is written: of several at once each gets one of its own. -1: none. */
static int claim_former(int *root, struct log *log, const struct desk_row *desks, int count,
                        const struct desk_row *row, bool recording, struct error *err)
{
    *root = -1;
    for (int i = 0; i < count; i++) {
        struct error reason = {0};
        if (desks[i].root != i || strcmp(desks[i].operator_, row->operator_) != 0 ||
            desks[i].corners != row->corners || desks[i].shadow != row->shadow ||
            is_on_recording(&desks[i]) != recording) {
            continue;
        }
        int code = log_desk_claim(log, desks[i].id, &reason);
        if (code != ERROR_BUSY) {
            *root = code ? -1 : i;
            return code ? error_set(err, code, "%s", reason.text) : 0;
        }
    }
    return 0;
}

int data_desk_open(struct log *log, const struct bout *bout, const struct desk_open *how,
                   struct desk_row **desks, int *count, int *self, struct error *err)
{
    struct desk_row row = {.corners = how->corners, .shadow = how->shadow, .opened_ms = when_now()};
    int former = -1;
    int64_t continues = 0;
    if (!text_clean(row.operator_, sizeof row.operator_, how->operator_) || !row.operator_[0]) {
        return error_set(err, ERROR_USAGE, "--operator: a name of at most %zu bytes is needed",
                         sizeof row.operator_ - 1);
    }
    int code = log_desks(log, bout->id, desks, count, err);
    code = code ? code : claim_former(&former, log, *desks, *count, &row, how->recording, err);
    if (code) {
        return code;
    }
    if (former >= 0) {
        snprintf(row.name, sizeof row.name, "%s", (*desks)[former].name);
        continues = (*desks)[chain_end(*desks, *count, former)].id;
    } else if (how->recording) {
        name_recording(&row, *desks, *count);
    }
    code = log_desk_new(log, bout->id, &row, continues, err);
    free(*desks);
    *desks = NULL;
    *count = 0;
    code = code ? code : log_desks(log, bout->id, desks, count, err);
    if (code) {
        return code;
    }
    for (int i = 0; i < *count; i++) {
        if ((*desks)[i].id == row.id) {
            *self = i;
        }
    }
    return log_desk_claim(log, (*desks)[(*desks)[*self].root].id, err);
}

static int append(const char *db, const struct reading *reading, const char *operator_,
                  struct entry *entries, size_t entry_count, const struct log_sign *sign,
                  struct error *err)
{
    struct log *log = NULL;
    struct desk_row *desks = NULL;
    struct desk_open how = {operator_, 0, true, false};
    int count = 0;
    int self = 0;
    struct clock_face face = clock_read(fold_clock(reading->fold), reading->view.now_ms);
    /* Above all that is known, so that of two such entries the later one holds. */
    int64_t newest_ms = fold_newest_ms(reading->fold);
    int64_t utc_ms = (newest_ms > reading->view.now_ms ? newest_ms : reading->view.now_ms) + 1;
    int code = data_log_open(&log, db, LOG_WRITE, err);
    code = code ? code : data_desk_open(log, &reading->bout, &how, &desks, &count, &self, err);
    if (code) {
        goto cleanup;
    }
    for (size_t i = 0; i < entry_count; i++) {
        struct entry *entry = &entries[i];
        entry->name = entry->subject = (struct entry_name){self, (int64_t)i + 1};
        entry->undoes = ENTRY_NONE;
        entry->utc_ms = utc_ms;
        entry->at_ms = entry->at_ms ? entry->at_ms : reading->view.now_ms + 1;
        entry->round = entry->round ? entry->round : (uint8_t)face.round;
        entry->elapsed_ms = face.elapsed_ms;
    }
    code = log_append_surely(log, desks, count, entries, entry_count, sign, err);

cleanup:
    free(desks);
    log_close(log);
    return code;
}

int data_append(const char *db, const struct reading *reading, const char *operator_,
                struct entry *entries, size_t entry_count, struct error *err)
{
    return append(db, reading, operator_, entries, entry_count, NULL, err);
}

int data_sign(const char *db, const struct reading *reading, const char *operator_,
              struct entry *entry, const struct keypair *keys, struct error *err)
{
    struct log_sign sign = {reading->bout.id, keys};
    return append(db, reading, operator_, entry, 1, &sign, err);
}
