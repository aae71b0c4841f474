/* rounds.c: the rounds side by side, red left and blue right of the round. */
#include <stdio.h>

#include "screen/scene.h"

static const enum limb_group order[] = {GROUP_HANDS, GROUP_ELBOWS, GROUP_KNEES, GROUP_LEGS};
static const char *const heads[] = {"H%", "E%", "K%", "L%"};

/* Fields of a corner: count, accuracy, output, knockdowns, then a share for each group. */
enum { COUNT_END = 6, ACCURACY_END = 11, OUTPUT_END = 17, DOWNS_END = 20, SHARE_COLUMNS = 4 };

static int side_columns(const struct scene *scene)
{
    int columns = DOWNS_END;
    for (int i = 0; i < 4; i++) {
        columns += scene->limbs >> order[i] & 1 ? SHARE_COLUMNS : 0;
    }
    return columns;
}

static void heads_draw(const struct scene *scene, enum corner corner, int row, int left)
{
    enum style style = corner_style(corner, false);
    put_right(scene->frame, row, left + COUNT_END, corner_style(corner, true),
              corner == CORNER_RED ? "RED" : "BLUE");
    put_right(scene->frame, row, left + ACCURACY_END, style, "acc");
    put_right(scene->frame, row, left + OUTPUT_END, style, "/min");
    put_right(scene->frame, row, left + DOWNS_END, style, "KD");
    int end = left + DOWNS_END;
    for (int i = 0; i < 4; i++) {
        if (scene->limbs >> order[i] & 1) {
            end += SHARE_COLUMNS;
            put_right(scene->frame, row, end, style, heads[i]);
        }
    }
}

static void corner_row(const struct scene *scene, enum corner corner, int round, int row, int left)
{
    char text[32];
    struct frame *frame = scene->frame;
    const struct corner_tally *tally = &scene_round(scene, round)->corner[corner];
    put_right(frame, row, left + COUNT_END, STYLE_STRONG, count_text(text, &tally->all));
    put_right(frame, row, left + ACCURACY_END, STYLE_PLAIN, accuracy_text(text, &tally->all));
    put_right(frame, row, left + OUTPUT_END, STYLE_PLAIN, output_text(text, scene, corner, round));
    snprintf(text, sizeof text, "%d", tally->knockdowns);
    put_right(frame, row, left + DOWNS_END, STYLE_PLAIN, text);
    int end = left + DOWNS_END;
    for (int i = 0; i < 4; i++) {
        if (scene->limbs >> order[i] & 1) {
            end += SHARE_COLUMNS;
            snprintf(text, sizeof text, "%d", share(tally, order[i]));
            put_right(frame, row, end, STYLE_PLAIN, tally->all.attempted ? text : "\u2013");
        }
    }
}

int rounds_rows(const struct scene *scene)
{
    return 3 + scene_rounds(scene);
}

void rounds_draw(const struct scene *scene, const struct area *area)
{
    char label[16];
    int side = side_columns(scene);
    int last = scene_rounds(scene);
    int first = last - (area->rows - 3) + 1; /* the newest, where not all fit */
    int red = area->column + (area->columns / 2 - 5 - side > 1 ? area->columns / 2 - 5 - side : 1);
    int blue = 2 * area->column + area->columns - 1 - red - side + 1;
    struct area middle = {area->row, red + side, 0, blue - red - side};
    put_rule(scene->frame, area->row, area->column, area->columns,
             scene->limbs >> GROUP_ELBOWS & 1
                 ? "rounds; share of H hands, E elbows, K knees, L legs"
                 : "rounds; share of H hands, K knees, L legs");
    heads_draw(scene, CORNER_RED, area->row + 1, red);
    heads_draw(scene, CORNER_BLUE, area->row + 1, blue);
    first = first < 1 ? 1 : first;
    for (int round = first; round <= last + 1; round++) {
        int row = area->row + 2 + round - first;
        int shown = round > last ? 0 : round;
        snprintf(label, sizeof label, shown ? "R%d" : "bout", shown);
        put_centred(scene->frame, &middle, row,
                    shown == scene->face.round ? STYLE_STRONG : STYLE_PLAIN, label);
        corner_row(scene, CORNER_RED, shown, row, red);
        corner_row(scene, CORNER_BLUE, shown, row, blue);
    }
}
