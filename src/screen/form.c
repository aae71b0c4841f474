/* form.c: the card form: the fields of one bout, edited in place. */
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/text.h"
#include "ringtally/desk/keymap.h"
#include "screen/line_edit.h"
#include "screen/scene.h"
#include "screen/terminal.h"

#define FIELDS_MAX 24
#define LABEL      14
#define TOP        2  /* rows above the first field */
#define FOOT       5  /* rows below the last: a hint, two of trouble, two of keys */
#define LEAST      30 /* columns */
#define CHOICES    24

struct edit {
    struct bout bout;
    const struct form_setup *setup;
    int count, focus;
    struct line_edit line[FIELDS_MAX];
    char start[FIELDS_MAX][LINE_BYTES]; /* as the form showed it first */
    char trouble[512];
    bool refused;  /* Enter was pressed, and nothing since */
    int32_t asked; /* the key that is asked for a second time; KEY_OF_NONE: none */
};

static bool ends_with(const char *field, const char *part)
{
    const char *dot = strchr(field, '.');
    return dot && strcmp(dot + 1, part) == 0;
}

/* What a field can be chosen from: words with blanks between; NULL: it is typed. */
static const char *choices_of(const struct edit *edit, const char *field)
{
    if (strcmp(field, "rules") == 0) {
        return edit->setup->rules;
    }
    return ends_with(field, "stance") ? "orthodox southpaw square" : NULL;
}

static const char *hint_of(const char *field)
{
    static const char *const hints[][2] = {
        {"weight", "as announced: \"women -60 kg\""},
        {"rounds", "a number where it differs from the rules; empty: as they say"},
        {"terms", "where the bout differs: KEY = VALUE, ...; `rules show ID` lists the keys"},
        {"referee", "name; may be empty"},
        {"judges", "names, with a comma between"},
    };
    for (size_t i = 0; i < sizeof hints / sizeof *hints; i++) {
        if (strcmp(hints[i][0], field) == 0) {
            return hints[i][1];
        }
    }
    return ends_with(field, "short")    ? "for narrow places, 12 columns; empty: made from the name"
           : ends_with(field, "record") ? "as announced: \"14-2-0\"; may be empty"
           : ends_with(field, "from")   ? "may be empty"
                                        : "";
}

static void fill(struct edit *edit)
{
    for (int i = 0; i < FIELDS_MAX && bout_fields[i]; i++, edit->count++) {
        bout_get(&edit->bout, bout_fields[i], edit->start[i], LINE_BYTES);
        line_set(&edit->line[i], edit->start[i]);
    }
}

static bool is_changed(const struct edit *edit)
{
    for (int i = 0; i < edit->count; i++) {
        if (strcmp(edit->line[i].text, edit->start[i]) != 0) {
            return true;
        }
    }
    return false;
}

/* Takes over what was changed, and only that. False: edit->trouble says why not, and the cursor is
 * in the field. */
static bool collect(struct edit *edit, struct bout *out)
{
    struct bout changed = edit->bout;
    struct error err = {0};
    int code = 0;
    int previous = -1; /* the field before, where it was changed */
    for (int i = 0; i < edit->count && !code; i++) {
        const char *value = edit->line[i].text;
        bool same = strcmp(value, edit->start[i]) == 0;
        /* A new fighter does not keep the former one's short name. */
        if (same && ends_with(bout_fields[i], "short") && previous == i - 1) {
            same = false;
            value = "";
        }
        if (!same) {
            code = bout_set(&changed, bout_fields[i], value, &err);
            previous = i;
        }
        if (code) {
            edit->focus = i;
        }
    }
    code = code ? code : bout_check(&changed, &err);
    if (code) {
        snprintf(edit->trouble, sizeof edit->trouble, "%s", err.text);
        return false;
    }
    *out = changed;
    return true;
}

/* True: it is saved. Else the reason is shown, and all that was typed stays. */
static bool save(struct edit *edit, struct bout *out)
{
    struct bout changed;
    struct error err = {0};
    bool again = edit->refused;
    edit->trouble[0] = '\0';
    edit->refused = true;
    if (!collect(edit, &changed)) {
        return false;
    }
    if (edit->setup->save(edit->setup->user, &changed, again, &err)) {
        snprintf(edit->trouble, sizeof edit->trouble, "%s", err.text);
        return false;
    }
    *out = changed;
    return true;
}

/* The next of the choices, the first where it is none of them. */
static void choose_next(struct line_edit *line, const char *choices)
{
    char word[64];
    const char *first = choices;
    size_t size = strlen(line->text);
    const char *at = choices;
    for (; *at; at += strcspn(at, " "), at += *at == ' ') {
        size_t length = strcspn(at, " ");
        if (length == size && strncmp(at, line->text, size) == 0) {
            at += length + (at[length] == ' ');
            first = *at ? at : choices;
            break;
        }
    }
    snprintf(word, sizeof word, "%.*s", (int)strcspn(first, " "), first);
    line_set(line, word);
}

/* --- the frame --- */

static void field_draw(const struct edit *edit, struct frame *frame, int i, int row, int *cursor)
{
    const char *name = bout_fields[i];
    bool focus = i == edit->focus;
    int columns = frame->columns - LABEL - 3;
    int at = 0;
    enum style style = strncmp(name, "red.", 4) == 0    ? (focus ? STYLE_RED_STRONG : STYLE_RED)
                       : strncmp(name, "blue.", 5) == 0 ? (focus ? STYLE_BLUE_STRONG : STYLE_BLUE)
                                                        : (focus ? STYLE_STRONG : STYLE_PLAIN);
    const char *text = edit->line[i].text;
    if (focus) {
        text = line_shown(&edit->line[i], columns, &at);
        *cursor = LABEL + 2 + at;
    }
    frame_put(frame, row, 0, 1, STYLE_STRONG, focus ? "\u25ba" : " ");
    frame_put(frame, row, 1, 0, style, name);
    int width = text_width(text);
    int end = frame_put(frame, row, LABEL + 2, width > columns ? columns : 0, STYLE_PLAIN, text);
    if (end < frame->columns - 1) {
        frame_fill(frame, row, end, frame->columns - 1 - end, STYLE_DIM, "_");
    }
}

/* What can be chosen, the present one strong; or what the field is for. */
static void hint_draw(const struct edit *edit, struct frame *frame, int row)
{
    const char *field = bout_fields[edit->focus];
    const char *choices = choices_of(edit, field);
    char word[64];
    if (!choices) {
        frame_put(frame, row, 1, frame->columns - 2, STYLE_DIM, hint_of(field));
        return;
    }
    int column = frame_put(frame, row, 1, 0, STYLE_DIM, "Space:");
    while (*choices && column < frame->columns - 4) {
        snprintf(word, sizeof word, "%.*s", (int)strcspn(choices, " "), choices);
        bool here = strcmp(word, edit->line[edit->focus].text) == 0;
        column = frame_put(frame, row, column + 1, 0, here ? STYLE_URGENT : STYLE_PLAIN, word);
        choices += strlen(word);
        choices += *choices == ' ';
    }
}

static void trouble_draw(const struct edit *edit, struct frame *frame, int row)
{
    const char *text = edit->trouble;
    for (int i = 0; i < 2 && *text; i++) {
        int columns = frame->columns - 2;
        size_t bytes = i == 0 ? line_bytes(text, columns) : strlen(text);
        frame_putf(frame, row + i, 1, text_width(text) > columns && i ? columns : 0, STYLE_URGENT,
                   "%.*s", (int)bytes, text);
        text += bytes;
        text += *text == ' ';
    }
}

static int compose(const struct edit *edit, struct frame *frame, int *cursor)
{
    int room = frame->rows - TOP - FOOT;
    int first = edit->focus >= room ? edit->focus - room + 1 : 0;
    int row = 0;
    frame_clear(frame);
    frame_putf(frame, 0, 1, frame->columns - 1, STYLE_STRONG, "bout %d of %s%s", edit->bout.number,
               edit->bout.card, edit->setup->is_new ? ", new" : "");
    for (int i = first; i < edit->count && i - first < room; i++) {
        field_draw(edit, frame, i, TOP + i - first, cursor);
        row = i == edit->focus ? TOP + i - first : row;
    }
    hint_draw(edit, frame, frame->rows - FOOT);
    trouble_draw(edit, frame, frame->rows - FOOT + 1);
    frame_put(frame, frame->rows - 2, 1, 0, STYLE_PLAIN,
              "Enter: save  Esc: leave  \u2191\u2193 Tab: field  Home End  Ctrl-U Ctrl-K: clear");
    frame_put(frame, frame->rows - 1, 1, 0, STYLE_PLAIN,
              "PgUp PgDn: other bouts  Ins: a new bout  F8: drop this one");
    return row;
}

static int show(const struct edit *edit, struct error *err)
{
    struct frame frame = {0};
    int rows = 0;
    int columns = 0;
    int cursor = 0;
    screen_size(&rows, &columns);
    if (rows < TOP + FOOT + 1 || columns < LEAST) {
        return error_set(err, ERROR_FAILED,
                         "the terminal is too small for the form: %dx%d is needed", LEAST,
                         TOP + FOOT + 1);
    }
    int code = frame_init(&frame, rows, columns, screen_is_ascii(), err);
    if (code) {
        return code;
    }
    int row = compose(edit, &frame, &cursor);
    screen_paint(&frame);
    send_move(row, cursor);
    send_flush();
    frame_release(&frame);
    return 0;
}

/* --- keys --- */

static void move_focus(struct edit *edit, int by)
{
    edit->focus = (edit->focus + by + edit->count) % edit->count;
    line_move(&edit->line[edit->focus], LINE_END);
}

static void type(struct edit *edit, int32_t key, bool pasted)
{
    struct line_edit *line = &edit->line[edit->focus];
    const char *choices = choices_of(edit, bout_fields[edit->focus]);
    if (choices && key == ' ') { /* none of them has a blank */
        if (!pasted) {
            choose_next(line, choices);
        }
    } else if (!line_insert(line, key)) {
        snprintf(edit->trouble, sizeof edit->trouble, "no room for more in this field");
    }
}

static void edit_key(struct edit *edit, int32_t key, bool pasted)
{
    struct line_edit *line = &edit->line[edit->focus];
    switch (key) {
    case KEY_OF_TAB:
    case KEY_OF_DOWN:
        move_focus(edit, 1);
        break;
    case KEY_OF_BACKTAB:
    case KEY_OF_UP:
        move_focus(edit, -1);
        break;
    case KEY_OF_LEFT:
        line_move(line, LINE_LEFT);
        break;
    case KEY_OF_RIGHT:
        line_move(line, LINE_RIGHT);
        break;
    case KEY_OF_HOME:
        line_move(line, LINE_HOME);
        break;
    case KEY_OF_END:
        line_move(line, LINE_END);
        break;
    case KEY_OF_BACKSPACE:
        line_delete_before(line);
        break;
    case KEY_OF_DELETE:
        line_delete_at(line);
        break;
    case KEY_OF_CLEAR_BEFORE:
        line_clear_before(line);
        break;
    case KEY_OF_CLEAR_BEHIND:
        line_clear_behind(line);
        break;
    default:
        if (key < KEY_OF_ENTER) {
            type(edit, key, pasted);
        }
    }
}

/* Whether the key ends the form, where nothing that was typed is lost by it, or it was said twice.
 */
static bool ends(struct edit *edit, int32_t key, enum form_end *end)
{
    static const struct {
        int32_t key;
        enum form_end end;
        const char *twice; /* asked even where nothing was typed; NULL: not */
    } table[] = {
        {KEY_OF_ESC, FORM_LEFT, NULL},
        {KEY_OF_PAGE_DOWN, FORM_NEXT, NULL},
        {KEY_OF_PAGE_UP, FORM_PREVIOUS, NULL},
        {KEY_OF_INSERT, FORM_NEW, NULL},
        {KEY_OF_F1 + 7, FORM_DROP, "F8 again takes this bout off the card"},
    };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (table[i].key != key) {
            continue;
        }
        bool typed = is_changed(edit);
        *end = table[i].end;
        if ((!typed && !table[i].twice) || edit->asked == key) {
            return true;
        }
        snprintf(edit->trouble, sizeof edit->trouble, "%s",
                 table[i].twice
                     ? table[i].twice
                     : "Enter saves what was typed; the same key again leaves it behind");
        edit->asked = key;
        return false;
    }
    edit->asked = KEY_OF_NONE;
    return false;
}

#define TERMINAL_GONE (-1)

/* Waits for a key; KEY_OF_NONE after a resize. */
static int32_t wait_key(bool *pasted)
{
    size_t block = 0;
    int32_t key = screen_key(&block);
    while (key == KEY_OF_NONE && !screen_hangup()) {
        struct pollfd waits[] = {{STDIN_FILENO, POLLIN, 0}, {screen_signal_fd(), POLLIN, 0}};
        poll(waits, 2, screen_timeout());
        if (waits[1].revents & POLLIN) {
            screen_drain();
            break;
        }
        if (waits[0].revents & (POLLHUP | POLLERR)) {
            return TERMINAL_GONE;
        }
        key = screen_key(&block);
    }
    *pasted = block > 0;
    return key;
}

static int run(struct edit *edit, struct bout *out, struct error *err)
{
    enum form_end end = FORM_LEFT;
    while (!screen_hangup()) {
        bool pasted = false;
        int code = show(edit, err);
        if (code) {
            return code;
        }
        int32_t key = wait_key(&pasted);
        if (key == TERMINAL_GONE) {
            break;
        }
        if (key == KEY_OF_NONE) {
            continue;
        }
        if (key == KEY_OF_ENTER) {
            edit->asked = KEY_OF_NONE;
            if (save(edit, out)) {
                return FORM_SAVED;
            }
            continue;
        }
        edit->trouble[0] = '\0';
        edit->refused = false;
        if (!pasted && ends(edit, key, &end)) {
            return (int)end;
        }
        edit_key(edit, key, pasted);
    }
    return FORM_LEFT;
}

int screen_bout_form(struct bout *bout, const struct form_setup *setup, struct error *err)
{
    struct edit *edit = calloc(1, sizeof *edit);
    if (!edit) {
        return error_memory(err);
    }
    edit->bout = *bout;
    edit->setup = setup;
    edit->asked = KEY_OF_NONE;
    snprintf(edit->trouble, sizeof edit->trouble, "%s", setup->note ? setup->note : "");
    fill(edit);
    int cursor = curs_set(1);
    input_typing(true);
    paint_forget();
    int code = run(edit, bout, err);
    input_typing(false);
    curs_set(cursor == ERR ? 1 : cursor);
    paint_forget();
    free(edit);
    return code;
}
