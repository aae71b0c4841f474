/* coach_sheet.c: one corner's sheet, by form. */
#include "ringtally/sheet/coach_sheet.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/tally/shares.h"
#include "sheet/coach_page.h"

const char *const coach_format_names[COACH_FORMATS] = {"text", "html"};

void coach_fixed(char out[CELL_SIZE], double value, int digits)
{
    long long unit = digits == 0 ? 1 : 10;
    long long scaled = llround(value * (double)unit);
    const char *sign = scaled < 0 ? "-" : "";
    if (digits == 0) {
        snprintf(out, CELL_SIZE, "%s%lld", sign, llabs(scaled));
    } else {
        snprintf(out, CELL_SIZE, "%s%lld.%lld", sign, llabs(scaled) / unit, llabs(scaled) % unit);
    }
}

void coach_share(char out[CELL_SIZE], const struct count *count, struct estimate share)
{
    share_text(out, count->landed, count->attempted);
    size_t used = strlen(out);
    if (share.defined) {
        snprintf(out + used, CELL_SIZE - used, " %lld-%lld", llround(share.low * 100),
                 llround(share.high * 100));
    }
}

void coach_rate(char out[CELL_SIZE], struct estimate rate)
{
    char value[CELL_SIZE], low[CELL_SIZE], high[CELL_SIZE];
    if (!rate.defined || rate.high >= 100000) { /* a clock that ran for a blink says nothing */
        snprintf(out, CELL_SIZE, "-");
        return;
    }
    int digits = rate.value < 100 ? 1 : 0;
    coach_fixed(value, rate.value, digits);
    coach_fixed(low, rate.low, digits);
    coach_fixed(high, rate.high, digits);
    snprintf(out, CELL_SIZE, "%.7s %.7s-%.7s", value, low, high);
}

bool coach_hurt(const struct figures *figures)
{
    const struct round_tally *all = &fold_tally(figures->view->fold)->all;
    bool hurt = false;
    for (int corner = 0; corner < CORNER_COUNT; corner++) {
        const struct corner_tally *of = &all->corner[corner];
        hurt = hurt || of->downs > 0 || of->incidents[CODE_INJURY] > 0;
    }
    return hurt;
}

const struct coverage_part *coach_part(const struct figures *figures, const struct coach *coach,
                                       enum side side)
{
    return &figures->asked.seen[coach->corner[side]];
}

void coach_count(char out[CELL_SIZE], const struct coach_round *round, enum side side)
{
    if (round->tagged[side]) {
        count_cell(out, &round->count[side]);
    } else {
        snprintf(out, CELL_SIZE, CELL_UNKNOWN);
    }
}

void coach_stances(struct buf *out, const struct coach *coach, enum side side,
                   const struct stances_form *form)
{
    bool any = false;
    for (int stance = 0; stance < STANCE_COUNT; stance++) {
        const struct count *count = &coach->from[side][stance];
        if (count->attempted) {
            char strikes[CELL_SIZE], share[CELL_SIZE];
            count_cell(strikes, count);
            coach_share(share, count, coach->from_share[side][stance]);
            buf_addf(out, "%s%s%s%s%s%s", any ? "; " : form->begin, stance_names[stance],
                     form->strikes, strikes, form->share, share);
            any = true;
        }
    }
    buf_adds(out, any ? form->end : "");
}

void coach_note(struct buf *out, const struct coach *coach)
{
    if (coach->bell) {
        buf_addf(
            out,
            "At the bell of round %d %d figures were looked at. Where nothing differs, no more "
            "than 1 bout in 20 has any finding on this sheet.",
            coach->bell, coach->looked_at);
    } else {
        buf_adds(out, "Counts only: nothing is compared before the second round is over.");
    }
}

int coach_sheet_write(struct buf *out, const struct sheet_view *view, enum corner corner,
                      enum coach_format format, struct error *err)
{
    static void (*const printers[COACH_FORMATS])(struct buf *, const struct figures *,
                                                 const struct coach *) = {coach_text, coach_html};
    struct figures figures;
    struct coach coach;
    int code = figures_init(&figures, view, err);
    if (code) {
        return code;
    }
    code = coach_init(&coach, view->fold, view->rules, view->signs, corner, view->round,
                      view->now_ms, err);
    if (!code) {
        printers[format](out, &figures, &coach);
        code = out->failed ? error_memory(err) : 0;
    }
    figures_release(&figures);
    return code;
}
