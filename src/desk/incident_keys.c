/* incident_keys.c: an incident of a corner: its key, a letter, for a foul a number. */
#include <stdio.h>

#include "desk/session.h"
#include "ringtally/base/text.h"

/* The letters of the incident prompt. */
static const struct {
    char letter;
    enum entry_code code;
} incidents[] = {
    {'w', CODE_WARNING}, {'d', CODE_DEDUCTION}, {'c', CODE_COUNT},      {'k', CODE_KNOCKED_DOWN},
    {'t', CODE_THROW},   {'i', CODE_INJURY},    {'a', CODE_ADMONITION}, {'n', CODE_NOTED},
};

static void write_incident(struct desk *desk, enum entry_code code, const char *text,
                           int64_t now_ms)
{
    struct entry entry = write_blank(desk, ENTRY_INCIDENT, now_ms);
    char words[160];
    entry.code = (uint8_t)code;
    entry.strike.corner = (uint8_t)desk->prompt;
    entry.value = code == CODE_DEDUCTION ? 1 : 0;
    entry.review = code == CODE_NOTED; /* until it has words */
    snprintf(entry.text, sizeof entry.text, "%s", text);
    entry_words(words, sizeof words, &entry);
    live(desk);
    if (!write_entry(desk, entry, now_ms)) {
        return;
    }
    enum corner corner = desk->prompt;
    session_notice(desk, now_ms, false, "%s: %s", corner_names[corner], words);
    if (code == CODE_COUNT || code == CODE_KNOCKED_DOWN) {
        struct entry_name name = {desk->self, desk->next_seq - 1};
        count_begin(desk, name, corner, now_ms);
    } else if (code == CODE_INJURY) {
        clock_pause(desk, now_ms);
    } else if (code == CODE_NOTED) {
        note_open(desk, (struct entry_name){desk->self, desk->next_seq - 1}, now_ms);
    }
    limits_tell(desk, corner, now_ms);
}

bool incident_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    if (key == KEY_OF_ESC) {
        live(desk);
        return true;
    }
    if (desk->mode == DESK_FOUL) {
        int digit = keymap_digit(&desk->keymap, key);
        if (digit >= 1 && digit <= desk->rules.fouls) {
            write_incident(desk, CODE_FOUL, desk->rules.foul[digit - 1].words, now_ms);
            return true;
        }
        live(desk);
        return false;
    }
    if (key == desk->keymap.action[ACTION_REVIEW]) {
        live(desk);
        review_key(desk, desk->prompt, now_ms);
        return true;
    }
    for (size_t i = 0; i < sizeof incidents / sizeof incidents[0]; i++) {
        if (text_lower(key) == incidents[i].letter) { /* whatever Caps Lock does to it */
            write_incident(desk, incidents[i].code, "", now_ms);
            return true;
        }
    }
    if (text_lower(key) == 'f') {
        if (desk->rules.fouls == 0) {
            write_incident(desk, CODE_FOUL, "", now_ms);
        } else {
            desk->mode = DESK_FOUL;
            desk->mode_until_ms = now_ms + DESK_PROMPT_MS;
        }
        return true;
    }
    live(desk);
    return false;
}

void incident_enter(struct desk *desk, enum corner corner, int64_t now_ms)
{
    desk->mode = DESK_INCIDENT;
    desk->mode_until_ms = now_ms + DESK_PROMPT_MS;
    desk->prompt = corner;
}
