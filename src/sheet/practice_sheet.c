/* practice_sheet.c: practice in words. */
#include "ringtally/sheet/practice_sheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "ringtally/base/when.h"
#include "sheet/practice_pad.h"

#define CHART_WIDTH 30
#define CHART_LAST  20 /* sessions */

static double percent(double part, int of)
{
    return of > 0 ? 100 * part / of : 0;
}

static double a_minute(const struct practice_session *session, double count)
{
    return session->ran_ms > 0 ? count * 60000 / session->ran_ms : 0;
}

static void add_session(struct buf *out, const struct practice_session *session)
{
    static const char *const fields[] = {"corner", "limb", "target", "landed"};
    double wrong = session->had - session->first - session->corrected;
    buf_addf(out, "%s, %s: %d called in %d s, %.0f a minute\n", practice_kind_names[session->kind],
             practice_level_names[session->level], session->called, (int)(session->ran_ms / 1000),
             a_minute(session, session->called));
    buf_addf(out, "  answered    %6.1f  %3.0f%%   %.0f a minute kept up with\n", session->had,
             percent(session->had, session->called), a_minute(session, session->had));
    buf_addf(out, "  right first %6.1f  %3.0f%%\n  corrected   %6.1f\n", session->first,
             percent(session->first, session->called), session->corrected);
    buf_addf(out, "  wrong       %6.1f       ", wrong > 0 ? wrong : 0);
    for (int i = 0; i < 4; i++) {
        buf_addf(out, "%s%s %.0f", i ? ", " : "", fields[i], session->wrong[i]);
    }
    buf_addf(out, "\n  missed      %6.1f\n  not called  %6.1f\n", session->called - session->had,
             session->added);
    if (session->reaction_ms >= 0) {
        buf_addf(out, "  %s  median %.0f ms, nine of ten within %.0f ms\n",
                 session->kind == PRACTICE_EYES ? "behind the frame" : "from call to key",
                 session->reaction_ms, session->reaction_p90_ms);
    }
}

static void add_ready(struct buf *out, const struct practice_view *view)
{
    int ready = practice_ready(view->sessions, view->count, view->bars);
    buf_addf(out, "ready for: %s\n", ready < 0 ? "nothing yet" : practice_level_names[ready]);
    for (int level = 0; level < LEVELS; level++) {
        const struct practice_bar *bar = &view->bars[level];
        buf_addf(out,
                 "  %-5s asks in %d sessions running: %.0f%% answered, %.0f%% right first, "
                 "%.0f ms\n",
                 practice_level_names[level], bar->sessions, bar->had, bar->first,
                 bar->reaction_ms);
    }
}

static void add_drills(struct buf *out, const struct practice_view *view)
{
    struct practice_drill drills[PRACTICE_DRILLS];
    int count = practice_drills(drills, view->cells, view->cell_count);
    buf_adds(out, count ? "\nDRILLS for the weakest keys\n" : "");
    for (int i = 0; i < count; i++) {
        const struct practice_drill *drill = &drills[i];
        const char *key = view->key(view->user, drill->corner, drill->limb, drill->target);
        const char *other = drill->mistaken ? view->key(view->user, drill->for_corner,
                                                        drill->for_limb, drill->for_target)
                                            : NULL;
        buf_addf(out, "  %s  %s %s %s: right %d of %d", key ? key : "-",
                 corner_names[drill->corner], limb_words[drill->limb], target_names[drill->target],
                 drill->right, drill->called);
        if (other) {
            buf_addf(out, ", %d times as %s", drill->for_count, other);
        }
        buf_addf(out, "\n     ringtally practice --drill %s%s\n", key ? key : "",
                 other ? other : "");
    }
}

int practice_session_text(struct buf *out, const struct practice_view *view, struct error *err)
{
    add_session(out, &view->sessions[0]);
    buf_adds(out, "\n");
    practice_pad_text(out, view);
    add_drills(out, view);
    return out->failed ? error_memory(err) : 0;
}

/* A bar a session, the newest last: the part that was right first, and the rest that was answered.
 */
static void add_chart(struct buf *out, const struct practice_view *view)
{
    size_t shown = view->count < CHART_LAST ? view->count : CHART_LAST;
    buf_adds(out, "\nPROGRESS  # right first, + answered; the newest last\n");
    for (size_t i = shown; i-- > 0;) {
        const struct practice_session *session = &view->sessions[i];
        char when[WHEN_SIZE], bar[CHART_WIDTH + 1];
        int first = (int)lround(percent(session->first, session->called) * CHART_WIDTH / 100);
        int had = (int)lround(percent(session->had, session->called) * CHART_WIDTH / 100);
        for (int k = 0; k < CHART_WIDTH; k++) {
            bar[k] = k < first ? '#' : k < had ? '+' : '.';
        }
        bar[CHART_WIDTH] = '\0';
        when_rfc3339(when, session->at_ms);
        buf_addf(out, "%.10s %-7s %-5s %s %3.0f%% %3.0f%%", when,
                 practice_kind_names[session->kind], practice_level_names[session->level], bar,
                 percent(session->first, session->called), percent(session->had, session->called));
        if (session->reaction_ms >= 0) {
            buf_addf(out, " %5.0f ms", session->reaction_ms);
        }
        buf_adds(out, "\n");
    }
}

int practice_report_text(struct buf *out, const struct practice_view *view, struct error *err)
{
    buf_addf(out, "%s: %zu sessions of practice\n", view->operator_, view->count);
    add_ready(out, view);
    if (view->count > 0) {
        add_chart(out, view);
        buf_adds(out, "\nthe newest session\n");
        add_session(out, &view->sessions[0]);
        buf_adds(out, "\n");
        practice_pad_text(out, view);
        add_drills(out, view);
    }
    return out->failed ? error_memory(err) : 0;
}
