/* write.c: what a desk writes: entries and corrections, in their place in the order. */
#include <string.h>

#include "desk/session.h"
#include "ringtally/base/grow.h"

struct entry write_blank(const struct desk *desk, enum entry_kind kind, int64_t now_ms)
{
    struct clock_face face = desk_clock(desk, now_ms);
    return (struct entry){
        .kind = (uint8_t)kind,
        .act = ACT_ADD,
        .undoes = ENTRY_NONE,
        .subject = ENTRY_NONE,
        .round = (uint8_t)face.round,
        .elapsed_ms = face.elapsed_ms,
        .off_clock = face.state != CLOCK_RUNNING,
        .strike.position = (uint8_t)session_position(desk, now_ms),
    };
}

/* Above all that the desk knows, its own and others', also where a clock elsewhere runs ahead; the
 * entries of one keystroke share it. The moment itself is in at_ms. */
static int64_t place_in_order(struct desk *desk, int64_t now_ms)
{
    if (desk->stroke_utc_ms == 0) {
        int64_t newest = fold_newest_ms(desk->fold);
        desk->stroke_utc_ms = now_ms > newest ? now_ms : newest + 1;
    }
    return desk->stroke_utc_ms;
}

bool write_entry(struct desk *desk, struct entry entry, int64_t now_ms)
{
    if (desk_is_read_only(desk)) {
        session_notice(desk, now_ms, true, "%s", session_closed(desk));
        return false;
    }
    /* Room everywhere first: either all of it happens or nothing. */
    if (!grow_array(&desk->fresh, sizeof *desk->fresh, desk->fresh_count, 1, &desk->fresh_room) ||
        fold_reserve(desk->fold, 1) || (desk->own && fold_reserve(desk->own, 1)) ||
        !steps_reserve(desk)) {
        session_notice(desk, now_ms, true, "OUT OF MEMORY: the last key was not logged");
        return false;
    }
    entry.name = (struct entry_name){desk->self, desk->next_seq};
    entry.utc_ms = place_in_order(desk, now_ms);
    if (entry.act == ACT_ADD) {
        entry.subject = entry.name;
    }
    if (entry.at_ms == 0) {
        entry.at_ms = session_moment(desk, now_ms);
    }
    fold_add(desk->fold, &entry);
    if (desk->own) {
        fold_add(desk->own, &entry);
    }
    steps_replay(desk, &entry);
    desk->fresh[desk->fresh_count++] = entry;
    desk->next_seq++;
    return true;
}

bool write_strike(struct desk *desk, struct strike strike, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_STRIKE, now_ms);
    strike.stance = (uint8_t)session_stance(desk, (enum corner)strike.corner, now_ms);
    entry.review = desk->reel.on && desk->reel.guessed;
    strike.position = entry.strike.position;
    entry.strike = strike;
    return write_entry(desk, entry, now_ms);
}

bool write_change(struct desk *desk, struct entry_name subject, struct entry now,
                  enum entry_act act, int64_t now_ms)
{
    if (desk_is_read_only(desk)) {
        session_notice(desk, now_ms, true, "%s", session_closed(desk));
        return false;
    }
    now.name = (struct entry_name){desk->self, desk->next_seq};
    now.utc_ms = place_in_order(desk, now_ms);
    now.subject = subject;
    now.act = (uint8_t)act;
    enum fold_effect effect = fold_would(session_fold(desk), &now);
    if (effect != EFFECT_TAKEN) {
        alarm_raise(desk, ALARM_UNCOUNTED, now_ms);
        session_notice(desk, now_ms, true, "%s: it stays as it is", fold_effect_words[effect]);
        return false;
    }
    return write_entry(desk, now, now_ms);
}

bool write_claims(struct desk *desk, uint8_t roles, int64_t now_ms)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    for (int i = 0; i < 3; i++) {
        if ((roles >> i & 1) && !desk_is_official(desk, codes[i])) {
            struct entry entry = write_blank(desk, ENTRY_OFFICIAL, now_ms);
            entry.code = (uint8_t)codes[i];
            entry.at_ms = now_ms; /* an office is of this day, whatever the recording shows */
            if (!write_entry(desk, entry, now_ms)) {
                return false;
            }
        }
    }
    return true;
}
