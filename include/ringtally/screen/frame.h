/* frame.h: a screenful of cells as plain values. Views compose a frame; only the painter knows the
 * terminal. */
#ifndef RINGTALLY_SCREEN_FRAME_H
#define RINGTALLY_SCREEN_FRAME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ringtally/base/error.h"

/* What a cell means; the painter turns it into colour and attributes that the terminal has. */
enum style {
    STYLE_PLAIN,
    STYLE_DIM,
    STYLE_STRONG,
    STYLE_RED, /* the red corner */
    STYLE_RED_STRONG,
    STYLE_RED_HIT, /* the cell just hit */
    STYLE_BLUE,
    STYLE_BLUE_STRONG,
    STYLE_BLUE_HIT,
    STYLE_NOTICE,
    STYLE_URGENT, /* inverted */
    STYLE_COUNT
};

struct cell {
    int32_t point[3]; /* a grapheme's code points; unused 0. point[0] 0: the right half of a wide
                         cell */
    uint8_t width;    /* columns: 1 or 2; 0 for a right half */
    uint8_t style;
    uint16_t zero; /* no gap: rows are compared as bytes */
};
_Static_assert(sizeof(struct cell) == 3 * sizeof(int32_t) + 4, "a cell has no gaps");

struct frame {
    int rows, columns;
    bool ascii;        /* the locale has no UTF-8: only ASCII is put in */
    struct cell *cell; /* rows * columns; owned */
};

int frame_init(struct frame *frame, int rows, int columns, bool ascii, struct error *err);
void frame_release(struct frame *frame);
void frame_clear(struct frame *frame);
/* Puts text, clipped at the frame's edge. Where width > 0 exactly `width` columns are written:
 * padded with blanks, or cut with an ellipsis. Control characters become '?'. In an ASCII frame
 * letters lose their accents, block and line characters become ASCII marks, the rest '?'. Returns
 * the column behind the text. */
int frame_put(struct frame *frame, int row, int column, int width, enum style style,
              const char *text);
int frame_putf(struct frame *frame, int row, int column, int width, enum style style,
               const char *format, ...) PRINTF_LIKE(6, 7);
/* Puts one character of one column `width` times. */
void frame_fill(struct frame *frame, int row, int column, int width, enum style style,
                const char *grapheme);
/* Changes the style of what stands there already. */
void frame_restyle(struct frame *frame, int row, int column, int width, enum style style);
/* The frame as text lines (trailing blanks cut), for tests; malloc'd, NULL: out of memory. */
char *frame_text(const struct frame *frame);

#endif
