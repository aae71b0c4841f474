/* headline_json.c: what most graphics need of a bout, in about a kilobyte
 * (schema/headline.schema.json). */
#include "ringtally/tally/shares.h"
#include "sheet/figures.h"
#include "sheet/gate_json.h"

#include <jansson.h>
#include <stdlib.h>

#include "ringtally/base/tree.h"
#include "ringtally/base/when.h"

#define MINUTE_MS 60000

static json_t *percent(const struct count *count)
{
    int percent = share_percent(count->landed, count->attempted);
    return percent < 0 ? json_null() : json_sprintf("%d", percent);
}

/* Of covered time; null before a rate says anything. */
static json_t *output(const struct count *count, int64_t covered_ms)
{
    char text[SHARE_SIZE];
    rate_text(text, count->attempted, covered_ms);
    return covered_ms < RATE_LEAST_MS ? json_null() : json_string(text);
}

/* Nobody tagged the corner: unknown. */
static json_t *number(int value, bool tagged)
{
    return tagged ? json_integer(value) : json_null();
}

/* Both corners of a scope. */
static json_t *scope_object(const struct scope *scope, bool *failed)
{
    json_t *object = json_object();
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct corner_tally *tally = &scope->tally->corner[corner];
        const struct coverage_part *seen = &scope->seen[corner];
        bool tagged = seen->tagged;
        tree_set(object, corner_names[corner],
                 json_pack("{s:b, s:o, s:o, s:o, s:o, s:o}", "tagged", (int)tagged, "landed",
                           number(tally->all.landed, tagged), "attempted",
                           number(tally->all.attempted, tagged), "accuracy", percent(&tally->all),
                           "output", output(&tally->all, scope->output_ms[corner]), "knockdowns",
                           number(tally->knockdowns, tagged)),
                 failed);
    }
    return object;
}

static json_t *fighter_object(const struct fighter *fighter)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", fighter->name, "short_name",
                     fighter->short_name[0] ? fighter->short_name : fighter->name, "from",
                     fighter->from, "record", fighter->record, "stance",
                     stance_names[fighter->stance]);
}

static json_t *clock_object(const struct clock_face *face)
{
    char left[WHEN_SIZE];
    return json_pack("{s:s, s:i, s:i, s:s}", "state", clock_state_names[face->state], "round",
                     face->round, "remaining_ms", (int)face->remaining_ms, "text",
                     when_clock(left, (int64_t)face->remaining_ms + 999));
}

/* Who has landed more, and by how many; null where it is even, or where not all was seen of both.
 */
static json_t *lead_object(const struct figures *figures)
{
    const struct round_tally *tally = figures->whole.tally;
    int ahead = tally->corner[CORNER_RED].all.landed - tally->corner[CORNER_BLUE].all.landed;
    bool seen = coverage_whole(&figures->coverage, 0, CORNER_RED) &&
                coverage_whole(&figures->coverage, 0, CORNER_BLUE);
    return ahead == 0 || !seen
               ? json_null()
               : json_pack("{s:s, s:i}", "corner",
                           corner_names[ahead > 0 ? CORNER_RED : CORNER_BLUE], "by", abs(ahead));
}

static json_t *headline(const struct figures *figures, const struct scope *round,
                        const struct scope *minute, bool *failed)
{
    char now[WHEN_SIZE];
    struct buf unseen = BUF_INIT;
    const struct sheet_view *view = figures->view;
    json_t *object = json_object();
    tree_set(object, "bout", json_string(figures->bout), failed);
    tree_set(object, "as_of", json_string(when_rfc3339(now, view->now_ms)), failed);
    tree_set(object, "entries", json_integer((json_int_t)figures->entries), failed);
    tree_set(object, "card", json_string(figures->title), failed);
    tree_set(object, "weight", json_string(figures->weight), failed);
    tree_set(object, "rules", json_string(figures->rules), failed);
    tree_set(object, "rounds", json_integer(figures->plan.rounds), failed);
    tree_set(object, "signed", json_boolean(figures->closed), failed);
    tree_set(object, "notice", json_string(counts_notice(figures->closed)), failed);
    tree_set(object, "gate", gate_object(view->gate), failed);
    tree_set(object, "clock", clock_object(&figures->face), failed);
    tree_set(object, "red", fighter_object(&figures->fighter[CORNER_RED]), failed);
    tree_set(object, "blue", fighter_object(&figures->fighter[CORNER_BLUE]), failed);
    tree_set(object, "whole", scope_object(&figures->whole, failed), failed);
    tree_set(object, "now", scope_object(round, failed), failed);
    tree_set(object, "minute", scope_object(minute, failed), failed);
    coverage_text(&unseen, figures);
    tree_set(object, "unseen", unseen.failed ? NULL : json_string(unseen.size ? unseen.text : ""),
             failed);
    buf_release(&unseen);
    tree_set(object, "lead", lead_object(figures), failed);
    return object;
}

int headline_json(struct buf *out, const struct sheet_view *view, struct error *err)
{
    static const struct window_ask last = {.from = WINDOW_LAST, .ms = MINUTE_MS};
    struct sheet_view asked = *view;
    struct figures whole = {.view = NULL}, round = {.view = NULL}, minute = {.view = NULL};
    bool failed = false;
    asked.round = 0;
    asked.window = NULL;
    int code = figures_init(&whole, &asked, err);
    if (code) {
        return code;
    }
    asked.round = whole.face.round;
    code = figures_init(&round, &asked, err);
    if (code) {
        goto cleanup;
    }
    asked.round = 0;
    asked.window = &last;
    code = figures_init(&minute, &asked, err);
    if (code) {
        goto cleanup;
    }
    json_t *document = headline(&whole, &round.asked, &minute.asked, &failed);
    code = tree_write(out, document, failed, JSON_COMPACT, err);
    figures_release(&minute);

cleanup:
    figures_release(&round);
    figures_release(&whole);
    return code;
}
