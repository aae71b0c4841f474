/* reference_sheet.c: the live count against the recording, as a table for people. */
#include "ringtally/sheet/reference_sheet.h"

#include <stdio.h>

static void add_row(struct buf *out, const struct reference_row *row)
{
    char words[48], range[32];
    reference_words(words, sizeof words, row);
    buf_addf(out, "%-18s %5d %7.1f  %-14s %5.1f %5.1f %6.1f %5.1f\n", words, row->of, row->had,
             reference_share(range, &row->recall), row->first, row->right - row->first,
             row->had - row->right, row->added);
}

static void add_rows(struct buf *out, const struct reference *reference)
{
    int by = -1;
    buf_adds(out, "STRIKES OF           HAS    LIVE  HAD (95 %)     FIRST  FIXED   WRONG  ADDED\n");
    for (size_t i = 0; i < reference->rows; i++) {
        const struct reference_row *row = &reference->row[i];
        if (row->by != by && by >= 0) {
            buf_adds(out, "\n");
        }
        by = row->by;
        add_row(out, row);
    }
    buf_adds(out, "HAS: tagged from the recording. LIVE: of them the live count had. FIRST: right\n"
                  "when typed; FIXED: put right live; WRONG: another corner, limb, target or\n"
                  "outcome. ADDED: live alone. Expected over all pairings: no whole numbers.\n");
}

static void add_judgement(struct buf *out, const struct reference *reference)
{
    char one[32], other[32];
    const struct agree_field *landed = &reference->agree.field[AGREE_LANDED];
    buf_adds(out, "\nWRONG, of the strikes that both have\n");
    for (int field = 0; field < AGREE_FIELDS; field++) {
        buf_addf(out, "  %-7s %s\n", agree_field_names[field],
                 reference_share(one, &reference->wrong[field]));
    }
    buf_addf(out,
             "\nLANDED, of the strikes that both have\n"
             "  seen as landed of those that landed (sensitivity): %s\n"
             "  landed of those seen as landed (positive predictive value): %s\n",
             reference_share(one, &reference->sensitivity),
             reference_share(other, &reference->ppv));
    if (landed->kappa.agreement.defined) {
        buf_addf(out, "  kappa %.3f", landed->kappa.agreement.value);
        if (landed->ac1.defined) {
            buf_addf(out, ", AC1 %.3f", landed->ac1.value);
        }
        buf_adds(out, ", of the pairs listed\n");
    }
}

static void add_figures(struct buf *out, const struct reference *reference)
{
    char one[16], other[16];
    buf_adds(out, "\nFIGURES     ATTEMPTED              LANDED                 ACCURACY\n"
                  "            LIVE   TRUE    BIAS    LIVE   TRUE    BIAS    LIVE  TRUE\n");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct reference_figure *figure = &reference->figure[corner];
        if (!reference_tagged(figure)) {
            continue;
        }
        buf_addf(out, "%-10s", corner_names[corner]);
        for (int kind = 0; kind <= REFERENCE_LANDED; kind++) {
            buf_addf(out, " %5d  %5d  %6s  ", figure->live[kind], figure->reference[kind],
                     reference_bias(one, figure, (enum reference_count)kind));
        }
        buf_addf(out, "  %4s  %4s\n", reference_accuracy(one, figure->live),
                 reference_accuracy(other, figure->reference));
    }
    buf_adds(out, "TRUE: as tagged from the recording. BIAS: what the live figure is off by.\n");
}

int reference_sheet_table(struct buf *out, const struct reference_sheet_view *view,
                          struct error *err)
{
    const struct reference *reference = view->reference;
    char line[256];
    buf_addf(out, "%s/%d  %s v %s\n", view->bout->card, view->bout->number,
             view->bout->fighter[CORNER_RED].short_name,
             view->bout->fighter[CORNER_BLUE].short_name);
    buf_addf(out, "recording: desk %s, %zu strikes; live: %s%s, %zu strikes\n", view->by,
             reference->agree.a_count, view->live ? "desk " : "the official count",
             view->live ? view->live : "", reference->agree.b_count);
    reference_line(line, sizeof line, reference);
    buf_add_wrapped(out, line, 0, 80);
    if (reference->tells) {
        buf_adds(out, "\n");
        add_rows(out, reference);
        add_judgement(out, reference);
    }
    if (reference->lag.of > 0 && reference->tells) {
        char lag[400];
        reference_lag_words(lag, sizeof lag, reference);
        buf_adds(out, "\nLAG of the live key\n  ");
        buf_add_wrapped(out, lag, 2, 80);
        buf_adds(out, "  ");
        buf_add_wrapped(out, reference_lag_note, 2, 80);
    }
    add_figures(out, reference);
    return out->failed ? error_memory(err) : 0;
}
