/* wrap.c: text over several lines, broken at blanks. */
#include "ringtally/base/text.h"
#include "screen/scene.h"

size_t line_bytes(const char *text, int columns)
{
    const char *at = text;
    size_t best = 0;
    int32_t points[3];
    int count = 0;
    while (*at && columns > 0) {
        const char *before = at;
        if (*at == ' ') {
            best = (size_t)(at - text);
        }
        columns -= text_grapheme(&at, points, 3, &count);
        if (columns < 0) {
            at = before;
        }
    }
    return *at && *at != ' ' && best > 0 ? best : (size_t)(at - text);
}

int put_wrapped(const struct scene *scene, const struct area *area, int row, enum style style,
                const char *text)
{
    int end = area->row + area->rows;
    while (*text && row < end) {
        size_t bytes = line_bytes(text, area->columns);
        if (row == end - 1) { /* the last line is cut with an ellipsis */
            frame_put(scene->frame, row, area->column, area->columns, style, text);
            return end;
        }
        frame_putf(scene->frame, row++, area->column, area->columns, style, "%.*s", (int)bytes,
                   text);
        text += bytes;
        while (*text == ' ') {
            text++;
        }
    }
    return row;
}
