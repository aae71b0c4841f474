/* former.c: what former bouts have most of: those logged last, and all of either fighter. */
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "ringtally/data/data.h"
#include "ringtally/log/log_history.h"

/* Adds a bout that is over to those it belongs to: 1 << corner of `own`, and `here`. */
static int add(struct former *out, struct log *log, const struct bout *bout, bool here,
               const uint8_t own[CORNER_COUNT], struct rules_kept *kept, struct error *err)
{
    struct fold *fold = NULL;
    int code = data_keep_rules(kept, bout, err);
    if (code == ERROR_MEMORY) {
        return code;
    }
    if (code) { /* its rule set is not to be had any more */
        out->here.cut = out->here.cut || here;
        return 0;
    }
    struct clock_plan plan = clock_plan(&kept->rules, bout->rounds);
    code = log_fold(log, bout, &plan, FOLD_OFFICIAL, &fold, err);
    if (!code && fold_tally(fold)->last_round > 0 && fold_over(fold, fold_now(fold, when_now()))) {
        int failed = here ? records_add(&out->here, bout->id, fold, 3) : 0;
        for (int corner = 0; corner < CORNER_COUNT && !failed; corner++) {
            failed = own[corner] ? records_add(&out->own[corner], bout->id, fold, own[corner]) : 0;
        }
        code = failed ? error_memory(err) : 0;
    }
    fold_free(fold);
    return code;
}

/* The corners of `former` that the fighter had. */
static uint8_t corners_of(const struct bout *former, const char *name)
{
    return (uint8_t)((strcmp(former->fighter[CORNER_RED].name, name) == 0) << CORNER_RED |
                     (strcmp(former->fighter[CORNER_BLUE].name, name) == 0) << CORNER_BLUE);
}

/* A fighter's bouts that come before all of `seen`. */
static int add_older(struct former *out, struct log *log, const struct bout *bout,
                     enum corner corner, const struct bout *seen, size_t seen_count,
                     struct rules_kept *kept, struct error *err)
{
    struct fighter_bout *bouts = NULL;
    size_t count = 0, at = 0;
    int code = log_fighter_bouts(log, bout->fighter[corner].name, &bouts, &count, err);
    while (at < count && bouts[at].bout.id != bout->id) {
        at++;
    }
    for (at++; at < count && !code; at++) {
        uint8_t own[CORNER_COUNT] = {0, 0};
        bool known = false;
        for (size_t i = 0; i < seen_count && !known; i++) {
            known = seen[i].id == bouts[at].bout.id;
        }
        own[corner] = (uint8_t)(1u << bouts[at].corner);
        out->own[corner].cut = out->own[corner].bouts == FORMER_MOST;
        if (!known && !out->own[corner].cut) {
            code = add(out, log, &bouts[at].bout, false, own, kept, err);
        }
    }
    free(bouts);
    return code;
}

int data_former(struct former *out, struct log *log, const struct bout *bout, struct error *err)
{
    struct bout *bouts = NULL;
    struct rules_kept kept = {.known = false};
    size_t count = 0;
    bool more = false;
    *out = (struct former){.here = {.bout = NULL}};
    int code = log_former_bouts(log, bout->id, FORMER_MOST, &bouts, &count, &more, err);
    out->here.cut = more;
    for (size_t i = 0; i < count && !code; i++) {
        const uint8_t own[CORNER_COUNT] = {corners_of(&bouts[i], bout->fighter[CORNER_RED].name),
                                           corners_of(&bouts[i], bout->fighter[CORNER_BLUE].name)};
        code = add(out, log, &bouts[i], true, own, &kept, err);
    }
    for (int corner = 0; corner < CORNER_COUNT && more && !code; corner++) {
        code = add_older(out, log, bout, (enum corner)corner, bouts, count, &kept, err);
    }
    free(bouts);
    if (code) {
        former_release(out);
    }
    return code;
}
