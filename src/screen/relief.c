/* relief.c: who is official for what, and whether somebody is there: for the desk that takes over,
 * and for the relief that has just sat down. */
#include <stdio.h>
#include <string.h>

#include "screen/scene.h"

static const struct {
    enum entry_code code;
    const char *words;
    enum action key;
    enum style style;
} offices[] = {
    {CODE_RED, "red", ACTION_RED_INCIDENT, STYLE_RED_STRONG},
    {CODE_BLUE, "blue", ACTION_BLUE_INCIDENT, STYLE_BLUE_STRONG},
    {CODE_CLOCK, "clock", ACTION_CLOCK, STYLE_STRONG},
};

/* "0:32", from an hour on "2 h". */
static const char *ago_text(char out[24], int64_t age_ms)
{
    int64_t seconds = age_ms / 1000;
    if (seconds < 3600) {
        snprintf(out, 24, "%d:%02d ago", (int)(seconds / 60), (int)(seconds % 60));
    } else if (seconds < 172800) {
        snprintf(out, 24, "%d h ago", (int)(seconds / 3600));
    } else {
        snprintf(out, 24, "%d days ago", (int)(seconds / 86400));
    }
    return out;
}

/* "alive", "LOST, last sign 0:14 ago" */
static void state_text(char *out, size_t size, const struct desk_office *office)
{
    static const char *const words[SIGN_STATES] = {[SIGN_UNKNOWN] = "not known to be there",
                                                   [SIGN_LIVE] = "is there",
                                                   [SIGN_SILENT] = "SILENT",
                                                   [SIGN_LOST] = "LOST",
                                                   [SIGN_LEFT] = "LEFT"};
    char ago[24];
    if (!office->holder[0]) {
        snprintf(out, size, "NOBODY TAGS IT");
    } else if (office->own) {
        snprintf(out, size, "this desk");
    } else if (office->state == SIGN_UNKNOWN || office->state == SIGN_LIVE ||
               office->seen_age_ms < 0) {
        snprintf(out, size, "%s", words[office->state]);
    } else {
        snprintf(out, size, "%s, last sign %s", words[office->state],
                 ago_text(ago, office->seen_age_ms));
    }
}

static void office_line(const struct scene *scene, const struct area *area, int row, int which)
{
    char text[96], ago[24], key[16];
    struct desk_office office;
    struct frame *frame = scene->frame;
    desk_office(scene->desk, offices[which].code, scene->view->now_ms, &office);
    bool gone = !office.holder[0] || office.state == SIGN_LOST || office.state == SIGN_SILENT ||
                office.state == SIGN_LEFT;
    frame_put(frame, row, area->column + 1, 6, offices[which].style, offices[which].words);
    frame_put(frame, row, area->column + 8, 14, STYLE_STRONG,
              office.holder[0] ? office.holder : "nobody");
    state_text(text, sizeof text, &office);
    frame_put(frame, row, area->column + 23, 25, gone && !office.own ? STYLE_URGENT : STYLE_PLAIN,
              text);
    if (office.wrote_age_ms >= 0 && !office.own) {
        frame_putf(frame, row, area->column + 49, 17, STYLE_DIM, "key %s",
                   ago_text(ago, office.wrote_age_ms));
    }
    if (desk_mode(scene->desk) == DESK_OFFICES && !office.own) {
        snprintf(text, sizeof text, "%s takes it",
                 key_word(key, scene->keymap->action[offices[which].key]));
        put_right(frame, row, area->column + area->columns - 1, STYLE_STRONG, text);
    }
}

void offices_draw(const struct scene *scene, const struct area *area)
{
    static const char *const titles[] = {[RELIEF_NONE] = "",
                                         [RELIEF_WATCH] = "ANOTHER DESK TAGS THIS BOUT",
                                         [RELIEF_TWICE] = "YOU HAVE THIS BOUT OPEN ALREADY",
                                         [RELIEF_TAKEN] = "TAKEN OVER"};
    char key[16], hint[96];
    enum desk_relief relief = desk_relief(scene->desk);
    key_word(key, scene->keymap->action[ACTION_TAKEOVER]);
    if (desk_mode(scene->desk) == DESK_OFFICES) {
        snprintf(hint, sizeof hint, "which? %s again: all that is yours or left. Esc: none", key);
        mode_line(scene, area, "TAKE OVER", hint);
    } else if (relief == RELIEF_TAKEN) {
        mode_line(scene, area, titles[relief], "this desk is official now; any key goes on");
    } else {
        snprintf(hint, sizeof hint, "%s takes over. Esc watches: no key counts", key);
        mode_line(scene, area, titles[relief], hint);
    }
    for (int i = 0; i < 3; i++) {
        office_line(scene, area, area->row + 1 + i, i);
    }
}
