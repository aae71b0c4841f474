/* taken.c: the page of what each corner takes: the other's strikes, by limb and target. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/insight/facts.h"
#include "screen/scene.h"

#define CELL 7 /* columns of a figure and the gap before it, where it needs no more */

/* Where the figures of a corner's table end: those to each target, and to all. The first begins
 * behind `label`. */
struct ends {
    int label;
    int at[TARGET_COUNT + 1];
};

/* The rows: columns of the pad. */
static const uint8_t lines[] = {PAD_LEFT_HAND, PAD_RIGHT_HAND, PAD_LEFT_ELBOW, PAD_RIGHT_ELBOW,
                                PAD_KNEE,      PAD_LEFT_LEG,   PAD_RIGHT_LEG};
#define LINES ((int)(sizeof lines / sizeof *lines))
#define ALL   PAD_COLUMNS

static const char *label_of(int line)
{
    return limb_briefs[pad_limb((enum pad_column)lines[line])];
}

static bool is_of(int limb, int column)
{
    return column == ALL || (int)limb_column((enum limb)limb) == column;
}

/* Of a column of the pad, or ALL, to a target; TARGET_COUNT: to all. */
static struct count sum(const struct corner_tally *tally, int column, int target)
{
    struct count sum = {0};
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        for (int t = 0; t < TARGET_COUNT; t++) {
            if (is_of(limb, column) && (target == TARGET_COUNT || t == target)) {
                sum.attempted += tally->limb_target[limb][t].attempted;
                sum.landed += tally->limb_target[limb][t].landed;
            }
        }
    }
    return sum;
}

static bool line_exists(const struct scene *scene, int line)
{
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        if (is_of(limb, lines[line]) && scene->rules->targets[limb]) {
            return true;
        }
    }
    return false;
}

/* As wide as the bout's figures of either corner need, so that both tables look alike; where that
 * is too much, they are cut (put_count). */
static struct ends ends_of(const struct scene *scene, int columns)
{
    struct ends ends = {.label = 6};
    for (int line = 0; line < LINES; line++) {
        int width = text_width(label_of(line));
        if (line_exists(scene, line) && width > ends.label) {
            ends.label = width;
        }
    }
    int end = ends.label;
    for (int target = 0; target <= TARGET_COUNT; target++) {
        int cell = CELL;
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            struct count count = sum(&scene->tally->all.corner[corner], ALL, target);
            int width = count_width(&count) + 1;
            cell = width > cell ? width : cell;
        }
        ends.at[target] = end += cell;
    }
    if (end > columns) { /* all alike then */
        for (int i = 0; i <= TARGET_COUNT; i++) {
            ends.at[i] = ends.label + (i + 1) * (columns - ends.label) / (TARGET_COUNT + 1);
        }
    }
    return ends;
}

static void counts_draw(const struct scene *scene, const struct corner_tally *taken, int column,
                        const char *label, enum style style, int row, const struct area *area)
{
    struct ends ends = ends_of(scene, area->columns);
    int left = ends.label;
    frame_put(scene->frame, row, area->column, ends.label, style, label);
    for (int target = 0; target <= TARGET_COUNT; target++) {
        struct count count = sum(taken, column, target);
        put_count(scene->frame, row, area->column + left + 1, area->column + ends.at[target],
                  target == TARGET_COUNT ? STYLE_STRONG : style, &count);
        left = ends.at[target];
    }
}

/* What lands on the corner a minute of running clock. */
static void rates_draw(const struct scene *scene, enum corner corner, int row,
                       const struct area *area)
{
    char rate[2][SHARE_SIZE];
    for (int i = 0; i < 2; i++) {
        int round = i == 0 ? scene->face.round : 0;
        int64_t ran_ms = desk_ran(scene->desk, round, scene->view->now_ms);
        rate_text(rate[i], tally_taken(scene_round(scene, round), corner)->all.landed, ran_ms);
        if (ran_ms < RATE_LEAST_MS) {
            snprintf(rate[i], sizeof rate[i], "\u2013");
        }
    }
    frame_putf(scene->frame, row, area->column, area->columns, STYLE_PLAIN,
               "landed a minute: round %s, bout %s", rate[0], rate[1]);
}

static void legs_draw(const struct scene *scene, enum corner corner, const struct facts *facts,
                      int row, const struct area *area)
{
    char lead[32];
    char rear[32];
    const struct count *met = facts->corner[corner_other(corner)].met;
    if (met[ROLE_LEAD].attempted + met[ROLE_REAR].attempted > 0) {
        bool whole =
            26 + count_width(&met[ROLE_LEAD]) + count_width(&met[ROLE_REAR]) <= area->columns;
        frame_putf(scene->frame, row, area->column, area->columns, STYLE_PLAIN,
                   whole ? "leg kicks on: lead %s, rear %s" : "legs: lead %s, rear %s",
                   count_text(lead, &met[ROLE_LEAD]), count_text(rear, &met[ROLE_REAR]));
    }
}

static int grid_draw(const struct scene *scene, enum corner corner, int round, int row,
                     const struct area *area)
{
    struct frame *frame = scene->frame;
    const struct corner_tally *taken = tally_taken(scene_round(scene, round), corner);
    frame_put(frame, row, area->column, 0, corner_style(corner, true),
              corner == CORNER_RED ? "RED" : "BLUE");
    struct ends ends = ends_of(scene, area->columns);
    for (int i = 0; i <= TARGET_COUNT; i++) {
        put_right(frame, row, area->column + ends.at[i], STYLE_DIM,
                  i < TARGET_COUNT ? target_names[i] : "all");
    }
    row++;
    for (int line = 0; line < LINES; line++) {
        if (line_exists(scene, line)) {
            counts_draw(scene, taken, lines[line], label_of(line), STYLE_PLAIN, row++, area);
        }
    }
    counts_draw(scene, taken, ALL, "all", STYLE_STRONG, row++, area);
    return row;
}

static void title_draw(const struct scene *scene, const struct area *area, int row, int round)
{
    char title[96];
    snprintf(title, sizeof title,
             round ? "what each corner takes, round %d" : "what each corner takes, bout", round);
    put_rule(scene->frame, row, area->column, area->columns, title);
}

void taken_draw(const struct scene *scene, const struct area *area)
{
    struct stream stream = {.blow = NULL};
    struct facts facts;
    struct error err = {0};
    char label[16];
    int half = area->columns / 2;
    int row = area->row;
    memset(&facts, 0, sizeof facts);
    /* Without memory the legs are left out; all else needs none. */
    if (stream_init(&stream, scene->fold, &err) == 0) {
        facts_read(&facts, &stream, 0);
    }
    snprintf(label, sizeof label, "R%d", scene->face.round);
    title_draw(scene, area, area->row, 0);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        struct area side = {area->row + 1, area->column + 1 + corner * half, area->rows - 1,
                            half - 1};
        row = grid_draw(scene, (enum corner)corner, 0, side.row, &side);
        counts_draw(scene, tally_taken(scene_round(scene, scene->face.round), (enum corner)corner),
                    ALL, label, STYLE_PLAIN, row++, &side);
        legs_draw(scene, (enum corner)corner, &facts, row++, &side);
        rates_draw(scene, (enum corner)corner, row++, &side);
    }
    if (area->row + area->rows - row >= LINES + 3) {
        title_draw(scene, area, row, scene->face.round);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            struct area side = {row + 1, area->column + 1 + corner * half, 0, half - 1};
            grid_draw(scene, (enum corner)corner, scene->face.round, side.row, &side);
        }
    }
    stream_release(&stream);
}
