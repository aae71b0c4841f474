/* practice_json.c: an operator's practice for machines: schema/practice.schema.json. */
#include <jansson.h>

#include "ringtally/base/tree.h"
#include "ringtally/base/when.h"
#include "ringtally/sheet/practice_sheet.h"

#define DIGITS JSON_REAL_PRECISION(10)

static json_t *session_json(const struct practice_session *session, bool *failed)
{
    static const char *const fields[] = {"corner", "limb", "target", "landed"};
    char when[WHEN_SIZE];
    json_t *out = json_object(), *wrong = json_object();
    for (int i = 0; i < 4; i++) {
        tree_set(wrong, fields[i], json_real(session->wrong[i]), failed);
    }
    bool known = session->reaction_ms >= 0;
    tree_set(out, "at", json_string(when_rfc3339(when, session->at_ms)), failed);
    tree_set(out, "kind", json_string(practice_kind_names[session->kind]), failed);
    tree_set(out, "level", json_string(practice_level_names[session->level]), failed);
    tree_set(out, "seed", json_integer(session->seed), failed);
    tree_set(out, "ran_ms", json_integer(session->ran_ms), failed);
    tree_set(out, "called", json_integer(session->called), failed);
    tree_set(out, "answered", json_real(session->had), failed);
    tree_set(out, "right_first", json_real(session->first), failed);
    tree_set(out, "corrected", json_real(session->corrected), failed);
    tree_set(out, "not_called", json_real(session->added), failed);
    tree_set(out, "wrong", wrong, failed);
    tree_set(out, "reaction_ms", known ? json_real(session->reaction_ms) : json_null(), failed);
    tree_set(out, "reaction_p90_ms", known ? json_real(session->reaction_p90_ms) : json_null(),
             failed);
    return out;
}

static json_t *cell_json(int corner, int limb, int target)
{
    return json_pack("{s:s, s:s, s:s}", "corner", corner_names[corner], "limb", limb_names[limb],
                     "target", target_names[target]);
}

int practice_report_json(struct buf *out, const struct practice_view *view, struct error *err)
{
    struct practice_drill drills[PRACTICE_DRILLS];
    bool failed = false;
    int ready = practice_ready(view->sessions, view->count, view->bars);
    int drill_count = practice_drills(drills, view->cells, view->cell_count);
    json_t *root = json_object(), *sessions = json_array(), *cells = json_array();
    json_t *weakest = json_array();
    for (size_t i = 0; i < view->count; i++) {
        tree_add(sessions, session_json(&view->sessions[i], &failed), &failed);
    }
    for (size_t i = 0; i < view->cell_count; i++) {
        const struct practice_cell *cell = &view->cells[i];
        json_t *item = cell_json(cell->corner, cell->limb, cell->target);
        tree_set(item, "hit",
                 cell->hit ? cell_json(cell->hit_corner, cell->hit_limb, cell->hit_target)
                           : json_null(),
                 &failed);
        tree_set(item, "count", json_integer(cell->count), &failed);
        tree_add(cells, item, &failed);
    }
    for (int i = 0; i < drill_count; i++) {
        json_t *item = cell_json(drills[i].corner, drills[i].limb, drills[i].target);
        tree_set(item, "called", json_integer(drills[i].called), &failed);
        tree_set(item, "right", json_integer(drills[i].right), &failed);
        tree_add(weakest, item, &failed);
    }
    tree_set(root, "operator", json_string(view->operator_), &failed);
    tree_set(root, "ready_for", ready < 0 ? json_null() : json_string(practice_level_names[ready]),
             &failed);
    tree_set(root, "sessions", sessions, &failed);
    tree_set(root, "cells", cells, &failed);
    tree_set(root, "drills", weakest, &failed);
    return tree_write(out, root, failed, JSON_COMPACT | DIGITS, err);
}
