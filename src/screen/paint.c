/* paint.c: brings a frame onto the terminal, touching only the cells that changed. */
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

#include "terminal.h"

#define RUN 128 /* cells handed to ncurses in one call */

static struct {
    attr_t attributes;
    short pair;
} look[STYLE_COUNT];
static bool few_glyphs;    /* the Linux console: no eighth blocks in its fonts */
static struct frame shown; /* what is on the terminal; no cells: nothing is known */

enum { PAIR_RED = 1, PAIR_BLUE };

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
    init_pair(PAIR_BLUE, COLORS >= 256 ? 33 : COLOR_CYAN, ground);
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

/* A cell in ncurses' terms. Where the C library holds a character for wider or narrower than the
 * frame does, a stand-in keeps the columns in line. */
static void curses_cell(cchar_t *out, const struct cell *cell)
{
    wchar_t text[4] = {(wchar_t)cell->point[0]};
    int marks = 0;
    if (cell->point[0] >= 0x80) {
        if (few_glyphs && cell->point[0] >= 0x2581 && cell->point[0] <= 0x2587) {
            text[0] = cell->point[0] <= 0x2584 ? 0x2584 : 0x2588;
        }
        if (wcwidth(text[0]) != cell->width) {
            text[0] = '?';
        }
    }
    for (int i = 1; i < 3 && cell->point[i]; i++) {
        if (wcwidth((wchar_t)cell->point[i]) == 0) {
            text[++marks] = (wchar_t)cell->point[i];
        }
    }
    setcchar(out, text, look[cell->style].attributes, look[cell->style].pair, NULL);
}

static void paint_run(const struct cell *cells, int row, int column, int end)
{
    cchar_t run[RUN];
    while (column < end) {
        int start = column;
        int count = 0;
        for (; column < end && count < RUN; column++) {
            if (cells[column].width == 0) { /* came with its left half */
                continue;
            }
            curses_cell(&run[count++], &cells[column]);
            if (cells[column].width == 2 && count < RUN &&
                wcwidth((wchar_t)cells[column].point[0]) != 2) {
                setcchar(&run[count++], L" ", 0, 0, NULL);
            }
        }
        mvadd_wchnstr(row, start, run, count);
    }
}

static void paint_row(const struct frame *frame, int row, int columns)
{
    const struct cell *now = frame->cell + (size_t)row * (size_t)frame->columns;
    const struct cell *was = shown.cell ? shown.cell + (size_t)row * (size_t)shown.columns : NULL;
    if (!was) {
        paint_run(now, row, 0, columns);
        return;
    }
    for (int column = 0; column < columns; column++) {
        if (same_cell(&now[column], &was[column])) {
            continue;
        }
        int start = column;
        while (column < columns && !same_cell(&now[column], &was[column])) {
            column++;
        }
        while (start > 0 && now[start].width == 0) {
            start--;
        }
        paint_run(now, row, start, column);
    }
}

void screen_paint(const struct frame *frame)
{
    int rows = 0;
    int columns = 0;
    getmaxyx(stdscr, rows, columns);
    rows = frame->rows < rows ? frame->rows : rows;
    columns = frame->columns < columns ? frame->columns : columns;
    if (shown.rows != frame->rows || shown.columns != frame->columns) {
        paint_forget();
    }
    size_t width = (size_t)frame->columns;
    for (int row = 0; row < rows; row++) {
        size_t at = (size_t)row * width;
        if (shown.cell &&
            memcmp(frame->cell + at, shown.cell + at, width * sizeof *shown.cell) == 0) {
            continue;
        }
        paint_row(frame, row, columns);
        if (shown.cell) {
            memcpy(shown.cell + at, frame->cell + at, width * sizeof *shown.cell);
        }
    }
    /* Only after a change of size. Without memory everything is painted again next time. */
    if (!shown.cell && frame_init(&shown, frame->rows, frame->columns, frame->ascii, NULL) == 0) {
        memcpy(shown.cell, frame->cell, (size_t)frame->rows * width * sizeof *shown.cell);
    }
    if (!is_leaveok(stdscr)) { /* no way to hide the cursor: out of the way at least */
        move(rows - 1, columns - 1);
    }
    refresh();
}
