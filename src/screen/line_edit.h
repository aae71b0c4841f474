/* line_edit.h: a line of text and where the cursor is in it. Pure: knows no terminal. */
#ifndef RINGTALLY_LINE_EDIT_H
#define RINGTALLY_LINE_EDIT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LINE_BYTES 512

/* UTF-8 as it was typed, in that order: marks stay behind the letter that they were typed on. */
struct line_edit {
    char text[LINE_BYTES];
    size_t at; /* byte before which the cursor stands; between cells, never inside one */
};

enum line_move { LINE_LEFT, LINE_RIGHT, LINE_HOME, LINE_END };

void line_set(struct line_edit *line, const char *text); /* the cursor at the end */
void line_move(struct line_edit *line, enum line_move move);
/* One code point before the cursor. False: there is no room. */
bool line_insert(struct line_edit *line, int32_t point);
/* Backspace takes one code point: a mark alone where there is one. */
void line_delete_before(struct line_edit *line);
void line_delete_at(struct line_edit *line); /* the cell under the cursor with its marks */
void line_clear_before(struct line_edit *line);
void line_clear_behind(struct line_edit *line);
/* Where to begin to show it, so that the cursor is within so many columns; *cursor = its column
 * from there. */
const char *line_shown(const struct line_edit *line, int columns, int *cursor);

#endif
