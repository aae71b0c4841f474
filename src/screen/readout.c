/* readout.c: the page of a rest: what is read out loud before the next bell, on one screen. */
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/insight/coach.h"
#include "screen/scene.h"

#define LABEL        12
#define ROWS         10 /* of the figures at most, their rule included */
#define CHANGED_ROWS 3

/* Fields of a corner's half, where each ends. */
enum { COUNT_END = 9, ACCURACY_END = 14, OUTPUT_END = 21 };

/* A line's two halves. */
struct line {
    const struct scene *scene;
    struct frame *frame;
    int row, column, half; /* `half` columns a corner, behind the label */
};

static int left_of(const struct line *line, int corner)
{
    return line->column + LABEL + corner * line->half;
}

static void label_draw(const struct line *line, const char *label)
{
    frame_put(line->frame, line->row, line->column, LABEL - 1, STYLE_DIM, label);
}

static void heads_draw(const struct line *line)
{
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int left = left_of(line, corner);
        put_right(line->frame, line->row, left + COUNT_END, corner_style((enum corner)corner, true),
                  corner == CORNER_RED ? "RED" : "BLUE");
        put_right(line->frame, line->row, left + ACCURACY_END, STYLE_DIM, "acc");
        put_right(line->frame, line->row, left + OUTPUT_END, STYLE_DIM, "/min");
    }
}

/* Landed of thrown, accuracy, output; round 0: the bout. */
static void sums_draw(const struct line *line, int round, enum style style)
{
    char text[32];
    snprintf(text, sizeof text, round ? "round %d" : "bout", round);
    label_draw(line, text);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct count *all = &scene_round(line->scene, round)->corner[corner].all;
        int left = left_of(line, corner);
        put_count(line->frame, line->row, left, left + COUNT_END, style, all);
        put_right(line->frame, line->row, left + ACCURACY_END, style, accuracy_text(text, all));
        put_right(line->frame, line->row, left + OUTPUT_END, STYLE_PLAIN,
                  output_text(text, line->scene, (enum corner)corner, round));
    }
}

static void text_draw(const struct line *line, int corner, enum style style, const char *text)
{
    frame_put(line->frame, line->row, left_of(line, corner) + 1, line->half - 2, style, text);
}

/* The cell of the pad that landed most often in the round; the better rate where two did. */
static void landing_text(char out[64], const struct corner_tally *tally)
{
    const struct count *best = NULL;
    char counted[32];
    snprintf(out, 64, "\u2013");
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        for (int target = 0; target < TARGET_COUNT; target++) {
            const struct count *count = &tally->limb_target[limb][target];
            if (count->landed == 0 || (best && count->landed < best->landed) ||
                (best && count->landed == best->landed && count->attempted >= best->attempted)) {
                continue;
            }
            best = count;
            snprintf(out, 64, "%s %s %s", limb_briefs[limb], target_names[target],
                     count_text(counted, count));
        }
    }
}

/* "2 (bout 3)"; what did not happen is a dot. */
static void number_text(char out[64], int round, int bout)
{
    if (bout == 0) {
        snprintf(out, 64, "\u00b7");
    } else {
        snprintf(out, 64, "%d (bout %d)", round, bout);
    }
}

static void numbers_draw(struct line *line, const char *label, size_t offset, bool always)
{
    char text[CORNER_COUNT][64];
    bool any = always;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int number[2];
        int rounds[2] = {line->scene->face.round, 0};
        for (int i = 0; i < 2; i++) {
            const char *tally = (const char *)&scene_round(line->scene, rounds[i])->corner[corner];
            memcpy(&number[i], tally + offset, sizeof number[i]);
        }
        number_text(text[corner], number[0], number[1]);
        any = any || number[1] > 0;
    }
    if (!any) {
        return;
    }
    label_draw(line, label);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        bool happened = strcmp(text[corner], "\u00b7") != 0;
        text_draw(line, corner, happened ? STYLE_STRONG : STYLE_DIM, text[corner]);
    }
    line->row++;
}

/* What nobody saw, and what was not seen well, in the round. */
static void unseen_draw(struct line *line)
{
    char left[32];
    char text[CORNER_COUNT][64];
    bool any = false;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int round = line->scene->face.round;
        int64_t unseen =
            fold_unseen(line->scene->fold, round, (enum corner)corner, line->scene->view->now_ms);
        int unsure = scene_round(line->scene, round)->corner[corner].unsure;
        any = any || unseen >= 1000 || unsure > 0;
        snprintf(text[corner], sizeof text[corner], "%s, %d unsure",
                 clock_text(left, unseen > 999 ? (int32_t)(unseen - 999) : 0), unsure);
    }
    if (any) {
        label_draw(line, "not seen");
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            text_draw(line, corner, STYLE_STRONG, text[corner]);
        }
        line->row++;
    }
}

/* The round whose bell findings are of: the newest that is over. */
static int newest_over(const struct scene *scene)
{
    bool on = scene->face.state == CLOCK_RUNNING || scene->face.state == CLOCK_STOPPED ||
              scene->face.state == CLOCK_READY;
    return on ? scene->face.round - 1 : scene->face.round;
}

/* What changed at that bell, as far as the numbers carry it: in the words of the corner that it is
 * of. */
static int changed_draw(const struct scene *scene, const struct area *area, int row)
{
    int over = newest_over(scene);
    char text[320];
    bool any = false;
    struct area words = {area->row, area->column + LABEL + 2, area->rows,
                         area->columns - LABEL - 3};
    if (over < 2) {
        return row;
    }
    snprintf(text, sizeof text, "changed R%d", over);
    frame_put(scene->frame, row, area->column + 1, LABEL, STYLE_DIM, text);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct coach coach;
        struct error err = {0};
        if (coach_init(&coach, scene->fold, scene->rules, NULL, (enum corner)corner, over,
                       scene->view->now_ms, &err)) {
            frame_put(scene->frame, row, words.column, words.columns, STYLE_URGENT, err.text);
            return row + 1;
        }
        const struct coach_line *line = &coach.line[LINE_CHANGED];
        /* What they did is what the other corner says of itself. */
        if (line->finding && strncmp(line->words, "We ", 3) == 0 &&
            row + 2 < area->row + area->rows) {
            snprintf(text, sizeof text, "%s: %s", corner == CORNER_RED ? "RED" : "BLUE",
                     line->words);
            row = put_wrapped(scene, &words, row, corner_style((enum corner)corner, true), text);
            row = put_wrapped(scene, &words, row, STYLE_DIM, line->proof);
            any = true;
        }
    }
    if (!any) {
        frame_put(scene->frame, row++, words.column, words.columns, STYLE_DIM,
                  "nothing that the numbers carry");
    }
    return row;
}

static void readout_lines(struct line *line)
{
    const struct scene *scene = line->scene;
    char text[64];
    heads_draw(line);
    line->row++;
    sums_draw(line, scene->face.round, STYLE_STRONG);
    line->row++;
    if (scene->face.round > 1) { /* what it is to be held against */
        sums_draw(line, scene->face.round - 1, STYLE_DIM);
        line->row++;
    }
    sums_draw(line, 0, STYLE_PLAIN);
    line->row++;
    label_draw(line, "lands most");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        landing_text(text, &scene_round(scene, scene->face.round)->corner[corner]);
        text_draw(line, corner, STYLE_STRONG, text);
    }
    line->row++;
    numbers_draw(line, "knockdowns", offsetof(struct corner_tally, knockdowns), true);
    numbers_draw(line, "points off", offsetof(struct corner_tally, deducted), true);
    numbers_draw(line, "warnings", offsetof(struct corner_tally, incidents[CODE_WARNING]), false);
    unseen_draw(line);
}

int readout_rows(const struct scene *scene)
{
    (void)scene;
    return ROWS + CHANGED_ROWS;
}

void readout_draw(const struct scene *scene, const struct area *area)
{
    char title[64];
    struct line line = {scene, scene->frame, area->row + 1, area->column + 1,
                        (area->columns - 1 - LABEL) / CORNER_COUNT};
    line.half = line.half > 34 ? 34 : line.half;
    snprintf(title, sizeof title, "read out, round %d", scene->face.round);
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    readout_lines(&line);
    int row = changed_draw(scene, area, line.row);
    if (area->rows <= ROWS + CHANGED_ROWS) { /* beside the pad, which has them itself */
        return;
    }
    struct area looks = {row + 1, area->column, area->row + area->rows - row - 1, area->columns};
    looks_draw(scene, &looks);
}
