/* reading.c: a bout read from the log, for whoever writes about it. */
#include <string.h>

#include "cli.h"
#include "ringtally/when.h"

int reading_open(struct reading *out, const struct call *call, const char *ref, const char *round,
                 struct error *err)
{
    int code = 0;
    int number = 0;
    memset(out, 0, sizeof *out);
    code = cli_log_open(&out->log, call, LOG_READ, err);
    code = code ? code : log_bout_find(out->log, ref, &out->bout, err);
    code = code ? code : cli_rules(&out->rules, out->bout.rules, err);
    if (!code && round) {
        code = cli_number(&number, "--round", round, 1, ROUND_MAX, err);
    }
    if (code) {
        return code;
    }
    struct clock_plan plan = clock_plan(&out->rules, out->bout.rounds);
    code = log_card_get(out->log, out->bout.card, &out->card, err);
    code = code ? code : log_fold(out->log, &out->bout, &plan, FOLD_OFFICIAL, &out->fold, err);
    if (code) {
        return code;
    }
    int known = fold_tally(out->fold)->last_round;
    int last = known > plan.rounds ? known : plan.rounds;
    if (number > last) {
        return error_set(err, ERROR_FAILED, "%s/%d has no round %d (%d rounds)", out->bout.card,
                         out->bout.number, number, last);
    }
    /* A script played faster than time has entries ahead of the wall. */
    int64_t newest = fold_newest_ms(out->fold);
    int64_t now = when_now();
    out->view = (struct sheet_view){
        .card = &out->card,
        .bout = &out->bout,
        .rules = &out->rules,
        .fold = out->fold,
        .round = number,
        .now_ms = now > newest ? now : newest,
    };
    return 0;
}

void reading_release(struct reading *reading)
{
    fold_free(reading->fold);
    card_release(&reading->card);
    log_close(reading->log);
}
