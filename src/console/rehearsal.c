/* rehearsal.c: a desk without a log, for practice. */
#include "ringtally/console/rehearsal.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "console/beside.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"
#include "ringtally/desk/desk.h"
#include "ringtally/screen/calls.h"
#include "ringtally/screen/panel.h"
#include "ringtally/screen/screen.h"

#define SHOWN   8
#define TICK_MS 20

struct rehearsal {
    const struct rehearsal_setup *setup;
    struct desk *desk;
    struct beside *beside; /* or NULL */
    struct frame frame;
    int64_t start_ms; /* UTC */
    int64_t since_ms; /* the same, monotonic */
    bool plays, leave;
    double first_frame_ms; /* of the recording, UTC: the mean of what each look says */
    int looks;
};

static struct desk *open_desk(const struct rehearsal_setup *setup, int64_t now_ms)
{
    static const struct desk_row row = {
        .uid = "trainee", .name = "practice", .operator_ = "practice", .corners = 3, .root = 0};
    struct desk_setup desk = {.bout = *setup->bout,
                              .rules = *setup->rules,
                              .keymap = *setup->keymap,
                              .desks = &row,
                              .desk_count = 1,
                              .self = 0,
                              .claim = 7};
    return desk_new(&desk, now_ms);
}

/* The clock begins with the calls; before a recording the trainee starts it, as at a bout. */
static void begin(struct rehearsal *rehearsal)
{
    if (rehearsal->setup->calls) {
        desk_key(rehearsal->desk, rehearsal->setup->keymap->action[ACTION_CLOCK],
                 rehearsal->start_ms, 0);
    }
}

static void run_script(struct rehearsal *rehearsal)
{
    const struct rehearsal_setup *setup = rehearsal->setup;
    for (size_t i = 0; i < setup->key_count; i++) {
        const struct script_key *key = &setup->keys[i];
        if (setup->ran_ms == 0 || key->at_ms <= setup->ran_ms) {
            desk_press(rehearsal->desk, key->key, key->press, rehearsal->start_ms + key->at_ms, 0);
        }
    }
}

static int64_t now_of(const struct rehearsal *rehearsal)
{
    return rehearsal->start_ms + (mono_ms() - rehearsal->since_ms);
}

static int paint(struct rehearsal *rehearsal, struct error *err)
{
    const struct rehearsal_setup *setup = rehearsal->setup;
    struct strike shown[SHOWN];
    size_t count = 0;
    int rows = 0, columns = 0;
    int64_t now_ms = now_of(rehearsal);
    int32_t passed_ms = (int32_t)(now_ms - rehearsal->start_ms);
    screen_size(&rows, &columns);
    if (rows != rehearsal->frame.rows || columns != rehearsal->frame.columns) {
        frame_release(&rehearsal->frame);
        int code = frame_init(&rehearsal->frame, rows, columns, screen_is_ascii(), err);
        if (code) {
            return code;
        }
    }
    struct panel_view view = {.desk = rehearsal->desk, .now_ms = now_ms};
    panel_compose(&rehearsal->frame, &view);
    if (setup->calls) {
        for (size_t i = 0; i < setup->call_count && setup->calls[i].at_ms <= passed_ms; i++) {
            if (count == SHOWN) {
                memmove(shown, shown + 1, --count * sizeof *shown);
            }
            shown[count++] = setup->calls[i].strike;
        }
        calls_compose(&rehearsal->frame, shown, count, (setup->ran_ms - passed_ms + 999) / 1000);
    }
    screen_paint(&rehearsal->frame);
    return 0;
}

/* The recording plays by itself, once, as a bout does. */
static void look_beside(struct rehearsal *rehearsal)
{
    struct reel_view reel;
    if (!rehearsal->beside) {
        return;
    }
    beside_look(rehearsal->beside, rehearsal->desk, now_of(rehearsal));
    if (!desk_reel(rehearsal->desk, &reel) || !reel.seen.ready) {
        rehearsal->leave =
            rehearsal->leave || (desk_reel(rehearsal->desk, &reel) && reel.seen.lost);
        return;
    }
    if (!rehearsal->plays) {
        beside_play(rehearsal->beside);
        rehearsal->plays = true;
    } else if (reel.seen.ended) {
        rehearsal->leave = true;
    } else if (!reel.seen.paused && reel.media_ms > 0) {
        double zero_ms = (double)(now_of(rehearsal) - reel.media_ms);
        rehearsal->first_frame_ms += (zero_ms - rehearsal->first_frame_ms) / ++rehearsal->looks;
    }
}

static void read_keys(struct rehearsal *rehearsal)
{
    size_t pasted = 0;
    int32_t key = 0;
    while ((key = screen_key(&pasted)) != KEY_OF_NONE || pasted > 0) {
        int64_t now_ms = now_of(rehearsal);
        if (pasted > 0) {
            desk_pasted(rehearsal->desk, pasted, now_ms);
        } else if (desk_press(rehearsal->desk, key, screen_press(), now_ms, 0) & DESK_WANTS_LEAVE) {
            rehearsal->leave = true;
        }
        pasted = 0;
    }
}

static int run_screen(struct rehearsal *rehearsal, struct error *err)
{
    const struct rehearsal_setup *setup = rehearsal->setup;
    int code = 0;
    while (!code && !rehearsal->leave) {
        struct pollfd waits[] = {
            {STDIN_FILENO, POLLIN, 0}, {screen_signal_fd(), POLLIN, 0}, {-1, POLLIN, 0}};
        if (rehearsal->beside) {
            waits[2].fd = beside_fd(rehearsal->beside, &waits[2].events);
        }
        if (poll(waits, 3, TICK_MS) < 0 && errno != EINTR) {
            code = error_set(err, ERROR_FAILED, "poll: %s", strerror(errno));
        }
        screen_drain();
        if (screen_hangup() || (waits[0].revents & (POLLHUP | POLLERR | POLLNVAL))) {
            break;
        }
        read_keys(rehearsal);
        look_beside(rehearsal);
        if (desk_tick(rehearsal->desk, now_of(rehearsal)) & DESK_WANTS_LEAVE) {
            rehearsal->leave = true;
        }
        if (setup->ran_ms > 0 && now_of(rehearsal) - rehearsal->start_ms >= setup->ran_ms) {
            rehearsal->leave = true;
        }
        code = code ? code : paint(rehearsal, err);
    }
    return code;
}

static int take_entries(const struct rehearsal *rehearsal, struct entry **out, size_t *count,
                        struct error *err)
{
    const struct entry *entries = NULL;
    *count = fold_entries(desk_fold(rehearsal->desk), &entries);
    *out = malloc((*count + 1) * sizeof **out);
    if (!*out) {
        return error_memory(err);
    }
    memcpy(*out, entries, *count * sizeof **out);
    return 0;
}

int rehearsal_run(const struct rehearsal_setup *setup, struct entry **out, size_t *count,
                  int64_t *start_ms, int32_t *ran_ms, struct error *err)
{
    struct rehearsal rehearsal = {.setup = setup, .start_ms = when_now()};
    bool player = setup->player.recording || setup->player.socket;
    *out = NULL;
    *count = 0;
    rehearsal.desk = open_desk(setup, rehearsal.start_ms);
    int code = rehearsal.desk ? 0 : error_memory(err);
    if (!code && player) {
        code = beside_open(&rehearsal.beside, &setup->player, err);
    }
    if (!code && !setup->keys) {
        code = screen_open(err);
    }
    if (!code) {
        rehearsal.since_ms = mono_ms();
        begin(&rehearsal);
        if (setup->keys) {
            run_script(&rehearsal);
        } else {
            code = run_screen(&rehearsal, err);
        }
    }
    screen_close();
    *start_ms = player || !setup->calls ? (int64_t)rehearsal.first_frame_ms : rehearsal.start_ms;
    *ran_ms = setup->keys ? setup->ran_ms : (int32_t)(now_of(&rehearsal) - rehearsal.start_ms);
    code = code ? code : take_entries(&rehearsal, out, count, err);
    beside_close(rehearsal.beside);
    frame_release(&rehearsal.frame);
    desk_free(rehearsal.desk);
    return code;
}
