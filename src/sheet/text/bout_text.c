/* bout_text.c: the sheet as a page of 80 columns, RED on the left, BLUE on the right and the names
 * of the figures between them; and the counts as a short table for a person at a shell. */
#include "sheet/checked.h"
#include "sheet/officials_sheet.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/bout/cautions.h"
#include "ringtally/base/when.h"

#define PAGE 80

static void end_line(struct buf *out)
{
    while (!out->failed && out->size > 0 && out->text[out->size - 1] == ' ') {
        out->text[--out->size] = '\0';
    }
    buf_adds(out, "\n");
}

static void rule(struct buf *out, char c)
{
    char line[PAGE + 1];
    memset(line, c, PAGE);
    line[PAGE] = '\0';
    buf_addf(out, "%s\n", line);
}

/* Left text to the left edge, right text to the right edge, neither over the other. */
static void edges(struct buf *out, const char *left, const char *right)
{
    int width = text_width(right);
    width = width > PAGE / 2 - 1 ? PAGE / 2 - 1 : width;
    buf_add_fit(out, left, PAGE - 2 - width);
    buf_adds(out, "  ");
    buf_add_fit(out, right, width);
    end_line(out);
}

static void centre(struct buf *out, const char *text, int width)
{
    int used = text_width(text);
    int before = used < width ? (width - used) / 2 : 0;
    buf_add_fit(out, "", before);
    buf_add_fit(out, text, width - before);
}

/* One figure of both corners around its name. */
static void mirror(struct buf *out, const char *red, const char *name, const char *blue)
{
    buf_add_fit(out, red, -29);
    centre(out, name, 22);
    buf_add_fit(out, blue, 29);
    end_line(out);
}

static void head(struct buf *out, const struct figures *figures)
{
    char bout[128], rules[200], length[WHEN_SIZE], clock[64];
    const struct clock_plan *plan = &figures->plan;
    snprintf(bout, sizeof bout, "%s, %s", figures->bout, figures->standing);
    edges(out, figures->title[0] ? figures->title : "Bout sheet", bout);
    if (figures->venue[0] || figures->date[0]) {
        edges(out, figures->venue, figures->date);
    }
    snprintf(rules, sizeof rules, "%s%s%s, %d x %s", figures->weight,
             figures->weight[0] ? ", " : "", figures->rules, plan->rounds,
             when_clock(length, plan->round_ms));
    clock_words(clock, sizeof clock, &figures->face);
    edges(out, rules, clock);
    rule(out, '=');

    const struct fighter *red = &figures->fighter[CORNER_RED];
    const struct fighter *blue = &figures->fighter[CORNER_BLUE];
    char left[160], right[160];
    buf_adds(out, "RED  ");
    buf_add_fit(out, red->name, 34);
    buf_adds(out, "  ");
    buf_add_fit(out, blue->name, -33);
    buf_adds(out, "  BLUE\n");
    snprintf(left, sizeof left, "     %s%s%s", stance_names[red->stance],
             red->record[0] ? ", " : "", red->record);
    snprintf(right, sizeof right, "%s%s%s      ", blue->record, blue->record[0] ? ", " : "",
             stance_names[blue->stance]);
    edges(out, left, right);
    if (red->from[0] || blue->from[0]) {
        snprintf(left, sizeof left, "     %s", red->from);
        buf_add_fit(out, left, 39);
        buf_adds(out, "  ");
        buf_add_fit(out, blue->from, -33);
        end_line(out);
    }
    rule(out, '-');
}

/* What was not seen stands before the numbers. */
static void coverage(struct buf *out, const struct figures *figures)
{
    struct buf words = BUF_INIT;
    coverage_text(&words, figures);
    if (words.size > 0) {
        buf_adds(out, "NOT COVERED  ");
        buf_add_wrapped(out, words.text, 13, PAGE);
        buf_adds(out, "  ");
        buf_add_wrapped(out, COVERAGE_NOTE, 2, PAGE);
        rule(out, '-');
    }
    out->failed = out->failed || words.failed;
    buf_release(&words);
}

static void totals(struct buf *out, const struct figures *figures)
{
    char title[24] = "WHOLE BOUT";
    if (figures->asked.round) {
        snprintf(title, sizeof title, "ROUND %d", figures->asked.round);
    }
    mirror(out, "RED", title, "BLUE");
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        char red[CELL_SIZE], blue[CELL_SIZE];
        figure_cell(red, &figures->asked, CORNER_RED, figure);
        figure_cell(blue, &figures->asked, CORNER_BLUE, figure);
        mirror(out, red, figure_words[figure], blue);
    }
    rule(out, '-');
}

static const int round_widths[FIGURE_COUNT] = {12, 8, 7, 5, 4};

static void round_row(struct buf *out, const struct scope *scope, const char *name)
{
    char cell[CELL_SIZE];
    for (int figure = FIGURE_COUNT; figure-- > 0;) {
        figure_cell(cell, scope, CORNER_RED, figure);
        buf_add_fit(out, cell, -round_widths[figure]);
    }
    centre(out, name, 8);
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        figure_cell(cell, scope, CORNER_BLUE, figure);
        buf_add_fit(out, cell, -round_widths[figure]);
    }
    end_line(out);
}

static void rounds(struct buf *out, const struct figures *figures)
{
    buf_adds(out, "  kd  blk output     acc  landed/att"
                  "  ROUND "
                  "  landed/att     acc output  blk  kd\n");
    for (int i = 0; i < figures->rounds; i++) {
        char name[16];
        snprintf(name, sizeof name, "%d", figures->round[i].round);
        round_row(out, &figures->round[i], name);
    }
    round_row(out, &figures->whole, "BOUT");
    rule(out, '-');
}

static const int grid_widths[TARGET_COUNT + 1] = {8, 8, 8, 9}; /* the last: all targets */

/* A limb that cannot hit a target under the rules has an empty cell there. */
static void grid_cells(struct buf *out, const struct figures *figures, enum corner corner, int limb)
{
    const struct corner_tally *tally = &figures->asked.tally->corner[corner];
    char cell[CELL_SIZE];
    for (int target = 0; target < TARGET_COUNT; target++) {
        const struct count *count = &tally->limb_target[limb][target];
        bool exists = figures->view->rules->targets[limb] >> target & 1;
        scope_cell(cell, &figures->asked, corner, count);
        add_count(out, exists || count->attempted ? cell : "", grid_widths[target], true);
    }
    scope_cell(cell, &figures->asked, corner, &tally->limb[limb]);
    add_count(out, cell, grid_widths[TARGET_COUNT], true);
}

static void grid_sum(struct buf *out, const struct figures *figures, enum corner corner)
{
    const struct corner_tally *tally = &figures->asked.tally->corner[corner];
    char cell[CELL_SIZE];
    for (int target = 0; target < TARGET_COUNT; target++) {
        scope_cell(cell, &figures->asked, corner, &tally->target[target]);
        add_count(out, cell, grid_widths[target], true);
    }
    scope_cell(cell, &figures->asked, corner, &tally->all);
    add_count(out, cell, grid_widths[TARGET_COUNT], true);
}

static void grid_heading(struct buf *out)
{
    for (int target = 0; target <= TARGET_COUNT; target++) {
        buf_add_fit(out, target < TARGET_COUNT ? target_names[target] : "all",
                    -grid_widths[target]);
    }
}

static void limb_name(struct buf *out, const char *name)
{
    buf_adds(out, "  ");
    buf_add_fit(out, name, 12);
}

static void grid(struct buf *out, const struct figures *figures)
{
    grid_heading(out);
    buf_adds(out, "  LIMB        ");
    grid_heading(out);
    buf_adds(out, "\n");
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (figures->limb_shown[limb]) {
            grid_cells(out, figures, CORNER_RED, limb);
            limb_name(out, limb_words[limb]);
            grid_cells(out, figures, CORNER_BLUE, limb);
            end_line(out);
        }
    }
    grid_sum(out, figures, CORNER_RED);
    limb_name(out, "ALL");
    grid_sum(out, figures, CORNER_BLUE);
    end_line(out);
    rule(out, '-');
}

static void technique_row(struct buf *out, const struct figures *figures, const char *name, int red,
                          int blue)
{
    char left[CELL_SIZE], right[CELL_SIZE];
    if (red + blue > 0) {
        number_cell(left, &figures->asked, CORNER_RED, red);
        number_cell(right, &figures->asked, CORNER_BLUE, blue);
        mirror(out, left, name, right);
    }
}

static void splits(struct buf *out, const struct figures *figures)
{
    for (int i = 0; i < figures->splits; i++) {
        const struct split *split = &figures->split[i];
        char strikes[CELL_SIZE], accuracy[CELL_SIZE];
        char red[2 * CELL_SIZE], blue[2 * CELL_SIZE];
        scope_cell(strikes, &figures->asked, CORNER_RED, &split->count[CORNER_RED]);
        accuracy_cell(accuracy, &split->count[CORNER_RED]);
        snprintf(red, sizeof red, "%s%s%9s", accuracy, strlen(strikes) > 8 ? " " : "", strikes);
        scope_cell(strikes, &figures->asked, CORNER_BLUE, &split->count[CORNER_BLUE]);
        accuracy_cell(accuracy, &split->count[CORNER_BLUE]);
        snprintf(blue, sizeof blue, "%-9s%s%s", strikes, strlen(strikes) > 8 ? " " : "", accuracy);
        mirror(out, red, split->name, blue);
    }
    const struct corner_tally *red = &figures->asked.tally->corner[CORNER_RED];
    const struct corner_tally *blue = &figures->asked.tally->corner[CORNER_BLUE];
    technique_row(out, figures, "spinning", red->spinning, blue->spinning);
    technique_row(out, figures, "jumping", red->jumping, blue->jumping);
    if (figures->splits) {
        rule(out, '-');
    }
}

static void list(struct buf *out, const struct figures *figures, enum list which)
{
    static const char *const titles[LIST_COUNT] = {"KNOCKDOWNS", "INCIDENTS",
                                                   "OFF THE CLOCK (in the totals)", "TO REVIEW"};
    if (figures->listed[which]) {
        buf_addf(out, "%s\n", titles[which]);
    }
    for (size_t i = 0; i < figures->listed[which]; i++) {
        const struct happening *happening = &figures->list[which][i];
        const struct entry *now = &happening->subject->now;
        char at[WHEN_SIZE], line[PAGE];
        snprintf(line, sizeof line, "  R%-2d %5s  %-4s  ", now->round,
                 when_clock(at, now->elapsed_ms),
                 now->strike.corner == CORNER_RED ? "RED" : "BLUE");
        buf_adds(out, line);
        buf_add_fit(out, happening->words, PAGE - (int)strlen(line));
        end_line(out);
    }
}

/* Adds an item to a line of items, on a new line where it would not fit. */
static void item(struct buf *out, size_t *line_start, const char *text)
{
    int used = out->size > *line_start ? text_width(out->text + *line_start) : 0;
    if (used > 2 && used + 3 + text_width(text) > PAGE) {
        buf_adds(out, "\n");
        *line_start = out->size;
        used = 0;
    }
    buf_addf(out, "%s%s", used > 2 ? "   " : "  ", text);
}

static void clock_line(struct buf *out, const struct figures *figures)
{
    if (figures->rounds == 0 || out->failed) {
        return;
    }
    buf_adds(out, "CLOCK\n");
    size_t start = out->size;
    for (int i = 0; i <= figures->rounds && !out->failed; i++) {
        const struct scope *scope = i < figures->rounds ? &figures->round[i] : &figures->whole;
        char text[64], name[16] = "bout", ran[WHEN_SIZE];
        if (scope->round) {
            snprintf(name, sizeof name, "R%d", scope->round);
        }
        snprintf(text, sizeof text, "%s ran %s, %d stop%s", name, when_clock(ran, scope->ran_ms),
                 scope->stops, scope->stops == 1 ? "" : "s");
        item(out, &start, text);
    }
    buf_adds(out, "\n");
}

static void record(struct buf *out, const struct figures *figures)
{
    char as_of[WHEN_SIZE];
    buf_adds(out, "RECORD\n  ");
    record_words(out, figures);
    buf_adds(out, "\n");
    for (int office = 0; office < OFFICE_COUNT; office++) {
        struct buf words = BUF_INIT;
        office_words(&words, figures, office);
        buf_addf(out, "  official for %-5s ",
                 office == OFFICE_CLOCK ? "clock" : office_names[office]);
        if (!words.failed) {
            buf_add_fit(out, words.text, PAGE - 21);
        }
        out->failed = out->failed || words.failed;
        buf_release(&words);
        end_line(out);
    }
    /* The seal, and what came in since the signature, have a line of their own. */
    buf_addf(out, "  as of %s\n  %.*s\n", when_rfc3339(as_of, figures->view->now_ms),
             (int)figures->status_break, figures->status);
    if (figures->status[figures->status_break]) {
        buf_addf(out, "  %s\n", figures->status + figures->status_break + strlen("; "));
    }
    if (figures->checked && !checked_whole(figures)) {
        char line[256];
        reference_line(line, sizeof line, figures->checked->reference);
        buf_adds(out, "  ");
        buf_add_wrapped(out, line, 2, PAGE);
    }
    buf_addf(out, "  %s\n  %s\n  ", caution_landing,
             figures->closed ? caution_signed : caution_live);
    buf_add_wrapped(out, caution_decide, 2, PAGE);
}

void sheet_text(struct buf *out, const struct figures *figures)
{
    head(out, figures);
    coverage(out, figures);
    totals(out, figures);
    rounds(out, figures);
    grid(out, figures);
    splits(out, figures);
    for (int which = 0; which < LIST_COUNT; which++) {
        list(out, figures, which);
    }
    officials_text(out, figures);
    checked_text(out, figures);
    clock_line(out, figures);
    record(out, figures);
}
