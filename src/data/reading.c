/* reading.c: a bout read from the log, for whoever writes about it. */
#include <stdlib.h>
#include <string.h>

#include "ringtally/data/data.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/signs.h"
#include "ringtally/log/verify.h"
#include "ringtally/base/when.h"

int reading_open(struct reading *out, const char *db, const char *ref, int round, struct error *err)
{
    return reading_open_air(out, db, ref, round, NULL, err);
}

int reading_open_air(struct reading *out, const char *db, const char *ref, int round,
                     struct air *air, struct error *err)
{
    memset(out, 0, sizeof *out);
    out->air = air;
    int code = data_log_open(&out->log, db, LOG_READ, err);
    code = code ? code : log_bout_find(out->log, ref, &out->bout, err);
    code = code ? code : data_bout_rules(&out->rules, &out->bout, err);
    if (code) {
        return code;
    }
    out->view = (struct sheet_view){
        .card = &out->card, .bout = &out->bout, .rules = &out->rules, .round = round};
    code = log_card_get(out->log, out->bout.card, &out->card, err);
    code = code ? code : reading_refresh(out, err);
    if (code) {
        return code;
    }
    struct clock_plan plan = clock_plan(&out->rules, out->bout.rounds);
    int known = fold_tally(out->fold)->last_round;
    int last = known > plan.rounds ? known : plan.rounds;
    if (round > last) {
        return error_set(err, ERROR_FAILED, "%s/%d has no round %d (%d rounds)", out->bout.card,
                         out->bout.number, round, last);
    }
    return 0;
}

int reading_refresh(struct reading *reading, struct error *err)
{
    struct clock_plan plan = clock_plan(&reading->rules, reading->bout.rounds);
    struct air *air = reading->air;
    struct fold *fold = NULL;
    log_read_until(reading->log, air ? air->until : 0);
    int code = log_fold(reading->log, &reading->bout, &plan, FOLD_OFFICIAL, &fold, err);
    if (!code && air && air->holds) {
        struct fold *all = fold;
        code = gate_fold(&fold, &reading->gate, all, &reading->bout, air->holds, err);
        fold_free(all);
    }
    if (code) {
        return code;
    }
    reading->gate.delay_ms = air ? air->delay_ms : 0;
    reading->view.gate = air ? &reading->gate : NULL;
    fold_free(reading->fold);
    reading->view.fold = reading->fold = fold;
    reading->view.seal = NULL;
    if (fold_signed(fold)) {
        code = verify_seal(reading->log, reading->bout.id, &reading->seal, err);
        reading->view.seal = code ? NULL : &reading->seal;
    }
    return code ? code : reading_look(reading, err);
}

int reading_look(struct reading *reading, struct error *err)
{
    const struct desk_row *desks = NULL;
    int count = fold_desks(reading->fold, &desks);
    int64_t now = air_wall(reading->air);
    struct air *air = reading->air;
    struct desk_sign *signs = realloc(reading->signs, ((size_t)count + 1) * sizeof *signs);
    if (!signs) {
        return error_memory(err);
    }
    signs_read(reading->log, desks, count, when_now(), signs);
    if (air && air->signs_of != reading->bout.id) {
        late_release(&air->signs);
        air->signs_of = reading->bout.id;
    }
    reading->signs = signs;
    int code = air_signs(air, air ? &air->signs : NULL, signs, count, err);
    if (code) {
        return code;
    }
    reading->view.signs = reading->signs = signs;
    reading->view.now_ms = fold_now(reading->fold, now);
    reading->view.wall_ms = now;
    return 0;
}

int reading_former(struct reading *reading, struct error *err)
{
    if (reading->view.former) {
        return 0;
    }
    int code = data_former(&reading->former, reading->log, &reading->bout, err);
    reading->view.former = code ? NULL : &reading->former;
    return code;
}

void reading_release(struct reading *reading)
{
    former_release(&reading->former);
    fold_free(reading->fold);
    free(reading->signs);
    card_release(&reading->card);
    log_close(reading->log);
}
