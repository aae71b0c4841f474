/* html_pad.c: the pad as a heat map: a row a target, a column a limb, the totals at the edges. */
#include <stdio.h>
#include <string.h>

#include "sheet/html/html.h"

#define WIDTH  360
#define NAMES  40 /* width of the rows' names */
#define TOTAL  62 /* of the rows' totals, and the gap before them */
#define GAP    8
#define MANY   5  /* more columns than that have smaller type */
#define TOP    28 /* of the columns' names: the side, and under it the limb */
#define ROW    58
#define BOTTOM 22 /* of the columns' sums */

static void tint(struct buf *out, const struct pad_look *look, int heat)
{
    buf_addf(out, "%s%d", look->hue, heat);
}

/* A number that would be wider than its room is drawn closer. `em` is its size, a digit seven
 * tenths of it at most. */
static void number(struct buf *out, const char *slash, int value, double em, double room)
{
    char text[16];
    int width = (int)(0.7 * em * snprintf(text, sizeof text, "%s%d", slash, value));
    if (width > room) {
        buf_adds(out, " lengthAdjust=\"spacingAndGlyphs\" textLength=\"");
        html_number(out, room);
        buf_adds(out, "\"");
    }
    buf_addf(out, ">%s</text>", text);
}

/* How many landed, and below it how many were attempted. */
static void numbers(struct buf *out, double width, int y, const struct count *count, int heat,
                    bool many)
{
    double x = width / 2;
    if (count->attempted == 0) {
        buf_addf(out, "<text class=\"n of t%d\" x=\"", heat);
        html_number(out, x);
        buf_addf(out, "\" y=\"%d\">-</text>", y + 4);
        return;
    }
    buf_addf(out, "<text class=\"n big t%d\" x=\"", heat);
    html_number(out, x);
    buf_addf(out, "\" y=\"%d\"", y);
    number(out, "", count->landed, many ? 22 : 26, width - 6);
    buf_addf(out, "<text class=\"n of t%d\" x=\"", heat);
    html_number(out, x);
    buf_addf(out, "\" y=\"%d\"", y + 16);
    number(out, "/", count->attempted, many ? 12 : 14, width - 6);
}

/* The row's name at the left, its total at the right: a cell like the others, but square. */
static void row_edges(struct buf *out, const struct pad *pad, const struct pad_look *look,
                      int target, int y)
{
    const struct pad_cell *sum = &pad->target[target];
    int heat = pad_heat(sum->count.landed, look->most_target);
    buf_addf(out, "<text class=\"row\" x=\"0\" y=\"%d\">%s</text>\n", y + ROW / 2 + 5,
             target_names[target]);
    buf_addf(out,
             "<g class=\"%s\" transform=\"translate(%d %d)\"><title>%s, all: %d landed of %d"
             "</title><rect class=\"cell total ",
             look->hue, WIDTH - TOTAL + GAP, y, target_names[target], sum->count.landed,
             sum->count.attempted);
    tint(out, look, heat);
    buf_addf(out, "\" x=\"2\" y=\"2\" width=\"%d\" height=\"%d\"/>", TOTAL - GAP - 4, ROW - 4);
    numbers(out, TOTAL - GAP, 31, &sum->count, heat, pad->columns > MANY);
    buf_adds(out, "</g>\n");
}

static void cell(struct buf *out, const struct pad_cell *of, const struct pad_look *look,
                 int target, int column, double x, int y, double width, bool many)
{
    int heat = pad_heat(of->count.landed, look->most);
    bool marked = target == look->mark_target && column == look->mark_column;
    buf_addf(out, "<g class=\"%s\" transform=\"translate(", look->hue);
    html_number(out, x);
    buf_addf(out, " %d)\"><title>%s, %s: %d landed of %d</title><rect class=\"cell ", y,
             target_names[target], limb_words[pad_limb((enum pad_column)column)], of->count.landed,
             of->count.attempted);
    tint(out, look, heat);
    buf_addf(out, "%s\" x=\"2\" y=\"2\" width=\"", marked ? " mark" : "");
    html_number(out, width - 4);
    buf_addf(out, "\" height=\"%d\" rx=\"5\"/>", ROW - 4);
    numbers(out, width, of->knockdowns ? 34 : 31, &of->count, heat, many);
    if (of->knockdowns) {
        buf_adds(out, "<g class=\"kd\" transform=\"translate(");
        html_number(out, width - 27);
        buf_adds(out, " -4)\"><rect width=\"27\" height=\"16\" rx=\"4\"/>"
                      "<text x=\"13.5\" y=\"12.5\">");
        if (of->knockdowns > 1) {
            buf_addf(out, "%d", of->knockdowns);
        }
        buf_adds(out, "KD</text></g>");
    }
    buf_adds(out, "</g>\n");
}

/* "L" above "elbow": side by side seven such names would touch. */
static void column_name(struct buf *out, double x, enum limb limb)
{
    const char *brief = limb_briefs[limb];
    const char *gap = strchr(brief, ' ');
    if (gap) {
        buf_adds(out, "<text class=\"name\" x=\"");
        html_number(out, x);
        buf_addf(out, "\" y=\"%d\">%.*s</text>", TOP - 16, (int)(gap - brief), brief);
    }
    buf_adds(out, "<text class=\"name\" x=\"");
    html_number(out, x);
    buf_addf(out, "\" y=\"%d\">%s</text>", TOP - 6, gap ? gap + 1 : brief);
}

static void column_names(struct buf *out, const struct pad *pad, double width, int bottom)
{
    double x = NAMES;
    for (int column = 0; column < PAD_COLUMNS; column++) {
        if (!pad->column_shown[column]) {
            continue;
        }
        column_name(out, x + width / 2, pad_limb((enum pad_column)column));
        buf_adds(out, "<text class=\"name\" x=\"");
        html_number(out, x + width / 2);
        buf_addf(out, "\" y=\"%d\"", bottom + 15);
        if (pad->column[column].attempted) {
            char landed[16];
            snprintf(landed, sizeof landed, "%d/", pad->column[column].landed);
            number(out, landed, pad->column[column].attempted, pad->columns > MANY ? 10 : 13,
                   width - 4);
        } else {
            buf_adds(out, ">-</text>");
        }
        buf_adds(out, "\n");
        x += width;
    }
    buf_addf(out, "<text class=\"name\" x=\"%d\" y=\"%d\">all</text>\n", WIDTH - (TOTAL - GAP) / 2,
             TOP - 6);
    buf_addf(out, "<text class=\"name\" x=\"%d\" y=\"%d\">%d/%d</text>\n",
             WIDTH - (TOTAL - GAP) / 2, bottom + 15, pad->all.landed, pad->all.attempted);
}

void html_pad(struct buf *out, const struct pad *pad, const struct pad_look *look)
{
    double width = pad->columns ? (double)(WIDTH - NAMES - TOTAL) / pad->columns : 0.0;
    int rows = 0;
    for (int target = 0; target < TARGET_COUNT; target++) {
        rows += pad->target[target].exists;
    }
    buf_addf(out, "<svg class=\"pad%s\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"",
             pad->columns > MANY ? " many" : "", WIDTH, TOP + rows * ROW + BOTTOM);
    html_text(out, look->label);
    buf_addf(out, "\" data-corner=\"%s\">\n", look->corner);
    int y = TOP;
    for (int target = 0; target < TARGET_COUNT; target++) {
        if (!pad->target[target].exists) {
            continue;
        }
        row_edges(out, pad, look, target, y);
        double x = NAMES;
        for (int column = 0; column < PAD_COLUMNS; column++) {
            const struct pad_cell *of = &pad->cell[target][column];
            if (pad->column_shown[column] && of->exists) {
                cell(out, of, look, target, column, x, y, width, pad->columns > MANY);
            }
            x += pad->column_shown[column] ? width : 0;
        }
        y += ROW;
    }
    column_names(out, pad, width, y);
    buf_adds(out, "</svg>\n");
}
