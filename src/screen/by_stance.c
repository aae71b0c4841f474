/* by_stance.c: the page of what each corner throws from which stance, with the lead and the rear
 * limb, and which leg its kicks meet. */
#include <stdio.h>
#include <string.h>

#include "ringtally/insight/facts.h"
#include "screen/scene.h"

/* Columns of a corner's table: where each figure ends. */
enum { SHARE_END = 16, COUNT_END = 26, ACCURACY_END = 31 };

static const char *brief_strike(char out[24], int code)
{
    snprintf(out, 24, "%s %s", limb_briefs[code / TARGET_COUNT], target_names[code % TARGET_COUNT]);
    return out;
}

/* Share of output (of `all`; 0: not shown), landed of thrown, accuracy: counts beside every share.
 */
static void figures_draw(const struct scene *scene, int row, int column, const char *label,
                         const struct count *count, int all)
{
    char text[32];
    struct frame *frame = scene->frame;
    frame_put(frame, row, column, 0, STYLE_PLAIN, label);
    if (all > 0) {
        share_text(text, count->attempted, all);
        put_right(frame, row, column + SHARE_END, STYLE_PLAIN, text);
    }
    put_count(frame, row, column + SHARE_END + 1, column + COUNT_END, STYLE_STRONG, count);
    put_right(frame, row, column + ACCURACY_END, STYLE_PLAIN, accuracy_text(text, count));
}

/* The most thrown, as many as fit. */
static void favourites_draw(const struct scene *scene, const struct stance_facts *stance, int row,
                            int column, int columns)
{
    char name[24];
    char counted[32];
    char text[64];
    int at = column + 2;
    for (int i = 0; i < stance->favourites; i++) {
        const struct favourite *favourite = &stance->favourite[i];
        int length = snprintf(text, sizeof text, "%s %s", brief_strike(name, favourite->code),
                              count_text(counted, &favourite->count));
        if (at + length > column + columns) {
            return;
        }
        at = frame_put(scene->frame, row, at, 0, STYLE_PLAIN, text) + 2;
    }
}

static void corner_facts_draw(const struct scene *scene, enum corner corner,
                              const struct corner_facts *facts, const struct area *area)
{
    static const enum limb_role order[ROLE_COUNT] = {ROLE_LEAD, ROLE_REAR, ROLE_NONE};
    static const char *const roles[] = {"no side", "lead limb", "rear limb"};
    static const char *const met[] = {"", "on lead leg", "on rear leg"};
    struct frame *frame = scene->frame;
    int row = area->row;
    int all = facts->all.attempted;
    frame_put(frame, row, area->column, 0, corner_style(corner, true),
              corner == CORNER_RED ? "RED" : "BLUE");
    put_right(frame, row, area->column + SHARE_END, STYLE_DIM, "share");
    put_right(frame, row, area->column + COUNT_END, STYLE_DIM, "landed");
    put_right(frame, row, area->column + ACCURACY_END, STYLE_DIM, "acc");
    row++;
    if (all == 0) {
        frame_put(frame, row, area->column, 0, STYLE_DIM, "nothing attempted");
        return;
    }
    for (int i = 0; i < STANCE_COUNT; i++) {
        if (facts->stance[i].all.attempted > 0) {
            figures_draw(scene, row++, area->column, stance_names[i], &facts->stance[i].all, all);
            favourites_draw(scene, &facts->stance[i], row++, area->column, area->columns);
        }
    }
    for (int i = 0; i < ROLE_COUNT; i++) {
        enum limb_role role = order[i];
        if (facts->role[role].attempted > 0) {
            figures_draw(scene, row++, area->column, roles[role], &facts->role[role], all);
        }
    }
    for (int role = ROLE_LEAD; role <= ROLE_REAR; role++) {
        if (facts->met[ROLE_LEAD].attempted + facts->met[ROLE_REAR].attempted > 0) {
            figures_draw(scene, row++, area->column, met[role], &facts->met[role], 0);
        }
    }
}

#define BLOCK_ROWS 14 /* of a scope at most, its rule included */

static void scope_draw(const struct scene *scene, const struct stream *stream, int round,
                       const struct area *area)
{
    struct facts facts;
    char title[96];
    int half = area->columns / 2;
    snprintf(title, sizeof title, round ? "by stance, round %d" : "by stance, bout", round);
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    facts_read(&facts, stream, round);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct area side = {area->row + 1, area->column + 1 + corner * half, area->rows - 1,
                            half - 2};
        corner_facts_draw(scene, (enum corner)corner, &facts.corner[corner], &side);
    }
}

void by_stance_draw(const struct scene *scene, const struct area *area)
{
    struct stream stream = {.blow = NULL};
    struct error err = {0};
    struct area scope = *area;
    if (stream_init(&stream, scene->fold, &err)) {
        put_rule(scene->frame, area->row, area->column, area->columns, err.text);
        return;
    }
    scope.rows = BLOCK_ROWS;
    scope_draw(scene, &stream, 0, &scope);
    if (area->rows >= 2 * BLOCK_ROWS) {
        scope.row += BLOCK_ROWS;
        scope_draw(scene, &stream, scene->face.round, &scope);
    }
    stream_release(&stream);
}
