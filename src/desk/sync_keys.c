/* sync_keys.c: the replay desk reads its time code out loud; the key is pressed at that moment, the
 * digits follow. */
#include <stdio.h>
#include <string.h>

#include "ringtally/tally/marks.h"
#include "ringtally/bout/timecode.h"
#include "desk/session.h"

#define DIGITS 8 /* HHMMSSFF */

void sync_enter(struct desk *desk, int64_t now_ms)
{
    struct sync_point before;
    desk->mode = DESK_SYNC;
    desk->mode_until_ms = 0;
    desk->sync = (struct sync_typing){.at_ms = now_ms, .rate = 2}; /* 25 */
    if (marks_sync(&before, desk->fold)) {
        desk->sync.rate = (int)(before.rate - timecode_rates);
    }
}

static const struct timecode_rate *rate_of(const struct desk *desk)
{
    return &timecode_rates[desk->sync.rate];
}

/* The label as far as it is typed, '_' for what is missing. */
static void label_of(const struct desk *desk, char out[TIMECODE_SIZE])
{
    const char *digits = desk->sync.digit;
    char typed[DIGITS + 1];
    memset(typed, '_', DIGITS);
    typed[DIGITS] = '\0';
    memcpy(typed, digits, (size_t)desk->sync.typed);
    snprintf(out, TIMECODE_SIZE, "%.2s:%.2s:%.2s%c%.2s", typed, typed + 2, typed + 4,
             rate_of(desk)->dropped ? ';' : ':', typed + 6);
}

static void sync_write(struct desk *desk, int64_t now_ms)
{
    char label[TIMECODE_SIZE], text[SYNC_SIZE];
    struct sync_point point = {.rate = rate_of(desk), .utc_ms = desk->sync.at_ms};
    struct error err = {0};
    label_of(desk, label);
    if (desk->sync.typed < DIGITS || timecode_parse(&point.frame, point.rate, label, &err)) {
        session_notice(desk, now_ms, true, "%s",
                       err.text[0] ? err.text : "eight digits are needed: HHMMSSFF");
        return;
    }
    struct entry entry = write_blank(desk, ENTRY_NOTE, now_ms);
    entry.off_clock = false;
    entry.at_ms = desk->sync.at_ms;
    snprintf(entry.text, sizeof entry.text, "%s", sync_print(text, &point));
    desk->mode = DESK_LIVE;
    if (write_entry(desk, entry, now_ms)) {
        session_notice(desk, now_ms, false, "time code %s at %s frames a second noted", label,
                       point.rate->name);
    }
}

bool sync_key(struct desk *desk, int32_t key, struct meaning meaning, int64_t now_ms)
{
    struct sync_typing *sync = &desk->sync;
    int digit = keymap_digit(&desk->keymap, key);
    if (digit >= 0) {
        if (sync->typed < DIGITS) {
            sync->digit[sync->typed++] = (char)('0' + digit);
        }
    } else if (key == KEY_OF_BACKSPACE) {
        sync->typed -= sync->typed > 0;
    } else if (key == KEY_OF_TAB) {
        sync->rate++;
        sync->rate = timecode_rates[sync->rate].name ? sync->rate : 0;
    } else if (key == KEY_OF_ENTER) {
        sync_write(desk, now_ms);
    } else {
        desk->mode = DESK_LIVE;
        return key == KEY_OF_ESC || meaning.action == ACTION_SYNC;
    }
    return true;
}

bool desk_sync(const struct desk *desk, char *out, size_t size)
{
    char label[TIMECODE_SIZE];
    label_of(desk, label);
    snprintf(out, size, "%s at %s", label, rate_of(desk)->name);
    return desk->mode == DESK_SYNC;
}
