/* html_officials.c: the officials' part of the bout's HTML sheet. */
#include "sheet/html/html.h"
#include "sheet/officials_sheet.h"

static void cards(struct buf *out, const struct figures *figures)
{
    char words[96], cell[24];
    int last = officials_last_round(figures);
    if (last == 0) {
        return;
    }
    buf_adds(out, "<div class=\"wide\"><table class=\"cards\"><thead><tr><th class=\"left\">judge "
                  "(red-blue)</th>");
    for (int round = 1; round <= last; round++) {
        buf_addf(out, "<th>%d</th>", round);
    }
    buf_adds(out, "<th>total</th></tr></thead><tbody>\n");
    for (int seat = 0; seat < figures->officials.card.judges; seat++) {
        officials_judge(words, sizeof words, figures, seat);
        buf_adds(out, "<tr><th class=\"left\">");
        html_text(out, words);
        buf_adds(out, "</th>");
        for (int round = 1; round <= last; round++) {
            officials_score_text(cell, figures, seat, round);
            buf_addf(out, "<td>%s</td>", cell);
        }
        officials_total_text(cell, figures, seat);
        buf_addf(out, "<td>%s</td></tr>\n", cell);
    }
    buf_adds(out, "</tbody></table></div>\n");
}

void html_officials(struct buf *out, const struct figures *figures)
{
    char words[512];
    if (!officials_shown(figures)) {
        return;
    }
    buf_adds(out, "<section><h2>Officials</h2>\n<p class=\"stance\">The cards as written; referee, "
                  "judges and commission decide.</p>\n");
    if (!officials_cards_open(figures)) {
        buf_adds(out, "<p>The scoring is closed.</p></section>\n");
        return;
    }
    cards(out, figures);
    buf_adds(out, "<p>Implied: ");
    officials_implied_text(words, sizeof words, figures);
    html_text(out, words);
    buf_adds(out, ". ");
    html_text(out, figures->officials.implied.reason);
    buf_adds(out, "</p>\n");
    if (figures->officials.announced) {
        officials_announced_text(words, sizeof words, figures);
        buf_adds(out, "<p>Announced: ");
        html_text(out, words);
        buf_adds(out, ".</p>\n");
    }
    if (officials_difference(words, sizeof words, figures)) {
        buf_adds(out, "<p>The two differ: ");
        html_text(out, words);
        buf_adds(out, "</p>\n");
    }
    buf_adds(out, "</section>\n");
}
