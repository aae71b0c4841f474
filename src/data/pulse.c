/* pulse.c: who works on which bout, and which bout is on. */
#include "ringtally/data/pulse.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/log/signs.h"
#include "ringtally/base/when.h"

void pulse_free(struct pulse *pulse, int count)
{
    for (int i = 0; i < count; i++) {
        free(pulse[i].desks);
        free(pulse[i].signs);
    }
    free(pulse);
}

static int read_bout(struct pulse *out, struct log *log, const struct card *card, int index,
                     struct error *err)
{
    struct bout bout = {0};
    *out = (struct pulse){0};
    snprintf(out->bout, sizeof out->bout, "%s/%d", card->id, card->bout[index].number);
    int code = log_bout_find(log, out->bout, &bout, err);
    code = code ? code : log_desks(log, bout.id, &out->desks, &out->desk_count, err);
    code =
        code || out->desk_count == 0 ? code : log_bout_newest(log, bout.id, &out->newest_ms, err);
    if (code) {
        return code;
    }
    out->signs = calloc((size_t)out->desk_count + 1, sizeof *out->signs);
    if (!out->signs) {
        return error_memory(err);
    }
    signs_read(log, out->desks, out->desk_count, when_now(), out->signs);
    return 0;
}

/* Adds the bouts of a card that have a desk. */
static int read_card(struct pulse **pulse, int *used, struct log *log, const char *id,
                     struct error *err)
{
    struct card card = {0};
    int code = log_card_get(log, id, &card, err);
    struct pulse *more =
        code ? NULL : realloc(*pulse, (size_t)(*used + card.bouts + 1) * sizeof *more);
    if (!code && !more) {
        code = error_memory(err);
    }
    *pulse = more ? more : *pulse;
    for (int i = 0; i < card.bouts && !code; i++) {
        struct pulse *next = &(*pulse)[*used];
        code = read_bout(next, log, &card, i, err);
        if (!code && next->desk_count > 0) {
            ++*used;
        } else {
            free(next->desks);
            free(next->signs);
        }
    }
    card_release(&card);
    return code;
}

int pulse_read(struct pulse **out, int *count, struct log *log, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t id_count = 0;
    struct pulse *pulse = NULL;
    int used = 0;
    int code = log_card_ids(log, &ids, &id_count, err);
    for (size_t i = 0; i < id_count && i < PULSE_CARDS && !code; i++) {
        code = read_card(&pulse, &used, log, ids[i], err);
    }
    free(ids);
    if (code) {
        pulse_free(pulse, used);
        return code;
    }
    *out = pulse;
    *count = used;
    return 0;
}

static bool is_live(const struct pulse *pulse)
{
    for (int i = 0; i < pulse->desk_count; i++) {
        if (pulse->signs[i].held) {
            return true;
        }
    }
    return false;
}

static int64_t last_opened(const struct pulse *pulse)
{
    int64_t last = 0;
    for (int i = 0; i < pulse->desk_count; i++) {
        last = pulse->desks[i].opened_ms > last ? pulse->desks[i].opened_ms : last;
    }
    return last;
}

static bool is_before(const struct pulse *a, const struct pulse *b, int64_t now_ms)
{
    /* What lies ahead of time (a clock that is wrong, a script) is no newer than now. */
    int64_t newest_a = a->newest_ms < now_ms ? a->newest_ms : now_ms;
    int64_t newest_b = b->newest_ms < now_ms ? b->newest_ms : now_ms;
    if (is_live(a) != is_live(b)) {
        return is_live(a);
    }
    return newest_a != newest_b ? newest_a > newest_b : last_opened(a) > last_opened(b);
}

const struct pulse *pulse_current(const struct pulse *pulse, int count)
{
    const struct pulse *best = NULL;
    int64_t now_ms = when_now();
    for (int i = 0; i < count; i++) {
        best = !best || is_before(&pulse[i], best, now_ms) ? &pulse[i] : best;
    }
    return best;
}

int pulse_now(char out[PULSE_BOUT], struct log *log, struct error *err)
{
    struct pulse *pulses = NULL;
    int count = 0;
    int code = pulse_read(&pulses, &count, log, err);
    const struct pulse *pulse = code ? NULL : pulse_current(pulses, count);
    if (pulse) {
        memcpy(out, pulse->bout, PULSE_BOUT);
    } else if (!code) {
        code = error_set(err, ERROR_MISSING, "no bout has begun yet");
    }
    pulse_free(pulses, count);
    return code;
}
