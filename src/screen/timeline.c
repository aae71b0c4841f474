/* timeline.c: the page of who landed when: red above and blue below one time axis, for the rounds
 * and for the bout; knockdowns, incidents and stopped clocks marked on it. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "screen/scene.h"

#define LABEL      6   /* columns before the axis */
#define AXIS_MAX   512 /* columns of an axis */
#define ROUND_HIGH 3   /* rows a corner of the round at hand, of earlier ones, of the bout */
#define PAST_HIGH  2
#define BOUT_HIGH  2

/* Letters: those of the incident prompt, and K. */
static const struct {
    char letter;
    uint8_t code; /* enum entry_code */
    const char *words;
} marks[] = {
    {'K', CODE_NONE, "K knockdown"},        {'k', CODE_KNOCKED_DOWN, "k down"},
    {'c', CODE_COUNT, "c count"},           {'w', CODE_WARNING, "w warning"},
    {'d', CODE_DEDUCTION, "d deduction"},   {'f', CODE_FOUL, "f foul"},
    {'i', CODE_INJURY, "i injury"},         {'t', CODE_THROW, "t throw"},
    {'a', CODE_ADMONITION, "a admonition"},
};
#define MARKS ((int)(sizeof marks / sizeof *marks))

/* What stands on one axis. */
struct line {
    const struct scene *scene;
    int round; /* 0: the bout, each round as wide as the other */
    int rounds;
    int columns, now; /* of the axis; the first that time has not reached */
    int landed[CORNER_COUNT][AXIS_MAX];
    char mark[CORNER_COUNT][AXIS_MAX];
    bool stop[AXIS_MAX];
};

static int place(const struct line *line, int round, int32_t elapsed_ms)
{
    int32_t length = clock_round_length(&fold_clock(line->scene->fold)->plan, round);
    int width = line->round ? line->columns : line->columns / line->rounds;
    int from = line->round ? 0 : (round - 1) * width;
    if (length <= 0 || round < 1 || (line->round && round != line->round)) {
        return -1;
    }
    int at = (int)((int64_t)elapsed_ms * width / length);
    at = at < 0 ? 0 : at >= width ? width - 1 : at;
    return from + at < line->columns ? from + at : -1;
}

static char mark_letter(const struct entry *now)
{
    if (now->kind == ENTRY_STRIKE) {
        return now->strike.technique & TECHNIQUE_KNOCKDOWN ? 'K' : '\0';
    }
    for (int i = 1; i < MARKS; i++) {
        if (now->kind == ENTRY_INCIDENT && marks[i].code == now->code) {
            return marks[i].letter;
        }
    }
    return '\0';
}

/* Beside a mark that stands there already. */
static void mark_put(struct line *line, int corner, int at, char letter)
{
    while (at + 1 < line->columns && line->mark[corner][at]) {
        at++;
    }
    line->mark[corner][at] = letter;
}

/* Stopped by hand, by the desk that the clock was then of. */
static void read_stops(struct line *line)
{
    const struct scene *scene = line->scene;
    const struct clock_plan *plan = &fold_clock(scene->fold)->plan;
    for (size_t i = 0; i < scene->subject_count; i++) {
        const struct entry *now = &scene->subjects[i].now;
        if (scene->subjects[i].counts && now->kind == ENTRY_CLOCK && now->code == CODE_STOP &&
            now->elapsed_ms < clock_round_length(plan, now->round)) {
            int at = place(line, now->round, now->elapsed_ms);
            if (at >= 0) {
                line->stop[at] = true;
            }
        }
    }
}

static void line_read(struct line *line, const struct scene *scene, int round, int columns)
{
    memset(line, 0, sizeof *line);
    line->scene = scene;
    line->round = round;
    line->rounds = scene_rounds(scene);
    line->columns = columns < AXIS_MAX ? columns : AXIS_MAX;
    if (round == 0) {
        line->columns -= line->columns % line->rounds;
    }
    line->now = round && round != scene->face.round
                    ? line->columns
                    : place(line, scene->face.round, scene->face.elapsed_ms) + 1;
    if (fold_clock(scene->fold)->round == 0) {
        line->now = 0;
    }
    for (size_t i = 0; i < scene->subject_count; i++) {
        const struct entry *now = &scene->subjects[i].now;
        int at = place(line, now->round, now->elapsed_ms);
        char letter = mark_letter(now);
        if (!scene->subjects[i].counts || at < 0 ||
            (now->kind != ENTRY_STRIKE && now->kind != ENTRY_INCIDENT)) {
            continue;
        }
        if (now->kind == ENTRY_STRIKE && now->strike.outcome == OUTCOME_LANDED) {
            line->landed[now->strike.corner][at]++;
        }
        if (letter) {
            mark_put(line, now->strike.corner, at, letter);
        }
    }
    read_stops(line);
}

static int tallest(const struct line *line)
{
    int most = 0;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        for (int i = 0; i < line->columns; i++) {
            most = line->landed[corner][i] > most ? line->landed[corner][i] : most;
        }
    }
    return most;
}

/* Bars grow away from the axis by half a row; each strike is a half where that fits, else the
 * tallest bar fills the rows. */
static void bars_draw(const struct line *line, enum corner corner, int high, int axis, int column)
{
    static const char *const half[CORNER_COUNT][2] = {{"\u2584", "."}, {"\u2580", "'"}};
    struct frame *frame = line->scene->frame;
    enum style style = corner_style(corner, false);
    int most = tallest(line);
    int levels = 2 * high;
    for (int i = 0; i < line->columns; i++) {
        int count = line->landed[corner][i];
        int level = most <= levels ? count : (count * levels + most - 1) / most;
        for (int r = 0; r < high && 2 * r < level; r++) {
            int row = corner == CORNER_RED ? axis - 1 - r : axis + 1 + r;
            frame_put(frame, row, column + i, 1, style,
                      level - 2 * r > 1 ? (frame->ascii ? "#" : "\u2588")
                                        : half[corner][frame->ascii]);
        }
        if (line->mark[corner][i]) {
            char letter[2] = {line->mark[corner][i], '\0'};
            frame_put(frame, corner == CORNER_RED ? axis - high : axis + high, column + i, 1,
                      STYLE_URGENT, letter);
        }
    }
}

static void axis_draw(const struct line *line, int row, int column)
{
    struct frame *frame = line->scene->frame;
    char text[16];
    for (int i = 0; i < line->columns; i++) {
        frame_put(frame, row, column + i, 1, line->stop[i] ? STYLE_STRONG : STYLE_DIM,
                  line->stop[i]   ? "\u2502"
                  : i < line->now ? "\u2500"
                                  : "\u00b7");
    }
    for (int round = 1; line->round == 0 && round <= line->rounds; round++) {
        snprintf(text, sizeof text, "R%d", round);
        frame_put(frame, row, column + place(line, round, 0), 0, STYLE_PLAIN, text);
    }
}

/* What the clock showed, at each whole minute. */
static void minutes_draw(const struct line *line, int row, int column)
{
    char text[32];
    int32_t length = clock_round_length(&fold_clock(line->scene->fold)->plan, line->round);
    int free_from = 0;
    for (int32_t left = length; left >= 0; left -= left % 60000 ? left % 60000 : 60000) {
        int at = left == 0 ? line->columns - 4 : place(line, line->round, length - left);
        if (at >= free_from && at + 4 <= line->columns) {
            free_from = frame_put(line->scene->frame, row, column + at, 0, STYLE_DIM,
                                  clock_text(text, left)) -
                        column + 1;
        }
    }
}

/* Rule, red's rows, axis, blue's rows; minutes below those of a round. */
static int line_rows(int round, int high)
{
    return 2 + 2 * high + (round > 0);
}

/* Returns the column behind its title. */
static int line_draw(struct line *line, const struct scene *scene, int round, int high,
                     const struct area *area)
{
    char title[128];
    int column = area->column + LABEL;
    int axis = area->row + 1 + high;
    line_read(line, scene, round, area->columns - LABEL - 1);
    int32_t length = clock_round_length(&fold_clock(scene->fold)->plan, round ? round : 1);
    double seconds = length / 1000.0 / (round ? line->columns : line->columns / line->rounds);
    char name[24];
    snprintf(name, sizeof name, round ? "round %d" : "bout", round);
    snprintf(title, sizeof title, "%s: landed, tallest %d in %.1f s", name, tallest(line), seconds);
    put_rule(scene->frame, area->row, area->column, area->columns, title);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        frame_put(scene->frame, corner == CORNER_RED ? axis - 1 : axis + 1, area->column + 1, 0,
                  corner_style((enum corner)corner, true), corner == CORNER_RED ? "RED" : "BLUE");
        bars_draw(line, (enum corner)corner, high, axis, column);
    }
    axis_draw(line, axis, column);
    if (round > 0) {
        minutes_draw(line, axis + high + 1, column);
    }
    return area->column + text_width(title) + 4;
}

/* What the marks of the bout mean, at the right of its rule. */
static void legend_draw(const struct line *bout, int row, int from, int end)
{
    char text[160];
    size_t used = 0;
    bool stopped = false;
    for (int i = 0; i < AXIS_MAX; i++) {
        stopped = stopped || bout->stop[i];
    }
    text[0] = '\0';
    for (int i = 0; i <= MARKS; i++) {
        bool there = i == MARKS && stopped;
        for (int corner = 0; i < MARKS && corner < CORNER_COUNT; corner++) {
            there = there || memchr(bout->mark[corner], marks[i].letter, AXIS_MAX);
        }
        if (there && used < sizeof text) {
            used += (size_t)snprintf(text + used, sizeof text - used, "%s%s", used ? "  " : " ",
                                     i < MARKS ? marks[i].words : "\u2502 stop");
        }
    }
    if (used > 0 && from + 1 < end) {
        int width = text_width(text) + 1;
        from = end - width > from ? end - width : from;
        frame_put(bout->scene->frame, row, from, end - from, STYLE_PLAIN, text);
    }
}

void timeline_draw(const struct scene *scene, const struct area *area)
{
    struct line line;
    int bout_rows = line_rows(0, BOUT_HIGH);
    int end = area->row + area->rows - bout_rows;
    struct area place_of = {end, area->column, bout_rows, area->columns};
    int title_end = line_draw(&line, scene, 0, BOUT_HIGH, &place_of);
    legend_draw(&line, place_of.row, title_end, area->column + area->columns - 1);
    /* Upwards from the bout: the round at hand, then the ones before. */
    for (int round = scene->face.round; round > 0; round--) {
        int high = round == scene->face.round ? ROUND_HIGH : PAST_HIGH;
        int rows = line_rows(round, high);
        if (end - rows < area->row) {
            return;
        }
        end -= rows;
        place_of = (struct area){end, area->column, rows, area->columns};
        line_draw(&line, scene, round, high, &place_of);
    }
}
