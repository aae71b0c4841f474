/* paint.c: brings a frame onto the terminal, sending only the cells that changed.
 *
 * ncurses knows the terminal's sequences and what its attributes are now; its refresh() is passed
 * by, since it makes a system call for each move of the cursor: here a frame is one.
 */
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

#include "ringtally/base/text.h"
#include "screen/terminal.h"

#define BRIDGE                                                                                     \
    4 /* unchanged cells between two changed ones that are sent again: a move costs more */
#define ERASE 5 /* blanks from here to the end of a row: erasing them costs less */

static struct {
    attr_t attributes;
    short pair;
} look[STYLE_COUNT];
static bool hidden;        /* the cursor */
static bool few_glyphs;    /* the Linux console: no eighth blocks in its fonts */
static struct frame shown; /* what is on the terminal; no cells: nothing is known */

enum { PAIR_RED = 1, PAIR_BLUE };

/* Of eight colours neither blue nor cyan is to be read on every ground; some terminals say theirs
 * ("0;15": black on white). */
static bool is_light(void)
{
    const char *colours = getenv("COLORFGBG");
    const char *ground = colours ? strrchr(colours, ';') : NULL;
    return ground && (strcmp(ground, ";15") == 0 || strcmp(ground, ";7") == 0);
}

/* Bright enough on black and dark enough on white. */
static bool open_colours(void)
{
    const char *refused = getenv("NO_COLOR");
    if ((refused && *refused) || !has_colors() || start_color() == ERR) {
        return false;
    }
    bool own = use_default_colors() == OK;
    short ground = own ? -1 : COLOR_BLACK;
    init_pair(PAIR_RED, COLORS >= 256 ? 196 : COLOR_RED, ground);
    init_pair(PAIR_BLUE, COLORS >= 256 ? 33 : is_light() ? COLOR_BLUE : COLOR_CYAN, ground);
    return true;
}

void paint_open(void)
{
    const char *term = getenv("TERM");
    bool colours = open_colours();
    short red = colours ? PAIR_RED : 0;
    short blue = colours ? PAIR_BLUE : 0;
    /* The corners differ by attribute too: blue's words are underlined. */
    static const attr_t attributes[STYLE_COUNT] = {
        [STYLE_DIM] = A_DIM,
        [STYLE_STRONG] = A_BOLD,
        [STYLE_RED_STRONG] = A_BOLD,
        [STYLE_RED_HIT] = A_REVERSE,
        [STYLE_BLUE_STRONG] = A_BOLD | A_UNDERLINE,
        [STYLE_BLUE_HIT] = A_REVERSE,
        [STYLE_NOTICE] = A_BOLD,
        [STYLE_URGENT] = A_REVERSE | A_BOLD,
    };
    for (int i = 0; i < STYLE_COUNT; i++) {
        look[i].attributes = attributes[i];
        look[i].pair = 0;
    }
    look[STYLE_RED].pair = look[STYLE_RED_STRONG].pair = look[STYLE_RED_HIT].pair = red;
    look[STYLE_BLUE].pair = look[STYLE_BLUE_STRONG].pair = look[STYLE_BLUE_HIT].pair = blue;
    few_glyphs = term && strncmp(term, "linux", 5) == 0;
    hidden = curs_set(0) != ERR;
    refresh(); /* whatever ncurses has to say goes first */
    paint_forget();
}

attr_t paint_attributes(enum style style, short *pair)
{
    *pair = look[style].pair;
    return look[style].attributes;
}

void paint_forget(void)
{
    frame_release(&shown);
}

void paint_close(void)
{
    paint_forget();
}

static bool same_cell(const struct cell *a, const struct cell *b)
{
    return a->point[0] == b->point[0] && a->style == b->style && a->width == b->width &&
           a->point[1] == b->point[1] && a->point[2] == b->point[2];
}

static void put_style(int style)
{
    send_attributes(look[style].attributes, look[style].pair);
}

/* Where the C library holds a character for wider or narrower than the frame does, a stand-in keeps
 * the columns in line. */
static void put_cell(const struct cell *cell)
{
    int32_t point = cell->point[0];
    char bytes[16];
    int size = 0;
    if (few_glyphs && point >= 0x2581 && point <= 0x2587) {
        point = point <= 0x2584 ? 0x2584 : 0x2588;
    }
    if (point >= 0x80 && wcwidth((wchar_t)point) != cell->width) {
        send_text(cell->width == 2 ? "? " : "?", cell->width);
        return;
    }
    size = text_encode(bytes, point);
    for (int i = 1; i < 3 && cell->point[i]; i++) {
        if (wcwidth((wchar_t)cell->point[i]) == 0) {
            size += text_encode(bytes + size, cell->point[i]);
        }
    }
    send_text(bytes, cell->width);
}

static void put_run(const struct cell *cells, int row, int start, int end, int columns)
{
    send_move(row, start);
    for (int column = start; column < end; column++) {
        if (cells[column].width > 0) { /* else it came with its left half */
            put_style(cells[column].style);
            put_cell(&cells[column]);
        }
    }
    if (end >= columns) { /* terminals differ in where the cursor is now */
        send_forget_cursor();
    }
}

static bool is_blank(const struct cell *cell)
{
    return cell->point[0] == ' ' && cell->style == STYLE_PLAIN;
}

/* `was` NULL: the row is blank on the terminal. */
static bool differs(const struct cell *now, const struct cell *was, int column)
{
    return was ? !same_cell(&now[column], &was[column]) : !is_blank(&now[column]);
}

static void paint_row(const struct frame *frame, int row, int columns, int rows)
{
    const struct cell *now = frame->cell + (size_t)row * (size_t)frame->columns;
    const struct cell *was = shown.cell ? shown.cell + (size_t)row * (size_t)shown.columns : NULL;
    int end = columns - (row == rows - 1); /* the last cell of all would scroll the screen */
    int blank = end;
    while (blank > 0 && is_blank(&now[blank - 1])) {
        blank--;
    }
    for (int column = 0; column < end; column++) {
        if (!differs(now, was, column)) {
            continue;
        }
        if (column >= blank && end - column >= ERASE) {
            send_move(row, column);
            put_style(STYLE_PLAIN);
            if (send_erase_row()) {
                return;
            }
        }
        int start = column;
        int last = column; /* the last one that differs */
        for (; column < end && column - last <= BRIDGE; column++) {
            if (differs(now, was, column)) {
                last = column;
            } else if (now[column].style != now[start].style) {
                break;
            }
        }
        while (start > 0 && now[start].width == 0) {
            start--;
        }
        put_run(now, row, start, last + 1 + (last + 1 < end && now[last + 1].width == 0), columns);
        column = last;
    }
}

void screen_paint(const struct frame *frame)
{
    int rows = 0;
    int columns = 0;
    getmaxyx(stdscr, rows, columns);
    int shown_rows = frame->rows < rows ? frame->rows : rows;
    int shown_columns = frame->columns < columns ? frame->columns : columns;
    size_t width = (size_t)frame->columns;
    if (!shown.cell || shown.rows != frame->rows || shown.columns != frame->columns) {
        paint_forget();
        send_erase_all(rows);
    }
    send_forget_cursor();
    for (int row = 0; row < shown_rows; row++) {
        size_t at = (size_t)row * width;
        if (shown.cell &&
            memcmp(frame->cell + at, shown.cell + at, width * sizeof *shown.cell) == 0) {
            continue;
        }
        paint_row(frame, row, shown_columns, rows);
        if (shown.cell) {
            memcpy(shown.cell + at, frame->cell + at, width * sizeof *shown.cell);
        }
    }
    /* Only after a change of size. Without memory everything is painted again next time. */
    if (!shown.cell && frame_init(&shown, frame->rows, frame->columns, frame->ascii, NULL) == 0) {
        memcpy(shown.cell, frame->cell, (size_t)frame->rows * width * sizeof *shown.cell);
    }
    if (!hidden && send_pending()) { /* out of the way at least */
        send_move(rows - 1, columns - 1);
    }
    send_flush();
}
