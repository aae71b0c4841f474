/* health.c: who is alive, bout by bout, for machines that watch the feed. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "feed/board.h"
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

static int read_pulse(struct pulse *out, struct log *log, const struct card *card, int index,
                      struct error *err)
{
    char ref[64];
    struct bout bout = {0};
    snprintf(ref, sizeof ref, "%s/%d", card->id, card->bout[index].number);
    *out = (struct pulse){0};
    memcpy(out->bout, ref, sizeof ref);
    int code = log_bout_find(log, ref, &bout, err);
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

int pulse_read(struct pulse **out, int *count, struct log *log, struct error *err)
{
    char(*ids)[48] = NULL;
    size_t id_count = 0;
    struct card card = {0};
    struct pulse *pulse = NULL;
    int used = 0;
    int code = log_card_ids(log, &ids, &id_count, err);
    if (code || id_count == 0) {
        goto cleanup;
    }
    code = log_card_get(log, ids[0], &card, err);
    if (code) {
        goto cleanup;
    }
    pulse = calloc((size_t)card.bouts + 1, sizeof *pulse);
    if (!pulse) {
        code = error_memory(err);
        goto cleanup;
    }
    for (int i = 0; i < card.bouts && !code; i++) {
        code = read_pulse(&pulse[used], log, &card, i, err);
        if (!code && pulse[used].desk_count > 0) {
            used++;
        } else {
            free(pulse[used].desks);
            free(pulse[used].signs);
            pulse[used] = (struct pulse){0};
        }
    }

cleanup:
    if (code) {
        pulse_free(pulse, used);
    } else {
        *out = pulse;
        *count = used;
    }
    card_release(&card);
    free(ids);
    return code;
}

static json_t *moment(int64_t utc_ms)
{
    char text[WHEN_SIZE];
    return utc_ms > 0 ? json_string(when_rfc3339(text, utc_ms)) : json_null();
}

static json_t *age(int64_t utc_ms, int64_t now_ms)
{
    return utc_ms > 0 ? json_integer(now_ms > utc_ms ? now_ms - utc_ms : 0) : json_null();
}

/* Signs were read up to a second ago; ages are those of now. */
static json_t *desks_object(const struct pulse *pulse, int64_t now_ms)
{
    json_t *array = json_array();
    for (int i = 0; i < pulse->desk_count; i++) {
        const struct desk_row *desk = &pulse->desks[i];
        const struct desk_sign *sign = &pulse->signs[i];
        if (desk->root == i) {
            json_array_append_new(
                array, json_pack("{s:s, s:s, s:b, s:s, s:o, s:o}", "desk", desk->uid, "name",
                                 desk->name, "shadow", (int)desk->shadow, "state",
                                 sign_state_names[sign_state(sign)], "seen_at",
                                 moment(sign->seen_ms), "seen_age_ms", age(sign->seen_ms, now_ms)));
        }
    }
    return array;
}

enum answer board_health(struct board *board, int clients, int64_t read_ms, struct doc **out,
                         struct error *err)
{
    int64_t now_ms = when_now();
    int64_t newest_ms = 0;
    json_t *bouts = json_array();
    pthread_mutex_lock(&board->lock);
    bool down = board->trouble[0] != '\0';
    for (int i = 0; i < board->pulses && !down; i++) {
        const struct pulse *pulse = &board->pulse[i];
        newest_ms = pulse->newest_ms > newest_ms ? pulse->newest_ms : newest_ms;
        json_array_append_new(bouts, json_pack("{s:s, s:o, s:o, s:o}", "bout", pulse->bout,
                                               "newest_entry_at", moment(pulse->newest_ms),
                                               "newest_entry_age_ms", age(pulse->newest_ms, now_ms),
                                               "desks", desks_object(pulse, now_ms)));
    }
    json_t *root =
        json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:i, s:o, s:o, s:o, s:o}", "status",
                  down ? "trouble" : "ok", "at", moment(now_ms), "trouble",
                  down ? json_string(board->trouble) : json_null(), "trouble_since",
                  moment(board->trouble_ms), "database_read_at", moment(board->read_ms),
                  "database_read_age_ms", age(board->read_ms, now_ms), "clients", clients,
                  "last_read_at", moment(read_ms), "newest_entry_at", moment(newest_ms),
                  "newest_entry_age_ms", age(newest_ms, now_ms), "bouts", bouts);
    pthread_mutex_unlock(&board->lock);
    char *text = root ? json_dumps(root, JSON_COMPACT) : NULL;
    struct buf line = BUF_INIT;
    if (text) {
        buf_addf(&line, "%s\n", text);
        *out = doc_of(&line);
    }
    free(text);
    json_decref(root);
    if (!*out) {
        error_memory(err);
        return ANSWER_FAILED;
    }
    return down ? ANSWER_DOWN : ANSWER_OK;
}

bool board_current(struct board *board, char out[64])
{
    const struct pulse *best = NULL;
    bool best_live = false;
    pthread_mutex_lock(&board->lock);
    for (int i = 0; i < board->pulses; i++) {
        const struct pulse *pulse = &board->pulse[i];
        bool live = false;
        for (int desk = 0; desk < pulse->desk_count; desk++) {
            live = live || pulse->signs[desk].held;
        }
        if (!best || live > best_live ||
            (live == best_live && pulse->newest_ms > best->newest_ms)) {
            best = pulse;
            best_live = live;
        }
    }
    if (best) {
        memcpy(out, best->bout, 64);
    }
    pthread_mutex_unlock(&board->lock);
    return best != NULL;
}
