/* marks_sheet.c: timecoded marks: what every form of them shares. */
#include <stdio.h>
#include <string.h>

#include "sheet/figures.h"
#include "sheet/marks/marks_lines.h"
#include "ringtally/base/text.h"

const char *const marks_source_names[MARKS_SOURCES] = {"log", "start", "call", "bout"};
const char *const marks_format_names[MARKS_FORMATS] = {"webvtt", "csv", "edl", "json"};

static void clean(char *out, size_t size, const char *text)
{
    if (!text_clean(out, size, text)) {
        snprintf(out, size, "?");
    }
}

void marks_bout_name(char out[80], const struct marks_view *view)
{
    char id[sizeof view->sheet->bout->card];
    clean(id, sizeof id, view->sheet->bout->card);
    snprintf(out, 80, "%s/%d", id, view->sheet->bout->number);
}

static void kinds_text(char *out, size_t size, unsigned kinds)
{
    size_t used = 0;
    out[0] = '\0';
    for (int i = 0; i < MARK_KINDS && used < size; i++) {
        if (kinds >> i & 1) {
            int wrote =
                snprintf(out + used, size - used, "%s%s", used ? " " : "", mark_kind_names[i]);
            used += wrote > 0 ? (size_t)wrote : 0;
        }
    }
}

static void what_text(struct mark_line *line, const struct marks_view *view)
{
    const struct mark *mark = line->mark;
    const struct count *red = &mark->count[CORNER_RED];
    const struct count *blue = &mark->count[CORNER_BLUE];
    if (mark->kinds & MARK_EXCHANGE) {
        snprintf(line->what, sizeof line->what,
                 "exchange, RED landed %d of %d, BLUE landed %d of %d (most landed: %d of %d)",
                 red->landed, red->attempted, blue->landed, blue->attempted, mark->rank,
                 mark->ranked);
        return;
    }
    if (mark->kinds & MARK_FLURRY) {
        const struct count *own = &mark->count[mark->corner];
        snprintf(line->what, sizeof line->what,
                 "flurry, landed %d of %d without an answer (most landed: %d of %d)", own->landed,
                 own->attempted, mark->rank, mark->ranked);
        return;
    }
    if (mark->kinds & MARK_BELL) {
        snprintf(line->what, sizeof line->what, "round %d begins", mark->round);
        return;
    }
    const struct subject *subject = fold_subject(view->sheet->fold, mark->entry);
    char words[sizeof line->what - 16];
    rules_words(words, sizeof words, view->sheet->rules, &subject->now);
    clean(line->what, sizeof line->what, words);
    if (subject->now.review) {
        size_t used = strlen(line->what);
        snprintf(line->what + used, sizeof line->what - used, ", flagged");
    }
}

void mark_line_init(struct mark_line *out, const struct marks_view *view, size_t index)
{
    const struct mark *mark = &view->marks[index];
    const struct sync_point *sync = &view->sync;
    *out = (struct mark_line){.number = (int)index + 1, .mark = mark};
    out->in_frame = sync_frame(sync, mark->in_ms);
    out->at_frame = sync_frame(sync, mark->at_ms);
    out->out_frame = sync_frame(sync, mark->out_ms);
    if (out->in_frame < 0 && out->at_frame >= 0) { /* a recording has nothing before its first
                                                      label: the lead-in is cut there */
        out->in_frame = 0;
    }
    if (out->out_frame <= out->in_frame) { /* no lead-in, no lead-out: one frame is shown */
        out->out_frame = out->in_frame + 1;
    }
    timecode_print(out->in, sync->rate, out->in_frame);
    timecode_print(out->at, sync->rate, out->at_frame);
    timecode_print(out->out, sync->rate, out->out_frame);
    kinds_text(out->kinds, sizeof out->kinds, mark->kinds);
    when_clock(out->clock, mark->elapsed_ms);
    if (mark->corner != CORNER_NONE) {
        const struct fighter *fighter = &view->sheet->bout->fighter[mark->corner];
        clean(out->who, sizeof out->who, fighter->short_name);
        if (!out->who[0]) {
            clean(out->who, sizeof out->who, fighter->name);
        }
    }
    what_text(out, view);
}

void mark_line_words(char *out, size_t size, const struct mark_line *line)
{
    static const char *const corners[CORNER_COUNT + 1] = {" RED ", " BLUE ", " "};
    snprintf(out, size, "R%d %s%s%s%s%s", line->mark->round, line->clock,
             corners[line->mark->corner], line->who, line->who[0] ? ": " : "", line->what);
}

int marks_write(struct buf *out, const struct marks_view *view, enum marks_format format,
                struct error *err)
{
    int code = 0;
    switch (format) {
    case MARKS_WEBVTT:
        marks_webvtt(out, view);
        break;
    case MARKS_CSV:
        marks_csv(out, view);
        break;
    case MARKS_EDL:
        code = marks_edl(out, view, err);
        break;
    default:
        marks_json(out, view);
        break;
    }
    return code ? code : out->failed ? error_memory(err) : 0;
}
