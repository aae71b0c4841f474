/* reference.c: the live count against the recording. */
#include "ringtally/insight/reference.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/bout/recording.h"

const char *const reference_count_names[REFERENCE_COUNTS] = {"attempted", "landed", "blocked"};
const char *const reference_by_names[BY_KINDS] = {"all",   "corner", "limb",  "target",
                                                  "round", "minute", "burst", "position"};

/* --- the live count, as it stood before anything was settled --- */

/* What the subject said before a settlement; false: it was not there, or not live. */
static bool before_settled(const struct fold *fold, const struct subject *subject,
                           struct entry *out)
{
    const struct entry *entry = fold_entry(fold, subject->last);
    bool live = subject->live;
    while (entry && entry->accepted) {
        entry = fold_before(fold, entry->name);
        live = entry && entry->act != ACT_VOID;
    }
    if (!entry || !live || entry->value == ENTRY_INSERTED) {
        return false;
    }
    *out = *entry;
    out->name = subject->now.name;
    return true;
}

/* What it said when it was typed, marks of that moment included, before any correction. */
static struct strike first_said(const struct fold *fold, const struct subject *subject)
{
    const struct entry *entry = fold_entry(fold, subject->last);
    struct strike first = subject->now.strike;
    bool taken = false;
    while (entry) {
        bool correction = entry->act != ACT_ADD && entry->act != ACT_REFINE;
        if (correction) {
            taken = false;
        } else if (!taken) {
            first = entry->strike;
            taken = true;
        }
        entry = fold_before(fold, entry->name);
    }
    return first;
}

static bool is_of(const struct fold *fold, const struct subject *subject, int live, int reference)
{
    const struct desk_row *desks = NULL;
    fold_desks(fold, &desks);
    int root = desks[subject->now.name.desk].root;
    return root != reference &&
           (live == REFERENCE_OFFICIAL ? subject->official >> subject->entered_corner & 1
                                       : root == live);
}

/* For how long the official clock had stood at that moment; before the first round below 0. */
static int32_t idle_at(const struct fold *fold, int64_t at_ms)
{
    const struct subject *subjects = NULL;
    const size_t *states = NULL;
    size_t count = fold_states(fold, &states);
    int64_t first_ms = 0, stopped_ms = 0;
    struct round_clock clock;
    clock_init(&clock, &fold_clock(fold)->plan);
    fold_subjects(fold, &subjects);
    for (size_t i = 0; i < count; i++) {
        const struct subject *subject = &subjects[states[i]];
        if (subject->now.kind != ENTRY_CLOCK || !subject->counts) {
            continue;
        }
        first_ms = first_ms ? first_ms : subject->now.at_ms;
        if (subject->now.at_ms <= at_ms) {
            clock_apply(&clock, &subject->now);
            stopped_ms = subject->now.code == CODE_STOP ? clock.since_ms : stopped_ms;
        }
    }
    struct clock_face face = clock_read(&clock, at_ms);
    int64_t idle = at_ms - (face.state == CLOCK_READY     ? first_ms
                            : face.state == CLOCK_STOPPED ? stopped_ms
                                                          : face.ended_ms);
    return face.state == CLOCK_RUNNING || idle > 1000000000 || idle < -1000000000 ? 0
                                                                                  : (int32_t)idle;
}

static int read_live(struct align_strike **out, size_t *count, const struct fold *fold, int live,
                     int reference, uint8_t corners)
{
    const struct subject *subjects = NULL;
    size_t known = fold_subjects(fold, &subjects);
    struct entry now;
    *count = 0;
    *out = calloc(known + 1, sizeof **out);
    for (size_t i = 0; *out && i < known; i++) {
        if (subjects[i].now.kind != ENTRY_STRIKE || !is_of(fold, &subjects[i], live, reference) ||
            !before_settled(fold, &subjects[i], &now) || !(corners >> now.strike.corner & 1)) {
            continue;
        }
        (*out)[(*count)++] =
            (struct align_strike){.name = now.name,
                                  .strike = now.strike,
                                  .round = now.round,
                                  .off_clock = now.off_clock,
                                  .elapsed_ms = now.elapsed_ms,
                                  .idle_ms = now.off_clock ? idle_at(fold, now.at_ms) : 0,
                                  .at_ms = now.at_ms};
    }
    if (*out) {
        align_sort(*out, *count);
    }
    return *out ? 0 : ERROR_MEMORY;
}

static bool same(const struct strike *a, const struct strike *b)
{
    return a->corner == b->corner && a->limb == b->limb && a->target == b->target &&
           (a->outcome == OUTCOME_LANDED) == (b->outcome == OUTCOME_LANDED);
}

/* Typed wrong, taken back and typed again: a strike of that corner taken back a moment before. */
static bool was_retyped(const struct fold *fold, const struct align_strike *strike)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    const struct subject *own = fold_subject(fold, strike->name);
    size_t count = fold_subjects(fold, &subjects);
    fold_desks(fold, &desks);
    for (size_t i = own ? (size_t)(own - subjects) : 0; i-- > 0;) {
        const struct entry *now = &subjects[i].now;
        if (strike->at_ms - now->at_ms > REFERENCE_RETYPE_MS && i + 64 < count) {
            break;
        }
        const struct entry *last = fold_entry(fold, subjects[i].last);
        if (now->kind == ENTRY_STRIKE && !subjects[i].live && last && last->undoes.desk >= 0 &&
            desks[now->name.desk].root == desks[strike->name.desk].root &&
            strike->at_ms >= now->at_ms && strike->at_ms - now->at_ms <= REFERENCE_RETYPE_MS &&
            now->strike.corner == strike->strike.corner && !same(&now->strike, &strike->strike)) {
            return true;
        }
    }
    return false;
}

/* --- rows --- */

static int burst_of(const struct align_strike *strikes, size_t count, size_t at)
{
    int near = 1;
    for (size_t i = at; i-- > 0 && strikes[i].round == strikes[at].round &&
                        strikes[at].elapsed_ms - strikes[i].elapsed_ms <= REFERENCE_BURST_MS;) {
        near++;
    }
    for (size_t i = at + 1; i < count && strikes[i].round == strikes[at].round &&
                            strikes[i].elapsed_ms - strikes[at].elapsed_ms <= REFERENCE_BURST_MS;
         i++) {
        near++;
    }
    return near < 3 ? near : near < 5 ? 3 : 5;
}

static int minute_of(const struct clock_plan *plan, const struct align_strike *strike)
{
    int32_t length = clock_round_length(plan, strike->round);
    int64_t ran = strike->elapsed_ms < length ? strike->elapsed_ms : length - 1;
    for (int round = 1; round < strike->round; round++) {
        ran += clock_round_length(plan, round);
    }
    return (int)(ran / 60000) + 1;
}

static struct reference_row *row_of(struct reference *out, size_t *room, enum reference_by by,
                                    int value)
{
    for (size_t i = 0; i < out->rows; i++) {
        if (out->row[i].by == by && out->row[i].value == value) {
            return &out->row[i];
        }
    }
    if (!grow_array(&out->row, sizeof *out->row, out->rows, 1, room)) {
        return NULL;
    }
    out->row[out->rows] = (struct reference_row){.by = (uint8_t)by, .value = (int16_t)value};
    return &out->row[out->rows++];
}

/* The rows of one strike of a list, one a kind, as indexes. False: out of memory. */
static bool rows_of(size_t index[BY_KINDS], struct reference *out, size_t *room,
                    const struct align_strike *strikes, size_t count, size_t at,
                    const struct clock_plan *plan)
{
    const struct align_strike *strike = &strikes[at];
    const int values[BY_KINDS] = {
        [BY_CORNER] = strike->strike.corner,     [BY_LIMB] = strike->strike.limb,
        [BY_TARGET] = strike->strike.target,     [BY_ROUND] = strike->round,
        [BY_MINUTE] = minute_of(plan, strike),   [BY_BURST] = burst_of(strikes, count, at),
        [BY_POSITION] = strike->strike.position,
    };
    for (int by = 0; by < BY_KINDS; by++) {
        struct reference_row *row = row_of(out, room, (enum reference_by)by, values[by]);
        if (!row) {
            return false;
        }
        index[by] = (size_t)(row - out->row);
    }
    return true;
}

static int compare_rows(const void *one, const void *other)
{
    const struct reference_row *a = one, *b = other;
    return a->by != b->by ? a->by - b->by : a->value - b->value;
}

/* What the pairs of strike `at` of the reference say, each with its probability. */
static void add_ties(struct reference *out, const size_t index[BY_KINDS], size_t at,
                     const struct strike *first, const bool *retyped, double *paired)
{
    const struct agree *agree = &out->agree;
    const struct strike *true_one = &agree->a[at].strike;
    for (size_t i = 0; i < agree->align.tie_count; i++) {
        const struct align_tie *tie = &agree->align.ties[i];
        if (tie->a != (int32_t)at) {
            continue;
        }
        const struct strike *live = &agree->b[tie->b].strike;
        const bool wrong[AGREE_FIELDS] = {
            true_one->corner != live->corner, true_one->limb != live->limb,
            true_one->target != live->target,
            (true_one->outcome == OUTCOME_LANDED) != (live->outcome == OUTCOME_LANDED)};
        bool right = same(true_one, live);
        paired[tie->b] += tie->likely;
        for (int by = 0; by < BY_KINDS; by++) {
            struct reference_row *row = &out->row[index[by]];
            row->had += tie->likely;
            row->right += right ? tie->likely : 0;
            row->first += right && same(&first[tie->b], live) && !retyped[tie->b] ? tie->likely : 0;
            for (int field = 0; field < AGREE_FIELDS; field++) {
                row->wrong[field] += wrong[field] ? tie->likely : 0;
            }
        }
        out->landed[true_one->outcome == OUTCOME_LANDED][live->outcome == OUTCOME_LANDED] +=
            tie->likely;
    }
}

static double least(double value, double most)
{
    return value < 0 ? 0 : value > most ? most : value;
}

static void add_intervals(struct reference *out)
{
    for (size_t i = 0; i < out->rows; i++) {
        struct reference_row *row = &out->row[i];
        row->had = least(row->had, row->of);
        row->recall = interval_wilson(row->had, row->of, AGREE_LEVEL);
    }
    double landed = out->landed[1][0] + out->landed[1][1];
    double said = out->landed[0][1] + out->landed[1][1];
    out->sensitivity = interval_wilson(out->landed[1][1], landed, AGREE_LEVEL);
    out->ppv = interval_wilson(out->landed[1][1], said, AGREE_LEVEL);
    for (int field = 0; out->rows > 0 && field < AGREE_FIELDS; field++) {
        const struct reference_row *all = &out->row[0];
        out->wrong[field] =
            interval_wilson(least(all->wrong[field], all->had), all->had, AGREE_LEVEL);
    }
}

static int make_rows(struct reference *out, const struct fold *fold)
{
    const struct agree *agree = &out->agree;
    const struct clock_plan *plan = &fold_clock(fold)->plan;
    size_t index[BY_KINDS], room = 0;
    struct strike *first = calloc(agree->b_count + 1, sizeof *first);
    bool *retyped = calloc(agree->b_count + 1, sizeof *retyped);
    double *paired = calloc(agree->b_count + 1, sizeof *paired);
    int code = first && retyped && paired ? 0 : ERROR_MEMORY;
    for (size_t i = 0; !code && i < agree->b_count; i++) {
        const struct subject *subject = fold_subject(fold, agree->b[i].name);
        first[i] = subject ? first_said(fold, subject) : agree->b[i].strike;
        retyped[i] = was_retyped(fold, &agree->b[i]);
    }
    for (size_t i = 0; !code && i < agree->a_count; i++) {
        if (!rows_of(index, out, &room, agree->a, agree->a_count, i, plan)) {
            code = ERROR_MEMORY;
            break;
        }
        for (int by = 0; by < BY_KINDS; by++) {
            out->row[index[by]].of++;
        }
        add_ties(out, index, i, first, retyped, paired);
    }
    for (size_t i = 0; !code && i < agree->b_count; i++) {
        if (!rows_of(index, out, &room, agree->b, agree->b_count, i, plan)) {
            code = ERROR_MEMORY;
            break;
        }
        for (int by = 0; by < BY_KINDS; by++) {
            out->row[index[by]].added += least(1 - paired[i], 1);
        }
    }
    free(first);
    free(retyped);
    free(paired);
    if (!code && out->rows > 0) {
        qsort(out->row, out->rows, sizeof *out->row, compare_rows);
        add_intervals(out);
    }
    return code;
}

/* --- lag and figures --- */

static int compare_doubles(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

/* Type 7 of Hyndman and Fan, as agree.c has it. */
static double quantile(const double *sorted, size_t count, double share)
{
    double at = (double)(count - 1) * share;
    size_t below = (size_t)at;
    size_t above = below + 1 < count ? below + 1 : below;
    return sorted[below] + (at - (double)below) * (sorted[above] - sorted[below]);
}

/* A pair that both have in one round, by its clock: what the live key is behind by. */
static bool pair_of(const struct agree *agree, size_t at, int *round, double *minute,
                    double *behind)
{
    struct align_link link = agree->align.links[at];
    if (link.a < 0 || link.b < 0 || agree->a[link.a].round != agree->b[link.b].round ||
        !agree_by_clock(agree, agree->a[link.a].round)) {
        return false;
    }
    const struct align_strike *frame = &agree->a[link.a];
    *round = frame->round;
    *minute = (double)frame->elapsed_ms / 60000;
    *behind = (double)align_behind(frame, &agree->b[link.b]);
    return true;
}

/* Of a round, 0: of all. `span` has room for every pair. */
static struct reference_lag lag_of(const struct agree *agree, int round, double *span)
{
    struct reference_lag lag = {0};
    int in_round = 0;
    double minute = 0, behind = 0;
    for (size_t i = 0; i < agree->align.count; i++) {
        if (pair_of(agree, i, &in_round, &minute, &behind) && (!round || in_round == round)) {
            span[lag.of++] = behind;
        }
    }
    if (lag.of > 0) {
        qsort(span, (size_t)lag.of, sizeof *span, compare_doubles);
        lag.median_ms = quantile(span, (size_t)lag.of, 0.5);
        lag.p90_ms = quantile(span, (size_t)lag.of, 0.9);
    }
    return lag;
}

/* The slope that all rounds share, by least squares, each round about its own mean (analysis of
 * covariance): a bell's late key shifts its round as a whole. */
static double drift_of(const struct agree *agree)
{
    struct {
        double n, x, y;
    } mean[ROUND_MAX + 1] = {{0}};
    double xx = 0, xy = 0, minute = 0, behind = 0;
    int round = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < agree->align.count; i++) {
            if (!pair_of(agree, i, &round, &minute, &behind)) {
                continue;
            }
            if (pass == 0) {
                mean[round].n++;
                mean[round].x += minute;
                mean[round].y += behind;
            } else {
                double x = minute - mean[round].x / mean[round].n;
                xx += x * x;
                xy += x * (behind - mean[round].y / mean[round].n);
            }
        }
    }
    return xx > 0 ? xy / xx : 0;
}

static int measure_lag(struct reference *out)
{
    double *span = calloc(out->agree.align.paired + 1, sizeof *span);
    if (!span) {
        return ERROR_MEMORY;
    }
    for (int round = 1; round <= ROUND_MAX; round++) {
        out->lag_round[round] = lag_of(&out->agree, round, span);
    }
    out->lag = lag_of(&out->agree, 0, span);
    out->lag_drift_ms = drift_of(&out->agree);
    free(span);
    return 0;
}

static void sum_up(int totals[REFERENCE_COUNTS], const struct align_strike *strikes, size_t count,
                   int corner)
{
    for (size_t i = 0; i < count; i++) {
        if (strikes[i].strike.corner == corner) {
            totals[REFERENCE_ATTEMPTED]++;
            totals[REFERENCE_LANDED] += strikes[i].strike.outcome == OUTCOME_LANDED;
            totals[REFERENCE_BLOCKED] += strikes[i].strike.outcome == OUTCOME_BLOCKED;
        }
    }
}

int reference_make(struct reference *out, const struct fold *fold, const struct bout *bout,
                   const struct rules *rules, int reference, int live, uint8_t corners)
{
    const struct align_options options = ALIGN_DEFAULTS;
    struct align_strike *a = NULL, *b = NULL;
    size_t a_count = 0, b_count = 0;
    *out = (struct reference){0};
    int code = agree_read_alone(&a, &a_count, fold, bout, reference, corners);
    code = code ? code : read_live(&b, &b_count, fold, live, reference, corners);
    code = code ? code : agree_make(&out->agree, a, a_count, b, b_count, &options, rules);
    code = code ? code : make_rows(out, fold);
    code = code ? code : measure_lag(out);
    for (int corner = 0; !code && corner < CORNER_COUNT; corner++) {
        struct reference_figure *figure = &out->figure[corner];
        figure->corner = (uint8_t)corner;
        sum_up(figure->reference, a, a_count, corner);
        sum_up(figure->live, b, b_count, corner);
    }
    out->tells = !code && a_count > 0 && b_count > 0 && agree_tells(&out->agree);
    free(a);
    free(b);
    return code;
}

void reference_release(struct reference *reference)
{
    agree_release(&reference->agree);
    free(reference->row);
    *reference = (struct reference){0};
}

/* It tagged from a recording, so what it has is no live count. */
static bool is_recorded(const struct fold *fold, int root)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(fold, &subjects);
    struct recording recording;
    fold_desks(fold, &desks);
    for (size_t i = 0; i < count; i++) {
        if (desks[subjects[i].now.name.desk].root == root &&
            recording_read(&recording, &subjects[i].now)) {
            return true;
        }
    }
    return false;
}

uint8_t reference_official_corners(const struct fold *fold, int reference)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(fold, &subjects);
    uint8_t corners = 0;
    int last = reference; /* asked for, and not live */
    bool live = false;
    fold_desks(fold, &desks);
    for (size_t i = 0; i < count; i++) {
        int root = desks[subjects[i].now.name.desk].root;
        if (subjects[i].now.kind != ENTRY_STRIKE || !subjects[i].counts) {
            continue;
        }
        live = root == last ? live : root != reference && !is_recorded(fold, root);
        last = root;
        if (live) {
            corners |= (uint8_t)(1u << subjects[i].now.strike.corner);
        }
    }
    return corners;
}

static size_t strikes_of(const struct fold *fold, int root)
{
    const struct subject *subjects = NULL;
    const struct desk_row *desks = NULL;
    size_t count = fold_subjects(fold, &subjects), strikes = 0;
    fold_desks(fold, &desks);
    for (size_t i = 0; i < count; i++) {
        strikes += subjects[i].now.kind == ENTRY_STRIKE && subjects[i].live &&
                   desks[subjects[i].now.name.desk].root == root;
    }
    return strikes;
}

int reference_find(const struct fold *fold, uint8_t *corners)
{
    const struct desk_row *desks = NULL;
    const struct subject *subjects = NULL;
    struct recording recording;
    int best = -1;
    size_t most = 0;
    size_t count = fold_subjects(fold, &subjects);
    fold_desks(fold, &desks);
    *corners = 0;
    for (size_t i = 0; i < count; i++) {
        if (!recording_read(&recording, &subjects[i].now)) {
            continue;
        }
        int root = desks[subjects[i].now.name.desk].root;
        size_t strikes = strikes_of(fold, root);
        uint8_t both =
            strikes > most ? agree_corners(fold, root) & reference_official_corners(fold, root) : 0;
        if (both) {
            most = strikes;
            best = root;
            *corners = both;
        }
    }
    return best;
}
