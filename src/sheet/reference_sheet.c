/* reference_sheet.c: the live count against the recording, as a table for people. */
#include "ringtally/sheet/reference_sheet.h"

#include <math.h>
#include <stdio.h>

/* "92 (89-94)"; "-" where nothing can be said. */
static const char *share_range(char out[32], const struct estimate *share)
{
    if (!share->defined) {
        return "-";
    }
    snprintf(out, 32, "%ld (%ld-%ld)", lround(share->value * 100), lround(share->low * 100),
             lround(share->high * 100));
    return out;
}

static void add_row(struct buf *out, const struct reference_row *row)
{
    char words[48], range[32];
    reference_words(words, sizeof words, row);
    buf_addf(out, "%-16s %5d %7.1f  %-13s %6.1f %6.1f %7.1f %6.1f\n", words, row->of, row->had,
             row->of ? share_range(range, &row->recall) : "-", row->first, row->right - row->first,
             row->had - row->right, row->added);
}

static void add_rows(struct buf *out, const struct reference *reference)
{
    int by = -1;
    buf_adds(out, "STRIKES OF          HAS    LIVE  HAD % (95 %)   FIRST  FIXED   WRONG  ADDED\n");
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
        buf_addf(out, "  %-7s %s %%\n", agree_field_names[field],
                 share_range(one, &reference->wrong[field]));
    }
    buf_addf(out,
             "\nLANDED, of the strikes that both have\n"
             "  seen as landed of those that landed (sensitivity): %s %%\n"
             "  landed of those seen as landed (positive predictive value): %s %%\n",
             share_range(one, &reference->sensitivity), share_range(other, &reference->ppv));
    if (landed->kappa.agreement.defined) {
        buf_addf(out, "  kappa %.3f", landed->kappa.agreement.value);
        if (landed->ac1.defined) {
            buf_addf(out, ", AC1 %.3f", landed->ac1.value);
        }
        buf_adds(out, ", of the pairs listed\n");
    }
}

static const char *accuracy(char out[16], const int count[2])
{
    if (count[0] == 0) {
        return "-";
    }
    snprintf(out, 16, "%ld%%", lround(100.0 * count[1] / count[0]));
    return out;
}

static void add_figures(struct buf *out, const struct reference *reference)
{
    char one[16], other[16];
    buf_adds(out, "\nFIGURES     ATTEMPTED              LANDED                 ACCURACY\n"
                  "            LIVE   TRUE  BIAS %    LIVE   TRUE  BIAS %    LIVE  TRUE\n");
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct reference_figure *figure = &reference->figure[corner];
        if (figure->live[0] + figure->reference[0] == 0) {
            continue;
        }
        buf_addf(out, "%-10s", corner_names[corner]);
        for (int kind = 0; kind < 2; kind++) {
            int live = figure->live[kind], is = figure->reference[kind];
            buf_addf(out, " %5d  %5d  ", live, is);
            if (is > 0) {
                buf_addf(out, "%+6.1f  ", 100.0 * (live - is) / is);
            } else {
                buf_adds(out, "     -  ");
            }
        }
        buf_addf(out, "  %4s  %4s\n", accuracy(one, figure->live),
                 accuracy(other, figure->reference));
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
    buf_addf(out, "recording: desk %s, %zu strikes; live: %s%s, %zu strikes\n", view->by->name,
             reference->agree.a_count, view->live ? "desk " : "the official count",
             view->live ? view->live->name : "", reference->agree.b_count);
    reference_line(line, sizeof line, reference);
    buf_add_wrapped(out, line, 0, 80);
    if (reference->tells) {
        buf_adds(out, "\n");
        add_rows(out, reference);
        add_judgement(out, reference);
    }
    if (reference->has_lag && reference->tells) {
        buf_addf(
            out,
            "\nLAG of the live key behind the frame: median %.0f ms, 90 %% within %.0f ms,\n"
            "  %+.0f ms more each minute; each on its own round clock, so how late the bell's\n"
            "  own key was is not in it\n",
            reference->lag_median_ms, reference->lag_p90_ms, reference->lag_drift_ms);
    }
    add_figures(out, reference);
    return out->failed ? error_memory(err) : 0;
}
