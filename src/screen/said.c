/* said.c: the page of remarks, the newest facts first. */
#include <stdio.h>
#include <string.h>

#include "ringtally/insight/remarks.h"
#include "screen/scene.h"

#define LABEL 6 /* the round */

static void items_draw(const struct scene *scene, const struct remarks *remarks,
                       const struct area *area)
{
    char words[REMARK_WORDS];
    struct area text = {area->row, area->column + LABEL, area->rows, area->columns - LABEL - 1};
    int row = area->row;
    int end = area->row + area->rows;
    for (size_t i = 0; i < remarks->count && row < end; i++) {
        const struct remark *item = &remarks->item[i];
        if (row == end - 1 && i + 1 < remarks->count) {
            frame_putf(scene->frame, row, text.column, text.columns, STYLE_DIM, "and %zu more",
                       remarks->count - i);
            return;
        }
        remark_words(words, sizeof words, item, scene->bout);
        /* Half a sentence is none. */
        bool whole = line_bytes(words, text.columns) == strlen(words) || row + 3 <= end ||
                     (row + 2 <= end && i + 1 == remarks->count);
        if (!whole) {
            frame_putf(scene->frame, row, text.column, text.columns, STYLE_DIM, "and %zu more",
                       remarks->count - i);
            return;
        }
        bool newest = item->in_round == remarks->rounds;
        frame_putf(scene->frame, row, area->column + 1, 0, newest ? STYLE_STRONG : STYLE_DIM, "R%d",
                   item->in_round);
        frame_put(scene->frame, row, area->column + LABEL - 2, 1,
                  corner_style((enum corner)item->corner, true), "\u25a0");
        row = put_wrapped(scene, &text, row, newest ? STYLE_PLAIN : STYLE_DIM, words);
    }
}

void said_draw(const struct scene *scene, const struct area *area)
{
    struct remarks remarks = {.item = NULL};
    struct error err = {0};
    char title[96];
    struct area list = {area->row + 1, area->column, area->rows - 1, area->columns};
    if (remarks_init(&remarks, scene->fold, NULL, NULL, &remark_rule_default, scene->view->now_ms,
                     &err)) {
        put_rule(scene->frame, area->row, area->column, area->columns, err.text);
        return;
    }
    if (remarks.bell > 0) {
        snprintf(title, sizeof title,
                 "remarks; %zu figures held against chance at the bell of round %d",
                 (size_t)remarks.looked_at + remarks.pairs, remarks.bell);
    } else {
        snprintf(title, sizeof title, "remarks; facts so far");
    }
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    if (remarks.count == 0) {
        frame_put(scene->frame, list.row, area->column + LABEL, 0, STYLE_DIM,
                  "nothing yet that the numbers carry");
    }
    items_draw(scene, &remarks, &list);
    remarks_release(&remarks);
}
