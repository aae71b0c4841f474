/* html_timeline.c: who landed when, a strip a round on one time axis. */
#include <stdio.h>

#include "sheet/html/html.h"
#include "ringtally/tally/stream.h"
#include "ringtally/base/when.h"

#define WIDTH  720
#define LEFT   30
#define PLOT   (WIDTH - LEFT - 6)
#define ROUND  64 /* height of a strip */
#define AXIS   34 /* its axis, from its top */
#define LANDED 20 /* height of a landed strike; others have a third */

struct timeline {
    struct buf *out;
    const struct figures *figures;
    const struct stream *stream;
    int32_t longest_ms; /* of the rounds shown */
};

static double at_x(const struct timeline *line, int32_t elapsed_ms)
{
    return LEFT + (double)PLOT * elapsed_ms / line->longest_ms;
}

/* One path for all strikes of a corner in a round that landed, or did not. */
static void strikes(const struct timeline *line, int round, enum corner corner, bool landed)
{
    int height = landed ? LANDED : LANDED / 3;
    bool any = false;
    for (size_t i = 0; i < line->stream->count; i++) {
        const struct blow *blow = &line->stream->blow[i];
        if (blow->round != round || blow->strike.corner != corner || blow_landed(blow) != landed) {
            continue;
        }
        if (!any) {
            buf_addf(line->out, "<path class=\"%s %s\" d=\"", corner_names[corner],
                     landed ? "hit" : "miss");
        }
        buf_adds(line->out, "M");
        html_number(line->out, at_x(line, blow->elapsed_ms));
        buf_addf(line->out, " %dv%d", AXIS + (corner == CORNER_RED ? -1 : 1),
                 corner == CORNER_RED ? -height : height);
        any = true;
    }
    buf_adds(line->out, any ? "\"/>\n" : "");
}

static void knockdowns(const struct timeline *line, int round)
{
    for (size_t i = 0; i < line->stream->count; i++) {
        const struct blow *blow = &line->stream->blow[i];
        if (blow->round == round && blow->strike.technique & TECHNIQUE_KNOCKDOWN) {
            bool red = blow->strike.corner == CORNER_RED;
            double x = at_x(line, blow->elapsed_ms);
            buf_adds(line->out, "<text class=\"down\" text-anchor=\"");
            buf_adds(line->out, x > WIDTH - 40 ? "end" : "middle");
            buf_adds(line->out, "\" x=\"");
            html_number(line->out, x);
            buf_addf(line->out, "\" y=\"%d\">%sKD%s</text>\n",
                     red ? AXIS - LANDED - 4 : AXIS + LANDED + 11, red ? "\xe2\x96\xbc" : "",
                     red ? "" : "\xe2\x96\xb2");
        }
    }
}

/* By hand, as the clock's own desk stopped it. */
static void stops(const struct timeline *line, int round)
{
    const struct subject *subjects = NULL;
    size_t count = fold_subjects(line->figures->view->fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct entry *now = &subjects[i].now;
        if (subjects[i].counts && now->kind == ENTRY_CLOCK && now->code == CODE_STOP &&
            now->round == round) {
            buf_adds(line->out, "<path class=\"stop\" d=\"M");
            html_number(line->out, at_x(line, now->elapsed_ms));
            buf_addf(line->out, " 2V%d\"/>\n", ROUND - 2);
        }
    }
}

static void strip(const struct timeline *line, const struct scope *scope, int y)
{
    int32_t length = clock_round_length(&line->figures->plan, scope->round);
    const struct corner_tally *red = &scope->tally->corner[CORNER_RED];
    const struct corner_tally *blue = &scope->tally->corner[CORNER_BLUE];
    buf_addf(line->out,
             "<g transform=\"translate(0 %d)\"><title>Round %d: red %d landed of %d, knockdowns "
             "%d; blue %d landed of %d, knockdowns %d; %d stops</title>\n"
             "<text class=\"down\" x=\"0\" y=\"%d\">R%d</text><path class=\"axis\" d=\"M%d %dH",
             y, scope->round, red->all.landed, red->all.attempted, red->knockdowns,
             blue->all.landed, blue->all.attempted, blue->knockdowns, scope->stops, AXIS + 4,
             scope->round, LEFT, AXIS);
    html_number(line->out, at_x(line, length));
    buf_adds(line->out, "\"/>\n");
    stops(line, scope->round);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        strikes(line, scope->round, (enum corner)corner, false);
        strikes(line, scope->round, (enum corner)corner, true);
    }
    knockdowns(line, scope->round);
    buf_adds(line->out, "</g>\n");
}

static void minutes(const struct timeline *line)
{
    for (int32_t at = 0; at <= line->longest_ms; at += 30000) {
        char label[WHEN_SIZE];
        bool last = at + 30000 > line->longest_ms; /* its middle would stand at the edge */
        buf_addf(line->out, "<text text-anchor=\"%s\" x=\"", last ? "end" : "middle");
        html_number(line->out, at_x(line, at) + (last ? 0 : at ? -4 : 4));
        buf_addf(line->out, "\" y=\"11\">%s</text>", when_clock(label, at));
    }
    buf_adds(line->out, "\n");
}

int html_timeline(struct buf *out, const struct figures *figures, struct error *err)
{
    struct stream stream = {NULL, 0};
    struct timeline line = {.out = out, .figures = figures, .stream = &stream, .longest_ms = 1000};
    int code = stream_init(&stream, figures->view->fold, err);
    if (code) {
        return code;
    }
    for (int i = 0; i < figures->rounds; i++) {
        int32_t length = clock_round_length(&figures->plan, figures->round[i].round);
        line.longest_ms = length > line.longest_ms ? length : line.longest_ms;
    }
    buf_addf(out,
             "<svg class=\"time\" viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"Strikes "
             "over time by round, red above and blue below the axis\">\n",
             WIDTH, 20 + figures->rounds * ROUND);
    minutes(&line);
    for (int i = 0; i < figures->rounds; i++) {
        strip(&line, &figures->round[i], 16 + i * ROUND);
    }
    buf_adds(out, "</svg>\n");
    stream_release(&stream);
    return 0;
}
