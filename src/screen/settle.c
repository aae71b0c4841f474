/* settle.c: what two desks say differently, one difference at a time, large enough to decide in a
 * second. */
#include <stdio.h>

#include "ringtally/bout/timecode.h"
#include "ringtally/tally/marks.h"
#include "screen/scene.h"

/* Where it is in the recording, where a time code was noted. */
static void place_draw(const struct scene *scene, const struct area *area, int row,
                       const struct subject *subject)
{
    char label[TIMECODE_SIZE];
    struct sync_point sync;
    if (subject && marks_sync(&sync, scene->fold)) {
        frame_putf(scene->frame, row, area->column + 2, 0, STYLE_PLAIN, "in the recording: %s",
                   timecode_print(label, sync.rate, sync_frame(&sync, subject->now.at_ms)));
    }
}

static void side_draw_one(const struct scene *scene, const struct area *area, int row,
                          const char *key, const char *desk, const struct subject *subject)
{
    char words[160];
    char text[320];
    char moment[48];
    if (subject) {
        entry_words(words, sizeof words, &subject->now);
        snprintf(text, sizeof text, "%s  %s %s", moment_text(moment, scene, &subject->now),
                 subject->now.strike.corner == CORNER_RED ? "RED " : "BLUE", words);
    } else {
        snprintf(text, sizeof text, "has no such strike");
    }
    frame_put(scene->frame, row, area->column + 2, 6, STYLE_STRONG, key);
    frame_put(scene->frame, row, area->column + 9, 16, STYLE_PLAIN, desk);
    frame_put(scene->frame, row, area->column + 26, area->columns - 27,
              subject ? corner_style((enum corner)subject->now.strike.corner, true) : STYLE_DIM,
              text);
}

void settle_draw(const struct scene *scene, const struct area *area)
{
    struct desk_difference difference = {0};
    char mode[64];
    size_t open = desk_settle(scene->desk, &difference);
    snprintf(mode, sizeof mode, "SETTLE %zu of %zu", open ? difference.at + 1 : 0, open);
    mode_line(scene, area, mode,
              "\u2190 as the first  \u2192 as the second  Del neither  \u2191\u2193 walk  Esc");
    if (open == 0) {
        frame_put(scene->frame, area->row + 2, area->column + 2, 0, STYLE_PLAIN,
                  "nothing is open: every difference is settled");
        return;
    }
    side_draw_one(scene, area, area->row + 2, scene->frame->ascii ? "Left" : "\u2190", difference.a,
                  difference.of_a);
    side_draw_one(scene, area, area->row + 4, scene->frame->ascii ? "Right" : "\u2192",
                  difference.b, difference.of_b);
    place_draw(scene, area, area->row + 6, difference.of_a ? difference.of_a : difference.of_b);
}
