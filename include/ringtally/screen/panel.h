/* panel.h: the live panel: pad, totals, clock, notices. Composes a frame out of a desk; pure. */
#ifndef RINGTALLY_SCREEN_PANEL_H
#define RINGTALLY_SCREEN_PANEL_H

#include "ringtally/base/saved.h"
#include "ringtally/desk/desk.h"
#include "ringtally/screen/frame.h"

#define PANEL_ROWS    24
#define PANEL_COLUMNS 80

struct panel_view {
    const struct desk *desk;
    const struct saved_state *saved; /* NULL in a rehearsal without a database */
    int64_t now_ms;
    const char *script; /* words on the running key script, or NULL */
    bool flash;         /* the clock inverted: an alarm */
};

/* A frame smaller than 80x24 gets a line that says so, clock and totals as far as they fit. */
void panel_compose(struct frame *frame, const struct panel_view *view);

#endif
