/* frame.c: cells, and text put into them grapheme by grapheme. */
#include "ringtally/screen/frame.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/text.h"

static const struct cell blank = {{' ', 0, 0}, 1, STYLE_PLAIN};

int frame_init(struct frame *frame, int rows, int columns, bool ascii, struct error *err)
{
    *frame = (struct frame){.rows = rows < 1 ? 1 : rows, .columns = columns < 1 ? 1 : columns};
    frame->ascii = ascii;
    frame->cell = calloc((size_t)frame->rows * (size_t)frame->columns, sizeof *frame->cell);
    if (!frame->cell) {
        *frame = (struct frame){0};
        return error_memory(err);
    }
    frame_clear(frame);
    return 0;
}

void frame_release(struct frame *frame)
{
    free(frame->cell);
    *frame = (struct frame){0};
}

void frame_clear(struct frame *frame)
{
    int count = frame->rows * frame->columns;
    for (int i = 0; i < count; i++) {
        frame->cell[i] = blank;
    }
}

/* What stands in where only ASCII goes out: for the block and line characters of the views, and for
 * letters that are no letter with an accent. */
static int32_t ascii_mark(int32_t point)
{
    static const struct {
        int32_t point;
        char mark;
    } marks[] = {
        {0xb7, '.'},    {0xc6, 'A'},   {0xd0, 'D'},   {0xd8, 'O'},   {0xde, 'T'},   {0xdf, 's'},
        {0xe6, 'a'},    {0xf0, 'd'},   {0xf8, 'o'},   {0xfe, 't'},   {0x110, 'D'},  {0x111, 'd'},
        {0x131, 'i'},   {0x141, 'L'},  {0x142, 'l'},  {0x2013, '-'}, {0x2014, '-'}, {0x2018, '\''},
        {0x2019, '\''}, {0x2026, '~'}, {0x2190, '<'}, {0x2191, '^'}, {0x2192, '>'}, {0x2193, 'v'},
        {0x2500, '-'},  {0x2502, '|'}, {0x2580, '#'}, {0x2588, '#'}, {0x25a0, '#'}, {0x25ba, '>'},
        {0x25c4, '<'},
    };
    if (point >= 0x2581 && point <= 0x2588) { /* bars of one to eight eighths */
        return '1' + (point - 0x2581);
    }
    for (size_t i = 0; i < sizeof marks / sizeof *marks; i++) {
        if (marks[i].point == point) {
            return marks[i].mark;
        }
    }
    return 0;
}

/* The ASCII letter under the accents, a mark of ours, or '?'. */
static int32_t ascii_point(int32_t point)
{
    int32_t found = point < 0x80 ? point : ascii_mark(point);
    if (!found) {
        found = text_base_letter(point);
    }
    return found && found < 0x80 ? found : '?';
}

/* A wide character that loses one half is blanked whole. */
static void split_wide(struct frame *frame, struct cell *row, int column)
{
    if (row[column].width == 0 && column > 0) {
        row[column - 1] = blank;
    }
    if (row[column].width == 2 && column + 1 < frame->columns) {
        row[column + 1] = blank;
    }
}

static void put_cell(struct frame *frame, struct cell *row, int column, const struct cell *cell)
{
    if (row[column].width != 1) {
        split_wide(frame, row, column);
    }
    if (cell->width == 2) {
        split_wide(frame, row, column + 1);
        row[column + 1] = (struct cell){{0, 0, 0}, 0, cell->style};
    }
    row[column] = *cell;
}

/* Reads one grapheme as a cell. False at the end of the text. */
static bool next_cell(struct cell *out, const char **text, enum style style, bool ascii)
{
    int count = 0;
    unsigned char here = (unsigned char)(*text)[0];
    *out = (struct cell){{0, 0, 0}, 1, (uint8_t)style};
    if (here && here < 0x80 && (unsigned char)(*text)[1] < 0x80) { /* plain ASCII, nothing joins */
        out->point[0] = here < ' ' || here == 0x7f ? '?' : here;
        (*text)++;
        return true;
    }
    int width = text_grapheme(text, out->point, 3, &count);
    if (width < 0) {
        return false;
    }
    out->width = (uint8_t)(width > 2 ? 2 : width);
    if (out->point[0] < ' ' || (out->point[0] >= 0x7f && out->point[0] < 0xa0)) {
        *out = (struct cell){{'?', 0, 0}, 1, (uint8_t)style};
    } else if (ascii) {
        out->point[0] = ascii_point(out->point[0]);
        out->point[1] = out->point[2] = 0;
    }
    return true;
}

int frame_put(struct frame *frame, int row, int column, int width, enum style style,
              const char *text)
{
    struct cell cell;
    int end = width > 0 ? column + width : frame->columns;
    bool cut = width > 0 && strlen(text) > (size_t)width && text_width(text) > width;
    int keep = cut ? end - 1 : end;
    if (row < 0 || row >= frame->rows || column < 0) {
        return column;
    }
    if (end > frame->columns) {
        end = frame->columns;
        keep = keep < end ? keep : end;
    }
    struct cell *cells = frame->cell + (size_t)row * (size_t)frame->columns;
    while (next_cell(&cell, &text, style, frame->ascii)) {
        int columns = cell.width;
        if (columns == 0) { /* a mark without a base */
            continue;
        }
        if (column + columns > keep) {
            break;
        }
        if (frame->ascii && columns == 2) {
            cell.width = 1;
            put_cell(frame, cells, column + 1, &cell);
        }
        put_cell(frame, cells, column, &cell);
        column += columns;
    }
    if (cut && column < end) {
        cell = (struct cell){{frame->ascii ? '~' : 0x2026, 0, 0}, 1, (uint8_t)style};
        put_cell(frame, cells, column++, &cell);
    }
    for (cell = blank, cell.style = (uint8_t)style; width > 0 && column < end; column++) {
        put_cell(frame, cells, column, &cell);
    }
    return column;
}

int frame_putf(struct frame *frame, int row, int column, int width, enum style style,
               const char *format, ...)
{
    char text[512];
    va_list args;
    va_start(args, format);
    int length = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return frame_put(frame, row, column, width, style, length < 0 ? "" : text);
}

void frame_fill(struct frame *frame, int row, int column, int width, enum style style,
                const char *grapheme)
{
    struct cell cell;
    int end = column + width < frame->columns ? column + width : frame->columns;
    if (row < 0 || row >= frame->rows || column < 0 ||
        !next_cell(&cell, &grapheme, style, frame->ascii) || cell.width != 1) {
        return;
    }
    for (; column < end; column++) {
        put_cell(frame, frame->cell + (size_t)row * (size_t)frame->columns, column, &cell);
    }
}

void frame_restyle(struct frame *frame, int row, int column, int width, enum style style)
{
    for (int i = 0; row >= 0 && row < frame->rows && i < width && column + i < frame->columns;
         i++) {
        frame->cell[row * frame->columns + column + i].style = (uint8_t)style;
    }
}

char *frame_text(const struct frame *frame)
{
    struct buf out = BUF_INIT;
    buf_adds(&out, "");
    for (int row = 0; row < frame->rows; row++) {
        const struct cell *cells = frame->cell + (size_t)row * (size_t)frame->columns;
        int end = frame->columns;
        while (end > 0 && cells[end - 1].point[0] == ' ') {
            end--;
        }
        for (int column = 0; column < end; column++) {
            for (int i = 0; i < 3 && cells[column].point[i]; i++) {
                char point[5];
                buf_add(&out, point, (size_t)text_encode(point, cells[column].point[i]));
            }
        }
        buf_adds(&out, "\n");
    }
    if (out.failed) {
        buf_release(&out);
        return NULL;
    }
    return out.text;
}
