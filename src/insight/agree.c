/* agree.c: how well two desks agree. */
#include "ringtally/insight/agree.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/stats/contingency.h"

const char *const agree_field_names[AGREE_FIELDS] = {"corner", "limb", "target", "landed"};
const char *const agree_warning_names[AGREE_WARNINGS] = {"chance", "limit", "alone", "unsure"};

/* What a strike says in a field. */
static int says(const struct align_strike *strike, enum agree_fields field)
{
    switch (field) {
    case AGREE_CORNER:
        return strike->strike.corner;
    case AGREE_LIMB:
        return strike->strike.limb;
    case AGREE_TARGET:
        return strike->strike.target;
    default:
        return strike->strike.outcome == OUTCOME_LANDED;
    }
}

static bool known_to_rules(const struct rules *rules, enum agree_fields field, int value)
{
    switch (field) {
    case AGREE_LIMB:
        return rules->targets[value] != 0;
    case AGREE_TARGET:
        for (int limb = 0; limb < LIMB_COUNT; limb++) {
            if (rules->targets[limb] >> value & 1) {
                return true;
            }
        }
        return false;
    default:
        return true;
    }
}

/* A pad has a knee key or two, one for each side: what nobody used of the two ways is no category.
 */
static bool is_other_way(const bool used[LIMB_COUNT], int limb)
{
    enum limb whole = pad_limb(limb_column((enum limb)limb));
    bool sides = false;
    for (int other = 0; other < LIMB_COUNT; other++) {
        sides = sides || (used[other] && other != (int)whole &&
                          limb_column((enum limb)other) == limb_column((enum limb)limb));
    }
    return limb == (int)whole ? sides && !used[limb] : !sides;
}

static void find_categories(struct agree *agree, enum agree_fields which, const struct rules *rules)
{
    static const int sizes[AGREE_FIELDS] = {CORNER_COUNT, LIMB_COUNT, TARGET_COUNT, 2};
    struct agree_field *field = &agree->field[which];
    bool used[LIMB_COUNT] = {false};
    for (size_t i = 0; i < agree->a_count; i++) {
        used[says(&agree->a[i], which)] = true;
    }
    for (size_t i = 0; i < agree->b_count; i++) {
        used[says(&agree->b[i], which)] = true;
    }
    for (int value = 0; value < sizes[which]; value++) {
        if (used[value] || (known_to_rules(rules, which, value) &&
                            !(which == AGREE_LIMB && is_other_way(used, value)))) {
            field->category[field->categories++] = (uint8_t)value;
        }
    }
}

static int index_of(const struct agree_field *field, int value)
{
    int index = 0;
    while (index + 1 < field->categories && field->category[index] != value) {
        index++;
    }
    return index;
}

/* The table over all pairings. A pair that is a toss of a coin tells less than a sure one: the
 * interval is of the sum of the squares, the pairs that are known to be one. */
static void estimate_field(struct agree *agree, enum agree_fields which)
{
    struct agree_field *field = &agree->field[which];
    const struct align *align = &agree->align;
    double table[LIMB_COUNT * LIMB_COUNT] = {0};
    double sum = 0, sure = 0;
    for (size_t i = 0; i < align->tie_count; i++) {
        const struct align_tie *tie = &align->ties[i];
        int row = index_of(field, says(&agree->a[tie->a], which));
        int column = index_of(field, says(&agree->b[tie->b], which));
        field->expected[row * field->categories + column] += tie->likely;
        sum += tie->likely;
        sure += tie->likely * tie->likely;
    }
    for (int i = 0; i < field->categories * field->categories; i++) {
        table[i] = field->expected[i] * (sum > 0 ? sure / sum : 0);
    }
    field->estimated = kappa_cohen(table, (size_t)field->categories, AGREE_LEVEL);
}

static void measure_field(struct agree *agree, enum agree_fields which, const struct rules *rules)
{
    struct agree_field *field = &agree->field[which];
    find_categories(agree, which, rules);
    for (size_t i = 0; i < agree->align.count; i++) {
        struct align_link link = agree->align.links[i];
        if (link.a >= 0 && link.b >= 0) {
            int row = index_of(field, says(&agree->a[link.a], which));
            int column = index_of(field, says(&agree->b[link.b], which));
            field->table[row * field->categories + column]++;
            field->agreed += row == column;
        }
    }
    size_t q = (size_t)field->categories;
    double table[LIMB_COUNT * LIMB_COUNT];
    for (size_t i = 0; i < q * q; i++) {
        table[i] = (double)field->table[i];
    }
    field->kappa = kappa_cohen(table, q, AGREE_LEVEL);
    field->alpha = kappa_alpha(table, q);
    field->ac1 = kappa_ac1(table, q);
    if (q == 2) {
        field->has_q = contingency_yule_q(&field->q, field->table[0], field->table[1],
                                          field->table[2], field->table[3]);
    }
    estimate_field(agree, which);
}

static void find_warnings(struct agree *agree)
{
    const struct align *align = &agree->align;
    double strikes = (double)(agree->a_count + agree->b_count);
    double alone = strikes - 2 * align->expected;
    unsigned found = 0;
    for (int i = 0; i < align->rounds; i++) {
        found |= align->round[i].at_limit ? 1u << AGREE_LIMIT : 0;
    }
    if (agree->a_count > 0 && agree->b_count > 0 &&
        (align->chance >= AGREE_CHANCE_SHARE * align->expected ||
         align->expected <
             AGREE_PAIRED_SHARE * fmin((double)agree->a_count, (double)agree->b_count))) {
        found |= 1u << AGREE_CHANCE;
    }
    if (strikes > 0 && alone >= AGREE_ALONE_SHARE * strikes) {
        found |= 1u << AGREE_ALONE;
    }
    if (align->jitter_ms > AGREE_JITTER_MAX_MS ||
        align->wrong > AGREE_WRONG_SHARE * (double)align->paired) {
        found |= 1u << AGREE_UNSURE;
    }
    agree->warnings = (uint8_t)found;
}

bool agree_tells(const struct agree *agree)
{
    return !(agree->warnings & (1u << AGREE_CHANCE | 1u << AGREE_UNSURE));
}

struct sums {
    struct count all[CORNER_COUNT];
    struct count limb[CORNER_COUNT][LIMB_COUNT];
    struct count cell[CORNER_COUNT][LIMB_COUNT][TARGET_COUNT];
};

static void sum_up(struct sums *out, const struct align_strike *strikes, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct strike *strike = &strikes[i].strike;
        struct count *const counts[] = {&out->all[strike->corner],
                                        &out->limb[strike->corner][strike->limb],
                                        &out->cell[strike->corner][strike->limb][strike->target]};
        for (size_t k = 0; k < sizeof counts / sizeof counts[0]; k++) {
            counts[k]->attempted++;
            counts[k]->landed += strike->outcome == OUTCOME_LANDED;
        }
    }
}

static void add_total(struct agree *agree, int corner, int limb, const struct count *a,
                      const struct count *b)
{
    if (limb >= 0 && a->attempted + b->attempted == 0) {
        return;
    }
    for (int landed = 0; landed < 2; landed++) {
        struct agree_total *total = &agree->total[agree->totals++];
        *total = (struct agree_total){.corner = (uint8_t)corner,
                                      .limb = (int8_t)limb,
                                      .landed = landed != 0,
                                      .a = landed ? a->landed : a->attempted,
                                      .b = landed ? b->landed : b->attempted};
        total->has_error = kappa_percentage_error(&total->error, total->a, total->b);
    }
}

static void add_cell(struct agree_cells *cells, int a, int b)
{
    if (a > 0 || b > 0) {
        cells->used++;
        cells->exact += a == b;
        cells->within_one += abs(a - b) <= 1;
    }
}

static void compare_totals(struct agree *agree)
{
    struct sums a = {0};
    struct sums b = {0};
    sum_up(&a, agree->a, agree->a_count);
    sum_up(&b, agree->b, agree->b_count);
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        add_total(agree, corner, -1, &a.all[corner], &b.all[corner]);
        for (int limb = 0; limb < LIMB_COUNT; limb++) {
            add_total(agree, corner, limb, &a.limb[corner][limb], &b.limb[corner][limb]);
            for (int target = 0; target < TARGET_COUNT; target++) {
                const struct count *of_a = &a.cell[corner][limb][target];
                const struct count *of_b = &b.cell[corner][limb][target];
                add_cell(&agree->attempted, of_a->attempted, of_b->attempted);
                add_cell(&agree->landed, of_a->landed, of_b->landed);
            }
        }
    }
}

static int compare_spans(const void *one, const void *other)
{
    int64_t a = *(const int64_t *)one;
    int64_t b = *(const int64_t *)other;
    return (a > b) - (a < b);
}

static double quantile(const int64_t *sorted, size_t count, double share)
{
    double at = (double)(count - 1) * share;
    size_t below = (size_t)at;
    size_t above = below + 1 < count ? below + 1 : below;
    return (double)sorted[below] + (at - (double)below) * (double)(sorted[above] - sorted[below]);
}

bool agree_by_clock(const struct agree *agree, int round)
{
    for (int i = 0; i < agree->align.rounds; i++) {
        if (agree->align.round[i].round == round) {
            return agree->align.round[i].base != ALIGN_UTC;
        }
    }
    return true;
}

static int measure_lateness(struct agree *agree)
{
    const struct align *align = &agree->align;
    size_t count = 0;
    int64_t *spans = calloc(align->paired + 1, sizeof *spans);
    if (!spans) {
        return ERROR_MEMORY;
    }
    for (size_t i = 0; i < align->count; i++) {
        struct align_link link = align->links[i];
        if (link.a >= 0 && link.b >= 0) {
            const struct align_strike *a = &agree->a[link.a];
            const struct align_strike *b = &agree->b[link.b];
            if (a->round == b->round && agree_by_clock(agree, a->round)) {
                spans[count++] = align_behind(a, b);
            }
        }
    }
    if (count > 0) {
        qsort(spans, count, sizeof *spans, compare_spans);
        agree->lateness =
            (struct agree_lateness){true, quantile(spans, count, 0.5), quantile(spans, count, 0.25),
                                    quantile(spans, count, 0.75)};
    }
    free(spans);
    return 0;
}

static int list_differences(struct agree *agree)
{
    agree->difference = calloc(agree->align.count + 1, sizeof *agree->difference);
    if (!agree->difference) {
        return ERROR_MEMORY;
    }
    for (size_t i = 0; i < agree->align.count; i++) {
        struct align_link link = agree->align.links[i];
        bool paired = link.a >= 0 && link.b >= 0;
        uint8_t fields = 0;
        for (int field = 0; paired && field < AGREE_FIELDS; field++) {
            if (says(&agree->a[link.a], (enum agree_fields)field) !=
                says(&agree->b[link.b], (enum agree_fields)field)) {
                fields |= (uint8_t)(1u << field);
            }
        }
        if (!paired || fields) {
            agree->difference[agree->differences++] = (struct agree_difference){link, fields};
        }
    }
    return 0;
}

static bool copy(struct align_strike **out, size_t *out_count, const struct align_strike *from,
                 size_t count)
{
    *out = calloc(count + 1, sizeof **out);
    if (!*out) {
        return false;
    }
    *out_count = count;
    if (count > 0) {
        memcpy(*out, from, count * sizeof **out);
    }
    return true;
}

int agree_make(struct agree *out, const struct align_strike *a, size_t a_count,
               const struct align_strike *b, size_t b_count, const struct align_options *options,
               const struct rules *rules)
{
    *out = (struct agree){0};
    int code = copy(&out->a, &out->a_count, a, a_count) && copy(&out->b, &out->b_count, b, b_count)
                   ? 0
                   : ERROR_MEMORY;
    code = code ? code : align_make(&out->align, out->a, a_count, out->b, b_count, options);
    code = code ? code : measure_lateness(out);
    code = code ? code : list_differences(out);
    if (code) {
        return code;
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        measure_field(out, (enum agree_fields)field, rules);
    }
    compare_totals(out);
    find_warnings(out);
    return 0;
}

void agree_release(struct agree *agree)
{
    free(agree->a);
    free(agree->b);
    free(agree->difference);
    align_release(&agree->align);
    *agree = (struct agree){0};
}

void agree_words(char *out, unsigned size, const struct align_strike *strike)
{
    char words[80];
    if (!strike) {
        snprintf(out, size, "-");
        return;
    }
    strike_words(words, sizeof words, &strike->strike);
    snprintf(out, size, "%s %s", corner_names[strike->strike.corner], words);
}

/* The categories of the pairs together, each with its index; returns how many. */
static size_t join_categories(int index[LIMB_COUNT], const struct agree *pairs, int pair_count,
                              enum agree_fields which)
{
    size_t count = 0;
    for (int value = 0; value < LIMB_COUNT; value++) {
        bool is = false;
        for (int p = 0; p < pair_count; p++) {
            const struct agree_field *field = &pairs[p].field[which];
            is = is || field->category[index_of(field, value)] == value;
        }
        index[value] = is ? (int)count++ : -1;
    }
    return count;
}

/* How many desks say each category of each strike of the first desk; a desk that lacks the strike
 * is counted nowhere. */
static void count_units(int *counts, size_t categories, const int index[LIMB_COUNT],
                        const struct agree *pairs, int pair_count, enum agree_fields which)
{
    for (int p = 0; p < pair_count; p++) {
        const struct align *align = &pairs[p].align;
        for (size_t i = 0; i < align->count; i++) {
            struct align_link link = align->links[i];
            if (link.a < 0) {
                continue;
            }
            int *row = &counts[(size_t)link.a * categories];
            row[index[says(&pairs[p].a[link.a], which)]] += p == 0;
            if (link.b >= 0) {
                row[index[says(&pairs[p].b[link.b], which)]]++;
            }
        }
    }
}

int agree_many_make(struct agree_many *out, const struct agree *pairs, int pair_count)
{
    size_t strikes = pairs[0].a_count;
    int *counts = malloc((strikes + 1) * LIMB_COUNT * sizeof *counts);
    *out = (struct agree_many){.desks = pair_count + 1, .strikes = strikes};
    if (!counts) {
        return ERROR_MEMORY;
    }
    for (int field = 0; field < AGREE_FIELDS; field++) {
        int index[LIMB_COUNT];
        size_t q = join_categories(index, pairs, pair_count, (enum agree_fields)field);
        memset(counts, 0, (strikes + 1) * LIMB_COUNT * sizeof *counts);
        count_units(counts, q, index, pairs, pair_count, (enum agree_fields)field);
        out->field[field].alpha = reliability_alpha(counts, strikes, q);
        out->field[field].ac1 = reliability_ac1(counts, strikes, q);
        out->shared = 0;
        for (size_t i = 0; i < strikes; i++) {
            int ratings = 0;
            for (size_t k = 0; k < q; k++) {
                ratings += counts[i * q + k];
            }
            if (ratings == pair_count + 1) {
                memmove(&counts[out->shared * q], &counts[i * q], q * sizeof *counts);
                out->shared++;
            }
        }
        out->field[field].fleiss = reliability_fleiss(counts, out->shared, q);
    }
    free(counts);
    return 0;
}
