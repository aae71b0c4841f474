/* digits.c: digits large enough to be read from afar: three columns wide, three rows high. */
#include <string.h>

#include "screen/scene.h"

static const char known[] = "0123456789/-";

int digits_width(const char *text)
{
    int width = 0;
    for (; *text; text++) {
        width += *text == ':' ? 2 : 4;
    }
    return width - (width > 0);
}

void digits_draw(struct frame *frame, int row, int column, enum style style, const char *text)
{
    static const uint16_t dots[] = {/* rows of three from the top, the first in the high bits */
                                    075557, 026227, 071747, 071717, 055711, 074717,
                                    074757, 071111, 075757, 075717, 011244, 000700};
    static const char *const half[] = {" ", "\u2580", "\u2584", "\u2588"};
    static const char strokes[3][37] = {" _     _  _     _  _  _  _  _   /   ",
                                        "| |  | _| _||_||_ |_   ||_||_| /  _ ",
                                        "|_|  ||_  _|  | _||_|  ||_| _|/     "};
    for (; *text; text++) {
        if (*text == ':') {
            frame_put(frame, row + 1, column, 1, style, frame->ascii ? "." : half[2]);
            frame_put(frame, row + 2, column, 1, style, frame->ascii ? "." : half[1]);
            column += 2;
            continue;
        }
        const char *at = strchr(known, *text);
        int glyph = at ? (int)(at - known) : (int)sizeof known - 2;
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) {
                unsigned upper = dots[glyph] >> (14 - 6 * r - c) & 1u;
                unsigned lower = r < 2 ? dots[glyph] >> (11 - 6 * r - c) & 1u : 0;
                char stroke[2] = {strokes[r][glyph * 3 + c], '\0'};
                frame_put(frame, row + r, column + c, 1, style,
                          frame->ascii ? stroke : half[upper + 2 * lower]);
            }
        }
        column += 4;
    }
}
