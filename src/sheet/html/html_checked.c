/* html_checked.c: the live count against the recording, as a section of the press's page. */
#include "sheet/checked.h"
#include "sheet/html/html.h"

static void table(struct buf *out, const struct reference *reference)
{
    char cell[CHECKED_CELLS][CELL_SIZE], words[48];
    buf_adds(out, "<div class=\"wide\"><table class=\"checked\"><thead><tr><th></th>");
    for (int i = 0; i < CHECKED_CELLS; i++) {
        buf_addf(out, "<th>%s</th>", checked_heads[i]);
    }
    buf_adds(out, "</tr></thead><tbody>\n");
    for (size_t i = 0; i < reference->rows; i++) {
        if (!checked_listed(&reference->row[i])) {
            continue;
        }
        reference_words(words, sizeof words, &reference->row[i]);
        checked_cells(cell, &reference->row[i]);
        buf_addf(out, "<tr><th class=\"left\">%s</th>", words);
        for (int k = 0; k < CHECKED_CELLS; k++) {
            buf_addf(out, "<td>%s</td>", cell[k]);
        }
        buf_adds(out, "</tr>\n");
    }
    buf_addf(out, "</tbody></table></div>\n<p class=\"stance\">%s</p>\n", checked_key);
}

void html_checked(struct buf *out, const struct figures *figures)
{
    char line[256], text[CHECKED_LINE];
    const char *head = NULL;
    if (!checked_whole(figures)) {
        return;
    }
    const struct reference *reference = figures->checked->reference;
    reference_line(line, sizeof line, reference);
    buf_adds(out, "<section class=\"check\"><h2>Checked against the recording</h2>\n<p>");
    html_text(out, line);
    buf_adds(out, ". Tagged by ");
    html_text(out, figures->checked->by);
    buf_adds(out, ".</p>\n");
    if (reference->tells) {
        table(out, reference);
    }
    buf_adds(out, "<ul>\n");
    for (size_t i = 0; reference->tells && checked_line(i, &head, text, reference); i++) {
        if (text[0]) {
            buf_addf(out, "<li>%s: ", head);
            html_text(out, text);
            buf_adds(out, "</li>\n");
        }
    }
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        if (reference_tagged(&reference->figure[corner])) {
            checked_figure(text, &reference->figure[corner]);
            buf_addf(out, "<li><b class=\"%s\">%s</b>, live for true: ", corner_names[corner],
                     corner == CORNER_RED ? "RED" : "BLUE");
            html_text(out, text);
            buf_adds(out, "</li>\n");
        }
    }
    buf_adds(out, "</ul>\n");
    if (reference->tells && reference->lag.of > 0) {
        buf_adds(out, "<p class=\"stance\">");
        html_text(out, reference_lag_note);
        buf_adds(out, "</p>\n");
    }
    buf_adds(out, "</section>\n");
}
