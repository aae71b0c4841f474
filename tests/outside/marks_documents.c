/* marks_documents.c: writes the marks of an invented bout, for programs that are not ours to read.
 * usage: marks_documents played|empty|hostile FORMAT RATE LABEL-OF-THE-FIRST-BELL */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sample.h"

#include "ringtally/sheet/marks_sheet.h"

/* Texts as no desk writes them. */
static void play_hostile(struct sample *s)
{
    sample_hostile(s);
    sample_play(s);
    sample_incident(s, CORNER_BLUE, CODE_FOUL, 0, "<b>a --> b</b> & \"c\",\r\n\r\nd");
    struct entry note = {.kind = ENTRY_NOTE, .review = true};
    sample_text(note.text, sizeof note.text, "=1+1 --> NOTE");
    s->now += 1000;
    sample_add(s, 0, note);
}

int main(int argc, char **argv)
{
    struct sample sample;
    struct buf out = BUF_INIT;
    struct error err = {0};
    struct mark *marks = NULL;
    struct marks_view view = {.plan = &marks_plan_default, .first_frame = -1};
    if (argc != 5) {
        return 2;
    }
    int format = name_index(marks_format_names, MARKS_FORMATS, argv[2]);
    sample_init(&sample);
    if (strcmp(argv[1], "hostile") == 0) {
        play_hostile(&sample);
    } else if (strcmp(argv[1], "played") == 0) {
        sample_play(&sample);
    }
    struct sheet_view sheet = sample_view(&sample, 0);
    view.sheet = &sheet;
    view.sync.utc_ms = SAMPLE_START;
    view.sync.rate = timecode_rate_find(argv[3], &err);
    int code = view.sync.rate && format >= 0 ? 0 : ERROR_USAGE;
    code = code ? code : timecode_parse(&view.sync.frame, view.sync.rate, argv[4], &err);
    code = code ? code : marks_find(&marks, &view.count, sample.fold, view.plan, &err);
    view.marks = marks;
    code = code ? code : marks_write(&out, &view, (enum marks_format)format, &err);
    if (code == 0 && fwrite(out.text, 1, out.size, stdout) != out.size) {
        code = ERROR_FAILED;
    }
    free(marks);
    buf_release(&out);
    sample_release(&sample);
    return code ? 1 : 0;
}
