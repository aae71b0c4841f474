/* marks_sheet.h: marks written for players, editing systems, spreadsheets and programs.
 *
 * Every time is on a whole frame of the recording: `in` is the first frame shown, `out` the first
 * one not shown any more, at least one frame later. Labels wrap at midnight. Round and round clock
 * are the bout's.
 */
#ifndef RINGTALLY_SHEET_MARKS_SHEET_H
#define RINGTALLY_SHEET_MARKS_SHEET_H

#include "ringtally/tally/marks.h"
#include "ringtally/sheet/sheet.h"

enum marks_format { MARKS_WEBVTT, MARKS_CSV, MARKS_EDL, MARKS_JSON, MARKS_FORMATS };
extern const char
    *const marks_source_names[]; /* by enum marks_source: "log" "start" "call" "bout" */
extern const char *const marks_format_names[MARKS_FORMATS]; /* "webvtt" "csv" "edl" "json" */

struct marks_view {
    const struct sheet_view *sheet;
    const struct marks_plan *plan;
    const struct mark *marks; /* by their beginning */
    size_t count;
    struct sync_point sync;
    enum marks_source {
        MARKS_FROM_LOG,   /* the sync point is an entry of the bout */
        MARKS_FROM_START, /* said with the call: the label of the first bell */
        MARKS_FROM_CALL,  /* said with the call: a label and a moment */
        MARKS_FROM_BOUT,  /* another bout's, of the same recording */
        MARKS_SOURCES
    } source;
    int64_t first_frame; /* of the recording: WebVTT counts from there; -1: from 00:00:00:00 */
};

#define MARKS_EDL_MAX 999 /* events that the form has numbers for */

/* WebVTT: one cue a mark, its times those of a video element that plays the recording. What lies
 * before the recording is left out and counted in a note.
 * CSV (RFC 4180): one row a mark, header first.
 * EDL: a CMX 3600 style list, events cut one behind the other from 01:00:00:00 on.
 * JSON: one document (schema/marks.schema.json).
 * 0, ERROR_MEMORY, or ERROR_FAILED for more marks than an EDL has numbers for. */
int marks_write(struct buf *out, const struct marks_view *view, enum marks_format format,
                struct error *err);

#endif
