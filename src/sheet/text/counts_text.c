/* counts_text.c: the counts as a short table for a person at a shell. */
#include "sheet/figures.h"
#include "ringtally/bout/cautions.h"

#include <stdio.h>

#define NAME_WIDTH   18
#define CORNER_WIDTH 19

static void row(struct buf *out, const char *name, const char *red, const char *blue)
{
    buf_add_fit(out, name, NAME_WIDTH);
    buf_add_fit(out, red, -CORNER_WIDTH);
    buf_add_fit(out, blue, -CORNER_WIDTH);
    buf_adds(out, "\n");
}

static void count_row(struct buf *out, const struct figures *figures, const char *name,
                      const struct count *red, const struct count *blue)
{
    char left[CELL_SIZE], right[CELL_SIZE];
    scope_cell(left, &figures->asked, CORNER_RED, red);
    scope_cell(right, &figures->asked, CORNER_BLUE, blue);
    row(out, name, left, right);
}

static void table(struct buf *out, const struct figures *figures)
{
    char clock[64], scope[WINDOW_TEXT] = "whole bout", name[CORNER_COUNT][128];
    const struct corner_tally *red = &figures->asked.tally->corner[CORNER_RED];
    const struct corner_tally *blue = &figures->asked.tally->corner[CORNER_BLUE];
    if (figures->asked.round) {
        snprintf(scope, sizeof scope, "round %d", figures->asked.round);
    }
    if (figures->windowed) {
        snprintf(scope, sizeof scope, "%s", figures->view->window->text);
    }
    clock_words(clock, sizeof clock, &figures->face);
    buf_addf(out, "%s, %s; clock: %s; %zu entries\n", figures->bout, scope, clock,
             figures->entries);
    snprintf(name[0], sizeof name[0], "RED %s", figures->fighter[CORNER_RED].short_name);
    snprintf(name[1], sizeof name[1], "BLUE %s", figures->fighter[CORNER_BLUE].short_name);
    row(out, "", name[CORNER_RED], name[CORNER_BLUE]);
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        char left[CELL_SIZE], right[CELL_SIZE];
        figure_cell(left, &figures->asked, CORNER_RED, figure);
        figure_cell(right, &figures->asked, CORNER_BLUE, figure);
        row(out, figure_words[figure], left, right);
    }
    for (int target = 0; target < TARGET_COUNT; target++) {
        count_row(out, figures, target_names[target], &red->target[target], &blue->target[target]);
    }
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (figures->limb_shown[limb]) {
            count_row(out, figures, limb_words[limb], &red->limb[limb], &blue->limb[limb]);
        }
    }
    for (int i = 0; i < figures->splits; i++) {
        const struct split *split = &figures->split[i];
        count_row(out, figures, split->name, &split->count[CORNER_RED], &split->count[CORNER_BLUE]);
    }
    struct buf words = BUF_INIT;
    coverage_text(&words, figures);
    if (words.size > 0) {
        buf_adds(out, "not covered: ");
        buf_add_wrapped(out, words.text, 13, 80);
    }
    out->failed = out->failed || words.failed;
    buf_release(&words);
}

int counts_table(struct buf *out, const struct sheet_view *view, struct error *err)
{
    struct figures figures;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    table(out, &figures);
    buf_addf(out, "%s\n", figures.closed ? caution_signed : caution_live);
    figures_release(&figures);
    return out->failed ? error_memory(err) : 0;
}
