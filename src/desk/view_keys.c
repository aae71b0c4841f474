/* view_keys.c: what was not seen, or not well. */
#include "desk/session.h"

static bool write_view(struct desk *desk, enum corner corner, enum entry_code code, int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_VIEW, now_ms);
    entry.code = (uint8_t)code;
    entry.strike.corner = (uint8_t)corner;
    return write_entry(desk, entry, now_ms);
}

/* Both, red, blue, none, and round again; of the corners that this desk tags. */
void view_key(struct desk *desk, int64_t now_ms)
{
    static const char *const words[] = {"the view is free again", "red: view blocked",
                                        "blue: view blocked", "view blocked"};
    const struct fold *fold = session_fold(desk);
    unsigned mine = desk_self(desk)->corners & 3u;
    unsigned hidden =
        (fold_hidden(fold, CORNER_RED) ? 1u : 0) | (fold_hidden(fold, CORNER_BLUE) ? 2u : 0);
    unsigned wanted = hidden == 0 ? mine : hidden == 3 ? 1 : hidden == 1 && mine == 3 ? 2 : 0;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        unsigned bit = 1u << corner;
        if ((hidden ^ wanted) & bit & mine &&
            !write_view(desk, (enum corner)corner, wanted & bit ? CODE_HIDDEN : CODE_SEEN,
                        now_ms)) {
            return; /* it said so */
        }
    }
    session_notice(desk, now_ms, wanted != 0, "%s%s", words[wanted],
                   wanted ? ", until that corner's next strike; again: another corner" : "");
}

void unsure_key(struct desk *desk, int64_t now_ms)
{
    const struct subject *subject = newest_strike(desk, CORNER_NONE, now_ms);
    char words[128];
    if (!subject) {
        session_notice(desk, now_ms, true, "no strike in this round to mark");
        return;
    }
    struct entry now = subject->now;
    now.unsure = !now.unsure;
    now.undoes = ENTRY_NONE;
    entry_words(words, sizeof words, &now);
    if (write_change(desk, now.name, now, ACT_REFINE, now_ms)) {
        session_notice(desk, now_ms, false, "%s: %s%s", now.unsure ? "not seen well" : "seen well",
                       entry_corner(&now), words);
    }
}
