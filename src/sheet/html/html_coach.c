/* html_coach.c: the coach's sheet as one HTML page. */
#include <math.h>
#include <stdio.h>

#include "ringtally/bout/cautions.h"
#include "sheet/coach_page.h"
#include "sheet/html/html.h"

#define WIDTH  360
#define PLOT_X 34  /* the plot's left edge */
#define PLOT   168 /* and its width */

static const char *const who[SIDE_COUNT] = {"we", "they"};

/* The scale's end: what the widest interval asks for, but no more than thrice the highest value. */
static double scale_end(const struct coach *coach, enum chart chart)
{
    double value = 0.0, high = 0.0;
    if (chart == CHART_ACCURACY) {
        return 1.0;
    }
    for (int i = coach->first; i < coach->listed; i++) {
        for (int side = 0; side < SIDE_COUNT; side++) {
            const struct estimate *e = &coach->round[i].thrown[side];
            value = e->defined ? fmax(value, e->value) : value;
            high = e->defined ? fmax(high, e->high) : high;
        }
    }
    high = fmin(high, 3.0 * value);
    return high > 0.0 ? ceil(high / 10.0) * 10.0 : 10.0;
}

static void strip(struct buf *out, enum side side, struct estimate e, double end, double y,
                  const char *words)
{
    buf_addf(out, "<g class=\"strip %s\">", who[side]);
    if (e.defined) {
        double scale = PLOT / end;
        double value = PLOT_X + fmin(e.value, end) * scale;
        buf_adds(out, "<path class=\"span\" d=\"M");
        html_number(out, PLOT_X + fmin(e.low, end) * scale);
        buf_adds(out, " ");
        html_number(out, y);
        buf_adds(out, "H");
        html_number(out, PLOT_X + fmin(e.high, end) * scale);
        buf_adds(out, "\"/>");
        if (side == SIDE_WE) {
            buf_adds(out, "<circle r=\"5\" cx=\"");
            html_number(out, value);
            buf_adds(out, "\" cy=\"");
            html_number(out, y);
        } else {
            buf_adds(out, "<rect width=\"8\" height=\"8\" x=\"");
            html_number(out, value - 4);
            buf_adds(out, "\" y=\"");
            html_number(out, y - 4);
        }
        buf_adds(out, "\"/>");
    }
    buf_adds(out, "<text class=\"v\" x=\"210\" y=\"");
    html_number(out, y + 4.5);
    buf_addf(out, "\">%s</text></g>\n", words);
}

static void grid_lines(struct buf *out, double end, enum chart chart, int bottom)
{
    for (int i = 0; i <= 4; i += 2) {
        double x = PLOT_X + PLOT * i / 4.0;
        char label[CELL_SIZE];
        coach_fixed(label, end * i / 4.0 * (chart == CHART_ACCURACY ? 100 : 1), 0);
        buf_adds(out, "<path class=\"grid\" d=\"M");
        html_number(out, x);
        buf_addf(out, " 14V%d\"/><text class=\"tick\" x=\"", bottom);
        html_number(out, x);
        buf_addf(out, "\" y=\"10\">%s%s</text>\n", label, chart == CHART_ACCURACY ? "%" : "");
    }
}

void html_chart(struct buf *out, const struct coach *coach, enum chart chart)
{
    int shown = coach->listed - coach->first;
    const char *size = shown <= 6 ? "" : " small";
    double step = shown <= 6 ? 17 : 12;
    int height = (int)(16 + shown * (2 * step + 5));
    double end = scale_end(coach, chart);
    buf_addf(out,
             "<svg class=\"chart%s\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"%s by "
             "round, we and they, with 95%% intervals\">\n",
             size, WIDTH, height,
             chart == CHART_ACCURACY ? "Accuracy" : "Output, attempted a minute,");
    grid_lines(out, end, chart, height - 2);
    for (int i = coach->first; i < coach->listed; i++) {
        const struct coach_round *round = &coach->round[i];
        double y = 16 + (i - coach->first) * (2 * step + 5) + step / 2 + 2;
        buf_adds(out, "<text class=\"r\" x=\"0\" y=\"");
        html_number(out, y + step / 2 + 5);
        buf_adds(out, round->round ? "\">R" : "\">all");
        if (round->round) {
            buf_addf(out, "%d", round->round);
        }
        buf_adds(out, "</text>\n");
        for (int side = 0; side < SIDE_COUNT; side++) {
            char words[3 * CELL_SIZE], strikes[CELL_SIZE], figures[CELL_SIZE];
            coach_count(strikes, round, (enum side)side);
            if (chart == CHART_ACCURACY) {
                coach_share(figures, &round->count[side], round->accuracy[side]);
                bool any = round->count[side].attempted > 0;
                snprintf(words, sizeof words, "%s%s%s", strikes, any ? "  " : "",
                         any ? figures : "");
            } else {
                coach_rate(words, round->thrown[side]);
            }
            strip(out, (enum side)side,
                  chart == CHART_ACCURACY ? round->accuracy[side] : round->thrown[side], end,
                  y + side * step, words);
        }
    }
    buf_adds(out, "</svg>\n");
}

static void head(struct buf *out, const struct figures *figures, const struct coach *coach)
{
    enum corner corner = coach->corner[SIDE_WE];
    char clock[64];
    clock_words(clock, sizeof clock, &figures->face);
    buf_addf(out, "<header class=\"%s\"><h1><b>%s</b> ", corner_names[corner],
             corner == CORNER_RED ? "RED" : "BLUE");
    html_text(out, figures->fighter[corner].name);
    buf_adds(out, "</h1><p class=\"sub\"><strong>");
    if (figures->asked.round) {
        buf_addf(out, "Round %d", figures->asked.round);
    } else {
        buf_adds(out, "Whole bout");
    }
    buf_adds(out, "</strong> against ");
    html_text(out, figures->fighter[coach->corner[SIDE_THEY]].name);
    buf_adds(out, "; clock: ");
    html_text(out, clock);
    buf_adds(out, "</p></header>\n");
}

static void lines(struct buf *out, const struct coach *coach)
{
    static const char *const classes[] = {"lands", "takes", "changed"};
    _Static_assert(sizeof classes / sizeof classes[0] == LINE_COUNT, "a colour a line");
    buf_adds(out, "<section class=\"lines\">\n");
    for (int i = 0; i < LINE_COUNT; i++) {
        const struct coach_line *line = &coach->line[i];
        buf_addf(out, "<article class=\"%s\"><h2>%s</h2><p class=\"say\">", classes[i],
                 line->label);
        html_text(out, line->words);
        buf_adds(out, "</p>");
        if (line->proof[0]) {
            buf_adds(out, "<p class=\"proof\">");
            html_text(out, line->proof);
            buf_adds(out, "</p>");
        }
        buf_adds(out, "</article>\n");
    }
    buf_adds(out, "</section>\n");
}

static void pads(struct buf *out, const struct figures *figures, const struct coach *coach)
{
    static const char *const headings[SIDE_COUNT] = {"We land", "We take"};
    buf_adds(out, "<section class=\"two\">\n");
    for (int side = 0; side < SIDE_COUNT; side++) {
        const struct pad *pad = &coach->pad[side];
        char strikes[CELL_SIZE];
        struct pad_look look = {
            .label = side == SIDE_WE ? "What we land, by target and by our limb"
                                     : "What we take, by target and by their limb",
            .hue = side == SIDE_WE ? "a" : "b",
            .corner = corner_names[coach->corner[side]],
            .most = coach->most,
            .most_target = coach->most_target,
            .mark_target = side == SIDE_WE ? coach->best_target : coach->worst_target,
            .mark_column = side == SIDE_WE ? coach->best_column : coach->worst_column,
        };
        bool tagged = coach_part(figures, coach, (enum side)side)->tagged;
        count_cell(strikes, &pad->all);
        buf_addf(out, "<article class=\"%s\"><h2>%s <b>%s</b></h2>\n", who[side], headings[side],
                 tagged ? strikes : CELL_UNKNOWN);
        if (tagged) {
            html_pad(out, pad, &look);
        } else {
            buf_adds(out, "<p class=\"gap\">Not tagged: unknown.</p>\n");
        }
        coach_stances(
            out, coach, (enum side)side,
            &(struct stances_form){"<p class=\"stance\">from ", " <b>", "</b> ", "</p>\n"});
        buf_adds(out, "</article>\n");
    }
    buf_adds(out, "</section>\n");
}

static void charts(struct buf *out, const struct coach *coach)
{
    static const char key[] =
        " <span class=\"key\"><svg viewBox=\"0 0 10 10\" aria-hidden=\"true\"><g class=\"strip "
        "we\"><circle r=\"4\" cx=\"5\" cy=\"5\"/></g></svg> we <svg viewBox=\"0 0 10 10\" "
        "aria-hidden=\"true\"><g class=\"strip they\"><rect width=\"7\" height=\"7\" x=\"1.5\" "
        "y=\"1.5\"/></g></svg> they</span>";
    buf_adds(out, "<section class=\"two\">\n<article><h2>Accuracy");
    buf_adds(out, key);
    buf_adds(out, "</h2>\n");
    html_chart(out, coach, CHART_ACCURACY);
    buf_adds(out, "</article>\n<article><h2>Output, a minute");
    buf_adds(out, key);
    buf_adds(out, "</h2>\n");
    html_chart(out, coach, CHART_PACE);
    buf_adds(out, "</article>\n</section>\n");
}

void coach_html(struct buf *out, const struct figures *figures, const struct coach *coach)
{
    char title[160];
    snprintf(title, sizeof title, "%s, %s corner", figures->fighter[coach->corner[SIDE_WE]].name,
             corner_names[coach->corner[SIDE_WE]]);
    html_begin(out, title, "coach");
    head(out, figures, coach);
    html_coverage(out, figures);
    lines(out, coach);
    if (coach_hurt(figures)) {
        buf_addf(out, "<p class=\"caution\">%s</p>\n", caution_health);
    }
    pads(out, figures, coach);
    charts(out, coach);
    buf_adds(out, "<footer>\n<p>Landed/attempted. The darker (on a dark screen: the lighter), the "
                  "more landed; a frame marks the strike that is named above. Ranges are 95% "
                  "intervals that know that strikes come in combinations. ");
    coach_note(out, coach);
    buf_adds(out, "</p>\n");
    html_record(out, figures);
    buf_addf(out, "<p>%s %s %s</p>\n</footer>\n", caution_landing,
             figures->closed ? caution_signed : caution_live, caution_health);
    html_end(out);
}
