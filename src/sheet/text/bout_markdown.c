/* bout_markdown.c: the sheet as Markdown with pipe tables. */
#include "sheet/checked.h"
#include "sheet/officials_sheet.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/bout/cautions.h"
#include "ringtally/base/when.h"

/* A text as text: nothing in it is read as markup. */
static void plain(struct buf *out, const char *text)
{
    for (; *text; text++) {
        if (strchr("\\`*_{}[]<>#|~&", *text)) {
            buf_adds(out, "\\");
        }
        buf_add(out, text, 1);
    }
}

static void table_head(struct buf *out, const char *first, const char *const *names, int count)
{
    buf_addf(out, "\n| %s |", first);
    for (int i = 0; i < count; i++) {
        buf_addf(out, " %s |", names[i]);
    }
    buf_adds(out, "\n|:--|");
    for (int i = 0; i < count; i++) {
        buf_adds(out, "--:|");
    }
    buf_adds(out, "\n");
}

static void corner_head(struct buf *out, const char *first)
{
    static const char *const names[] = {"RED", "BLUE"};
    table_head(out, first, names, CORNER_COUNT);
}

static void head(struct buf *out, const struct figures *figures)
{
    char length[WHEN_SIZE], clock[64];
    buf_adds(out, "# ");
    plain(out, figures->title[0] ? figures->title : "Bout sheet");
    buf_adds(out, ", ");
    plain(out, figures->bout);
    buf_adds(out, "\n\n");
    const char *const parts[] = {figures->date, figures->venue, figures->weight, figures->rules};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (parts[i][0]) {
            plain(out, parts[i]);
            buf_adds(out, ", ");
        }
    }
    clock_words(clock, sizeof clock, &figures->face);
    buf_addf(out, "%d x %s; %s; **", figures->plan.rounds,
             when_clock(length, figures->plan.round_ms), clock);
    plain(out, figures->status);
    buf_adds(out, "**\n\n| corner | fighter | stance | record | from |\n|:--|:--|:--|:--|:--|\n");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct fighter *fighter = &figures->fighter[corner];
        buf_addf(out, "| %s | ", corner == CORNER_RED ? "RED" : "BLUE");
        plain(out, fighter->name);
        buf_addf(out, " | %s | ", stance_names[fighter->stance]);
        plain(out, fighter->record);
        buf_adds(out, " | ");
        plain(out, fighter->from);
        buf_adds(out, " |\n");
    }
}

static void coverage(struct buf *out, const struct figures *figures)
{
    struct buf words = BUF_INIT;
    coverage_text(&words, figures);
    if (words.size > 0) {
        buf_adds(out, "\n**Not covered:** ");
        plain(out, words.text);
        buf_adds(out, ". " COVERAGE_NOTE "\n");
    }
    out->failed = out->failed || words.failed;
    buf_release(&words);
}

static void totals(struct buf *out, const struct figures *figures)
{
    if (figures->asked.round) {
        buf_addf(out, "\n## Round %d\n", figures->asked.round);
    } else {
        buf_adds(out, "\n## Whole bout\n");
    }
    corner_head(out, "");
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        char red[CELL_SIZE], blue[CELL_SIZE];
        figure_cell(red, &figures->asked, CORNER_RED, figure);
        figure_cell(blue, &figures->asked, CORNER_BLUE, figure);
        buf_addf(out, "| %s | %s | %s |\n", figure_words[figure], red, blue);
    }
}

static void round_row(struct buf *out, const struct scope *scope, enum corner corner)
{
    char cell[CELL_SIZE], ran[WHEN_SIZE];
    if (scope->round) {
        buf_addf(out, "| %d |", scope->round);
    } else {
        buf_adds(out, "| **bout** |");
    }
    buf_addf(out, " %s |", corner == CORNER_RED ? "RED" : "BLUE");
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        figure_cell(cell, scope, corner, figure);
        buf_addf(out, " %s |", cell);
    }
    buf_addf(out, " %s | %d |\n", when_clock(ran, scope->ran_ms), scope->stops);
}

static void rounds(struct buf *out, const struct figures *figures)
{
    const char *names[FIGURE_COUNT + 3] = {"corner"};
    memcpy(names + 1, figure_words, sizeof figure_words);
    names[FIGURE_COUNT + 1] = "clock ran";
    names[FIGURE_COUNT + 2] = "clock stops";
    buf_adds(out, "\n## Round by round\n");
    table_head(out, "round", names, FIGURE_COUNT + 3);
    for (int i = 0; i <= figures->rounds; i++) {
        const struct scope *scope = i < figures->rounds ? &figures->round[i] : &figures->whole;
        round_row(out, scope, CORNER_RED);
        round_row(out, scope, CORNER_BLUE);
    }
}

static void grid(struct buf *out, const struct figures *figures)
{
    enum { COLUMNS = TARGET_COUNT + 1 };
    char heads[CORNER_COUNT * COLUMNS][16];
    const char *names[CORNER_COUNT * COLUMNS];
    char cell[CELL_SIZE];
    for (int i = 0; i < CORNER_COUNT * COLUMNS; i++) {
        int target = i % COLUMNS;
        snprintf(heads[i], sizeof heads[i], "%s %s", i < COLUMNS ? "RED" : "BLUE",
                 target < TARGET_COUNT ? target_names[target] : "all");
        names[i] = heads[i];
    }
    buf_adds(out, "\n## By limb and target (landed/attempted)\n");
    table_head(out, "limb", names, CORNER_COUNT * COLUMNS);
    for (int limb = 0; limb <= LIMB_COUNT; limb++) { /* the last row: all limbs */
        if (limb < LIMB_COUNT && !figures->limb_shown[limb]) {
            continue;
        }
        buf_addf(out, "| %s |", limb < LIMB_COUNT ? limb_words[limb] : "**all**");
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct corner_tally *tally = &figures->asked.tally->corner[corner];
            const struct count *counts =
                limb < LIMB_COUNT ? tally->limb_target[limb] : tally->target;
            for (int target = 0; target < TARGET_COUNT; target++) {
                scope_cell(cell, &figures->asked, corner, &counts[target]);
                buf_addf(out, " %s |", cell);
            }
            scope_cell(cell, &figures->asked, corner,
                       limb < LIMB_COUNT ? &tally->limb[limb] : &tally->all);
            buf_addf(out, " %s |", cell);
        }
        buf_adds(out, "\n");
    }
}

static void technique_row(struct buf *out, const struct figures *figures, const char *name, int red,
                          int blue)
{
    char left[CELL_SIZE], right[CELL_SIZE];
    number_cell(left, &figures->asked, CORNER_RED, red);
    number_cell(right, &figures->asked, CORNER_BLUE, blue);
    buf_addf(out, "| %s | %s | %s |\n", name, left, right);
}

static void splits(struct buf *out, const struct figures *figures)
{
    const struct corner_tally *red = &figures->asked.tally->corner[CORNER_RED];
    const struct corner_tally *blue = &figures->asked.tally->corner[CORNER_BLUE];
    buf_adds(out, "\n## By kind, stance and position\n");
    corner_head(out, "");
    for (int i = 0; i < figures->splits; i++) {
        const struct split *split = &figures->split[i];
        buf_addf(out, "| %s |", split->name);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            char strikes[CELL_SIZE], accuracy[CELL_SIZE];
            scope_cell(strikes, &figures->asked, corner, &split->count[corner]);
            accuracy_cell(accuracy, &split->count[corner]);
            bool thrown = split->count[corner].attempted > 0;
            buf_addf(out, " %s%s%s |", strikes, thrown ? ", " : "", thrown ? accuracy : "");
        }
        buf_adds(out, "\n");
    }
    technique_row(out, figures, "spinning", red->spinning, blue->spinning);
    technique_row(out, figures, "jumping", red->jumping, blue->jumping);
}

static void list(struct buf *out, const struct figures *figures, enum list which)
{
    static const char *const titles[LIST_COUNT] = {"Knockdowns", "Incidents",
                                                   "Off the clock (in the totals)", "To review"};
    if (figures->listed[which]) {
        buf_addf(out, "\n## %s\n\n| round | clock | corner | what |\n|--:|--:|:--|:--|\n",
                 titles[which]);
    }
    for (size_t i = 0; i < figures->listed[which]; i++) {
        const struct happening *happening = &figures->list[which][i];
        const struct entry *now = &happening->subject->now;
        char at[WHEN_SIZE];
        buf_addf(out, "| %d | %s | %s | ", now->round, when_clock(at, now->elapsed_ms),
                 now->strike.corner == CORNER_RED ? "RED" : "BLUE");
        plain(out, happening->words);
        buf_adds(out, " |\n");
    }
}

static void record(struct buf *out, const struct figures *figures)
{
    char as_of[WHEN_SIZE];
    buf_adds(out, "\n## Record\n\n");
    record_words(out, figures);
    buf_adds(out, ".\n");
    for (int office = 0; office < OFFICE_COUNT; office++) {
        struct buf words = BUF_INIT;
        office_words(&words, figures, office);
        buf_addf(out, "%s for %s: ", office ? ";" : "Official",
                 office == OFFICE_CLOCK ? "the clock" : office_names[office]);
        plain(out, words.failed ? "" : words.text);
        out->failed = out->failed || words.failed;
        buf_release(&words);
    }
    buf_addf(out, ".\nAs of %s, ", when_rfc3339(as_of, figures->view->now_ms));
    plain(out, figures->status);
    if (figures->checked && !checked_whole(figures)) {
        char line[256];
        reference_line(line, sizeof line, figures->checked->reference);
        buf_adds(out, ".\n");
        plain(out, line);
    }
    buf_addf(out, ".\n\n%s %s %s\n", caution_landing,
             figures->closed ? caution_signed : caution_live, caution_decide);
}

void sheet_markdown(struct buf *out, const struct figures *figures)
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
    officials_markdown(out, figures, plain);
    checked_markdown(out, figures, plain);
    record(out, figures);
}
