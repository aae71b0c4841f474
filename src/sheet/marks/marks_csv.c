/* marks_csv.c: one row a mark, RFC 4180. */
#include "sheet/marks/marks_lines.h"

static void cell(struct buf *out, const char *text)
{
    buf_adds(out, ",");
    csv_cell(out, text);
}

void marks_csv(struct buf *out, const struct marks_view *view)
{
    buf_adds(out, "number,kinds,round,clock,corner,fighter,what,in,at,out,rate,utc,length_ms\r\n");
    for (size_t i = 0; i < view->count; i++) {
        struct mark_line line;
        char utc[WHEN_SIZE];
        mark_line_init(&line, view, i);
        buf_addf(out, "%d", line.number);
        cell(out, line.kinds);
        buf_addf(out, ",%d", line.mark->round);
        cell(out, line.clock);
        cell(out, line.mark->corner == CORNER_NONE ? "" : corner_names[line.mark->corner]);
        cell(out, line.who);
        cell(out, line.what);
        cell(out, line.in);
        cell(out, line.at);
        cell(out, line.out);
        cell(out, view->sync.rate->name);
        cell(out, when_rfc3339(utc, line.mark->at_ms));
        buf_addf(out, ",%lld\r\n",
                 (long long)timecode_ms(view->sync.rate, line.out_frame - line.in_frame));
    }
}
