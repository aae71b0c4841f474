/* form.c: the card form: the fields of one bout, edited in place. */
#include <form.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/desk/keymap.h"
#include "ringtally/base/text.h"
#include "screen/terminal.h"

#define FIELDS_MAX 24
#define VALUE_MAX  512 /* bytes of a field's text */
#define LABEL      14
#define TOP        2 /* rows above the first field */

struct edit {
    struct bout bout;
    int count;
    FORM *form;
    FIELD *field[FIELDS_MAX + 1];      /* ends with NULL */
    char start[FIELDS_MAX][VALUE_MAX]; /* as the form showed it first */
    char trouble[512];
};

/* What the form can show of a value: all of it, or its ASCII likeness. */
static void shown_value(char out[VALUE_MAX], const char *value)
{
    size_t used = 0;
    int32_t points[3];
    int count = 0;
    if (!screen_is_ascii()) {
        snprintf(out, VALUE_MAX, "%s", value);
        return;
    }
    while (used + 1 < VALUE_MAX && text_grapheme(&value, points, 3, &count) >= 0) {
        int32_t letter = text_base_letter(points[0]);
        out[used++] = letter < 0x80 ? (char)letter : '?';
    }
    out[used] = '\0';
}

/* The field's text without the blanks that fill it up. */
static void field_text(char out[VALUE_MAX], const FIELD *field)
{
    const char *text = field_buffer(field, 0);
    snprintf(out, VALUE_MAX, "%s", text ? text : "");
    for (size_t end = strlen(out); end > 0 && out[end - 1] == ' '; end--) {
        out[end - 1] = '\0';
    }
}

static int make_fields(struct edit *edit, struct error *err)
{
    int columns = getmaxx(stdscr) - LABEL - 3;
    for (int i = 0; bout_fields[i] && i < FIELDS_MAX; i++, edit->count++) {
        char value[VALUE_MAX] = "";
        FIELD *field = new_field(1, columns, TOP + i, LABEL + 2, 0, 0);
        if (!field) {
            return error_memory(err);
        }
        edit->field[i] = field;
        bout_get(&edit->bout, bout_fields[i], value, sizeof value);
        shown_value(edit->start[i], value);
        field_opts_off(field, O_STATIC | O_AUTOSKIP | O_BLANK);
        set_field_back(field, A_UNDERLINE);
        if (set_max_field(field, VALUE_MAX / 4) != E_OK ||
            set_field_buffer(field, 0, edit->start[i]) != E_OK) {
            return error_memory(err);
        }
        field_text(edit->start[i], field);
    }
    edit->form = new_form(edit->field);
    if (!edit->form) {
        return error_memory(err);
    }
    set_form_win(edit->form, stdscr);
    set_form_sub(edit->form, stdscr);
    form_opts_off(edit->form, O_BS_OVERLOAD | O_NL_OVERLOAD); /* Backspace stays in its field */
    return 0;
}

static int show(struct edit *edit, struct error *err)
{
    short pair = 0;
    erase();
    /* First the form: it blanks the rectangle around its fields, the labels' columns too. */
    if (post_form(edit->form) != E_OK) {
        return error_set(err, ERROR_FAILED,
                         "the terminal is too small for the form: %dx%d is needed", LABEL + 20,
                         TOP + edit->count + 2);
    }
    mvprintw(0, 1, "bout %d of %s", edit->bout.number, edit->bout.card);
    for (int i = 0; i < edit->count; i++) {
        enum style style = strncmp(bout_fields[i], "red.", 4) == 0    ? STYLE_RED
                           : strncmp(bout_fields[i], "blue.", 5) == 0 ? STYLE_BLUE
                                                                      : STYLE_PLAIN;
        attr_t attributes = paint_attributes(style, &pair);
        attr_set(attributes, pair, NULL);
        mvprintw(TOP + i, 1, "%s", bout_fields[i]);
        attr_set(A_NORMAL, 0, NULL);
    }
    form_driver(edit->form, REQ_INS_MODE);
    form_driver(edit->form, REQ_END_LINE);
    return 0;
}

static void show_foot(const struct edit *edit)
{
    short pair = 0;
    int row = getmaxy(stdscr) - 1;
    move(row - 1, 0);
    clrtoeol();
    attr_set(paint_attributes(STYLE_URGENT, &pair), pair, NULL);
    mvprintw(row - 1, 1, "%.*s", getmaxx(stdscr) - 2, edit->trouble);
    attr_set(A_NORMAL, 0, NULL);
    mvprintw(row, 1, "%.*s", getmaxx(stdscr) - 2,
             "Up Down Tab: field   Enter: save   Esc: leave unchanged");
    clrtoeol();
    pos_form_cursor(edit->form);
    refresh();
}

/* Takes over what was changed, and only that. False: edit->trouble says why not, the cursor is in
 * the field. */
static bool apply(struct edit *edit, struct bout *out)
{
    struct bout changed = edit->bout;
    struct error err = {0};
    int code = 0;
    int previous = -1; /* the field before, where it was changed */
    for (int i = 0; i < edit->count && !code; i++) {
        char value[VALUE_MAX];
        field_text(value, edit->field[i]);
        bool same = strcmp(value, edit->start[i]) == 0;
        const char *part = strchr(bout_fields[i], '.');
        /* A new fighter does not keep the former one's short name. */
        if (same && part && strcmp(part, ".short") == 0 && previous == i - 1) {
            same = false;
            value[0] = '\0';
        }
        if (!same) {
            code = bout_set(&changed, bout_fields[i], value, &err);
            previous = i;
        }
        if (code) {
            set_current_field(edit->form, edit->field[i]);
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

static void edit_key(struct edit *edit, int32_t key)
{
    static const struct {
        int32_t key;
        int request;
    } requests[] = {
        {KEY_OF_TAB, REQ_NEXT_FIELD},     {KEY_OF_DOWN, REQ_NEXT_FIELD},
        {KEY_OF_UP, REQ_PREV_FIELD},      {KEY_OF_LEFT, REQ_PREV_CHAR},
        {KEY_OF_RIGHT, REQ_NEXT_CHAR},    {KEY_OF_DELETE, REQ_DEL_CHAR},
        {KEY_OF_BACKSPACE, REQ_DEL_PREV},
    };
    edit->trouble[0] = '\0';
    for (size_t i = 0; i < sizeof requests / sizeof *requests; i++) {
        if (requests[i].key == key) {
            form_driver(edit->form, requests[i].request);
            if (requests[i].request == REQ_NEXT_FIELD || requests[i].request == REQ_PREV_FIELD) {
                form_driver(edit->form, REQ_END_LINE);
            }
            return;
        }
    }
    if (key < KEY_OF_ENTER && form_driver_w(edit->form, OK, (wchar_t)key) != E_OK) {
        snprintf(edit->trouble, sizeof edit->trouble, "no room for more in this field");
    }
}

/* Waits for a key; KEY_OF_NONE after a resize or at the end of the terminal. */
static int32_t wait_key(struct edit *edit)
{
    size_t pasted = 0;
    int32_t key = screen_key(&pasted);
    while (key == KEY_OF_NONE && !pasted && !screen_hangup()) {
        struct pollfd waits[] = {{STDIN_FILENO, POLLIN, 0}, {screen_signal_fd(), POLLIN, 0}};
        poll(waits, 2, screen_timeout());
        if (waits[1].revents & POLLIN) {
            screen_drain();
            return KEY_OF_NONE;
        }
        if (waits[0].revents & (POLLHUP | POLLERR)) {
            return KEY_OF_ESC;
        }
        key = screen_key(&pasted);
    }
    if (pasted) {
        snprintf(edit->trouble, sizeof edit->trouble, "a pasted block was refused: type it");
    }
    return key;
}

static int run(struct edit *edit, struct bout *out, struct error *err)
{
    int rows = 0;
    int columns = 0;
    screen_size(&rows, &columns);
    int code = make_fields(edit, err);
    code = code ? code : show(edit, err);
    while (!code && !screen_hangup()) {
        int now_rows = 0;
        int now_columns = 0;
        screen_size(&now_rows, &now_columns);
        if (now_rows != rows || now_columns != columns) {
            rows = now_rows;
            columns = now_columns;
            unpost_form(edit->form);
            clearok(curscr, TRUE);
            code = show(edit, err);
            continue;
        }
        show_foot(edit);
        int32_t key = wait_key(edit);
        if (key == KEY_OF_ESC) {
            return 0;
        }
        if (key == KEY_OF_ENTER) {
            form_driver(edit->form, REQ_VALIDATION);
            if (apply(edit, out)) {
                return 1;
            }
        } else if (key != KEY_OF_NONE) {
            edit_key(edit, key);
        }
    }
    return code;
}

int screen_bout_form(struct bout *bout, struct error *err)
{
    struct edit *edit = calloc(1, sizeof *edit);
    if (!edit) {
        return error_memory(err);
    }
    edit->bout = *bout;
    int cursor = curs_set(1);
    clearok(curscr, TRUE); /* ncurses does not know what the painter has left there */
    int code = run(edit, bout, err);
    if (edit->form) {
        unpost_form(edit->form);
        free_form(edit->form);
    }
    for (int i = 0; i < edit->count; i++) {
        free_field(edit->field[i]);
    }
    free(edit);
    curs_set(cursor == ERR ? 1 : cursor);
    paint_forget();
    return code;
}
