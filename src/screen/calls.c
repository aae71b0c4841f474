/* calls.c: what is called, in a band above the notices. */
#include "ringtally/screen/calls.h"

#include <stdio.h>

#include "screen/scene.h"

#define LINES 3

static void words(char out[80], const struct strike *strike)
{
    snprintf(out, 80, " %s  %s %s%s ", strike->corner == CORNER_RED ? "RED " : "BLUE",
             limb_words[strike->limb], target_names[strike->target],
             strike->outcome == OUTCOME_LANDED ? "  LANDED" : "");
}

void calls_compose(struct frame *frame, const struct strike *called, size_t count, int left_s)
{
    char text[80], left[32] = "";
    int row = frame->rows - 2 - LINES;
    if (row < 1) {
        return;
    }
    for (int i = 0; i < LINES; i++) {
        frame_fill(frame, row + i, 0, frame->columns, STYLE_PLAIN, " ");
    }
    if (left_s >= 0) {
        snprintf(left, sizeof left, "  %d:%02d to go", left_s / 60, left_s % 60);
    }
    snprintf(text, sizeof text, "type what is called%s", left);
    put_rule(frame, row, 0, frame->columns, text);
    if (count == 0) {
        frame_put(frame, row + 1, 2, 0, STYLE_DIM, "it begins in a moment");
        return;
    }
    /* The newest stands at one place; the others before it, as far as there is room. */
    words(text, &called[count - 1]);
    frame_put(frame, row + 1, 2, 0,
              called[count - 1].corner == CORNER_RED ? STYLE_RED_HIT : STYLE_BLUE_HIT, text);
    int column = 2;
    for (size_t i = count - 1; i-- > 0 && count - 1 - i < 4 && column < frame->columns - 24;) {
        words(text, &called[i]);
        column = frame_put(frame, row + 2, column, 0, STYLE_DIM, text) + 1;
    }
}
