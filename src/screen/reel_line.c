/* reel_line.c: a desk on a recording: where the recording stands, and the keys that move it. */
#include <stdio.h>
#include <string.h>

#include "ringtally/base/text.h"
#include "ringtally/base/when.h"
#include "ringtally/desk/reel.h"
#include "screen/scene.h"

/* Two keys of one thing stand together; the last ones go first where room is short. */
static const struct {
    enum transport first, second; /* TRANSPORT_COUNT: none */
    const char *words;
} shown[] = {
    {TRANSPORT_PLAY, TRANSPORT_COUNT, "play"},
    {TRANSPORT_BACK, TRANSPORT_ON, "2 s"},
    {TRANSPORT_FRAME_BACK, TRANSPORT_FRAME_ON, "frame"},
    {TRANSPORT_SLOWER, TRANSPORT_FASTER, "speed"},
    {TRANSPORT_REPEAT, TRANSPORT_COUNT, "again"},
    {TRANSPORT_NEWEST, TRANSPORT_COUNT, "newest"},
    {TRANSPORT_DIFFERENCE, TRANSPORT_COUNT, "diff"},
    {TRANSPORT_KEEP, TRANSPORT_COUNT, "keep"},
};

bool reel_place(char *out, size_t size, const struct scene *scene)
{
    struct reel_view reel;
    char place[WHEN_SIZE];
    if (!desk_reel(scene->desk, &reel) || !reel.on_recording) {
        return false;
    }
    const struct reel_seen *seen = &reel.seen;
    if (seen->lost || !seen->ready || !reel.open || reel.media_ms < 0) {
        snprintf(out, size, "%s",
                 seen->lost         ? "NO PLAYER"
                 : seen->trouble[0] ? "NO RECORDING"
                                    : "the recording opens");
        return true;
    }
    when_clock(place, reel.media_ms);
    if (seen->paused) { /* only then is a frame long enough on screen to be read */
        snprintf(out, size, "%s.%03d f%lld %s", place, (int)(reel.media_ms % 1000),
                 (long long)reel.frame, seen->ended ? "end" : "paused");
    } else {
        snprintf(out, size, "%s x%g%s%s", place, seen->speed, seen->repeating ? " again" : "",
                 seen->silent ? " NO ANSWER" : "");
    }
    return true;
}

bool reel_line_draw(const struct scene *scene, int row)
{
    struct reel_view reel;
    char one[16], other[16], text[64];
    struct frame *frame = scene->frame;
    int column = 1, end = frame->columns - 1;
    if (!desk_reel(scene->desk, &reel) || !reel.on_recording) {
        return false;
    }
    snprintf(text, sizeof text, "%s help", key_word(one, scene->keymap->action[ACTION_HELP]));
    put_right(frame, row, end, STYLE_DIM, text);
    end -= text_width(text) + 1;
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
        int32_t first = scene->keymap->transport[shown[i].first];
        int32_t second = shown[i].second < TRANSPORT_COUNT
                             ? scene->keymap->transport[shown[i].second]
                             : KEY_OF_NONE;
        if (first == KEY_OF_NONE) {
            continue;
        }
        snprintf(text, sizeof text, "%s%s%s", key_mark(one, first),
                 second == KEY_OF_NONE ? "" : " ",
                 second == KEY_OF_NONE ? "" : key_mark(other, second));
        if (column + text_width(text) + 1 + text_width(shown[i].words) > end) {
            break;
        }
        column = frame_put(frame, row, column, 0, STYLE_STRONG, text);
        column = frame_put(frame, row, column + 1, 0, STYLE_DIM, shown[i].words) + 1;
    }
    return true;
}
