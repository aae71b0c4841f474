/* strip.c: under the pad: the newest entries of each corner, or what a mode asks for. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "screen/scene.h"

#define RING_ROWS 8

static const char *const corner_words[CORNER_COUNT + 1] = {"RED", "BLUE", ""};

bool is_own(const struct scene *scene, struct entry_name name)
{
    const struct desk_row *rows = NULL;
    int count = fold_desks(scene->fold, &rows);
    return name.desk >= 0 && name.desk < count &&
           rows[name.desk].root == desk_self(scene->desk)->root;
}

/* What belongs into a corner's list: all of this desk, and what counts of others; voided ones too.
 */
static bool is_listed(const struct scene *scene, const struct subject *subject, enum corner corner)
{
    const struct entry *now = &subject->now;
    return now->strike.corner == corner &&
           (now->kind == ENTRY_STRIKE || now->kind == ENTRY_INCIDENT) &&
           ((subject->official >> corner & 1) || is_own(scene, now->name));
}

static const char *outcome_word(const struct subject *subject)
{
    if (!subject->live) {
        return "void";
    }
    if (!subject->counts) {
        return "APART"; /* in no count */
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

/* The newest on top. Only while the clock runs a short list is a ring, in which each entry keeps
 * its row until its turn comes again: a strike then changes one row, which is what a slow line
 * carries. */
static void corner_list_draw(const struct scene *scene, enum corner corner, const struct area *area)
{
    int listed = 0;
    /* Only that it rises by one with each matters: what is voided turns the ring once. */
    const struct corner_tally *tally = &scene->tally->all.corner[corner];
    listed = tally->all.attempted;
    for (int code = 0; code < CODE_ALL; code++) {
        listed += tally->incidents[code];
    }
    bool ring = area->rows <= RING_ROWS && scene->face.state == CLOCK_RUNNING;
    int place = listed - 1;
    for (size_t i = scene->subject_count; i-- > 0 && listed - place <= area->rows;) {
        if (is_listed(scene, &scene->subjects[i], corner)) {
            int turn = (place % area->rows + area->rows) % area->rows;
            int row = ring ? turn : listed - 1 - place;
            entry_draw(scene, &scene->subjects[i], place == listed - 1, area->row + row,
                       area->column, area->columns);
            place--;
        }
    }
}

static void newest_draw(const struct scene *scene, const struct area *area)
{
    int half = area->columns / 2;
    put_rule(scene->frame, area->row, area->column, area->columns, "newest");
    looks_count_draw(scene, area);
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

const char *const incident_choices[INCIDENT_CHOICES] = {
    "w warning",      "d deduction", "c standing count", "k knocked down", "t threw the other",
    "i injury pause", "f foul",      "a admonition",     "n note"};

static void incident_draw(const struct scene *scene, const struct area *area)
{
    char mode[32];
    char hint[96], key[16];
    snprintf(mode, sizeof mode, "%s INCIDENT", corner_words[desk_prompt(scene->desk)]);
    snprintf(hint, sizeof hint, "which? one letter within %d s; %s flags the newest; Esc: none",
             DESK_PROMPT_MS / 1000, key_word(key, scene->keymap->action[ACTION_REVIEW]));
    mode_line(scene, area, mode, hint);
    choices_draw(scene, area, 0, incident_choices, INCIDENT_CHOICES);
}

static void foul_draw(const struct scene *scene, const struct area *area)
{
    char mode[32];
    char hint[64];
    const char *words[FOUL_MAX];
    for (int i = 0; i < scene->rules->fouls; i++) {
        words[i] = scene->rules->foul[i].words;
    }
    snprintf(mode, sizeof mode, "%s FOUL", corner_words[desk_prompt(scene->desk)]);
    snprintf(hint, sizeof hint, "which? its number within %d s; Esc: none", DESK_PROMPT_MS / 1000);
    mode_line(scene, area, mode, hint);
    choices_draw(scene, area, '1', words, scene->rules->fouls);
}

/* Its newest words, where they are longer than the row. */
static void note_draw(const struct scene *scene, const struct area *area)
{
    char text[TEXT_BYTES], mode[32], line[TEXT_BYTES + 4];
    enum corner corner = CORNER_NONE;
    newest_draw(scene, area);
    desk_note(scene->desk, &corner, text, sizeof text);
    snprintf(mode, sizeof mode, "%s NOTE", corner_words[corner]);
    const char *from = text;
    while (text_width(from) + 14 > area->columns) {
        int32_t point = 0;
        int count = 0;
        if (text_grapheme(&from, &point, 1, &count) < 0) {
            break;
        }
    }
    snprintf(line, sizeof line, "%s_", from);
    mode_line(scene, area, mode, line);
    frame_put(scene->frame, area->row + 1, area->column, area->columns, STYLE_STRONG,
              " type it; Enter: noted; Esc: nothing more is said");
}

static void end_draw(const struct scene *scene, const struct area *area)
{
    char red[16], blue[16];
    char words[160];
    const char *const *ways = NULL;
    int count = desk_end_ways(&ways), at = -1;
    int rows = (count + 1) / 2;
    desk_end_form(scene->desk, words, sizeof words, &at);
    mode_line(scene, area, "END OF THE BOUT", words);
    frame_putf(
        scene->frame, area->row + 1, area->column, area->columns, STYLE_DIM,
        " %s %s whose  \u2190 \u2192 the round  digits: the time  Enter: it is so  Del: it goes on",
        key_word(red, scene->keymap->action[ACTION_RED_INCIDENT]),
        key_word(blue, scene->keymap->action[ACTION_BLUE_INCIDENT]));
    for (int i = 0; i < count; i++) {
        struct area cell = {area->row + 2 + i % rows, area->column + 2 + i / rows * 36, 1, 34};
        char digit[2] = {(char)(i < 9 ? '1' + i : '0'), '\0'};
        if (cell.row >= area->row + area->rows) {
            continue;
        }
        frame_put(scene->frame, cell.row, cell.column, 1, STYLE_STRONG, i < 10 ? digit : " ");
        frame_put(scene->frame, cell.row, cell.column + 3, cell.columns,
                  i == at ? STYLE_URGENT : STYLE_PLAIN, ways[i]);
    }
}

void strip_draw(const struct scene *scene, const struct area *area)
{
    struct strike asked = {0};
    struct area below = *area;
    int taken = 0;
    char words[64];
    switch (desk_mode(scene->desk)) {
    case DESK_INCIDENT:
        incident_draw(scene, area);
        break;
    case DESK_FOUL:
        foul_draw(scene, area);
        break;
    case DESK_JUMP:
    case DESK_LOG:
    case DESK_INSERT:
        log_draw(scene, area);
        break;
    case DESK_NOTE:
        note_draw(scene, area);
        break;
    case DESK_SYNC:
        newest_draw(scene, area);
        desk_sync(scene->desk, words, sizeof words);
        mode_line(scene, area, "TIME CODE", words);
        frame_put(scene->frame, area->row + 1, area->column, area->columns, STYLE_STRONG,
                  " read off when the key was pressed: eight digits, Tab: rate, Enter: note it");
        break;
    case DESK_CLOCK:
        newest_draw(scene, area);
        desk_clock_form(scene->desk, scene->view->now_ms, words, sizeof words);
        mode_line(scene, area, "SET THE CLOCK", words);
        frame_put(scene->frame, area->row + 1, area->column, area->columns, STYLE_STRONG,
                  " digits, arrows: to what; Tab: something else; Enter: set; Esc: nothing");
        break;
    case DESK_END:
        end_draw(scene, area);
        break;
    case DESK_CARDS:
        cards_draw(scene, area);
        break;
    case DESK_OFFICES:
    case DESK_RELIEF:
        offices_draw(scene, area);
        break;
    case DESK_SETTLE:
        settle_draw(scene, area);
        break;
    case DESK_LOOKUP:
        newest_draw(scene, area);
        mode_line(scene, area, "LOOK-UP", "which? a pad key; Esc: none");
        break;
    default:
        if (desk_lookup(scene->desk, &asked)) {
            taken = lookup_draw(scene, area, &asked);
            below.row += taken;
            below.rows -= taken;
        }
        taken = looks_draw(scene, &below);
        below.row += taken;
        below.rows -= taken;
        if (below.rows > 1) {
            newest_draw(scene, &below);
        }
        break;
    }
}
