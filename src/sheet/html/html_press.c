/* html_press.c: the bout's sheet as one HTML page: both corners, for the press. */
#include <stdio.h>

#include "sheet/checked.h"
#include "sheet/html/html.h"
#include "ringtally/base/when.h"
#include "ringtally/bout/cautions.h"

#define REMARKS_SHOWN 8

static void fighter(struct buf *out, const struct figures *figures, enum corner corner)
{
    const struct fighter *who = &figures->fighter[corner];
    buf_addf(out, "<p><b class=\"%s\">%s</b> <strong>", corner_names[corner],
             corner == CORNER_RED ? "RED" : "BLUE");
    html_text(out, who->name);
    buf_addf(out, "</strong><br/>%s", stance_names[who->stance]);
    if (who->record[0]) {
        buf_adds(out, ", ");
        html_text(out, who->record);
    }
    if (who->from[0]) {
        buf_adds(out, ", ");
        html_text(out, who->from);
    }
    buf_adds(out, "</p>\n");
}

static void head(struct buf *out, const struct figures *figures)
{
    char clock[64], length[WHEN_SIZE];
    clock_words(clock, sizeof clock, &figures->face);
    buf_adds(out, "<header><h1>");
    html_text(out, figures->title[0] ? figures->title : "Bout sheet");
    buf_adds(out, "</h1><p class=\"sub\"><strong>");
    buf_addf(out, "%c%s", figures->closed ? 'S' : 'P', figures->standing + 1);
    buf_adds(out, "</strong> ");
    html_text(out, figures->venue);
    buf_adds(out, figures->venue[0] && figures->date[0] ? ", " : "");
    html_text(out, figures->date);
    buf_adds(out, "<br/>");
    html_text(out, figures->weight);
    buf_adds(out, figures->weight[0] ? ", " : "");
    html_text(out, figures->rules);
    buf_addf(out, ", %d x %s; ", figures->plan.rounds, when_clock(length, figures->plan.round_ms));
    html_text(out, clock);
    buf_adds(out, "</p></header>\n<div class=\"vs\">\n");
    fighter(out, figures, CORNER_RED);
    fighter(out, figures, CORNER_BLUE);
    buf_adds(out, "</div>\n");
}

/* Red's cell, the name, blue's cell. */
static void row(struct buf *out, const char *red, const char *name, const char *blue)
{
    buf_addf(out, "<tr><td>%s</td><th class=\"mid\">%s</th><td class=\"left\">%s</td></tr>\n", red,
             name, blue);
}

static void totals(struct buf *out, const struct figures *figures)
{
    buf_adds(out, "<section><h2>");
    if (figures->asked.round) {
        buf_addf(out, "Round %d", figures->asked.round);
    } else {
        buf_adds(out, "Whole bout");
    }
    buf_adds(out, "</h2>\n<table class=\"totals\"><tbody>\n");
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        char red[CELL_SIZE], blue[CELL_SIZE];
        figure_cell(red, &figures->asked, CORNER_RED, (enum figure)figure);
        figure_cell(blue, &figures->asked, CORNER_BLUE, (enum figure)figure);
        row(out, red, figure_words[figure], blue);
    }
    for (int i = 0; i < figures->splits; i++) {
        const struct split *split = &figures->split[i];
        char cell[CORNER_COUNT][2 * CELL_SIZE];
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            char strikes[CELL_SIZE], accuracy[CELL_SIZE];
            scope_cell(strikes, &figures->asked, (enum corner)corner, &split->count[corner]);
            accuracy_cell(accuracy, &split->count[corner]);
            snprintf(cell[corner], sizeof cell[corner], "%s%s%s", strikes,
                     split->count[corner].attempted ? " " : "",
                     split->count[corner].attempted ? accuracy : "");
        }
        row(out, cell[CORNER_RED], split->name, cell[CORNER_BLUE]);
    }
    buf_adds(out, "</tbody></table></section>\n");
}

static void rounds(struct buf *out, const struct figures *figures)
{
    static const char *const names[FIGURE_COUNT] = {"landed/ attempted", "accuracy", "output",
                                                    "blocked", "knock- downs"};
    buf_adds(out, "<section class=\"wide\"><h2>By round</h2>\n<table class=\"rounds\"><thead><tr>");
    for (int figure = FIGURE_COUNT; figure-- > 0;) {
        buf_addf(out, "<th>%s</th>", names[figure]);
    }
    buf_adds(out, "<th class=\"mid\">round</th>");
    for (int figure = 0; figure < FIGURE_COUNT; figure++) {
        buf_addf(out, "<th>%s</th>", names[figure]);
    }
    buf_adds(out, "</tr></thead><tbody>\n");
    for (int i = 0; i <= figures->rounds; i++) {
        const struct scope *scope = i < figures->rounds ? &figures->round[i] : &figures->whole;
        char cell[CELL_SIZE];
        buf_adds(out, "<tr>");
        for (int figure = FIGURE_COUNT; figure-- > 0;) {
            figure_cell(cell, scope, CORNER_RED, (enum figure)figure);
            buf_addf(out, "<td>%s</td>", cell);
        }
        if (scope->round) {
            buf_addf(out, "<th class=\"mid\">%d</th>", scope->round);
        } else {
            buf_adds(out, "<th class=\"mid\">bout</th>");
        }
        for (int figure = 0; figure < FIGURE_COUNT; figure++) {
            figure_cell(cell, scope, CORNER_BLUE, (enum figure)figure);
            buf_addf(out, "<td>%s</td>", cell);
        }
        buf_adds(out, "</tr>\n");
    }
    buf_adds(out, "</tbody></table></section>\n");
}

static void pads(struct buf *out, const struct figures *figures)
{
    struct pad pad[CORNER_COUNT];
    int most = 0, most_target = 0;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        pad_read(&pad[corner], figures->view->fold, figures->view->rules, (enum corner)corner,
                 figures->view->round, figures->view->round);
        most = pad[corner].most > most ? pad[corner].most : most;
        most_target = pad[corner].most_target > most_target ? pad[corner].most_target : most_target;
    }
    buf_adds(out, "<section class=\"two\">\n");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct pad_look look = {
            .label = corner == CORNER_RED ? "What red landed, by target and limb"
                                          : "What blue landed, by target and limb",
            .hue = "a",
            .corner = corner_names[corner],
            .most = most,
            .most_target = most_target,
            .mark_target = -1,
            .mark_column = -1,
        };
        buf_addf(out, "<article><h2><b class=\"%s\">%s</b> landed</h2>\n", corner_names[corner],
                 corner == CORNER_RED ? "RED" : "BLUE");
        if (figures->asked.seen[corner].tagged) {
            html_pad(out, &pad[corner], &look);
        } else {
            buf_adds(out, "<p class=\"gap\">Not tagged: unknown.</p>\n");
        }
        buf_adds(out, "</article>\n");
    }
    buf_adds(out, "</section>\n");
}

static void happenings(struct buf *out, const struct figures *figures, enum list list,
                       const char *title)
{
    if (figures->listed[list] == 0) {
        return;
    }
    buf_addf(out, "<section><h2>%s</h2><ul>\n", title);
    for (size_t i = 0; i < figures->listed[list]; i++) {
        const struct happening *happening = &figures->list[list][i];
        const struct entry *now = &happening->subject->now;
        char at[WHEN_SIZE];
        buf_addf(out, "<li>R%d %s %s: ", now->round, when_clock(at, now->elapsed_ms),
                 now->strike.corner == CORNER_RED ? "RED" : "BLUE");
        html_text(out, happening->words);
        buf_adds(out, "</li>\n");
    }
    buf_adds(out, "</ul></section>\n");
}

static void remarks(struct buf *out, const struct figures *figures)
{
    const struct sheet_view *view = figures->view;
    int shown = 0;
    for (size_t i = 0; i < figures->remarks->count && shown < REMARKS_SHOWN; i++) {
        const struct remark *item = &figures->remarks->item[i];
        if (item->kind != REMARK_KNOCKDOWN && (!view->round || item->round == view->round)) {
            char words[REMARK_WORDS];
            remark_words(words, sizeof words, item, view->bout);
            buf_adds(out, shown++ ? "" : "<section><h2>What the numbers say</h2><ul>\n");
            buf_adds(out, "<li>");
            html_text(out, words);
            buf_adds(out, "</li>\n");
        }
    }
    buf_adds(out, shown ? "</ul></section>\n" : "");
}

static int body(struct buf *out, const struct figures *figures, struct error *err)
{
    head(out, figures);
    html_coverage(out, figures);
    html_officials(out, figures);
    totals(out, figures);
    rounds(out, figures);
    pads(out, figures);
    buf_adds(out, "<section><h2>Timeline</h2>\n<div class=\"wide\">\n");
    int code = figures->rounds ? html_timeline(out, figures, err) : 0;
    buf_adds(out,
             "</div>\n<p class=\"stance\">Red above, blue below each axis: tall landed, short not; "
             "KD a knockdown; dashed the clock stopped by hand.</p></section>\n");
    happenings(out, figures, LIST_KNOCKDOWNS, "Knockdowns");
    happenings(out, figures, LIST_INCIDENTS, "Incidents");
    remarks(out, figures);
    html_checked(out, figures);
    buf_adds(out, "<footer>\n<p>Landed/attempted. The darker (on a dark screen: the lighter), the "
                  "more landed. What is said to differ was held against chance: where nothing "
                  "differs, about 19 bouts in 20 have no such sentence.</p>\n<p>");
    struct buf words = BUF_INIT;
    record_words(&words, figures);
    html_text(out, words.failed ? "" : words.text);
    out->failed = out->failed || words.failed;
    buf_release(&words);
    buf_adds(out, "</p>\n");
    html_record(out, figures);
    if (figures->checked && !checked_whole(figures)) {
        char line[256];
        reference_line(line, sizeof line, figures->checked->reference);
        buf_adds(out, "<p>");
        html_text(out, line);
        buf_adds(out, "</p>\n");
    }
    buf_addf(out, "<p>%s %s %s</p>\n</footer>\n", caution_landing,
             figures->closed ? caution_signed : caution_live, caution_decide);
    return code;
}

void sheet_html(struct buf *out, const struct figures *figures)
{
    char title[300];
    snprintf(title, sizeof title, "%s v %s, %s", figures->fighter[CORNER_RED].name,
             figures->fighter[CORNER_BLUE].name, figures->bout);
    html_begin(out, title, "press");
    if (body(out, figures, NULL)) { /* for want of memory only */
        out->failed = true;
    }
    html_end(out);
}
