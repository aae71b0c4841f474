/* note_keys.c: the words of a note: a cut, a slip that was ruled, gloves that were taped.
 *
 * The note itself stands in the log at once, at its moment, and wants a look until it has words.
 * They are typed while the clock stands: while it runs a pad key is a strike.
 */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "desk/session.h"

static bool runs(const struct desk *desk, int64_t now_ms)
{
    return desk_clock(desk, now_ms).state == CLOCK_RUNNING;
}

void note_open(struct desk *desk, struct entry_name name, int64_t now_ms)
{
    char key[16];
    const struct subject *subject = fold_subject(session_fold(desk), name);
    if (runs(desk, now_ms)) {
        key_word(key, desk->keymap.action[ACTION_AMEND]);
        session_notice(desk, now_ms, false,
                       "%s: a note. Its words while the clock stands: in the log, by %s",
                       corner_names[subject->now.strike.corner], key);
        return;
    }
    desk->mode = DESK_NOTE;
    desk->mode_until_ms = 0;
    desk->note = (struct note_typing){.of = name};
    snprintf(desk->note.text, sizeof desk->note.text, "%s", subject->now.text);
}

void note_finish(struct desk *desk, int64_t now_ms)
{
    struct note_typing *note = &desk->note;
    const struct subject *subject = fold_subject(session_fold(desk), note->of);
    char clean[TEXT_BYTES], words[160];
    live(desk);
    if (!subject || !text_clean(clean, sizeof clean, note->text) ||
        strcmp(clean, subject->now.text) == 0) {
        return;
    }
    struct entry now = subject->now;
    now.undoes = ENTRY_NONE;
    now.review = clean[0] == '\0';
    memcpy(now.text, clean, sizeof now.text);
    entry_words(words, sizeof words, &now);
    if (write_change(desk, note->of, now, ACT_REFINE, now_ms)) {
        session_notice(desk, now_ms, false, "%s: %s", corner_names[now.strike.corner], words);
    }
}

static void add(struct desk *desk, int32_t key, int64_t now_ms)
{
    char *text = desk->note.text, bytes[5];
    size_t used = strlen(text), more = (size_t)text_encode(bytes, key);
    if (used + more >= sizeof desk->note.text) {
        session_notice(desk, now_ms, false, "a note has %zu bytes at most",
                       sizeof desk->note.text - 1);
        return;
    }
    memcpy(text + used, bytes, more + 1);
}

/* The newest character. */
static void rub_out(struct desk *desk, int64_t now_ms)
{
    char *text = desk->note.text;
    size_t used = strlen(text);
    if (used == 0) {
        session_notice(desk, now_ms, false, "nothing is typed: Esc leaves");
        return;
    }
    do {
        used--;
    } while (used > 0 && ((unsigned char)text[used] & 0xc0) == 0x80);
    text[used] = '\0';
}

bool note_key(struct desk *desk, int32_t key, int64_t now_ms)
{
    if (key == KEY_OF_ESC) {
        live(desk);
        return true;
    }
    if (key == KEY_OF_ENTER) {
        note_finish(desk, now_ms);
        return true;
    }
    if (runs(desk, now_ms)) { /* another desk has started it */
        note_finish(desk, now_ms);
        return false;
    }
    if (key == KEY_OF_BACKSPACE) {
        rub_out(desk, now_ms);
    } else if (key < KEY_OF_ENTER) {
        add(desk, key, now_ms);
    } else {
        note_finish(desk, now_ms);
        return false;
    }
    return true;
}

bool desk_note(const struct desk *desk, enum corner *corner, char *out, size_t size)
{
    const struct subject *subject = fold_subject(session_fold(desk), desk->note.of);
    bool open = desk->mode == DESK_NOTE && subject;
    *corner = open ? (enum corner)subject->now.strike.corner : CORNER_NONE;
    snprintf(out, size, "%s", open ? desk->note.text : "");
    return open;
}
