/* side.c: what larger terminals show besides: rounds, limbs, targets, stances, marks, keys, the
 * whole log. Sections go where they fit, in the order of their worth. */
#include <stddef.h>
#include <stdio.h>

#include "screen/scene.h"

#define SIDE_MIN  40 /* columns that a column of sections takes, its gap included */
#define SIDE_WIDE 56 /* from here on tables show round and bout */
#define SIDE_MAX  8
#define LABEL     12

/* An array of counts within a corner's tally, a row each. */
struct table {
    const char *title;
    size_t offset;
    const char *const *names;
    int count;
    unsigned shown; /* bit 1 << index */
};

static const struct count *cell_of(const struct scene *scene, const struct table *table,
                                   enum corner corner, int round, int index)
{
    const char *tally = (const char *)&scene_round(scene, round)->corner[corner];
    return (const struct count *)(const void *)(tally + table->offset) + index;
}

static int table_rows(const struct table *table)
{
    int rows = 2;
    for (int i = 0; i < table->count; i++) {
        rows += table->shown >> i & 1;
    }
    return rows;
}

static void table_draw(const struct scene *scene, const struct table *table,
                       const struct area *area)
{
    char text[32];
    struct frame *frame = scene->frame;
    bool wide = area->columns >= SIDE_WIDE;
    int half = (area->columns - LABEL) / CORNER_COUNT;
    int most = wide ? 26 : 16;
    half = half < most ? half : most;
    put_rule(frame, area->row, area->column, area->columns, table->title);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int left = area->column + LABEL + corner * half;
        int round = wide ? left + half / 2 - 3 : left;
        int bout = left + half - 6;
        int row = area->row + 1;
        put_right(frame, row, wide ? round : bout, corner_style((enum corner)corner, true),
                  corner == CORNER_RED ? "RED" : "BLUE");
        if (wide) {
            put_right(frame, row, bout, STYLE_DIM, "bout");
        }
        put_right(frame, row, bout + 5, STYLE_DIM, "acc");
        for (int i = 0; i < table->count; i++) {
            if (!(table->shown >> i & 1)) {
                continue;
            }
            row++;
            const struct count *all = cell_of(scene, table, (enum corner)corner, 0, i);
            frame_put(frame, row, area->column, 0, STYLE_PLAIN, table->names[i]);
            put_count(frame, row, round + wide, bout, STYLE_PLAIN, all);
            put_right(frame, row, bout + 5, STYLE_PLAIN, accuracy_text(text, all));
            if (wide) {
                put_count(frame, row, left, round, STYLE_PLAIN,
                          cell_of(scene, table, (enum corner)corner, scene->face.round, i));
            }
        }
    }
}

/* Rounds as columns, the newest where not all fit, then the bout. */
static void history_draw(const struct scene *scene, const struct area *area)
{
    static const char *const labels[] = {"", "accuracy", "per min", "KD"};
    char text[32];
    struct frame *frame = scene->frame;
    int last = scene_rounds(scene);
    int least = 7; /* columns of a round, as wide as the bout's counts where that is little more */
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int width = count_width(&scene->tally->all.corner[corner].all) + 1;
        least = width > least && width <= 10 ? width : least;
    }
    int room = (area->columns - 9) / least;
    int first = last - room + 2 > 1 ? last - room + 2 : 1;
    int width = (area->columns - 9) / (last - first + 2);
    int most = least > 9 ? least : 9;
    width = width > most ? most : width;
    put_rule(frame, area->row, area->column, area->columns, "rounds");
    for (int round = first; round <= last + 1; round++) {
        int shown = round > last ? 0 : round;
        int end = area->column + 9 + (round - first + 1) * width;
        snprintf(text, sizeof text, shown ? "R%d" : "bout", shown);
        put_right(frame, area->row + 1, end, shown == scene->face.round ? STYLE_STRONG : STYLE_DIM,
                  text);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            const struct corner_tally *tally = &scene_round(scene, shown)->corner[corner];
            int row = area->row + 2 + corner * 4;
            frame_put(frame, row, area->column, 0, corner_style((enum corner)corner, true),
                      corner == CORNER_RED ? "RED" : "BLUE");
            for (int i = 1; i < 4; i++) {
                frame_put(frame, row + i, area->column, 0, STYLE_DIM, labels[i]);
            }
            put_count(frame, row, end - width + 1, end, STYLE_PLAIN, &tally->all);
            put_right(frame, row + 1, end, STYLE_PLAIN, accuracy_text(text, &tally->all));
            put_right(frame, row + 2, end, STYLE_PLAIN,
                      output_text(text, scene, (enum corner)corner, shown));
            snprintf(text, sizeof text, "%d", tally->knockdowns);
            put_right(frame, row + 3, end, STYLE_PLAIN, text);
        }
    }
}

static const struct {
    const char *label;
    size_t offset;
    bool always;
} marks[] = {
    {"knockdowns", offsetof(struct corner_tally, knockdowns), true},
    {"blocked", offsetof(struct corner_tally, blocked), true},
    {"spinning", offsetof(struct corner_tally, spinning), true},
    {"jumping", offsetof(struct corner_tally, jumping), true},
    {"warnings", offsetof(struct corner_tally, incidents[CODE_WARNING]), false},
    {"admonitions", offsetof(struct corner_tally, incidents[CODE_ADMONITION]), false},
    {"points deducted", offsetof(struct corner_tally, deducted), false},
    {"standing counts", offsetof(struct corner_tally, incidents[CODE_COUNT]), false},
    {"knocked down", offsetof(struct corner_tally, incidents[CODE_KNOCKED_DOWN]), false},
    {"throws", offsetof(struct corner_tally, incidents[CODE_THROW]), false},
    {"injury pauses", offsetof(struct corner_tally, incidents[CODE_INJURY]), false},
    {"fouls", offsetof(struct corner_tally, incidents[CODE_FOUL]), false},
};
#define MARKS ((int)(sizeof marks / sizeof *marks))

static int mark_of(const struct scene *scene, int mark, int corner, int round)
{
    const char *tally = (const char *)&scene_round(scene, round)->corner[corner];
    return *(const int *)(const void *)(tally + marks[mark].offset);
}

static bool mark_shown(const struct scene *scene, int mark)
{
    return marks[mark].always || mark_of(scene, mark, CORNER_RED, 0) ||
           mark_of(scene, mark, CORNER_BLUE, 0);
}

static int marks_rows(const struct scene *scene)
{
    int rows = 2;
    for (int i = 0; i < MARKS; i++) {
        rows += mark_shown(scene, i);
    }
    return rows;
}

static void marks_draw(const struct scene *scene, const struct area *area)
{
    char text[16];
    struct frame *frame = scene->frame;
    put_rule(frame, area->row, area->column, area->columns, "marks and incidents");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        int row = area->row + 1;
        int round = area->column + 21 + corner * 11;
        put_right(frame, row, round, corner_style((enum corner)corner, true),
                  corner == CORNER_RED ? "RED" : "BLUE");
        put_right(frame, row, round + 5, STYLE_DIM, "bout");
        for (int i = 0; i < MARKS; i++) {
            if (!mark_shown(scene, i)) {
                continue;
            }
            row++;
            frame_put(frame, row, area->column, 0, STYLE_PLAIN, marks[i].label);
            snprintf(text, sizeof text, "%d", mark_of(scene, i, corner, scene->face.round));
            put_right(frame, row, round, STYLE_PLAIN, text);
            snprintf(text, sizeof text, "%d", mark_of(scene, i, corner, 0));
            put_right(frame, row, round + 5, STYLE_PLAIN, text);
        }
    }
}

/* Every entry as it was written, corrections and clock too, the newest first. */
static void entries_draw(const struct scene *scene, const struct area *area)
{
    static const char *const acts[ACT_COUNT] = {
        [ACT_AMEND] = "amended: ", [ACT_VOID] = "void: ", [ACT_RESTORE] = "counts again: "};
    char text[256];
    char moment[48];
    const struct entry *entries = NULL;
    size_t count = fold_entries(scene->fold, &entries);
    put_rule(scene->frame, area->row, area->column, area->columns, "log");
    for (int i = 1; i < area->rows && (size_t)i <= count; i++) {
        const struct entry *entry = &entries[count - (size_t)i];
        int row = area->row + i;
        entry_words(text, sizeof text, entry);
        put_right(scene->frame, row, area->column + 8, STYLE_DIM,
                  moment_text(moment, scene, entry));
        if (entry_corner(entry)[0]) {
            frame_put(scene->frame, row, area->column + 9, 4,
                      corner_style((enum corner)entry->strike.corner, false),
                      corner_names[entry->strike.corner]);
        }
        frame_putf(scene->frame, row, area->column + 14, area->columns - 14, STYLE_PLAIN, "%s%s",
                   acts[entry->act] ? acts[entry->act] : "", text);
    }
}

/* The columns of sections, filled from the top. */
struct flow {
    const struct area *area;
    int columns, width;
    int used[SIDE_MAX];
};

static bool flow_place(struct flow *flow, int rows, struct area *out)
{
    for (int i = 0; i < flow->columns; i++) {
        if (flow->used[i] + rows <= flow->area->rows) {
            *out = (struct area){flow->area->row + flow->used[i],
                                 flow->area->column + i * flow->width + 2, rows, flow->width - 2};
            flow->used[i] += rows + 1;
            return true;
        }
    }
    return false;
}

static unsigned limbs_shown(const struct scene *scene)
{
    unsigned shown = 0;
    for (int limb = 0; limb < LIMB_COUNT; limb++) {
        const struct count *red = &scene->tally->all.corner[CORNER_RED].limb[limb];
        const struct count *blue = &scene->tally->all.corner[CORNER_BLUE].limb[limb];
        if (red->attempted || blue->attempted ||
            (scene->rules->targets[limb] && !limb_is_refined((enum limb)limb))) {
            shown |= 1u << limb;
        }
    }
    return shown;
}

void side_draw(const struct scene *scene, const struct area *area)
{
    const struct table tables[] = {
        {"limbs", offsetof(struct corner_tally, limb), limb_words, LIMB_COUNT, limbs_shown(scene)},
        {"targets", offsetof(struct corner_tally, target), target_names, TARGET_COUNT, 7},
        {"stance", offsetof(struct corner_tally, stance), stance_names, STANCE_COUNT, 7},
        {"position", offsetof(struct corner_tally, position), position_names, POSITION_COUNT, 3},
    };
    struct area place;
    struct flow flow = {.area = area, .columns = area->columns / SIDE_MIN};
    if (flow.columns < 1) {
        return;
    }
    flow.columns = flow.columns > SIDE_MAX ? SIDE_MAX : flow.columns;
    flow.width = area->columns / flow.columns;
    /* In a rest what is read out comes first, where it need not be asked for by key. */
    bool rest = scene->face.state == CLOCK_REST || scene->face.state == CLOCK_OVER;
    if (rest && flow.width - 2 >= SIDE_WIDE && desk_page(scene->desk) != PAGE_READOUT &&
        flow_place(&flow, readout_rows(scene), &place)) {
        readout_draw(scene, &place);
    }
    if (flow_place(&flow, 10, &place)) {
        history_draw(scene, &place);
    }
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        if (flow_place(&flow, table_rows(&tables[i]), &place)) {
            table_draw(scene, &tables[i], &place);
        }
    }
    if (flow_place(&flow, marks_rows(scene), &place)) {
        marks_draw(scene, &place);
    }
    if (!desk_help(scene->desk) && flow_place(&flow, help_rows(scene, flow.width - 2), &place)) {
        help_draw(scene, &place);
    }
    for (int i = 0; i < flow.columns; i++) {
        int left = area->rows - flow.used[i];
        if (left >= 6 && flow_place(&flow, left, &place)) {
            entries_draw(scene, &place);
            break;
        }
    }
}
