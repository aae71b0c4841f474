/* burst.c: keys that came at once, more than hands can type: a paste without its marks, a stuck
 * line.
 */
#include <stdio.h>
#include <string.h>

#include "desk/session.h"
#include "ringtally/base/error.h"
#include "ringtally/base/grow.h"

int desk_hold(struct desk *desk, const int32_t *keys, size_t count, int64_t now_ms)
{
    struct burst *burst = &desk->burst;
    char word[16];
    if (!grow_array(&burst->key, sizeof *burst->key, burst->count, count, &burst->room)) {
        return ERROR_MEMORY;
    }
    memcpy(burst->key + burst->count, keys, count * sizeof *keys);
    burst->count += count;
    burst->at_ms = now_ms;
    snprintf(burst->words, sizeof burst->words,
             "%zu keys came at once, which no hand types: held back. %s logs them, Esc drops them",
             burst->count, key_word(word, desk->keymap.action[ACTION_TURN]));
    session_notice(desk, now_ms, true, "%s", burst->words);
    return 0;
}

bool burst_key(struct desk *desk, int32_t key, enum action action, int64_t now_ms)
{
    struct burst *burst = &desk->burst;
    size_t count = burst->count;
    if (count == 0 || (key != KEY_OF_ESC && action != ACTION_TURN)) {
        return false;
    }
    burst->count = 0;
    for (size_t i = 0; action == ACTION_TURN && i < count; i++) {
        struct meaning meaning = keymap_find(&desk->keymap, burst->key[i]);
        if (meaning.action == ACTION_STRIKE || meaning.action == ACTION_LANDED) {
            session_stroke(desk);
            take_key(desk, burst->key[i], meaning, burst->at_ms);
        }
    }
    session_notice(desk, now_ms, true, "%zu keys that came at once were %s", count,
                   action == ACTION_TURN ? "logged" : "dropped");
    return true;
}
