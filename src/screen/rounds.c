/* rounds.c: the rounds side by side, red left and blue right of the round. */
#include <stdio.h>
#include <string.h>

#include "screen/scene.h"

static const enum limb_group order[] = {GROUP_HANDS, GROUP_ELBOWS, GROUP_KNEES, GROUP_LEGS};
static const char *const heads[] = {"H", "E", "K", "L"}; /* thrown */

/* Fields of a corner: count, then (columns behind it) accuracy, output, knockdowns, then what was
 * thrown of each group. */
enum { OUTPUT_END = 11, DOWNS_END = 14, GROUP_COLUMNS = 4 };
#define COUNT  6 /* columns of the count, where it needs no more */
#define MIDDLE 6 /* of the round's name, a gap at either side */

/* Where a corner's fields are: from `left`, the count up to `count`. */
struct side {
    int left, count, columns;
    int group; /* columns of each group; 0: there is no room for them */
};

/* As wide as the bout's count needs, where there is room. */
static struct side side_of(const struct scene *scene, int columns)
{
    struct side side = {.columns = DOWNS_END, .count = COUNT, .group = GROUP_COLUMNS};
    int groups = 0;
    for (int i = 0; i < 4; i++) {
        groups += scene->limbs >> order[i] & 1;
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int width = count_width(&scene->tally->all.corner[corner].all);
        side.count = width > side.count ? width : side.count;
        for (int i = 0; i < 4; i++) {
            int thrown = scene->tally->all.corner[corner].group[order[i]].attempted;
            int digits = snprintf(NULL, 0, " %d", thrown);
            side.group = digits > side.group ? digits : side.group;
        }
    }
    if (side.columns + groups * side.group + side.count > (columns - MIDDLE) / 2) {
        side.group = side.group > GROUP_COLUMNS ? 0 : side.group;
    }
    side.columns += groups * side.group;
    int room = (columns - MIDDLE) / 2 - side.columns;
    side.count = side.count < room ? side.count : room;
    side.columns += side.count;
    return side;
}

static void heads_draw(const struct scene *scene, enum corner corner, int row,
                       const struct side *side)
{
    enum style style = corner_style(corner, false);
    int end = side->left + side->count;
    put_right(scene->frame, row, end, corner_style(corner, true),
              corner == CORNER_RED ? "RED" : "BLUE");
    put_right(scene->frame, row, end + ROUNDS_ACCURACY, style, "acc");
    put_right(scene->frame, row, end + OUTPUT_END, style, "/min");
    put_right(scene->frame, row, end + DOWNS_END, style, "KD");
    end += DOWNS_END;
    for (int i = 0; i < 4; i++) {
        if (scene->limbs >> order[i] & 1 && side->group) {
            end += side->group;
            put_right(scene->frame, row, end, style, heads[i]);
        }
    }
}

static void corner_row(const struct scene *scene, enum corner corner, int round, int row,
                       const struct side *side)
{
    char text[32];
    struct frame *frame = scene->frame;
    const struct corner_tally *tally = &scene_round(scene, round)->corner[corner];
    int end = side->left + side->count;
    put_count(frame, row, side->left, end, STYLE_STRONG, &tally->all);
    put_right(frame, row, end + ROUNDS_ACCURACY, STYLE_PLAIN, accuracy_text(text, &tally->all));
    put_right(frame, row, end + OUTPUT_END, STYLE_PLAIN, output_text(text, scene, corner, round));
    snprintf(text, sizeof text, "%d", tally->knockdowns);
    put_right(frame, row, end + DOWNS_END, STYLE_PLAIN, text);
    end += DOWNS_END;
    for (int i = 0; i < 4; i++) {
        if (scene->limbs >> order[i] & 1 && side->group) {
            end += side->group;
            snprintf(text, sizeof text, "%d", tally->group[order[i]].attempted);
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
    char title[96];
    int last = scene_rounds(scene);
    int first = last - (area->rows - 3) + 1; /* the newest, where not all fit */
    first = first < 1 ? 1 : first;
    struct side red = side_of(scene, area->columns);
    struct side blue = red;
    int indent = area->columns / 2 - 5 - red.columns;
    indent = indent > 1 ? indent : (area->columns - MIDDLE) / 2 > red.columns;
    red.left = area->column + indent;
    blue.left = area->column + area->columns - indent - blue.columns;
    struct area middle = {area->row, red.left + red.columns, 0, blue.left - red.left - red.columns};
    if (first > 1) {
        snprintf(title, sizeof title, "rounds %d to %d; share of ", first, last);
    } else {
        snprintf(title, sizeof title, "rounds; share of ");
    }
    size_t used = strlen(title);
    snprintf(title + used, sizeof title - used, "H hands, %sK knees, L legs",
             scene->limbs >> GROUP_ELBOWS & 1 ? "E elbows, " : "");
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    heads_draw(scene, CORNER_RED, area->row + 1, &red);
    heads_draw(scene, CORNER_BLUE, area->row + 1, &blue);
    for (int round = first; round <= last + 1; round++) {
        int row = area->row + 2 + round - first;
        int shown = round > last ? 0 : round;
        snprintf(label, sizeof label, shown ? "R%d" : "bout", shown);
        put_centred(scene->frame, &middle, row,
                    shown == scene->face.round ? STYLE_STRONG : STYLE_PLAIN, label);
        corner_row(scene, CORNER_RED, shown, row, &red);
        corner_row(scene, CORNER_BLUE, shown, row, &blue);
    }
    int taken = 3 + last - first + 2; /* and a line between */
    struct area below = {area->row + taken, area->column, area->rows - taken, area->columns};
    if (below.rows >= 3) {
        int left[CORNER_COUNT] = {red.left, blue.left};
        windows_draw(scene, &below, &middle, left, red.count);
    }
}
