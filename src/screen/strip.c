/* strip.c: under the pad: the newest entries of each corner, or what a mode asks for. */
#include <stdio.h>
#include <string.h>

#include "ringtally/review.h"
#include "ringtally/text.h"
#include "scene.h"

#define RING_ROWS 8 /* up to here entries keep their rows, so that a strike changes one row */

static const char *const corner_words[CORNER_COUNT + 1] = {"RED", "BLUE", ""};

static int root_of(const struct scene *scene, int desk)
{
    const struct desk_row *rows = NULL;
    int count = fold_desks(scene->fold, &rows);
    return desk >= 0 && desk < count ? rows[desk].root : desk;
}

/* What belongs into a corner's list: all of this desk, and what counts of others; voided ones too.
 */
static bool is_listed(const struct scene *scene, const struct subject *subject, enum corner corner)
{
    const struct entry *now = &subject->now;
    return now->strike.corner == corner &&
           (now->kind == ENTRY_STRIKE || now->kind == ENTRY_INCIDENT) &&
           ((subject->official >> corner & 1) ||
            root_of(scene, now->name.desk) == desk_self(scene->desk)->root);
}

static const char *outcome_word(const struct subject *subject)
{
    if (!subject->live) {
        return "void";
    }
    switch (subject->now.strike.outcome) {
    case OUTCOME_LANDED:
        return "landed";
    case OUTCOME_BLOCKED:
        return "blocked";
    default:
        return "";
    }
}

/* Aligned fields: moment, limb, target, outcome, marks. */
static void entry_draw(const struct scene *scene, const struct subject *subject, bool newest,
                       int row, int column, int columns)
{
    char moment[48];
    char words[200];
    char marks[64];
    struct frame *frame = scene->frame;
    const struct entry *now = &subject->now;
    enum style style = subject->live ? STYLE_PLAIN : STYLE_DIM;
    if (newest) {
        frame_put(frame, row, column, 1, STYLE_PLAIN, "\u25ba");
    }
    put_right(frame, row, column + 9, style, moment_text(moment, scene, now));
    if (now->kind == ENTRY_INCIDENT) {
        entry_words(words, sizeof words, now);
        frame_putf(frame, row, column + 10, columns - 10, subject->live ? STYLE_STRONG : style,
                   "%s%s", subject->live ? "" : "void: ", words);
        return;
    }
    mark_words(marks, sizeof marks, now, columns < 50);
    snprintf(words, sizeof words, "%-11s %-4s %-7s%s", limb_words[now->strike.limb],
             target_names[now->strike.target], outcome_word(subject), marks);
    frame_put(frame, row, column + 10, columns - 10, style, words);
}

static void corner_list_draw(const struct scene *scene, enum corner corner, const struct area *area)
{
    int listed = 0;
    for (size_t i = 0; i < scene->subject_count; i++) {
        listed += is_listed(scene, &scene->subjects[i], corner);
    }
    bool ring = area->rows <= RING_ROWS;
    int place = listed - 1;
    for (size_t i = scene->subject_count; i-- > 0 && listed - place <= area->rows;) {
        if (is_listed(scene, &scene->subjects[i], corner)) {
            int row = ring ? place % area->rows : listed - 1 - place;
            entry_draw(scene, &scene->subjects[i], place == listed - 1, area->row + row,
                       area->column, area->columns);
            place--;
        }
    }
}

/* What is worth a look at the bell, at the right of the rule. */
static void looks_draw(const struct scene *scene, const struct area *area)
{
    char text[64];
    const uint8_t *reasons = NULL;
    size_t looks = desk_looks(scene->desk, &reasons);
    int off = scene->tally->all.off_clock;
    int end = area->column + area->columns - 1;
    if (looks > 0) {
        snprintf(text, sizeof text, " to look at %zu ", looks);
        put_right(scene->frame, area->row, end, STYLE_PLAIN, text);
        end -= text_width(text) + 1;
    }
    if (off > 0) {
        snprintf(text, sizeof text, " off the clock %d ", off);
        put_right(scene->frame, area->row, end, STYLE_PLAIN, text);
    }
}

static void newest_draw(const struct scene *scene, const struct area *area)
{
    int half = area->columns / 2;
    put_rule(scene->frame, area->row, area->column, area->columns, "newest");
    looks_draw(scene, area);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct area list = {area->row + 1, area->column + corner * half, area->rows - 1, half - 1};
        corner_list_draw(scene, (enum corner)corner, &list);
    }
}

/* An inverted line over the whole width: nobody overlooks which mode the keys are in. */
void mode_line(const struct scene *scene, const struct area *area, const char *mode,
               const char *hint)
{
    char text[256];
    snprintf(text, sizeof text, " %s   %s", mode, hint);
    frame_put(scene->frame, area->row, area->column, area->columns, STYLE_URGENT, text);
}

/* Choices in as many columns as it takes. */
static void choices_draw(const struct scene *scene, const struct area *area, char first,
                         const char *const *words, int count)
{
    int rows = area->rows - 1;
    int columns = count > rows * 2 ? (count + rows - 1) / rows : 2;
    int width = area->columns / columns;
    rows = (count + columns - 1) / columns;
    for (int i = 0; i < count; i++) {
        int row = area->row + 1 + i % rows;
        int column = area->column + 2 + i / rows * width;
        char key[2] = {first ? (char)(first + i) : words[i][0], '\0'};
        frame_put(scene->frame, row, column, 1, STYLE_STRONG, key);
        frame_put(scene->frame, row, column + 3, width - 5, STYLE_PLAIN,
                  first ? words[i] : words[i] + 2);
    }
}

static void incident_draw(const struct scene *scene, const struct area *area)
{
    static const char *const letters[] = {"w warning",      "d deduction", "c standing count",
                                          "k knocked down", "t throw",     "i injury pause",
                                          "f foul"};
    char mode[32];
    snprintf(mode, sizeof mode, "%s INCIDENT", corner_words[desk_prompt(scene->desk)]);
    mode_line(scene, area, mode, "which? one letter; Esc: none");
    choices_draw(scene, area, 0, letters, (int)(sizeof letters / sizeof *letters));
}

static void foul_draw(const struct scene *scene, const struct area *area)
{
    char mode[32];
    const char *words[FOUL_MAX];
    for (int i = 0; i < scene->rules->fouls; i++) {
        words[i] = scene->rules->foul[i].words;
    }
    snprintf(mode, sizeof mode, "%s FOUL", corner_words[desk_prompt(scene->desk)]);
    mode_line(scene, area, mode, "which? its number; Esc: none");
    choices_draw(scene, area, '1', words, scene->rules->fouls);
}

static void log_row(const struct scene *scene, long index, bool cursor, int row,
                    const struct area *area)
{
    char moment[48];
    char words[200];
    char marks[64];
    char why[96];
    char text[500];
    const uint8_t *reasons = NULL;
    const struct subject *subject = &scene->subjects[index];
    struct frame *frame = scene->frame;
    const struct entry *now = &subject->now;
    int column = area->column;
    bool foreign = root_of(scene, now->name.desk) != desk_self(scene->desk)->root;
    struct entry plain = *now;
    plain.strike.technique = 0; /* the marks are spelled behind */
    plain.strike.position = POSITION_OPEN;
    if (now->kind == ENTRY_STRIKE) {
        entry_words(words, sizeof words - 16, &plain);
        size_t used = strlen(words);
        snprintf(words + used, sizeof words - used, ", %s", stance_names[now->strike.stance]);
    } else {
        entry_words(words, sizeof words, now);
    }
    mark_words(marks, sizeof marks, now, false);
    /* Flagged and off the clock are among the marks. */
    desk_looks(scene->desk, &reasons);
    review_words(why, sizeof why, reasons[index] & (uint8_t) ~(REVIEW_FLAGGED | REVIEW_OFF_CLOCK));
    snprintf(text, sizeof text, "%s%s%s%s%s%s%s%s%s", words, marks[0] ? "," : "", marks,
             why[0] ? ", " : "", why, subject->live ? "" : ", VOID",
             subject->corrections > 0 ? ", corrected" : "", now->accepted ? ", accepted" : "",
             foreign ? ", another desk's" : "");
    if (cursor) {
        frame_put(frame, row, column, 1, STYLE_STRONG, "\u25ba");
    }
    put_right(frame, row, column + 10, STYLE_DIM, moment_text(moment, scene, now));
    frame_put(
        frame, row, column + 12, 4,
        corner_style((enum corner)now->strike.corner, now->kind != ENTRY_NOTE && subject->live),
        corner_words[now->kind == ENTRY_NOTE ? CORNER_NONE : now->strike.corner]);
    frame_put(frame, row, column + 18, area->columns - 19, subject->live ? STYLE_PLAIN : STYLE_DIM,
              text);
    if (cursor) {
        frame_restyle(frame, row, column, area->columns, STYLE_URGENT);
    }
}

/* In a rest, in place of the newest: what needs a look. The keys are live until Up or Down steps
 * in, so that a late strike is no amendment. */
static void rest_draw(const struct scene *scene, const struct area *area)
{
    char mode[48];
    const uint8_t *reasons = NULL;
    snprintf(mode, sizeof mode, "TO LOOK AT %zu", desk_looks(scene->desk, &reasons));
    mode_line(scene, area, mode,
              "\u2191 or \u2193 steps in: accept, amend, void; other keys are live");
    int row = 1;
    for (size_t i = scene->subject_count; i-- > 0 && row < area->rows;) {
        if (reasons[i]) {
            log_row(scene, (long)i, false, area->row + row++, area);
        }
    }
}

static void log_draw(const struct scene *scene, const struct area *area)
{
    const long *order = NULL;
    long cursor = -1;
    long count = (long)desk_log(scene->desk, &order, &cursor);
    int rows = area->rows - 1;
    if (desk_mode(scene->desk) == DESK_INSERT) {
        mode_line(scene, area, "INSERT",
                  "the next pad key inserts a strike at this moment; Esc: none");
    } else {
        char mode[64];
        char hint[160];
        char keys[2][16];
        const uint8_t *reasons = NULL;
        desk_looks(scene->desk, &reasons);
        bool look = cursor >= 0 && reasons[order[cursor]];
        snprintf(mode, sizeof mode, "LOG %s", desk_filter_words(scene->desk));
        snprintf(
            hint, sizeof hint, "pad key amends  %s %s  Delete voids  + inserts  %s filters  Esc",
            key_word(keys[0], scene->keymap->action[ACTION_REVIEW]), look ? "accepts" : "flags",
            key_word(keys[1], scene->keymap->action[ACTION_FILTER]));
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
        log_row(scene, order[first + i], first + i == cursor, area->row + 1 + i, area);
    }
}

static void asked_words(char *out, size_t size, const struct scene *scene, int round,
                        const struct strike *asked)
{
    char counted[32];
    char accuracy[16];
    const struct count *count =
        &scene_round(scene, round)->corner[asked->corner].limb_target[asked->limb][asked->target];
    snprintf(out, size, "%s %s", count->attempted ? count_text(counted, count) : "none",
             count->attempted ? accuracy_text(accuracy, count) : "");
}

/* One line to read out loud. */
static void asked_draw(const struct scene *scene, const struct area *area,
                       const struct strike *asked)
{
    char mode[64];
    char hint[160];
    char now[48];
    char all[48];
    asked_words(now, sizeof now, scene, scene->face.round, asked);
    asked_words(all, sizeof all, scene, 0, asked);
    snprintf(mode, sizeof mode, "%s %s to the %s", corner_words[asked->corner],
             limb_words[asked->limb], target_names[asked->target]);
    snprintf(hint, sizeof hint, "round %d: %s   bout: %s", scene->face.round, now, all);
    mode_line(scene, area, mode, hint);
}

void strip_draw(const struct scene *scene, const struct area *area)
{
    struct strike asked = {0};
    char words[64];
    const uint8_t *reasons = NULL;
    bool rests = scene->face.state == CLOCK_REST || scene->face.state == CLOCK_OVER;
    switch (desk_mode(scene->desk)) {
    case DESK_INCIDENT:
        incident_draw(scene, area);
        break;
    case DESK_FOUL:
        foul_draw(scene, area);
        break;
    case DESK_LOG:
    case DESK_INSERT:
        log_draw(scene, area);
        break;
    case DESK_SYNC:
        newest_draw(scene, area);
        desk_sync(scene->desk, words, sizeof words);
        mode_line(scene, area, "TIME CODE", words);
        frame_put(scene->frame, area->row + 1, area->column, area->columns, STYLE_STRONG,
                  " read off when the key was pressed: eight digits, Tab: rate, Enter: note it");
        break;
    case DESK_SETTLE:
        settle_draw(scene, area);
        break;
    case DESK_LOOKUP:
        newest_draw(scene, area);
        mode_line(scene, area, "LOOK-UP", "which? a pad key; Esc: none");
        break;
    default:
        if (rests && desk_looks(scene->desk, &reasons) > 0 && !desk_is_read_only(scene->desk)) {
            rest_draw(scene, area);
        } else {
            newest_draw(scene, area);
        }
        if (desk_lookup(scene->desk, &asked)) {
            asked_draw(scene, area, &asked);
        }
        break;
    }
}
