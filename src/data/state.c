/* state.c: how a bout of a card stands. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "ringtally/data/data.h"
#include "ringtally/tally/officials.h"

/* The operators whose desks are open now. */
static int open_desks(struct bout_state *out, struct log *log, const struct bout *bout,
                      struct error *err)
{
    struct desk_row *desks = NULL;
    int count = 0;
    int code = log_desks(log, bout->id, &desks, &count, err);
    for (int i = 0; i < count && !code; i++) {
        size_t used = strlen(out->desks);
        if (desks[i].root == i && log_desk_is_live(log, desks[i].id)) {
            snprintf(out->desks + used, sizeof out->desks - used, "%s%s", used ? ", " : "",
                     desks[i].name);
        }
    }
    free(desks);
    return code;
}

static void result_text(struct bout_state *out, const struct officials *officials,
                        const struct rules *rules)
{
    char time[WHEN_SIZE];
    const struct official *official = &officials->official;
    bool won = official->winner < CORNER_COUNT;
    int used = snprintf(out->result, sizeof out->result, "%s%s%s",
                        decision_name(rules, (enum decision_kind)official->kind), won ? ", " : "",
                        won ? corner_names[official->winner] : "");
    if (official->round > 0 && used > 0 && (size_t)used < sizeof out->result) {
        bool timed = official->elapsed_ms >= 0;
        snprintf(out->result + used, sizeof out->result - (size_t)used, ", R%d%s%s",
                 official->round, timed ? " " : "",
                 timed ? when_clock(time, official->elapsed_ms) : "");
    }
}

int data_bout_state(struct bout_state *out, struct log *log, const struct bout *bout,
                    struct error *err)
{
    struct rules rules;
    struct fold *fold = NULL;
    struct officials officials;
    memset(out, 0, sizeof *out);
    int code = log_bout_entries(log, bout->id, &out->entries, err);
    code = code ? code : open_desks(out, log, bout, err);
    if (code || out->entries == 0) {
        return code;
    }
    code = data_bout_rules(&rules, bout, err);
    if (code) {
        return code;
    }
    struct clock_plan plan = clock_plan(&rules, bout->rounds);
    code = log_fold(log, bout, &plan, FOLD_OFFICIAL, &fold, err);
    if (code) {
        return code;
    }
    const struct tally *tally = fold_tally(fold);
    const struct entry *signature = fold_signed(fold);
    out->strikes =
        tally->all.corner[CORNER_RED].all.attempted + tally->all.corner[CORNER_BLUE].all.attempted;
    out->rounds = fold_clock(fold)->round;
    if (signature) {
        snprintf(out->signer, sizeof out->signer, "%s", signature->text);
    }
    officials_read(&officials, fold, &rules, bout, when_now());
    if (officials.announced) {
        result_text(out, &officials, &rules);
    }
    fold_free(fold);
    return 0;
}
