/* check_page.c: the page of how good the live count was, held against the recording: reference.h.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/insight/reference.h"
#include "screen/scene.h"

#define LINE  160
#define LABEL 11
#define WIDE  40 /* a column of the table that has room for all */
#define TALL  12 /* rows of it that have room for every kind */

static int whole(double value)
{
    return (int)labs(lround(value));
}

static void lines_draw(const struct scene *scene, const struct area *area, int *row,
                       const struct reference *reference)
{
    char text[LINE], one[32];
    const struct reference_row *all = reference->row;
    struct frame *frame = scene->frame;
    int left = area->column + 1, room = area->columns - 2;
    frame_putf(frame, (*row)++, left, room, STYLE_STRONG,
               "had %d of %d, %s; right first %d, put right %d, wrong %d; added %d",
               whole(all->had), all->of, reference_share(one, &all->recall), whole(all->first),
               whole(all->right - all->first), whole(all->had - all->right), whole(all->added));
    reference_wrong_words(text, sizeof text, reference);
    frame_putf(frame, (*row)++, left, room, STYLE_PLAIN, "wrong: %s", text);
    reference_landed_words(text, sizeof text, reference, "PPV");
    frame_putf(frame, (*row)++, left, room, STYLE_PLAIN, "landed: %s", text);
    if (reference->lag.of > 0) {
        frame_putf(frame, (*row)++, left, room, STYLE_PLAIN,
                   "lag, less the bell's key's: median %.0f ms, 90%% within %.0f, %+ld a minute",
                   reference->lag.median_ms, reference->lag.p90_ms,
                   lround(reference->lag_drift_ms));
    }
}

/* Each corner: what went on air, and what would have. */
static void figures_draw(const struct scene *scene, const struct area *area, int *row,
                         const struct reference *reference)
{
    static const char *const heads[] = {"attempted", "landed", "blocked", "accuracy"};
    bool blocked = area->columns >= 100; /* for which there is room */
    struct frame *frame = scene->frame;
    size_t count = 0;
    const struct reference_row *had = reference_rows(reference, BY_CORNER, &count);
    int step = 22, head = area->column + LABEL + 3;
    frame_put(frame, *row, area->column + 1, 0, STYLE_DIM, "live/true   had");
    for (int i = 0, at = head + 3; i < 4; i++) {
        if (i != REFERENCE_BLOCKED || blocked) {
            frame_put(frame, *row, at, 0, STYLE_DIM, heads[i]);
            at += step;
        }
    }
    ++*row;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct reference_figure *figure = &reference->figure[corner];
        char text[LINE], bias[16], one[16], other[16];
        int at = head + 3;
        if (!reference_tagged(figure)) {
            continue;
        }
        frame_put(frame, *row, area->column + 1, 0, corner_style((enum corner)corner, true),
                  corner == CORNER_RED ? "RED" : "BLUE");
        for (size_t i = 0; reference->tells && i < count; i++) {
            if (had[i].value == corner && had[i].recall.defined) {
                snprintf(text, sizeof text, "%ld%%", lround(had[i].recall.value * 100));
                put_right(frame, *row, head + 1, STYLE_PLAIN, text);
            }
        }
        for (int which = 0; which < REFERENCE_COUNTS; which++) {
            if (which != REFERENCE_BLOCKED || blocked) {
                snprintf(text, sizeof text, "%d/%d (%s)", figure->live[which],
                         figure->reference[which],
                         reference_bias(bias, figure, (enum reference_count)which));
                frame_put(frame, *row, at, step - 1, STYLE_PLAIN, text);
                at += step;
            }
        }
        frame_putf(frame, *row, at, 0, STYLE_PLAIN, "%s/%s", reference_accuracy(one, figure->live),
                   reference_accuracy(other, figure->reference));
        ++*row;
    }
}

/* "open 98%  clinch 100%  R1 98% 310 ms  R2 ...", and the minutes: a line each. */
static void spans_draw(const struct scene *scene, const struct area *area, int *row,
                       const struct reference *reference)
{
    static const enum reference_by kinds[2][2] = {{BY_POSITION, BY_ROUND}, {BY_MINUTE, BY_KINDS}};
    for (int line = 0; line < 2; line++) {
        char text[2 * LINE] = "", words[48];
        int used = line ? snprintf(text, sizeof text, "had, by minute:") : 0;
        for (int k = 0; k < 2 && kinds[line][k] != BY_KINDS; k++) {
            enum reference_by by = kinds[line][k];
            size_t count = 0;
            const struct reference_row *span = reference_rows(reference, by, &count);
            for (size_t i = 0; i < count && (size_t)used + 64 < sizeof text; i++) {
                const struct reference_lag *lag = &reference->lag_round[span[i].value];
                if (!span[i].recall.defined) {
                    continue;
                }
                reference_words(words, sizeof words, &span[i]);
                if (by == BY_ROUND) {
                    snprintf(words, sizeof words, "R%d", span[i].value);
                }
                used += snprintf(text + used, sizeof text - (size_t)used, "%s%s %ld%%",
                                 used && !line ? "  " : "", line ? "" : words,
                                 lround(span[i].recall.value * 100));
                if (by == BY_ROUND && lag->of > 0) {
                    used += snprintf(text + used, sizeof text - (size_t)used, " %.0f ms",
                                     lag->median_ms);
                }
            }
        }
        frame_put(scene->frame, (*row)++, area->column + 1, area->columns - 2, STYLE_PLAIN, text);
    }
}

static void label_of(char out[48], const struct reference_row *row)
{
    static const char *const rates[] = {"", "1/s", "2/s", "3-4/s", "", "5+/s"};
    if (row->by == BY_BURST) {
        snprintf(out, 48, "%s", rates[row->value <= 5 ? row->value : 5]);
    } else {
        reference_words(out, 48, row);
    }
}

/* Where the figures of a column of the table end, behind its left edge. */
struct ends {
    int of, had, first, wrong, added; /* first and added: 0 where there is no room */
};

static struct ends ends_of(int width)
{
    return width >= WIDE ? (struct ends){LABEL + 5, LABEL + 10, LABEL + 16, LABEL + 22, LABEL + 28}
                         : (struct ends){LABEL + 4, LABEL + 9, 0, LABEL + 13, 0};
}

static void heads_draw(const struct scene *scene, int row, int left, const struct ends *ends)
{
    put_right(scene->frame, row, left + ends->of, STYLE_DIM, "of");
    put_right(scene->frame, row, left + ends->had, STYLE_DIM, "had");
    put_right(scene->frame, row, left + ends->wrong, STYLE_DIM, ends->first ? "wrong" : "wrg");
    if (ends->first) {
        put_right(scene->frame, row, left + ends->first, STYLE_DIM, "first");
        put_right(scene->frame, row, left + ends->added, STYLE_DIM, "added");
    }
}

static void number_draw(const struct scene *scene, int row, int end, enum style style, double value)
{
    char text[16];
    if (end > 0) {
        snprintf(text, sizeof text, "%d", whole(value));
        put_right(scene->frame, row, end, style, text);
    }
}

static void row_draw(const struct scene *scene, int row, int left, const struct ends *ends,
                     const struct reference_row *item)
{
    char text[48];
    label_of(text, item);
    frame_put(scene->frame, row, left, LABEL, STYLE_PLAIN, text);
    number_draw(scene, row, left + ends->of, STYLE_DIM, item->of);
    if (item->recall.defined) {
        snprintf(text, sizeof text, "%ld%%", lround(item->recall.value * 100));
        put_right(scene->frame, row, left + ends->had, STYLE_STRONG, text);
    }
    number_draw(scene, row, left + ends->wrong, STYLE_PLAIN, item->had - item->right);
    if (ends->first) {
        number_draw(scene, row, left + ends->first, STYLE_PLAIN, item->first);
        number_draw(scene, row, left + ends->added, STYLE_PLAIN, item->added);
    }
}

/* Kinds that have no line of their own, and all where there is room. */
static bool is_listed(const struct reference_row *row, bool all)
{
    return row->by == BY_LIMB || row->by == BY_TARGET || row->by == BY_BURST ||
           (all && row->by != BY_ALL && row->by != BY_MINUTE);
}

/* Down one column, then the next. The row behind it. */
static int table_draw(const struct scene *scene, const struct area *area, int row,
                      const struct reference *reference)
{
    int rows = area->row + area->rows - row - 1;
    bool all = rows >= TALL;
    int columns = all ? 2 : 3, width = area->columns / columns, count = 0, at = 0;
    struct ends ends = ends_of(width);
    for (size_t i = 0; i < reference->rows; i++) {
        count += is_listed(&reference->row[i], all);
    }
    int even = (count + columns - 1) / columns;
    rows = even < rows ? even : rows;
    for (size_t i = 0; i < reference->rows && rows > 0 && at < columns * rows; i++) {
        int left = area->column + 1 + at / rows * width;
        if (!is_listed(&reference->row[i], all)) {
            continue;
        }
        if (at % rows == 0) {
            heads_draw(scene, row, left, &ends);
        }
        row_draw(scene, row + 1 + at % rows, left, &ends, &reference->row[i]);
        at++;
    }
    return row + (rows > 0 ? rows + 1 : 0);
}

void check_draw(const struct scene *scene, const struct area *area)
{
    struct desk_check check;
    char title[128];
    int row = area->row + 1;
    if (!desk_check(scene->desk, &check)) {
        put_rule(scene->frame, area->row, area->column, area->columns,
                 "no bout here was tagged live and from a recording");
        return;
    }
    const struct reference *reference = check.reference;
    int used =
        snprintf(title, sizeof title, "the live count against the recording, by %.40s", check.by);
    if (check.behind > 0) {
        snprintf(title + used, sizeof title - (size_t)used, "; %zu entries ago", check.behind);
    }
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    if (reference->tells) {
        lines_draw(scene, area, &row, reference);
        figures_draw(scene, area, &row, reference);
        spans_draw(scene, area, &row, reference);
        row = table_draw(scene, area, row, reference) + 1;
        struct area note = {row, area->column + 1, area->row + area->rows - row, area->columns - 2};
        put_wrapped(scene, &note, row, STYLE_DIM, reference->lag.of > 0 ? reference_lag_note : "");
    } else {
        char line[256];
        struct area text = {row, area->column + 1, area->rows - 1, area->columns - 2};
        reference_line(line, sizeof line, reference);
        row = put_wrapped(scene, &text, row, STYLE_PLAIN, line);
        figures_draw(scene, area, &row, reference);
    }
}
