/* drop_files.c: the small files that graphics systems poll. */
#include "ringtally/sheet/drop_files.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/figures.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

const char *const drop_state_names[DROP_STATES] = {"live", "desk_missing", "unreadable", "stopped"};

/* Where the files go; the first refusal sticks. */
struct giver {
    drop_put *put;
    void *user;
    struct error *err;
    int code;
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

static void give_figure(struct giver *giver, int corner, const char *what, const char *text)
{
    char name[DROP_NAME_SIZE];
    snprintf(name, sizeof name, "%s-%s.txt", corner_names[corner], what);
    give_text(giver, name, text);
}

static void give_number(struct giver *giver, int corner, const char *what, int number)
{
    char text[CELL_SIZE];
    snprintf(text, sizeof text, "%d", number);
    give_figure(giver, corner, what, text);
}

/* red-to-head-landed, red-to-head-attempted: `prefix` is "to-" or "". */
static void give_counts(struct giver *giver, int corner, const char *prefix,
                        const char *const *names, const struct count *counts, int count)
{
    for (int i = 0; i < count; i++) {
        char what[DROP_NAME_SIZE - 8];
        snprintf(what, sizeof what, "%s%s-landed", prefix, names[i]);
        give_number(giver, corner, what, counts[i].landed);
        snprintf(what, sizeof what, "%s%s-attempted", prefix, names[i]);
        give_number(giver, corner, what, counts[i].attempted);
    }
}

static void give_corner(struct giver *giver, const struct figures *figures, int corner)
{
    const struct corner_tally *tally = &figures->asked.tally->corner[corner];
    const struct fighter *fighter = &figures->fighter[corner];
    char cell[CELL_SIZE];
    give_figure(giver, corner, "name",
                fighter->short_name[0] ? fighter->short_name : fighter->name);
    give_number(giver, corner, "landed", tally->all.landed);
    give_number(giver, corner, "attempted", tally->all.attempted);
    figure_cell(cell, &figures->asked, (enum corner)corner, FIGURE_ACCURACY);
    give_figure(giver, corner, "accuracy", cell);
    figure_cell(cell, &figures->asked, (enum corner)corner, FIGURE_OUTPUT);
    give_figure(giver, corner, "output", cell);
    give_number(giver, corner, "knockdowns", tally->knockdowns);
    give_counts(giver, corner, "to-", target_names, tally->target, TARGET_COUNT);
    give_counts(giver, corner, "", group_names, tally->group, GROUP_COUNT);
}

static void give_clock(struct giver *giver, const struct clock_face *face)
{
    char text[WHEN_SIZE];
    give_text(giver, "clock.txt", when_clock(text, (int64_t)face->remaining_ms + 999));
    give_text(giver, "clock-state.txt", clock_state_names[face->state]);
    snprintf(text, sizeof text, "%d", face->round);
    give_text(giver, "round.txt", text);
}

static void give_remark(struct giver *giver, const struct remarks *remarks)
{
    char words[REMARK_WORDS] = "";
    if (remarks->count > 0) {
        remark_words(words, sizeof words, &remarks->item[0]);
    }
    give_text(giver, "remark.txt", words);
}

int drop_files(drop_put *put, void *user, const struct sheet_view *view,
               const struct remarks *remarks, struct error *err)
{
    struct giver giver = {put, user, err, 0};
    struct figures figures = {.view = NULL};
    struct buf json = BUF_INIT;
    struct buf csv = BUF_INIT;
    int code = counts_json(&json, view, err);
    code = code ? code : counts_csv(&csv, view, err);
    code = code ? code : figures_init(&figures, view, err);
    if (code) {
        goto cleanup;
    }
    give(&giver, "counts.json", json.text, json.size);
    give(&giver, "counts.csv", csv.text, csv.size);
    give_clock(&giver, &figures.face);
    give_remark(&giver, remarks);
    give_corner(&giver, &figures, CORNER_RED);
    give_corner(&giver, &figures, CORNER_BLUE);
    code = giver.code;

cleanup:
    figures_release(&figures);
    buf_release(&csv);
    buf_release(&json);
    return code;
}

static void set(json_t *object, const char *key, json_t *value, bool *failed)
{
    *failed = json_object_set_new(object, key, value) || *failed;
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
    set(object, "desk", text_value(desk->name), failed);
    set(object, "state", json_string(sign_state_names[sign_state(&desk->sign)]), failed);
    set(object, "seen_at", moment(desk->sign.seen_ms), failed);
    set(object, "newest_entry_at", moment(desk->newest_ms), failed);
    return object;
}

static char *status_json(const struct drop_status *status)
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
    set(root, "bout", json_string(bout), &failed);
    set(root, "state", json_string(drop_state_names[status->state]), &failed);
    set(root, "alive_at", moment(status->alive_ms), &failed);
    set(root, "alive_every_ms", json_integer(status->every_ms), &failed);
    set(root, "counts_at", moment(status->counts_ms), &failed);
    set(root, "newest_entry_at", moment(status->newest_ms), &failed);
    set(root, "newest_entry_age_ms", status->newest_ms ? json_integer(age) : json_null(), &failed);
    set(root, "trouble", text_value(status->trouble), &failed);
    for (int i = 0; i < DROP_DESKS; i++) {
        set(official, office_names[i], desk_object(&status->desk[i], &failed), &failed);
    }
    set(root, "official", official, &failed);
    char *text = failed ? NULL : json_dumps(root, JSON_COMPACT);
    json_decref(root);
    return text;
}

int drop_status_files(drop_put *put, void *user, const struct drop_status *status,
                      struct error *err)
{
    struct giver giver = {put, user, err, 0};
    char *text = status_json(status);
    if (!text) {
        return error_memory(err);
    }
    give_text(&giver, "status.json", text);
    give_text(&giver, "status.txt", drop_state_names[status->state]);
    free(text);
    return giver.code;
}
