/* html_practice.c: an operator's practice as a page. */
#include <stdio.h>

#include "ringtally/base/when.h"
#include "sheet/html/html.h"
#include "sheet/practice_pad.h"

#define WIDTH  720
#define HEIGHT 200
#define MOST   200 /* sessions in the chart */

static double percent(double part, int of)
{
    return of > 0 ? 100 * part / of : 0;
}

/* A line of points, the newest on the right. */
static void add_line(struct buf *out, const struct practice_view *view, bool first,
                     const char *colour)
{
    size_t shown = view->count < MOST ? view->count : MOST;
    buf_addf(out, "<polyline fill=\"none\" stroke=\"%s\" stroke-width=\"2\" points=\"", colour);
    for (size_t i = 0; i < shown; i++) {
        const struct practice_session *session = &view->sessions[shown - 1 - i];
        double share = percent(first ? session->first : session->had, session->called);
        int x = shown > 1 ? (int)(i * WIDTH / (shown - 1)) : WIDTH / 2;
        buf_addf(out, "%d,%d ", x, HEIGHT - (int)(share * HEIGHT / 100 + 0.5));
    }
    buf_adds(out, "\"/>\n");
}

static void add_pad(struct buf *out, const struct practice_view *view)
{
    buf_adds(out, "<h2>Which key was hit for which</h2>\n<table>\n");
    for (int target = 0; target < TARGET_COUNT; target++) {
        buf_addf(out, "<tr><th>%s</th>", target_names[target]);
        for (int i = 0; i < CORNER_COUNT * PRACTICE_COLUMNS; i++) {
            int corner = i / PRACTICE_COLUMNS;
            int limb = practice_columns[corner][i % PRACTICE_COLUMNS];
            struct practice_pad_cell cell;
            const char *key = view->key(view->user, corner, limb, target);
            practice_pad_read(&cell, view, corner, limb, target);
            buf_adds(out, "<td>");
            if (key && rules_allow(view->rules, (enum limb)limb, (enum target)target)) {
                buf_adds(out, "<strong>");
                html_text(out, key);
                buf_addf(out, "</strong> %d/%d", cell.right, cell.called);
                if (cell.other) {
                    buf_adds(out, "<br/>");
                    html_text(out, cell.other);
                    buf_addf(out, " %d", cell.other_count);
                }
            }
            buf_adds(out, "</td>");
        }
        buf_adds(out, "</tr>\n");
    }
    buf_adds(out,
             "</table>\n<p>Right of called; below it the key that was hit instead most.</p>\n");
}

int practice_report_html(struct buf *out, const struct practice_view *view, struct error *err)
{
    char title[160], when[WHEN_SIZE];
    int ready = practice_ready(view->sessions, view->count, view->bars);
    snprintf(title, sizeof title, "Practice of %.60s", view->operator_);
    html_begin(out, title, "press");
    buf_adds(out, "<main>\n<h1>");
    html_text(out, title);
    buf_addf(out, "</h1>\n<p>%zu sessions. <strong>Ready for: %s</strong></p>\n", view->count,
             ready < 0 ? "nothing yet" : practice_level_names[ready]);
    buf_addf(out,
             "<h2>Progress</h2>\n<svg viewBox=\"-30 -10 %d %d\" role=\"img\" aria-label=\"Per cent "
             "answered and right first, session by session\" width=\"%d\">\n",
             WIDTH + 40, HEIGHT + 20, WIDTH);
    for (int share = 0; share <= 100; share += 25) {
        int y = HEIGHT - share * HEIGHT / 100;
        buf_addf(out,
                 "<line x1=\"0\" x2=\"%d\" y1=\"%d\" y2=\"%d\" stroke=\"#8888\"/><text x=\"-4\" "
                 "y=\"%d\" text-anchor=\"end\" font-size=\"11\" fill=\"currentColor\">%d</text>\n",
                 WIDTH, y, y, y + 4, share);
    }
    add_line(out, view, false, "#3a7bd5");
    add_line(out, view, true, "#d5473a");
    buf_adds(out, "</svg>\n<p><span style=\"color:#3a7bd5\">answered</span>, <span "
                  "style=\"color:#d5473a\">right when typed</span>, in per cent of what was "
                  "called</p>\n<table>\n<tr><th>when</th><th>kind</th><th>level</th><th>called</th>"
                  "<th>answered</th><th>right first</th><th>median</th></tr>\n");
    for (size_t i = 0; i < view->count && i < MOST; i++) {
        const struct practice_session *session = &view->sessions[i];
        buf_addf(out, "<tr><td>%.16s</td><td>%s</td><td>%s</td><td>%d</td>",
                 when_rfc3339(when, session->at_ms), practice_kind_names[session->kind],
                 practice_level_names[session->level], session->called);
        buf_addf(out, "<td>%.0f%%</td><td>%.0f%%</td><td>", percent(session->had, session->called),
                 percent(session->first, session->called));
        if (session->reaction_ms >= 0) {
            buf_addf(out, "%.0f ms", session->reaction_ms);
        }
        buf_adds(out, "</td></tr>\n");
    }
    buf_adds(out, "</table>\n");
    add_pad(out, view);
    buf_adds(out, "</main>\n");
    html_end(out);
    return out->failed ? error_memory(err) : 0;
}
