/* health.c: who is alive, bout by bout, for machines that watch the feed. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "feed/board.h"
#include "feed/post.h"
#include "ringtally/base/tree.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/when.h"

static json_t *moment(int64_t utc_ms)
{
    char text[WHEN_SIZE];
    return utc_ms > 0 ? json_string(when_rfc3339(text, utc_ms)) : json_null();
}

static json_t *age(int64_t utc_ms, int64_t now_ms)
{
    return utc_ms > 0 ? json_integer(now_ms - utc_ms) : json_null();
}

/* Signs were read up to a second ago; ages are those of the moment that is told. */
static json_t *desks_object(const struct pulse *pulse, int64_t now_ms, bool *failed)
{
    json_t *array = json_array();
    for (int i = 0; i < pulse->desk_count; i++) {
        const struct desk_row *desk = &pulse->desks[i];
        const struct desk_sign *sign = &pulse->signs[i];
        if (desk->root == i) {
            tree_add(array,
                     json_pack("{s:s, s:s, s:b, s:s, s:o, s:o}", "desk", desk->uid, "name",
                               desk->name, "shadow", (int)desk->shadow, "state",
                               sign_state_names[sign_state(sign)], "seen_at", moment(sign->seen_ms),
                               "seen_age_ms", age(sign->seen_ms, now_ms)),
                     failed);
        }
    }
    return array;
}

static json_t *holds_array(unsigned holds, bool *failed)
{
    json_t *array = json_array();
    for (int kind = 0; kind < GATE_KINDS; kind++) {
        if (holds >> kind & 1) {
            tree_add(array, json_string(gate_kind_names[kind]), failed);
        }
    }
    return array;
}

static json_t *post_object(const struct post_state *post)
{
    return !post ? json_null()
                 : json_pack("{s:I, s:o, s:o}", "answered", (json_int_t)post->answered,
                             "failing_since", moment(post->failing_ms), "trouble",
                             post->trouble[0] ? json_string(post->trouble) : json_null());
}

enum answer board_health(struct board *board, int clients, int64_t read_ms,
                         const struct post_state *post, struct doc **out, struct error *err)
{
    int64_t now_ms = when_now();
    int64_t told_ms = air_wall(&board->air);
    int64_t newest_ms = 0;
    bool failed = false;
    json_t *bouts = json_array();
    pthread_mutex_lock(&board->lock);
    bool down = board->trouble[0] != '\0';
    for (int i = 0; i < board->pulses && !down; i++) {
        const struct pulse *pulse = &board->pulse[i];
        newest_ms = pulse->newest_ms > newest_ms ? pulse->newest_ms : newest_ms;
        tree_add(bouts,
                 json_pack("{s:s, s:o, s:o, s:o}", "bout", pulse->bout, "newest_entry_at",
                           moment(pulse->newest_ms), "newest_entry_age_ms",
                           age(pulse->newest_ms, told_ms), "desks",
                           desks_object(pulse, told_ms, &failed)),
                 &failed);
    }
    json_t *root = json_pack(
        "{s:o, s:o, s:f, s:s, s:o, s:o, s:o, s:o, s:o, s:i, s:o, s:o, s:o, s:o}", "post",
        post_object(post), "holds", holds_array(board->air.holds, &failed), "delay_s",
        (double)board->air.delay_ms / 1000.0, "status", down ? "trouble" : "ok", "at",
        moment(now_ms), "trouble", down ? json_string(board->trouble) : json_null(),
        "trouble_since", moment(board->trouble_ms), "database_read_at", moment(board->read_ms),
        "database_read_age_ms", age(board->read_ms, now_ms), "clients", clients, "last_read_at",
        moment(read_ms), "newest_entry_at", moment(newest_ms), "newest_entry_age_ms",
        age(newest_ms, told_ms), "bouts", bouts);
    pthread_mutex_unlock(&board->lock);
    struct buf line = BUF_INIT;
    if (tree_write(&line, root, failed, JSON_COMPACT, err) == 0) {
        *out = doc_of(&line);
    } else {
        buf_release(&line);
    }
    if (!*out) {
        error_memory(err);
        return ANSWER_FAILED;
    }
    return down ? ANSWER_DOWN : ANSWER_OK;
}

const struct pulse *board_pulse(const struct board *board)
{
    return pulse_current(board->pulse, board->pulses);
}

bool board_current(struct board *board, char out[PULSE_BOUT])
{
    pthread_mutex_lock(&board->lock);
    const struct pulse *pulse = board_pulse(board);
    if (pulse) {
        memcpy(out, pulse->bout, PULSE_BOUT);
    }
    pthread_mutex_unlock(&board->lock);
    return pulse != NULL;
}
