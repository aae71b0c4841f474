/* mover.c: a range of the log for another bout, once the desk is left. */
#include "console/mover.h"

#include <stdio.h>

#include "ringtally/data/move.h"

static void name_bouts(const struct desk *desk, const struct desk_move *move, char from[64],
                       char to[64])
{
    const struct bout *bout = desk_bout(desk);
    snprintf(from, 64, "%s/%d", bout->card, bout->number);
    snprintf(to, 64, "%s/%d", bout->card, move->number);
}

bool mover_allows(struct desk *desk, struct log *log, int64_t now_ms)
{
    char from[64], to[64], why[128] = "";
    const struct desk_row *rows = NULL;
    struct desk_move move;
    struct bout bout;
    struct error err = {0};
    int count = fold_desks(desk_fold(desk), &rows);
    desk_move(desk, &move);
    name_bouts(desk, &move, from, to);
    if (log_bout_find(log, to, &bout, &err)) {
        snprintf(why, sizeof why, "%.100s", err.text);
    }
    for (int i = 0; i < count && !why[0]; i++) {
        if (rows[i].root == i && i != desk_self(desk)->root && log_desk_is_live(log, rows[i].id)) {
            snprintf(why, sizeof why, "%s's desk is open on this bout", rows[i].name);
        }
    }
    if (why[0]) {
        desk_move_refused(desk, why, now_ms);
    }
    return !why[0];
}

int mover_move(const struct desk *desk, const struct seat_setup *setup, struct error *err)
{
    char from[64], to[64];
    struct desk_move asked;
    struct move *move = NULL;
    desk_move(desk, &asked);
    name_bouts(desk, &asked, from, to);
    struct window_ask since = {.from = WINDOW_MOMENT, .ms = asked.since_ms};
    struct window_ask until = {.from = WINDOW_MOMENT, .ms = asked.until_ms};
    struct move_ask ask = {.from = from,
                           .to = to,
                           .operator_ = setup->operator_,
                           .round = asked.round,
                           .corner = asked.corner,
                           .since = asked.since_ms < 0 ? NULL : &since,
                           .until = asked.until_ms < 0 ? NULL : &until};
    int code = move_plan(&move, setup->db, &ask, err);
    code = code ? code : move_write(move, err);
    if (!code) {
        const struct move_told *told = move_tell(move);
        printf("%zu entries, %zu strikes among them, are on %s now%s.\n"
               "On with it: ringtally desk %s\n"
               "Back again: ringtally move %s %s --back\n",
               told->entries, told->strikes, to,
               told->clock        ? ", with the clock"
               : told->clock_ends ? ", which keeps its own clock"
                                  : "",
               to, from, to);
        if (told->apart > 0) {
            printf("%zu strikes count apart there: another desk was official\n", told->apart);
        }
    }
    move_free(move);
    return code;
}
