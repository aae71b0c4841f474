/* windows.c: below the rounds, the counts of a part of the bout: the last minute of running clock,
 * and since the newest knockdown; the same windows as counts, feed and drop have (tally/window.h).
 */
#include "ringtally/tally/window.h"

#include "screen/scene.h"

static void window_row(const struct scene *scene, const struct round_tally *tally,
                       enum corner corner, int row, int left, int end)
{
    char text[SHARE_SIZE];
    const struct count *all = &tally->corner[corner].all;
    put_count(scene->frame, row, left, end, STYLE_STRONG, all);
    put_right(scene->frame, row, end + ROUNDS_ACCURACY, STYLE_PLAIN, accuracy_text(text, all));
}

void windows_draw(const struct scene *scene, const struct area *area, const struct area *middle,
                  const int left[CORNER_COUNT], int count)
{
    static const struct {
        const char *name;
        struct window_ask ask;
    } windows[] = {{"60 s", {.from = WINDOW_LAST, .ms = 60000}},
                   {"KD", {.from = WINDOW_KNOCKDOWN}}};
    int row = area->row + 1;
    for (size_t i = 0; i < sizeof windows / sizeof *windows && row < area->row + area->rows; i++) {
        struct window window;
        struct round_tally tally = {0};
        struct error none = {0}; /* no knockdown yet: no such row */
        if (window_find(&window, &windows[i].ask, scene->fold, scene->view->now_ms, &none)) {
            continue;
        }
        window_count(&tally, &window, scene->fold);
        put_centred(scene->frame, middle, row, STYLE_PLAIN, windows[i].name);
        for (int corner = 0; corner < CORNER_COUNT; corner++) {
            window_row(scene, &tally, (enum corner)corner, row, left[corner], left[corner] + count);
        }
        row++;
    }
    if (row > area->row + 1) {
        put_rule(scene->frame, area->row, area->column, area->columns,
                 "last minute of the clock; KD: since the newest knockdown");
    }
}
