/* air.c: the line that holds back what happened a moment ago. */
#include "ringtally/data/air.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "ringtally/log/log_watch.h"

static void drop_data(const struct late_line *line, const struct late_item *item)
{
    if (line->drop) {
        line->drop(item->data, item->count);
    } else {
        free(item->data);
    }
}

int late_put(struct late_line *line, int64_t now_ms, int64_t number, void *data, int count,
             struct error *err)
{
    struct late_item item = {now_ms, number, data, count};
    if (!grow_array(&line->item, sizeof *line->item, line->count, 1, &line->room)) {
        drop_data(line, &item);
        return error_memory(err);
    }
    line->item[line->count++] = item;
    return 0;
}

const struct late_item *late_take(struct late_line *line, int64_t at_ms)
{
    size_t due = 0;
    while (due + 1 < line->count && line->item[due + 1].at_ms <= at_ms) {
        drop_data(line, &line->item[due++]);
    }
    if (due > 0) {
        memmove(line->item, line->item + due, (line->count - due) * sizeof *line->item);
        line->count -= due;
    }
    return line->count ? line->item : NULL;
}

void late_release(struct late_line *line)
{
    for (size_t i = 0; i < line->count; i++) {
        drop_data(line, &line->item[i]);
    }
    free(line->item);
    *line = (struct late_line){.drop = line->drop};
}

int64_t air_wall(const struct air *air)
{
    return when_now() - (air ? air->delay_ms : 0);
}

/* What was written before the moment that is told may be told at once. */
static int begin(struct air *air, struct log *log, struct error *err)
{
    int64_t before = 0;
    int code = log_arrival_before(log, air_wall(air), &before, err);
    if (!code) {
        air->looked = true;
        code = late_put(&air->arrived, INT64_MIN, before, NULL, 0, err);
    }
    return code;
}

int air_look(struct air *air, struct log *log, bool written, bool *changed, struct error *err)
{
    int64_t last = 0;
    int code = 0;
    *changed = written;
    if (!air || air->delay_ms == 0) {
        return 0;
    }
    bool first = !air->looked;
    if (first) {
        code = begin(air, log, err);
    }
    if (!code && (written || first)) {
        code = log_last_arrival(log, &last, err);
        code = code ? code : late_put(&air->arrived, mono_ms(), last, NULL, 0, err);
    }
    if (code) {
        return code;
    }
    const struct late_item *due = late_take(&air->arrived, mono_ms() - air->delay_ms);
    /* Nothing at all is told by an arrival that is not there. */
    int64_t until = due && due->number > 0 ? due->number : -1;
    *changed = first || written || until != air->until;
    air->until = until;
    log_read_until(log, until);
    return 0;
}

int air_signs(const struct air *air, struct late_line *line, struct desk_sign *signs, int count,
              struct error *err)
{
    if (!air || air->delay_ms == 0) {
        return 0;
    }
    struct desk_sign *copy = malloc(((size_t)count + 1) * sizeof *copy);
    if (!copy) {
        return error_memory(err);
    }
    memcpy(copy, signs, (size_t)count * sizeof *copy);
    int code = late_put(line, mono_ms(), 0, copy, count, err);
    const struct late_item *due = code ? NULL : late_take(line, mono_ms() - air->delay_ms);
    for (int i = 0; due && i < count; i++) {
        signs[i] =
            i < due->count ? ((const struct desk_sign *)due->data)[i] : (struct desk_sign){0};
    }
    return code;
}

void air_forget(struct air *air)
{
    if (air) {
        late_release(&air->arrived);
        late_release(&air->signs);
        air->looked = false;
        air->until = 0;
    }
}
