/* line_edit.c: a line of text that is typed, cell by cell, whatever the script. */
#include "screen/line_edit.h"

#include <string.h>

#include "ringtally/base/text.h"

static size_t cell_size(const char *at)
{
    int32_t points[8];
    int count = 0;
    const char *end = at;
    return text_grapheme(&end, points, 8, &count) < 0 ? 0 : (size_t)(end - at);
}

/* The border of cells before the one at `at`. */
static size_t before(const struct line_edit *line, size_t at)
{
    size_t start = 0;
    for (size_t i = 0; i < at;) {
        size_t size = cell_size(line->text + i);
        if (size == 0) {
            break;
        }
        start = i;
        i += size;
    }
    return start;
}

static bool is_border(const struct line_edit *line, size_t at)
{
    size_t i = 0;
    while (i < at) {
        size_t size = cell_size(line->text + i);
        if (size == 0) {
            break;
        }
        i += size;
    }
    return i == at;
}

static void cut(struct line_edit *line, size_t start, size_t end)
{
    memmove(line->text + start, line->text + end, strlen(line->text + end) + 1);
    line->at = start;
}

void line_set(struct line_edit *line, const char *text)
{
    size_t size = strlen(text);
    size = size < LINE_BYTES ? size : LINE_BYTES - 1;
    memcpy(line->text, text, size);
    line->text[size] = '\0';
    line->at = size;
}

void line_move(struct line_edit *line, enum line_move move)
{
    switch (move) {
    case LINE_LEFT:
        line->at = before(line, line->at);
        break;
    case LINE_RIGHT:
        line->at += cell_size(line->text + line->at);
        break;
    case LINE_HOME:
        line->at = 0;
        break;
    case LINE_END:
        line->at = strlen(line->text);
        break;
    }
}

bool line_insert(struct line_edit *line, int32_t point)
{
    char bytes[5];
    size_t size = (size_t)text_encode(bytes, point);
    size_t length = strlen(line->text);
    if (length + size >= LINE_BYTES) {
        return false;
    }
    memmove(line->text + line->at + size, line->text + line->at, length - line->at + 1);
    memcpy(line->text + line->at, bytes, size);
    line->at += size;
    /* What was typed before a mark that stood alone takes it up. */
    while (line->text[line->at] && !is_border(line, line->at)) {
        line->at++;
    }
    return true;
}

void line_delete_before(struct line_edit *line)
{
    size_t start = line->at;
    while (start > 0 && (line->text[--start] & 0xc0) == 0x80) {
    }
    cut(line, start, line->at);
}

void line_delete_at(struct line_edit *line)
{
    cut(line, line->at, line->at + cell_size(line->text + line->at));
}

void line_clear_before(struct line_edit *line)
{
    cut(line, 0, line->at);
}

void line_clear_behind(struct line_edit *line)
{
    line->text[line->at] = '\0';
}

/* Columns from `start` to the cursor. */
static int columns_from(const struct line_edit *line, size_t start)
{
    char part[LINE_BYTES];
    memcpy(part, line->text + start, line->at - start);
    part[line->at - start] = '\0';
    return text_width(part);
}

const char *line_shown(const struct line_edit *line, int columns, int *cursor)
{
    size_t start = 0;
    while (start < line->at && columns_from(line, start) >= columns) {
        start += cell_size(line->text + start);
    }
    *cursor = columns_from(line, start);
    return line->text + start;
}
