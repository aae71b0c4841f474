/* html_officials.c: the officials' part of the bout's HTML sheet. */
#include "ringtally/bout/cautions.h"
#include "sheet/html/html.h"
#include "sheet/officials_sheet.h"

static void cards(struct buf *out, const struct officials_part *part)
{
    if (part->rounds == 0) {
        return;
    }
    buf_adds(out, "<div class=\"wide\"><table class=\"cards\"><thead><tr><th class=\"left\">judge "
                  "(red-blue)</th>");
    for (int round = 1; round <= part->rounds; round++) {
        buf_addf(out, "<th>%d</th>", round);
    }
    buf_adds(out, "<th>total</th></tr></thead><tbody>\n");
    for (int seat = 0; seat < part->cards; seat++) {
        buf_adds(out, "<tr><th class=\"left\">");
        html_text(out, part->card[seat].judge);
        buf_adds(out, "</th>");
        for (int round = 0; round < part->rounds; round++) {
            buf_addf(out, "<td>%s</td>", part->card[seat].score[round]);
        }
        buf_addf(out, "<td>%s</td></tr>\n", part->card[seat].total);
    }
    buf_adds(out, "</tbody></table></div>\n");
}

void html_officials(struct buf *out, const struct figures *figures)
{
    struct officials_part part;
    officials_part(&part, figures);
    if (!part.shown) {
        return;
    }
    buf_addf(out, "<section><h2>Officials</h2>\n<p class=\"stance\">%s</p>\n", caution_cards);
    if (!part.open) {
        buf_addf(out, "<p>%s</p></section>\n", officials_closed);
        return;
    }
    cards(out, &part);
    for (int i = 0; i < part.lines; i++) {
        buf_addf(out, "<p>%s: ", part.line[i].label);
        html_text(out, part.line[i].text);
        buf_adds(out, "</p>\n");
    }
    buf_adds(out, "</section>\n");
}
