/* log_page.c: entries one a row: those that the log mode walks, and those that want a look at the
 * bell.
 */
#include <stdio.h>
#include <string.h>

#include "ringtally/tally/review.h"
#include "ringtally/base/text.h"
#include "screen/scene.h"

#define LOOKS_MAX 64 /* rows of them at most */

static const char *const corner_words[CORNER_COUNT + 1] = {"RED", "BLUE", ""};

/* How the entry stands, each word with a comma before it. */
static void standing_words(char *out, size_t size, const struct scene *scene,
                           const struct subject *subject, uint8_t reasons)
{
    char why[96];
    char corrected[32] = "";
    review_words(why, sizeof why, reasons);
    if (subject->corrections > 0) {
        snprintf(corrected, sizeof corrected, ", corrected %dx", subject->corrections);
    }
    snprintf(out, size, "%s%s%s%s%s%s", subject->live ? "" : ", VOID", corrected,
             subject->now.accepted ? ", accepted" : "",
             is_own(scene, subject->now.name) ? "" : ", another desk's", reasons ? ": " : "", why);
}

/* What it is, and behind it how it stands, which is never cut: what is too long is cut before it,
 * the stance first. */
static void log_row(const struct scene *scene, const struct subject *subject, uint8_t reasons,
                    bool cursor, int row, const struct area *area)
{
    char moment[48];
    char words[200];
    char marks[64];
    char standing[224];
    char text[400];
    struct frame *frame = scene->frame;
    const struct entry *now = &subject->now;
    bool strike = now->kind == ENTRY_STRIKE;
    bool cornered = entry_corner(now)[0];
    int column = area->column;
    struct entry plain = *now;
    if (strike) { /* the marks are spelled behind */
        plain.strike.technique = 0;
        plain.strike.position = POSITION_OPEN;
    }
    struct entry marked = *now;
    marked.off_clock = marked.off_clock && !reasons; /* stands among the reasons */
    marked.review = marked.review && !reasons;
    entry_words(words, sizeof words, &plain);
    standing_words(standing, sizeof standing, scene, subject, reasons);
    int room = area->columns - 19 - text_width(standing);
    for (int brief = 0; brief < 2; brief++) {
        mark_words(marks, sizeof marks, &marked, brief);
        snprintf(text, sizeof text, "%s%s%s%s%s", words, marks[0] && !brief ? "," : "", marks,
                 strike ? ", " : "", strike ? stance_names[now->strike.stance] : "");
        if (text_width(text) <= room) {
            break;
        }
    }
    if (cursor) {
        frame_put(frame, row, column, 1, STYLE_STRONG, "\u25ba");
    }
    put_right(frame, row, column + 10, STYLE_DIM, moment_text(moment, scene, now));
    frame_put(frame, row, column + 12, 4,
              corner_style((enum corner)now->strike.corner, cornered && subject->live),
              corner_words[cornered ? now->strike.corner : CORNER_NONE]);
    enum style style = subject->live ? STYLE_PLAIN : STYLE_DIM;
    int end = frame_put(frame, row, column + 18, text_width(text) > room ? room : 0, style, text);
    frame_put(frame, row, end, 0, style, standing);
    if (cursor) {
        frame_restyle(frame, row, column, area->columns, STYLE_URGENT);
    }
}

/* Where to, and by which keys; while the clock runs a pad key is a strike. */
static void jump_line(const struct scene *scene, const struct area *area)
{
    char to[64], hint[160], key[16];
    if (desk_jump(scene->desk, to, sizeof to)) {
        snprintf(hint, sizeof hint, "%s: Enter; Backspace takes a digit back; Esc: none", to);
    } else {
        bool runs = scene->face.state == CLOCK_RUNNING && !desk_is_read_only(scene->desk);
        snprintf(hint, sizeof hint, "2 round, 130 time, 2130 both, then Enter; %s%s: %s",
                 runs ? "" : "pad key or ", key_word(key, scene->keymap->action[ACTION_LOOKUP]),
                 runs ? "next like this" : "its next older");
    }
    mode_line(scene, area, "JUMP", hint);
}

void log_draw(const struct scene *scene, const struct area *area)
{
    const long *order = NULL;
    long cursor = -1;
    char repair[128];
    const uint8_t *reasons = NULL;
    long count = (long)desk_log(scene->desk, &order, &cursor);
    desk_looks(scene->desk, &reasons);
    int rows = area->rows - 1;
    if (desk_mode(scene->desk) == DESK_INSERT) {
        mode_line(scene, area, "INSERT",
                  "the next pad key inserts a strike at this moment; Esc: none");
    } else if (desk_mode(scene->desk) == DESK_JUMP) {
        jump_line(scene, area);
    } else if (desk_amends(scene->desk)) {
        mode_line(scene, area, "OPEN", "the next pad key or mark amends this entry; Esc: none");
    } else if (desk_repair(scene->desk, repair, sizeof repair)) {
        mode_line(scene, area, "RANGE", repair);
    } else {
        char mode[64];
        char hint[160];
        char key[16];
        snprintf(mode, sizeof mode, "LOG: %s", desk_filter_words(scene->desk));
        bool wants = reasons && cursor >= 0 && cursor < count && reasons[order[cursor]];
        char review[16];
        char amend[16];
        char jump[16];
        snprintf(hint, sizeof hint, "%s opens  %s %s  Del voids  + adds  %s filters  %s jumps",
                 key_word(amend, scene->keymap->action[ACTION_AMEND]),
                 key_word(review, scene->keymap->action[ACTION_REVIEW]),
                 wants ? "accepts" : "flags", key_word(key, scene->keymap->action[ACTION_FILTER]),
                 key_word(jump, scene->keymap->action[ACTION_LOOKUP]));
        mode_line(scene, area, mode, hint);
    }
    long first = cursor - rows / 2;
    if (first > count - rows) {
        first = count - rows;
    }
    if (first < 0) {
        first = 0;
    }
    if (count == 0) {
        frame_put(scene->frame, area->row + 1, area->column + 12, 0, STYLE_PLAIN, "none");
    }
    for (int i = 0; i < rows && first + i < count; i++) {
        log_row(scene, &scene->subjects[order[first + i]], reasons ? reasons[order[first + i]] : 0,
                first + i == cursor, area->row + 1 + i, area);
        if (first + i != cursor && desk_in_range(scene->desk, (size_t)(first + i))) {
            frame_restyle(scene->frame, area->row + 1 + i, area->column, area->columns,
                          STYLE_STRONG);
        }
    }
}

/* Then they are listed. */
static bool is_rest(const struct scene *scene)
{
    return scene->face.state == CLOCK_REST || scene->face.state == CLOCK_OVER;
}

/* What is worth a look at the bell, at the right of the rule. */
void looks_count_draw(const struct scene *scene, const struct area *area)
{
    char text[64];
    const uint8_t *reasons = NULL;
    size_t looks = desk_looks(scene->desk, &reasons);
    int off = scene->tally->all.off_clock;
    int end = area->column + area->columns - 1;
    if (looks > 0 && !is_rest(scene)) {
        snprintf(text, sizeof text, " to look at %zu ", looks);
        put_right(scene->frame, area->row, end, STYLE_PLAIN, text);
        end -= text_width(text) + 1;
    }
    if (off > 0) {
        snprintf(text, sizeof text, " off the clock %d ", off);
        put_right(scene->frame, area->row, end, STYLE_PLAIN, text);
    }
}

static bool is_later(const struct entry *a, const struct entry *b)
{
    return a->round != b->round ? a->round > b->round : a->at_ms > b->at_ms;
}

/* Those that want a look, newest moment first, at most `room`; returns how many. */
static int newest_looks(size_t *out, int room, const struct scene *scene, const uint8_t *reasons)
{
    int count = 0;
    for (size_t i = scene->subject_count; i-- > 0;) {
        const struct entry *now = &scene->subjects[i].now;
        if (!reasons[i] ||
            (count == room && !is_later(now, &scene->subjects[out[count - 1]].now))) {
            continue;
        }
        int at = count < room ? count++ : count - 1;
        for (; at > 0 && is_later(now, &scene->subjects[out[at - 1]].now); at--) {
            out[at] = out[at - 1];
        }
        out[at] = i;
    }
    return count;
}

int looks_draw(const struct scene *scene, const struct area *area)
{
    char title[64];
    char hint[128];
    char key[16], amend[16];
    size_t look[LOOKS_MAX];
    const uint8_t *reasons = NULL;
    size_t wanted = desk_looks(scene->desk, &reasons);
    int room = area->rows - 1 < LOOKS_MAX ? area->rows - 1 : LOOKS_MAX;
    if (wanted == 0 || !reasons || room < 1 || !is_rest(scene) || desk_is_read_only(scene->desk)) {
        return 0;
    }
    int count = newest_looks(look, room, scene, reasons);
    snprintf(title, sizeof title, "to look at: %zu", wanted);
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    snprintf(hint, sizeof hint, " \u2191\u2193 enters, then %s accepts, %s opens, Del voids ",
             key_word(key, scene->keymap->action[ACTION_REVIEW]),
             key_word(amend, scene->keymap->action[ACTION_AMEND]));
    if (text_width(title) + text_width(hint) + 8 <= area->columns) {
        put_right(scene->frame, area->row, area->column + area->columns - 1, STYLE_PLAIN, hint);
    }
    for (int i = 0; i < count; i++) {
        log_row(scene, &scene->subjects[look[i]], reasons[look[i]], false, area->row + 1 + i, area);
    }
    return count + 1;
}
