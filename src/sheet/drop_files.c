/* drop_files.c: the small files that graphics systems poll. */
#include "ringtally/sheet/drop_files.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/figures.h"
#include "ringtally/base/text.h"
#include "ringtally/base/tree.h"
#include "ringtally/base/when.h"

const char *const drop_state_names[DROP_STATES] = {"live", "desk_missing", "unreadable", "stopped"};

/* Where the files go; the first refusal sticks. What is given as a figure stands in the tables too.
 */
struct giver {
    drop_put *put;
    void *user;
    struct error *err;
    int code;
    struct buf names, values; /* of the CSV table: two lines */
    struct buf xml;
    json_t *json;
};

static void give(struct giver *giver, const char *name, const char *text, size_t size)
{
    if (!giver->code) {
        giver->code = giver->put(giver->user, name, text, size, giver->err);
    }
}

static void give_text(struct giver *giver, const char *name, const char *text)
{
    give(giver, name, text, strlen(text));
}

/* RFC 4180. Machines read it: no guard against formulas, so a name is aired as it is. */
static void add_cell(struct buf *out, const char *text)
{
    bool quoted = strpbrk(text, ",\"\r\n") || *text == ' ';
    buf_adds(out, out->size ? "," : "");
    buf_adds(out, quoted ? "\"" : "");
    for (; *text; text++) {
        buf_adds(out, *text == '"' ? "\"" : "");
        buf_add(out, text, 1);
    }
    buf_adds(out, quoted ? "\"" : "");
}

static void add_xml(struct buf *out, const char *name, const char *text)
{
    buf_addf(out, "<figure name=\"%s\">", name);
    buf_add_xml(out, text);
    buf_adds(out, "</figure>\n");
}

/* A figure: NAME.txt, and a field of each table. */
static void give_field(struct giver *giver, const char *name, const char *text)
{
    char file[DROP_NAME_SIZE];
    snprintf(file, sizeof file, "%s.txt", name);
    give_text(giver, file, text);
    add_cell(&giver->names, name);
    add_cell(&giver->values, text);
    add_xml(&giver->xml, name, text);
    tree_set(giver->json, name, json_string(text), &giver->values.failed);
}

static void give_tables(struct giver *giver)
{
    struct buf csv = BUF_INIT;
    struct buf xml = BUF_INIT;
    struct buf json = BUF_INIT;
    int code = tree_put(&json, giver->json, giver->values.failed, JSON_INDENT(1), giver->err);
    giver->json = NULL;
    buf_addf(&csv, "%s\r\n%s\r\n", giver->names.text, giver->values.text);
    buf_addf(&xml, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<figures>\n%s</figures>\n",
             giver->xml.text);
    if (code || csv.failed || xml.failed || giver->names.failed || giver->xml.failed) {
        giver->code = giver->code ? giver->code : code ? code : error_memory(giver->err);
    } else {
        give(giver, "table.csv", csv.text, csv.size);
        give(giver, "table.xml", xml.text, xml.size);
        give(giver, "table.json", json.text, json.size);
    }
    buf_release(&json);
    buf_release(&csv);
    buf_release(&xml);
}

static void give_figure(struct giver *giver, int corner, const char *what, const char *text)
{
    char name[DROP_NAME_SIZE];
    snprintf(name, sizeof name, "%s-%s", corner_names[corner], what);
    give_field(giver, name, strcmp(text, CELL_UNKNOWN) == 0 ? "-" : text); /* for the air */
}

static void give_number(struct giver *giver, const struct figures *figures, int corner,
                        const char *what, int number)
{
    char text[CELL_SIZE];
    number_cell(text, &figures->asked, (enum corner)corner, number);
    give_figure(giver, corner, what, text);
}

/* red-to-head-landed, red-to-head-attempted: `prefix` is "to-" or "". */
static void give_counts(struct giver *giver, const struct figures *figures, int corner,
                        const char *prefix, const char *const *names, const struct count *counts,
                        int count)
{
    for (int i = 0; i < count; i++) {
        char what[DROP_NAME_SIZE - 8];
        snprintf(what, sizeof what, "%s%s-landed", prefix, names[i]);
        give_number(giver, figures, corner, what, counts[i].landed);
        snprintf(what, sizeof what, "%s%s-attempted", prefix, names[i]);
        give_number(giver, figures, corner, what, counts[i].attempted);
    }
}

static void give_corner(struct giver *giver, const struct figures *figures, int corner)
{
    const struct corner_tally *tally = &figures->asked.tally->corner[corner];
    const struct fighter *fighter = &figures->fighter[corner];
    char cell[CELL_SIZE];
    give_figure(giver, corner, "name",
                fighter->short_name[0] ? fighter->short_name : fighter->name);
    give_figure(giver, corner, "tagged",
                coverage_whole(&figures->coverage, 0, (enum corner)corner) ? "yes"
                : figures->asked.seen[corner].tagged                       ? "partly"
                                                                           : "no");
    give_number(giver, figures, corner, "landed", tally->all.landed);
    give_number(giver, figures, corner, "attempted", tally->all.attempted);
    figure_cell(cell, &figures->asked, (enum corner)corner, FIGURE_ACCURACY);
    give_figure(giver, corner, "accuracy", cell);
    figure_cell(cell, &figures->asked, (enum corner)corner, FIGURE_OUTPUT);
    give_figure(giver, corner, "output", cell);
    give_number(giver, figures, corner, "knockdowns", tally->knockdowns);
    give_counts(giver, figures, corner, "to-", target_names, tally->target, TARGET_COUNT);
    give_counts(giver, figures, corner, "", group_names, tally->group, GROUP_COUNT);
}

static void give_clock(struct giver *giver, const struct clock_face *face)
{
    char text[WHEN_SIZE];
    give_field(giver, "clock", when_clock(text, (int64_t)face->remaining_ms + 999));
    give_field(giver, "clock-state", clock_state_names[face->state]);
    snprintf(text, sizeof text, "%d", face->round);
    give_field(giver, "round", text);
}

static void give_remark(struct giver *giver, const struct remarks *remarks, const struct bout *bout)
{
    char words[REMARK_WORDS] = "";
    if (remarks->count > 0) {
        remark_words(words, sizeof words, &remarks->item[0], bout);
    }
    give_field(giver, "remark", words);
}

/* red-round-landed, red-minute-output ...: `scope` NULL: there is none now. */
static void give_scope(struct giver *giver, const char *prefix, const struct scope *scope)
{
    static const struct {
        const char *name;
        enum figure figure;
    } figures[] = {{"accuracy", FIGURE_ACCURACY},
                   {"output", FIGURE_OUTPUT},
                   {"knockdowns", FIGURE_KNOCKDOWNS}};
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        char what[DROP_NAME_SIZE - 8];
        char cell[CELL_SIZE] = "-";
        const struct count *all = scope ? &scope->tally->corner[corner].all : NULL;
        for (int i = 0; i < 2; i++) {
            if (scope) {
                number_cell(cell, scope, (enum corner)corner, i ? all->attempted : all->landed);
            }
            snprintf(what, sizeof what, "%s-%s", prefix, i ? "attempted" : "landed");
            give_figure(giver, corner, what, cell);
        }
        for (size_t i = 0; i < sizeof figures / sizeof *figures; i++) {
            if (scope) {
                figure_cell(cell, scope, (enum corner)corner, figures[i].figure);
            }
            snprintf(what, sizeof what, "%s-%s", prefix, figures[i].name);
            give_figure(giver, corner, what, cell);
        }
    }
}

/* The figures of a part, which may not be there (no knockdown yet). */
static int give_window(struct giver *giver, const char *prefix, const struct sheet_view *view,
                       const struct window_ask *ask, struct error *err)
{
    struct sheet_view part = *view;
    struct figures figures = {.view = NULL};
    struct error why = {0};
    part.round = 0;
    part.window = ask;
    int code = figures_init(&figures, &part, &why);
    if (code && code != ERROR_MISSING) {
        return error_set(err, code, "%s", why.text);
    }
    give_scope(giver, prefix, code ? NULL : &figures.asked);
    if (!code) {
        figures_release(&figures);
    }
    return 0;
}

static bool is_waiting(const struct gate_state *gate)
{
    int waiting = 0;
    for (int kind = 0; gate && kind < GATE_KINDS; kind++) {
        waiting += gate->waiting[kind];
    }
    return waiting > 0;
}

int drop_files(drop_put *put, void *user, const struct sheet_view *view,
               const struct remarks *remarks, struct error *err)
{
    static const struct window_ask minute = {.from = WINDOW_LAST, .ms = 60000};
    struct giver giver = {.put = put, .user = user, .err = err, .json = json_object()};
    struct sheet_view whole = *view;
    struct figures figures = {.view = NULL};
    struct buf json = BUF_INIT;
    struct buf csv = BUF_INIT;
    struct buf headline = BUF_INIT;
    whole.round = 0;
    whole.window = NULL;
    whole.plain = true; /* a name is aired as it is */
    int code = counts_json(&json, &whole, err);
    code = code ? code : counts_csv(&csv, &whole, err);
    code = code ? code : headline_json(&headline, &whole, err);
    code = code ? code : figures_init(&figures, &whole, err);
    if (code) {
        goto cleanup;
    }
    struct sheet_view round = whole;
    struct figures now = {.view = NULL};
    round.round = figures.face.round;
    code = figures_init(&now, &round, err);
    if (code) {
        goto cleanup;
    }
    give(&giver, "counts.json", json.text, json.size);
    give(&giver, "counts.csv", csv.text, csv.size);
    give(&giver, "headline.json", headline.text, headline.size);
    give_field(&giver, "bout", figures.bout);
    give_field(&giver, "notice", counts_notice(figures.closed));
    give_field(&giver, "held", is_waiting(view->gate) ? "held for review" : "");
    give_clock(&giver, &figures.face);
    give_remark(&giver, remarks, view->bout);
    give_corner(&giver, &figures, CORNER_RED);
    give_corner(&giver, &figures, CORNER_BLUE);
    give_scope(&giver, "round", &now.asked);
    code = give_window(&giver, "minute", view, &minute, err);
    if (!code && view->window && view->window->from != WINDOW_NONE) {
        code = give_window(&giver, "window", view, view->window, err);
    }
    give_tables(&giver);
    code = code ? code : giver.code;
    figures_release(&now);

cleanup:
    figures_release(&figures);
    json_decref(giver.json);
    buf_release(&giver.names);
    buf_release(&giver.values);
    buf_release(&giver.xml);
    buf_release(&headline);
    buf_release(&csv);
    buf_release(&json);
    return code;
}

static json_t *text_value(const char *text)
{
    char clean[512];
    if (!text) {
        return json_null();
    }
    return json_string(text_clean(clean, sizeof clean, text) ? clean : "?");
}

static json_t *moment(int64_t utc_ms)
{
    char text[WHEN_SIZE];
    return utc_ms > 0 ? json_string(when_rfc3339(text, utc_ms)) : json_null();
}

static json_t *desk_object(const struct drop_desk *desk, bool *failed)
{
    json_t *object = json_object();
    tree_set(object, "desk", text_value(desk->name), failed);
    tree_set(object, "state", json_string(sign_state_names[sign_state(&desk->sign)]), failed);
    tree_set(object, "seen_at", moment(desk->sign.seen_ms), failed);
    tree_set(object, "newest_entry_at", moment(desk->newest_ms), failed);
    return object;
}

static int status_json(struct buf *out, const struct drop_status *status, struct error *err)
{
    char id[sizeof status->bout->card];
    char bout[64];
    bool failed = false;
    int64_t age = status->alive_ms - status->newest_ms; /* negative: some clock is ahead */
    json_t *root = json_object();
    json_t *official = json_object();
    if (!text_clean(id, sizeof id, status->bout->card)) {
        snprintf(id, sizeof id, "?");
    }
    snprintf(bout, sizeof bout, "%s/%d", id, status->bout->number);
    tree_set(root, "bout", json_string(bout), &failed);
    tree_set(root, "state", json_string(drop_state_names[status->state]), &failed);
    tree_set(root, "alive_at", moment(status->alive_ms), &failed);
    tree_set(root, "alive_every_ms", json_integer(status->every_ms), &failed);
    tree_set(root, "counts_at", moment(status->counts_ms), &failed);
    tree_set(root, "newest_entry_at", moment(status->newest_ms), &failed);
    tree_set(root, "newest_entry_age_ms", status->newest_ms ? json_integer(age) : json_null(),
             &failed);
    tree_set(root, "trouble", text_value(status->trouble), &failed);
    for (int i = 0; i < DROP_DESKS; i++) {
        tree_set(official, office_names[i], desk_object(&status->desk[i], &failed), &failed);
    }
    tree_set(root, "official", official, &failed);
    return tree_put(out, root, failed, JSON_COMPACT, err);
}

int drop_status_files(drop_put *put, void *user, const struct drop_status *status,
                      struct error *err)
{
    struct giver giver = {.put = put, .user = user, .err = err};
    struct buf text = BUF_INIT;
    giver.code = status_json(&text, status, err);
    if (!giver.code) {
        give(&giver, "status.json", text.text, text.size);
        give_text(&giver, "status.txt", drop_state_names[status->state]);
    }
    buf_release(&text);
    return giver.code;
}

int drop_manifest_file(drop_put *put, void *user, const char *bout,
                       const struct drop_listed *listed, int count, struct error *err)
{
    struct giver giver = {.put = put, .user = user, .err = err};
    bool failed = false;
    bool all = true;
    json_t *root = json_object();
    json_t *files = json_array();
    for (int i = 0; i < count; i++) {
        json_t *file = json_object();
        tree_set(file, "name", json_string(listed[i].name), &failed);
        tree_set(file, "bytes", json_integer((json_int_t)listed[i].size), &failed);
        tree_set(file, "changed_at", moment(listed[i].changed_ms), &failed);
        tree_set(file, "fresh", json_boolean(listed[i].fresh), &failed);
        tree_add(files, file, &failed);
        all = all && listed[i].fresh;
    }
    tree_set(root, "bout", text_value(bout), &failed);
    tree_set(root, "fresh", json_boolean(all), &failed);
    tree_set(root, "files", files, &failed);
    struct buf text = BUF_INIT;
    giver.code = tree_put(&text, root, failed, JSON_INDENT(1), err);
    if (!giver.code) {
        give(&giver, DROP_MANIFEST, text.text, text.size);
    }
    buf_release(&text);
    return giver.code;
}
