/* agree_sheet.c: agreement as a table for people. */
#include "ringtally/sheet/agree_sheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"

/* A figure with a point in every locale; "-" where there is none. */
static const char *figure(char out[24], bool has, double value, int digits)
{
    long long scale = digits == 3 ? 1000 : digits == 1 ? 10 : 1;
    if (!has || !isfinite(value) || fabs(value) > 1e9) {
        return "-";
    }
    long long whole = llround(fabs(value) * (double)scale);
    const char *sign = value < 0 && whole > 0 ? "-" : "";
    if (digits == 0) {
        snprintf(out, 24, "%s%lld", sign, whole);
    } else {
        snprintf(out, 24, "%s%lld.%0*lld", sign, whole / scale, digits, whole % scale);
    }
    return out;
}

static void add_title(struct buf *out, const struct bout *bout)
{
    struct buf title = BUF_INIT;
    buf_addf(&title, "%s/%d  %s v %s", bout->card, bout->number, bout->fighter[CORNER_RED].name,
             bout->fighter[CORNER_BLUE].name);
    if (title.failed) {
        out->failed = true;
    } else if (text_width(title.text) > 80) {
        buf_add_fit(out, title.text, 80);
    } else {
        buf_adds(out, title.text);
    }
    buf_adds(out, "\n");
    buf_release(&title);
}

static void add_desks(struct buf *out, const struct agree_sheet_view *view)
{
    for (int i = 0; i < view->desks; i++) {
        const struct desk_row *desk = view->desk[i];
        const struct agree *pair = &view->pair[i > 0 ? i - 1 : 0];
        buf_addf(out, "%c  ", 'A' + i);
        buf_add_fit(out, desk->name, 24);
        buf_addf(out, "  %.8s  %-6s  %zu strikes\n", desk->uid, desk->shadow ? "shadow" : "",
                 i > 0 ? pair->b_count : pair->a_count);
    }
}

/* Each warning in the words of whoever reads the sheet, broken at 80 columns. */
static void add_warnings(struct buf *out, const struct agree *pair, char other)
{
    const struct align *align = &pair->align;
    if (pair->warnings >> AGREE_CHANCE & 1) {
        buf_addf(out,
                 "WARNING: hardly more than chance: %.0f pairs are expected, %.0f where %c is\n"
                 "  shifted to where nothing can fit. These desks may not show the same bout.\n",
                 align->expected, align->chance, other);
    }
    if (pair->warnings >> AGREE_UNSURE & 1) {
        buf_addf(out,
                 "WARNING: it cannot be told which strike is which: the fingers are %.0f ms\n"
                 "  apart (standard deviation), and about %.0f of the pairs listed are wrong.\n",
                 align->jitter_ms, align->wrong);
    }
    if (pair->warnings >> AGREE_LIMIT & 1) {
        buf_addf(out,
                 "WARNING: %c's clock stands at the limit of where it was looked for: its true\n"
                 "  lateness may be beyond it.\n",
                 other);
    }
    if (pair->warnings >> AGREE_ALONE & 1) {
        buf_addf(out, "WARNING: many strikes are one desk's alone: %zu only A, %zu only %c.\n",
                 align->only_a, align->only_b, other);
    }
}

static void add_rounds(struct buf *out, const struct agree *pair, char other)
{
    const struct align *align = &pair->align;
    if (align->rounds == 0) {
        return;
    }
    buf_addf(out, "ROUND   A HAS   PAIRS  BY CHANCE  %c BEHIND A  MORE EACH MINUTE  CLOCK\n",
             other);
    for (int i = 0; i < align->rounds; i++) {
        const struct align_round *round = &align->round[i];
        char text[4][24];
        bool far = fabs(round->lateness_ms) >= 100000;
        buf_addf(out, "%5d %7zu %7s %10s %8s %-2s %14s ms  %s\n", round->round, round->strikes,
                 figure(text[0], true, round->paired, 1), figure(text[1], true, round->chance, 1),
                 figure(text[2], true, round->lateness_ms / (far ? 1000 : 1), far ? 1 : 0),
                 far ? "s" : "ms", figure(text[3], true, round->drift, 0),
                 round->base == ALIGN_UTC ? "UTC" : "each its own");
    }
}

static void add_paired(struct buf *out, const struct agree *pair, char other)
{
    const struct align *align = &pair->align;
    char median[24], low[24], high[24];
    buf_addf(out, "\nA AND %c\n%zu strikes paired, %zu only A, %zu only %c\n", other, align->paired,
             align->only_a, align->only_b, other);
    if (pair->lateness.defined) {
        buf_addf(out, "%c behind A, each on its own clock: median %s ms, quartiles %s and %s\n",
                 other, figure(median, true, pair->lateness.median, 0),
                 figure(low, true, pair->lateness.low, 0),
                 figure(high, true, pair->lateness.high, 0));
    }
    add_warnings(out, pair, other);
    add_rounds(out, pair, other);
}

/* What is left when wrong pairs are taken out. */
static void add_estimates(struct buf *out, const struct agree *pair, char other)
{
    const struct align *align = &pair->align;
    char text[6][24];
    if (!agree_tells(pair)) {
        buf_adds(out, "\nESTIMATED OVER ALL PAIRINGS: nothing; see the warning above.\n");
        return;
    }
    double only_a = fmax((double)pair->a_count - align->expected, 0);
    double only_b = fmax((double)pair->b_count - align->expected, 0);
    buf_addf(out,
             "\nESTIMATED OVER ALL PAIRINGS (about %s of the pairs listed are wrong)\n"
             "%s pairs; %s only A, %s only %c; jitter %s ms (standard deviation)\n"
             "FIELD   AGREED %%  KAPPA 95 %% INTERVAL\n",
             figure(text[0], true, align->wrong, 1), figure(text[1], true, align->expected, 1),
             figure(text[2], true, only_a, 1), figure(text[3], true, only_b, 1), other,
             figure(text[4], true, align->jitter_ms, 0));
    for (int i = 0; i < AGREE_FIELDS; i++) {
        const struct kappa *kappa = &pair->field[i].estimated;
        buf_addf(out, "%-6s %9s %6s %6s %6s\n", agree_field_names[i],
                 figure(text[0], kappa->agreement.counted, kappa->agreement.observed * 100, 1),
                 figure(text[1], kappa->agreement.defined, kappa->agreement.value, 3),
                 figure(text[2], kappa->has_interval, kappa->low, 3),
                 figure(text[3], kappa->has_interval, kappa->high, 3));
    }
}

static void add_fields(struct buf *out, const struct agree *pair, char other)
{
    const struct align *align = &pair->align;
    buf_adds(out, "\nFIELD     AGREED     %   ALONE  KAPPA    SE 95 % INTERVAL  ALPHA    AC1  "
                  "YULE Q\n");
    for (int i = 0; i < AGREE_FIELDS; i++) {
        const struct agree_field *field = &pair->field[i];
        const struct kappa *kappa = &field->kappa;
        char agreed[48], alone[48], text[8][24];
        snprintf(agreed, sizeof agreed, "%lld/%zu", (long long)field->agreed, align->paired);
        snprintf(alone, sizeof alone, "%zu+%zu", align->only_a, align->only_b);
        buf_addf(out, "%-6s %9s %5s %7s %6s %5s %6s %6s %6s %6s %7s\n", agree_field_names[i],
                 agreed,
                 figure(text[0], kappa->agreement.counted, kappa->agreement.observed * 100, 1),
                 alone, figure(text[1], kappa->agreement.defined, kappa->agreement.value, 3),
                 figure(text[2], kappa->has_interval, kappa->se, 3),
                 figure(text[3], kappa->has_interval, kappa->low, 3),
                 figure(text[4], kappa->has_interval, kappa->high, 3),
                 figure(text[5], field->alpha.defined, field->alpha.value, 3),
                 figure(text[6], field->ac1.defined, field->ac1.value, 3),
                 figure(text[7], field->has_q, field->q, 3));
    }
    buf_addf(out, "Kappa is of the pairs listed alone and hides misses: %zu only A, %zu only %c.\n",
             align->only_a, align->only_b, other);
    buf_adds(out, "In words of Landis & Koch (1977), a convention and no verdict:\n");
    for (int i = 0; i < AGREE_FIELDS; i++) {
        const struct agreement *agreement = &pair->field[i].kappa.agreement;
        buf_addf(out, "%s %s %s%s", i % 2 ? "" : " ", agree_field_names[i],
                 agreement->defined ? kappa_word(agreement->value) : "-", i % 2 ? "\n" : ",");
    }
}

static void add_total(struct buf *out, const struct agree_total *total)
{
    char error[24];
    buf_addf(out, total->a == total->b ? "  %5d %5d %5d %7s" : "  %5d %5d %+5d %7s", total->a,
             total->b, total->b - total->a, figure(error, total->has_error, total->error, 1));
}

static void add_totals(struct buf *out, const struct agree *pair, char other)
{
    buf_addf(out,
             "\nTOTALS           ATTEMPTED                  LANDED\n"
             "                     A     %c   %c-A   ERROR      A     %c   %c-A   ERROR\n",
             other, other, other, other);
    for (int i = 0; i + 1 < pair->totals; i += 2) {
        const struct agree_total *total = &pair->total[i];
        buf_addf(out, "%-13s",
                 total->limb < 0 ? corner_names[total->corner] : limb_words[total->limb]);
        buf_adds(out, " ");
        add_total(out, total);
        add_total(out, total + 1);
        buf_adds(out, "\n");
    }
    buf_adds(out, "ERROR: the difference in percent of the mean of both.\n");
}

static void add_cells(struct buf *out, const struct agree *pair)
{
    const struct {
        const char *name;
        const struct agree_cells *cells;
    } kinds[] = {{"attempted", &pair->attempted}, {"landed", &pair->landed}};
    buf_adds(out, "\nCELLS (corner x limb x target that either has)\n");
    for (size_t i = 0; i < 2; i++) {
        const struct agree_cells *cells = kinds[i].cells;
        char exact[24], within[24];
        buf_addf(
            out, "%-9s  %d cells: equal %d (%s %%), within one %d (%s %%)\n", kinds[i].name,
            cells->used, cells->exact,
            figure(exact, cells->used, 100.0 * cells->exact / (cells->used ? cells->used : 1), 1),
            cells->within_one,
            figure(within, cells->used, 100.0 * cells->within_one / (cells->used ? cells->used : 1),
                   1));
    }
}

/* A category in at most seven columns. */
static void category_text(char out[16], enum agree_fields field, int value)
{
    const char *words = field == AGREE_LIMB ? limb_words[value] : "";
    switch (field) {
    case AGREE_CORNER:
        snprintf(out, 16, "%s", corner_names[value]);
        break;
    case AGREE_LIMB:
        if (strncmp(words, "left ", 5) == 0) {
            snprintf(out, 16, "L %s", words + 5);
        } else if (strncmp(words, "right ", 6) == 0) {
            snprintf(out, 16, "R %s", words + 6);
        } else {
            snprintf(out, 16, "%s", words);
        }
        break;
    case AGREE_TARGET:
        snprintf(out, 16, "%s", target_names[value]);
        break;
    default:
        snprintf(out, 16, "%s", value ? "yes" : "no");
    }
}

static void add_confusion(struct buf *out, const struct agree *pair, char other)
{
    buf_addf(out, "\nWHO SAYS WHAT (rows A, columns %c; pairs listed)\n", other);
    for (int f = 0; f < AGREE_FIELDS; f++) {
        const struct agree_field *field = &pair->field[f];
        char text[16];
        buf_addf(out, "%-7s", agree_field_names[f]);
        for (int i = 0; i < field->categories; i++) {
            category_text(text, (enum agree_fields)f, field->category[i]);
            buf_addf(out, " %7s", text);
        }
        buf_adds(out, "\n");
        for (int row = 0; row < field->categories; row++) {
            category_text(text, (enum agree_fields)f, field->category[row]);
            buf_addf(out, "%7s", text);
            for (int column = 0; column < field->categories; column++) {
                long long cell = field->table[row * field->categories + column];
                if (cell) {
                    buf_addf(out, " %7lld", cell);
                } else {
                    buf_adds(out, "       .");
                }
            }
            buf_adds(out, "\n");
        }
    }
}

static void add_difference(struct buf *out, const struct agree *pair, struct align_link link)
{
    const struct align_strike *const strikes[] = {link.a >= 0 ? &pair->a[link.a] : NULL,
                                                  link.b >= 0 ? &pair->b[link.b] : NULL};
    const struct align_strike *at = strikes[0] ? strikes[0] : strikes[1];
    char words[128];
    if (!at) {
        return;
    }
    buf_addf(out, "%2d %3d:%02d.%d ", at->round, (int)(at->elapsed_ms / 60000),
             (int)(at->elapsed_ms / 1000 % 60), (int)(at->elapsed_ms / 100 % 10));
    for (int i = 0; i < 2; i++) {
        agree_words(words, sizeof words, strikes[i]);
        buf_add_fit(out, words, 26);
        buf_adds(out, i == 0 ? " " : "");
    }
    for (int i = 0; i < 2; i++) {
        if (strikes[i]) {
            buf_addf(out, " #%lld", (long long)strikes[i]->name.seq);
        } else {
            buf_adds(out, " -");
        }
    }
    buf_adds(out, "\n");
}

static void add_differences(struct buf *out, const struct agree *pair, char other)
{
    buf_addf(out, "\nDIFFERENCES (%zu)\n", pair->differences);
    if (pair->differences) {
        buf_addf(out, " R   IN RND  %-26s %-26s ENTRIES\n", "A", (char[]){other, '\0'});
    }
    for (size_t i = 0; i < pair->differences; i++) {
        add_difference(out, pair, pair->difference[i].link);
    }
}

static void add_many(struct buf *out, const struct agree_sheet_view *view)
{
    const struct agree_many *many = view->many;
    buf_addf(out,
             "\nALL %d DESKS (each paired with A; what A lacks is in no figure)\n"
             "Fleiss' kappa: of A's %zu strikes the %zu that all have.\n"
             "Krippendorff's alpha, Gwet's AC1: all of A's; what a desk lacks is missing.\n"
             "FIELD   FLEISS  ALPHA    AC1\n",
             many->desks, many->strikes, many->shared);
    for (int i = 0; i < AGREE_FIELDS; i++) {
        const struct agreement *fleiss = &many->field[i].fleiss;
        const struct agreement *alpha = &many->field[i].alpha;
        const struct agreement *ac1 = &many->field[i].ac1;
        char text[3][24];
        buf_addf(out, "%-6s  %6s %6s %6s\n", agree_field_names[i],
                 figure(text[0], fleiss->defined, fleiss->value, 3),
                 figure(text[1], alpha->defined, alpha->value, 3),
                 figure(text[2], ac1->defined, ac1->value, 3));
    }
}

int agree_sheet_table(struct buf *out, const struct agree_sheet_view *view, struct error *err)
{
    add_title(out, view->bout);
    add_desks(out, view);
    buf_addf(out, "paired by what the desks say and when, at most %d ms apart\n",
             (int)view->options->window_ms);
    for (int i = 0; i + 1 < view->desks; i++) {
        const struct agree *pair = &view->pair[i];
        char other = (char)('B' + i);
        add_paired(out, pair, other);
        add_fields(out, pair, other);
        add_estimates(out, pair, other);
        add_totals(out, pair, other);
        add_cells(out, pair);
        add_confusion(out, pair, other);
        add_differences(out, pair, other);
    }
    if (view->many) {
        add_many(out, view);
    }
    return out->failed ? error_memory(err) : 0;
}
