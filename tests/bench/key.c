/* key.c: what a key costs by itself (desk and panel, no terminal, no disk) as the log grows.
 *
 *     bench_key [LARGEST]      entries of the largest log; 20,000 where nothing is said
 */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "ringtally/base/embedded.h"
#include "ringtally/desk/desk.h"
#include "ringtally/screen/panel.h"
#include "sample.h"

#define KEYS   400 /* timed at each size */
#define GAP_MS 170 /* between two keys: a round of an hour holds 20,000 */

static struct desk_row row = {.uid = "aaaa", .name = "ana", .operator_ = "ana", .corners = 3};

static double now_us(void)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e6 + (double)now.tv_nsec / 1e3;
}

static struct desk *open_desk(void)
{
    struct desk_setup setup = {.desks = &row, .desk_count = 1, .claim = 7};
    struct error err = {0};
    const struct embedded *rules = embedded_find("rules/kickboxing.ini");
    const struct embedded *keys = embedded_find("keymaps/us-qwerty.ini");
    if (rules_parse(&setup.rules, rules->data, rules->size, "rules", &err) ||
        keymap_parse(&setup.keymap, keys->data, keys->size, "keys", &err)) {
        fprintf(stderr, "%s\n", err.text);
        exit(1);
    }
    setup.rules.round_ms = 3600000;
    return desk_new(&setup, 1000000);
}

int main(int argc, char **argv)
{
    static const char pad[] = "qWerTasDfgzVbuiOpyHjklnm";
    long largest = argc > 1 ? strtol(argv[1], NULL, 10) : 20000;
    struct desk *desk = open_desk();
    struct frame frame;
    struct error err = {0};
    struct saved_state saved = {0};
    int64_t now = 1000000;
    long typed = 0;
    if (!desk || frame_init(&frame, 24, 80, false, &err)) {
        return 1;
    }
    desk_key(desk, KEY_OF_ENTER, now, 0);
    printf("%10s %14s %14s %14s\n", "entries", "desk, median", "panel, median", "both, p95");
    const long sizes[] = {largest / 40, largest / 10, largest};
    for (int step = 0; step < 3; step++) {
        long size = sizes[step];
        struct sample keys = {0}, panels = {0}, both = {0};
        for (; typed < size - KEYS; typed++) {
            desk_key(desk, pad[typed % 24], now += GAP_MS, 0);
        }
        for (int i = 0; i < KEYS; i++, typed++) {
            double start = now_us();
            desk_key(desk, pad[typed % 24], now += GAP_MS, 0);
            double middle = now_us();
            struct panel_view view = {.desk = desk, .saved = &saved, .now_ms = now};
            panel_compose(&frame, &view);
            double end = now_us();
            sample_add(&keys, middle - start);
            sample_add(&panels, end - middle);
            sample_add(&both, end - start);
        }
        printf("%10ld %11.1f us %11.1f us %11.1f us\n", size, sample_median(&keys),
               sample_median(&panels), sample_quantile(&both, 0.95));
        sample_release(&keys);
        sample_release(&panels);
        sample_release(&both);
    }
    frame_release(&frame);
    desk_free(desk);
    return 0;
}
