/* marks_json.c: the marks as one document; schema/marks.schema.json describes it. */
#include <jansson.h>
#include <stdlib.h>

#include "sheet/marks/marks_lines.h"
#include "ringtally/base/tree.h"

static json_t *kinds_array(unsigned kinds, bool *failed)
{
    json_t *array = json_array();
    for (int i = 0; i < MARK_KINDS; i++) {
        if (kinds >> i & 1) {
            tree_add(array, json_string(mark_kind_names[i]), failed);
        }
    }
    return array;
}

static json_t *leaf(const struct count *count)
{
    return json_pack("{s:i, s:i}", "attempted", count->attempted, "landed", count->landed);
}

static json_t *mark_object(const struct mark_line *line, const struct marks_view *view,
                           bool *failed)
{
    const struct mark *mark = line->mark;
    bool cornered = mark->corner != CORNER_NONE;
    const struct desk_row *desks = NULL;
    char utc[WHEN_SIZE];
    json_t *object = json_object();
    fold_desks(view->sheet->fold, &desks);
    tree_set(object, "number", json_integer(line->number), failed);
    tree_set(object, "kinds", kinds_array(mark->kinds, failed), failed);
    tree_set(object, "round", json_integer(mark->round), failed);
    tree_set(object, "elapsed_ms", json_integer(mark->elapsed_ms), failed);
    tree_set(object, "corner", cornered ? json_string(corner_names[mark->corner]) : json_null(),
             failed);
    tree_set(object, "fighter", cornered ? json_string(line->who) : json_null(), failed);
    tree_set(object, "what", json_string(line->what), failed);
    tree_set(object, "in", json_string(line->in), failed);
    tree_set(object, "at", json_string(line->at), failed);
    tree_set(object, "out", json_string(line->out), failed);
    tree_set(object, "frames", json_integer((json_int_t)(line->out_frame - line->in_frame)),
             failed);
    tree_set(object, "utc", json_string(when_rfc3339(utc, mark->at_ms)), failed);
    tree_set(object, "until_utc", json_string(when_rfc3339(utc, mark->end_ms)), failed);
    tree_set(object, "entry",
             json_pack("{s:s, s:I}", "desk", desks[mark->entry.desk].uid, "seq",
                       (json_int_t)mark->entry.seq),
             failed);
    tree_set(object, "exchange",
             mark->kinds & MARK_EXCHANGE ? json_pack("{s:i, s:o, s:o}", "rank", mark->rank, "red",
                                                     leaf(&mark->count[CORNER_RED]), "blue",
                                                     leaf(&mark->count[CORNER_BLUE]))
                                         : json_null(),
             failed);
    tree_set(object, "flurry",
             mark->kinds & MARK_FLURRY ? json_pack("{s:i, s:i, s:i}", "rank", mark->rank,
                                                   "attempted", mark->count[mark->corner].attempted,
                                                   "landed", mark->count[mark->corner].landed)
                                       : json_null(),
             failed);
    return object;
}

void marks_json(struct buf *out, const struct marks_view *view)
{
    const struct sync_point *sync = &view->sync;
    char name[80], label[TIMECODE_SIZE], utc[WHEN_SIZE];
    bool failed = false;
    json_t *marks = json_array();
    json_t *root = json_object();
    marks_bout_name(name, view);
    tree_set(root, "bout", json_string(name), &failed);
    tree_set(root, "rate",
             json_pack("{s:s, s:i, s:i, s:b}", "name", sync->rate->name, "frames",
                       (int)sync->rate->frames, "seconds", (int)sync->rate->seconds, "drop_frame",
                       sync->rate->dropped ? 1 : 0),
             &failed);
    tree_set(root, "sync",
             json_pack("{s:s, s:s, s:s}", "from", marks_source_names[view->source], "utc",
                       when_rfc3339(utc, sync->utc_ms), "timecode",
                       timecode_print(label, sync->rate, sync->frame)),
             &failed);
    tree_set(root, "lead_in_ms", json_integer(view->plan->lead_in_ms), &failed);
    tree_set(root, "lead_out_ms", json_integer(view->plan->lead_out_ms), &failed);
    tree_set(root, "exchange_gap_ms", json_integer(view->plan->gap_ms), &failed);
    for (size_t i = 0; i < view->count; i++) {
        struct mark_line line;
        mark_line_init(&line, view, i);
        tree_add(marks, mark_object(&line, view, &failed), &failed);
    }
    tree_set(root, "marks", marks, &failed);
    tree_write(out, root, failed, JSON_INDENT(1), NULL);
}
