/* align.c: the alignment of two desks' strikes. Only cells within reach are kept: row i of the
 * table holds the columns from the first to the last strike of B that any pair can need there. */
#include "ringtally/insight/align.h"

#include <stdlib.h>
#include <string.h>

#define REFINEMENTS 2

enum move { MOVE_PAIR, MOVE_ALONE_A, MOVE_ALONE_B };

struct grid {
    const struct align_strike *a, *b;
    size_t a_count, b_count;
    const struct align_options *options;
    size_t *reach_low, *reach_high; /* by strike of A: those of B near enough at any lateness */
    size_t *low, *high, *start;     /* by row: its columns, and where they start in the cells */
    int64_t *cost;
    uint8_t *move;
    size_t cell_room;
    int32_t *pair_of; /* by strike of A; -1: alone */
    int32_t *behind;  /* of each pair */
};

static int32_t magnitude(int32_t value)
{
    return value < 0 ? -value : value;
}

static int64_t moment(const struct align_strike *strike)
{
    return (int64_t)strike->elapsed_ms + strike->idle_ms;
}

int64_t align_behind(const struct align_strike *a, const struct align_strike *b)
{
    return moment(b) - moment(a);
}

static int32_t field_cost(const struct strike *a, const struct strike *b,
                          const struct align_options *options)
{
    int32_t cost = 0;
    if (a->limb != b->limb) {
        cost += limb_group(a->limb) == limb_group(b->limb) ? options->side : options->limb;
    }
    cost += a->corner != b->corner ? options->corner : 0;
    cost += a->target != b->target ? options->target : 0;
    cost += (a->outcome == OUTCOME_LANDED) != (b->outcome == OUTCOME_LANDED) ? options->outcome : 0;
    return cost;
}

/* Near enough on both scales: a strike nine seconds into a stop is not the one nine seconds after
 * the clock went on. */
static bool within(const struct align_strike *a, const struct align_strike *b, int32_t lateness_ms,
                   int64_t span_ms)
{
    int64_t behind = align_behind(a, b) - lateness_ms;
    int64_t elapsed = (int64_t)b->elapsed_ms - a->elapsed_ms;
    int64_t slack = span_ms + magnitude(lateness_ms);
    return a->round == b->round && behind <= span_ms && behind >= -span_ms && elapsed <= slack &&
           elapsed >= -slack;
}

int32_t align_pair_cost(const struct align_strike *a, const struct align_strike *b,
                        int32_t lateness_ms, const struct align_options *options)
{
    if (!within(a, b, lateness_ms, options->window_ms)) {
        return -1;
    }
    int64_t distance = align_behind(a, b) - lateness_ms;
    distance = distance < 0 ? -distance : distance;
    return (int32_t)(distance * 1000 / options->window_ms) +
           field_cost(&a->strike, &b->strike, options);
}

static void find_reach(struct grid *grid)
{
    int64_t span = (int64_t)grid->options->window_ms + grid->options->lateness_max_ms;
    size_t first = 0;
    for (size_t i = 0; i < grid->a_count; i++) {
        const struct align_strike *a = &grid->a[i];
        while (first < grid->b_count && (grid->b[first].round < a->round ||
                                         (grid->b[first].round == a->round &&
                                          grid->b[first].elapsed_ms + span < a->elapsed_ms))) {
            first++;
        }
        grid->reach_low[i] = grid->reach_high[i] = first;
        bool any = false;
        for (size_t j = first; j < grid->b_count && grid->b[j].round == a->round &&
                               grid->b[j].elapsed_ms <= a->elapsed_ms + span;
             j++) {
            if (within(a, &grid->b[j], 0, span)) {
                grid->reach_low[i] = any ? grid->reach_low[i] : j;
                grid->reach_high[i] = j + 1;
                any = true;
            }
        }
    }
}

/* Lays out the rows for one lateness; returns how many cells they have. */
static size_t lay_out(struct grid *grid, int32_t lateness_ms)
{
    size_t n = grid->a_count;
    size_t m = grid->b_count;
    size_t cells = 0;
    grid->low[0] = grid->high[0] = 0;
    for (size_t i = 0; i < n; i++) {
        grid->low[i + 1] = m;
        grid->high[i + 1] = 0;
        for (size_t j = grid->reach_low[i]; j < grid->reach_high[i]; j++) {
            if (within(&grid->a[i], &grid->b[j], lateness_ms, grid->options->window_ms)) {
                grid->low[i + 1] = j < grid->low[i + 1] ? j : grid->low[i + 1];
                grid->high[i + 1] = j + 1;
            }
        }
    }
    for (size_t i = n; i > 1; i--) {
        grid->low[i - 1] = grid->low[i] < grid->low[i - 1] ? grid->low[i] : grid->low[i - 1];
    }
    for (size_t i = 0; i <= n; i++) {
        size_t high =
            i > 0 && grid->high[i - 1] > grid->high[i] ? grid->high[i - 1] : grid->high[i];
        grid->high[i] = high > grid->low[i] ? high : grid->low[i];
        grid->start[i] = cells;
        cells += grid->high[i] - grid->low[i] + 1;
    }
    return cells;
}

/* Cost of aligning the first i of A with the first j of B, j >= low[i]. Behind the kept columns
 * strikes of B can only stay alone. */
static int64_t cost_at(const struct grid *grid, size_t i, size_t j)
{
    size_t kept = j < grid->high[i] ? j : grid->high[i];
    return grid->cost[grid->start[i] + kept - grid->low[i]] +
           (int64_t)(j - kept) * grid->options->alone;
}

/* Of two strikes that may as well stay alone, is it A's: the later, then the higher content. */
static bool prefer_a_alone(const struct align_strike *a, const struct align_strike *b,
                           int32_t lateness_ms)
{
    int64_t behind = align_behind(a, b) - lateness_ms;
    const uint8_t keys[2][5] = {
        {a->round, a->strike.corner, a->strike.limb, a->strike.target, a->strike.outcome},
        {b->round, b->strike.corner, b->strike.limb, b->strike.target, b->strike.outcome}};
    if (a->round == b->round && behind != 0) {
        return behind < 0;
    }
    return memcmp(keys[0], keys[1], sizeof keys[0]) > 0;
}

static void fill_cell(struct grid *grid, size_t i, size_t j, int32_t lateness_ms)
{
    int64_t alone = grid->options->alone;
    size_t cell = grid->start[i] + j - grid->low[i];
    int64_t alone_a = cost_at(grid, i - 1, j) + alone;
    enum move move = MOVE_ALONE_A;
    int64_t cost = alone_a;
    if (j > grid->low[i]) {
        const struct align_strike *a = &grid->a[i - 1];
        const struct align_strike *b = &grid->b[j - 1];
        int64_t alone_b = grid->cost[cell - 1] + alone;
        int32_t points = align_pair_cost(a, b, lateness_ms, grid->options);
        cost = alone_b < alone_a ? alone_b : alone_a;
        if (points >= 0 && cost_at(grid, i - 1, j - 1) + points <= cost) {
            move = MOVE_PAIR;
            cost = cost_at(grid, i - 1, j - 1) + points;
        } else if (alone_a == alone_b) {
            move = prefer_a_alone(a, b, lateness_ms) ? MOVE_ALONE_A : MOVE_ALONE_B;
        } else {
            move = alone_a < alone_b ? MOVE_ALONE_A : MOVE_ALONE_B;
        }
    }
    grid->cost[cell] = cost;
    grid->move[cell] = (uint8_t)move;
}

static int solve(struct grid *grid, int32_t lateness_ms, int64_t *out_cost)
{
    size_t cells = lay_out(grid, lateness_ms);
    if (cells > grid->cell_room) {
        free(grid->cost);
        free(grid->move);
        grid->cell_room = cells;
        grid->cost = malloc(cells * sizeof *grid->cost);
        grid->move = malloc(cells * sizeof *grid->move);
        if (!grid->cost || !grid->move) {
            return ERROR_MEMORY;
        }
    }
    grid->cost[0] = 0;
    for (size_t i = 1; i <= grid->a_count; i++) {
        for (size_t j = grid->low[i]; j <= grid->high[i]; j++) {
            fill_cell(grid, i, j, lateness_ms);
        }
    }
    *out_cost = cost_at(grid, grid->a_count, grid->b_count);
    return 0;
}

/* Fills pair_of and behind; returns the number of pairs. */
static size_t trace(struct grid *grid)
{
    size_t i = grid->a_count;
    size_t j = grid->b_count;
    size_t pairs = 0;
    while (i > 0) {
        enum move move = j > grid->high[i]
                             ? MOVE_ALONE_B
                             : (enum move)grid->move[grid->start[i] + j - grid->low[i]];
        if (move == MOVE_ALONE_B) {
            j--;
            continue;
        }
        i--;
        grid->pair_of[i] = -1;
        if (move == MOVE_PAIR) {
            j--;
            grid->pair_of[i] = (int32_t)j;
            grid->behind[pairs++] = (int32_t)align_behind(&grid->a[i], &grid->b[j]);
        }
    }
    return pairs;
}

static int compare_spans(const void *one, const void *other)
{
    int32_t a = *(const int32_t *)one;
    int32_t b = *(const int32_t *)other;
    return (a > b) - (a < b);
}

/* Halves are rounded towards 0, so that the exchanged desks get the same with its sign turned. */
static int32_t median(int32_t *values, size_t count)
{
    qsort(values, count, sizeof *values, compare_spans);
    return (int32_t)(((int64_t)values[(count - 1) / 2] + values[count / 2]) / 2);
}

/* The lateness with the cheapest alignment; of equal ones the smallest, and neither of two that
 * differ in their sign only. */
static int find_lateness(struct grid *grid, int32_t *out)
{
    int32_t step = grid->options->window_ms / 4 > 0 ? grid->options->window_ms / 4 : 1;
    int64_t best = 0;
    *out = 0;
    int code = solve(grid, 0, &best);
    for (int32_t late = step; !code && late <= grid->options->lateness_max_ms; late += step) {
        int64_t ahead = 0;
        int64_t behind = 0;
        code = solve(grid, -late, &ahead);
        code = code ? code : solve(grid, late, &behind);
        if (!code && ahead != behind && (ahead < best || behind < best)) {
            best = ahead < behind ? ahead : behind;
            *out = ahead < behind ? -late : late;
        }
    }
    return code;
}

static int refine_lateness(struct grid *grid, int32_t *late)
{
    int32_t most = grid->options->lateness_max_ms;
    int64_t cost = 0;
    int code = 0;
    for (int i = 0; !code && most > 0 && i < REFINEMENTS; i++) {
        code = solve(grid, *late, &cost);
        size_t pairs = code ? 0 : trace(grid);
        if (pairs > 0) {
            *late = median(grid->behind, pairs);
            *late = *late > most ? most : *late < -most ? -most : *late;
        }
    }
    return code;
}

/* The pairs, and between them what is alone, in time order. */
static void write_links(struct align *out, const struct grid *grid)
{
    size_t j = 0;
    size_t partner = 0; /* the next strike of A in a pair */
    for (size_t i = 0; i <= grid->a_count; i++) {
        const struct align_strike *a = i < grid->a_count ? &grid->a[i] : NULL;
        bool paired = a && grid->pair_of[i] >= 0;
        while (partner < grid->a_count && (partner < i || grid->pair_of[partner] < 0)) {
            partner++;
        }
        size_t next = partner < grid->a_count ? (size_t)grid->pair_of[partner] : grid->b_count;
        for (; j < next; j++) {
            const struct align_strike *b = &grid->b[j];
            if (a && !paired &&
                (b->round > a->round ||
                 (b->round == a->round && align_behind(a, b) >= out->lateness_ms))) {
                break;
            }
            out->links[out->count++] = (struct align_link){-1, (int32_t)j};
            out->only_b++;
        }
        if (a) {
            out->links[out->count++] = (struct align_link){(int32_t)i, grid->pair_of[i]};
            out->paired += paired;
            out->only_a += !paired;
            j += paired;
        }
    }
}

static void *array(size_t count, size_t size)
{
    return calloc(count + 1, size);
}

static bool grid_init(struct grid *grid)
{
    grid->reach_low = array(grid->a_count, sizeof *grid->reach_low);
    grid->reach_high = array(grid->a_count, sizeof *grid->reach_high);
    grid->low = array(grid->a_count, sizeof *grid->low);
    grid->high = array(grid->a_count, sizeof *grid->high);
    grid->start = array(grid->a_count, sizeof *grid->start);
    grid->pair_of = array(grid->a_count, sizeof *grid->pair_of);
    grid->behind = array(grid->a_count, sizeof *grid->behind);
    return grid->reach_low && grid->reach_high && grid->low && grid->high && grid->start &&
           grid->pair_of && grid->behind;
}

static void grid_release(struct grid *grid)
{
    free(grid->reach_low);
    free(grid->reach_high);
    free(grid->low);
    free(grid->high);
    free(grid->start);
    free(grid->cost);
    free(grid->move);
    free(grid->pair_of);
    free(grid->behind);
}

int align_make(struct align *out, const struct align_strike *a, size_t a_count,
               const struct align_strike *b, size_t b_count, const struct align_options *options)
{
    struct grid grid = {.a = a, .b = b, .a_count = a_count, .b_count = b_count, .options = options};
    int code = ERROR_MEMORY;
    *out = (struct align){0};
    out->links = array(a_count + b_count, sizeof *out->links);
    if (!out->links || !grid_init(&grid)) {
        goto cleanup;
    }
    find_reach(&grid);
    code = find_lateness(&grid, &out->lateness_ms);
    code = code ? code : refine_lateness(&grid, &out->lateness_ms);
    code = code ? code : solve(&grid, out->lateness_ms, &out->cost);
    if (!code) {
        trace(&grid);
        write_links(out, &grid);
    }

cleanup:
    grid_release(&grid);
    if (code) {
        align_release(out);
    }
    return code;
}

void align_release(struct align *align)
{
    free(align->links);
    *align = (struct align){0};
}
