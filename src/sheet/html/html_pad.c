/* html_pad.c: the pad as a heat map: a row a target, a column a limb, the totals at the edges. */
#include <stdio.h>
#include <string.h>

#include "sheet/html/html.h"

#define WIDTH  360
#define NAMES  40 /* width of the rows' names */
#define TOTAL  62 /* of the rows' totals, and the gap before them */
#define GAP    8
#define TOP    28 /* of the columns' names: the side, and under it the limb */
#define ROW    58
#define BOTTOM 22 /* of the columns' sums */

static void tint(struct buf *out, const struct pad_look *look, int heat)
{
    buf_addf(out, "%s%d", look->hue, heat);
}

/* How many landed, and below it how many were attempted. */
static void numbers(struct buf *out, double x, int y, const struct count *count, int heat)
{
    if (count->attempted == 0) {
        buf_addf(out, "<text class=\"n of t%d\" x=\"", heat);
        html_number(out, x);
        buf_addf(out, "\" y=\"%d\">-</text>", y + 4);
        return;
    }
    buf_addf(out, "<text class=\"n big t%d\" x=\"", heat);
    html_number(out, x);
    buf_addf(out, "\" y=\"%d\">%d</text><text class=\"n of t%d\" x=\"", y, count->landed, heat);
    html_number(out, x);
    buf_addf(out, "\" y=\"%d\">/%d</text>", y + 16, count->attempted);
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
    numbers(out, (TOTAL - GAP) / 2.0, 31, &sum->count, heat);
    buf_adds(out, "</g>\n");
}

static void cell(struct buf *out, const struct pad_cell *of, const struct pad_look *look,
                 int target, int column, double x, int y, double width)
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
    numbers(out, width / 2, of->knockdowns ? 34 : 31, &of->count, heat);
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
        buf_addf(out, "\" y=\"%d\">", bottom + 15);
        if (pad->column[column].attempted) {
            buf_addf(out, "%d/%d", pad->column[column].landed, pad->column[column].attempted);
        } else {
            buf_adds(out, "-");
        }
        buf_adds(out, "</text>\n");
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
             pad->columns > 5 ? " many" : "", WIDTH, TOP + rows * ROW + BOTTOM);
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
                cell(out, of, look, target, column, x, y, width);
            }
            x += pad->column_shown[column] ? width : 0;
        }
        y += ROW;
    }
    column_names(out, pad, width, y);
    buf_adds(out, "</svg>\n");
}
