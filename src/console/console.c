/* console.c: the loop that joins desk, keeper and terminal. */
#include "ringtally/console/console.h"

#include "console/beside.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/mono.h"
#include "ringtally/base/wall.h"
#include "ringtally/base/when.h"
#include "ringtally/log/signs.h"
#include "console/mover.h"
#include "ringtally/screen/panel.h"
#include "ringtally/screen/screen.h"

#define FRAME_MS       16 /* between two frames while a script runs as fast as it goes */
#define KEYS_AT_ONCE   256
#define HANDS_A_SECOND 20
#define LOOK_MS        500  /* between two looks at the signs of life of other desks */
#define BELL_MS        400  /* between two rings at least */
#define WATCH_MS       1000 /* how often to look at the wall clock, and at a stalled disk */

struct loop {
    struct console *console;
    size_t next; /* key of the script */
    bool playing;
    struct wall wall;
    int64_t lead_ms; /* of the desk's time before the wall, where a script was played ahead */
    bool leave;
    bool more;               /* keys may be waiting that poll does not know of */
    int64_t busy_ms;         /* when this program last turned away from its input */
    int64_t look_ms;         /* monotonic: when to look next at who is alive */
    int64_t rang_ms;         /* monotonic */
    struct desk_sign *signs; /* by desk; owned */
    struct frame frame;
};

/* How far the script is, in its own milliseconds. */
static int64_t script_position(const struct loop *loop)
{
    const struct console *console = loop->console;
    if (console->speed <= 0) {
        return loop->next < console->key_count ? console->keys[loop->next].at_ms
                                               : console->keys[console->key_count - 1].at_ms;
    }
    return (int64_t)((double)(mono_ms() - console->wall_ms) * console->speed);
}

/* The moment, as the desk stamps it; where the wall clock was set the desk is told. */
static int64_t desk_time(struct loop *loop)
{
    int64_t step_ms = 0;
    int64_t now_ms = wall_now(&loop->wall, &step_ms) + loop->lead_ms;
    if (loop->playing) {
        return loop->console->start_ms + script_position(loop);
    }
    if (step_ms != 0) {
        desk_stepped(loop->console->desk, step_ms, now_ms);
    }
    return now_ms;
}

/* Aside of the database nothing is saved. */
static void read_saved(const struct console *console, struct saved_state *out)
{
    keeper_state(console->keeper, out);
    if (console->aside) {
        out->saved = 0;
        out->failing = true;
        snprintf(out->trouble, sizeof out->trouble, "%s", console->aside);
    }
}

static int64_t unsaved(const struct console *console)
{
    struct saved_state state;
    read_saved(console, &state);
    return state.given - state.saved;
}

/* What the desk wrote, to the keeper. */
static int give(struct console *console, struct error *err)
{
    const struct entry *entries = NULL;
    size_t count = desk_take(console->desk, &entries);
    return count && keeper_give(console->keeper, entries, count) ? error_memory(err) : 0;
}

/* One key through the desk, its entries to the keeper. */
static int feed(struct loop *loop, int32_t key, enum key_press press, int64_t now_ms,
                struct error *err)
{
    struct console *console = loop->console;
    recorder_key(console->recorder, now_ms - console->start_ms, key, press);
    unsigned wants = desk_press(console->desk, key, press, now_ms, unsaved(console));
    loop->leave = loop->leave || (wants & DESK_WANTS_LEAVE);
    if ((wants & DESK_WANTS_MOVE) && mover_allows(console->desk, console->log, now_ms)) {
        loop->leave = console->moves = true;
    }
    return give(console, err);
}

/* Feeds the keys of the script that are due; at full speed at most a frame's worth of real time. */
static int feed_script(struct loop *loop, struct error *err)
{
    const struct console *console = loop->console;
    int64_t until = mono_ms() + FRAME_MS;
    while (loop->playing && loop->next < console->key_count && !screen_hangup()) {
        const struct script_key *key = &console->keys[loop->next];
        if (console->speed > 0 ? key->at_ms > script_position(loop)
                               : !console->headless && mono_ms() >= until) {
            return 0;
        }
        loop->next++;
        int code = feed(loop, key->key, key->press, console->start_ms + key->at_ms, err);
        if (code) {
            return code;
        }
    }
    return 0;
}

static int hear_others(struct console *console, int64_t now_ms, struct error *err)
{
    struct desk_row *rows = NULL;
    struct entry *entries = NULL;
    int row_count = 0;
    size_t count = 0;
    int code = keeper_news(console->keeper, &rows, &row_count, &entries, &count);
    if (!code && (row_count || count)) {
        code = desk_learn(console->desk, rows, row_count, entries, count, now_ms);
    }
    free(rows);
    free(entries);
    return code ? error_memory(err) : 0;
}

/* Whether the other desks are alive. The file is small and new, so that no disk is waited for. */
static int look_around(struct loop *loop, int64_t now_ms, struct error *err)
{
    struct console *console = loop->console;
    const struct desk_row *rows = NULL;
    int count = fold_desks(desk_fold(console->desk), &rows);
    if (mono_ms() < loop->look_ms || count < 2 || !console->log) {
        return 0;
    }
    struct desk_sign *signs = realloc(loop->signs, (size_t)count * sizeof *signs);
    if (!signs) {
        return error_memory(err);
    }
    loop->signs = signs;
    loop->look_ms = mono_ms() + LOOK_MS;
    signs_read(console->log, rows, count, when_now(), signs);
    return desk_hear_signs(console->desk, signs, count, now_ms) ? error_memory(err) : 0;
}

static void ring(struct loop *loop)
{
    if (desk_alarms(loop->console->desk) && loop->console->bell &&
        mono_ms() - loop->rang_ms >= BELL_MS) {
        loop->rang_ms = mono_ms();
        screen_bell();
    }
}

static int run_headless(struct loop *loop, struct error *err)
{
    const struct console *console = loop->console;
    while (!loop->leave && loop->next < console->key_count) {
        int code = feed_script(loop, err);
        if (code) {
            return code;
        }
        if (screen_hangup()) {
            return error_set(err, ERROR_FAILED, "ended by a signal: %zu of %zu keys were played",
                             loop->next, console->key_count);
        }
        if (loop->next < console->key_count && console->speed > 0) {
            int64_t wait =
                (int64_t)((double)(console->keys[loop->next].at_ms - script_position(loop)) /
                          console->speed);
            if (wait > 0) {
                poll(NULL, 0, (int)(wait < 1000 ? wait : 1000));
            }
        }
    }
    return 0;
}

static int paint(struct loop *loop, int64_t now_ms, struct error *err)
{
    struct console *console = loop->console;
    struct saved_state state;
    int rows = 0, columns = 0;
    if (desk_tick(console->desk, now_ms) & DESK_WANTS_LEAVE) {
        loop->leave = true;
    }
    int gave = give(console, err);
    if (gave) {
        return gave;
    }
    screen_size(&rows, &columns);
    if (rows != loop->frame.rows || columns != loop->frame.columns) {
        frame_release(&loop->frame);
        int code = frame_init(&loop->frame, rows, columns, screen_is_ascii(), err);
        if (code) {
            return code;
        }
    }
    read_saved(console, &state);
    desk_hear_saved(console->desk, &state, now_ms);
    struct panel_view view = {
        .desk = console->desk,
        .saved = &state,
        .now_ms = now_ms,
        .script = loop->playing ? "key script playing: any key takes over" : NULL,
        .flash = console->flash && desk_flash(console->desk, now_ms),
    };
    panel_compose(&loop->frame, &view);
    screen_paint(&loop->frame);
    ring(loop);
    return 0;
}

/* How long to sleep: until the screen changes by itself or the script's next key. */
static int wait_ms(const struct loop *loop, int64_t now_ms)
{
    const struct console *console = loop->console;
    struct saved_state state;
    int64_t wait = desk_next_change(console->desk, now_ms);
    wait = wait == INT64_MAX ? wait : wait - now_ms;
    if (loop->playing && loop->next < console->key_count) {
        int64_t due = console->keys[loop->next].at_ms - script_position(loop);
        double speed = console->speed > 0 ? console->speed : 1e9;
        wait = (int64_t)((double)(due < wait ? due : wait) / speed) + (due > 0);
    }
    read_saved(console, &state);
    bool waits_for_disk = state.given > state.saved || state.failing;
    if ((waits_for_disk || !loop->playing) && wait > WATCH_MS) {
        wait = WATCH_MS;
    }
    const struct desk_row *rows = NULL;
    if (fold_desks(desk_fold(console->desk), &rows) > 1 && wait > LOOK_MS) {
        wait = LOOK_MS;
    }
    int beside_ms = console->beside ? beside_wait_ms(console->beside) : -1;
    if (beside_ms >= 0 && wait > beside_ms) {
        wait = beside_ms;
    }
    if (screen_timeout() >= 0 && wait > screen_timeout()) {
        wait = screen_timeout();
    }
    return wait > 3600000 ? 3600000 : wait < 0 ? 0 : (int)wait;
}

static void take_over(struct loop *loop)
{
    int64_t now_ms = desk_time(loop);
    loop->lead_ms = now_ms - when_now();
    loop->playing = false;
}

/* The keys that are waiting, at most KEYS_AT_ONCE: what never ends must not keep the screen and the
 * signals waiting. *pasted = characters of a refused block that stood before the rest. */
static size_t gather(int32_t *keys, enum key_press *presses, size_t *pasted)
{
    size_t count = 0;
    *pasted = 0;
    while (count < KEYS_AT_ONCE && *pasted == 0) {
        int32_t key = screen_key(pasted);
        if (key == KEY_OF_NONE && *pasted == 0) {
            break;
        }
        if (key != KEY_OF_NONE) {
            presses[count] = screen_press();
            keys[count++] = key;
        }
    }
    return count;
}

/* Strokes among keys that came at once: a held key's repeats are none. */
static size_t strokes(const int32_t *keys, size_t count)
{
    size_t found = 0;
    for (size_t i = 0; i < count; i++) {
        found += i == 0 || keys[i] != keys[i - 1];
    }
    return found;
}

static int read_keys(struct loop *loop, struct error *err)
{
    struct console *console = loop->console;
    int32_t keys[KEYS_AT_ONCE];
    size_t pasted = 0;
    enum key_press presses[KEYS_AT_ONCE];
    size_t count = gather(keys, presses, &pasted);
    int64_t now_ms = desk_time(loop);
    int code = 0;
    loop->more = count == KEYS_AT_ONCE || pasted > 0;
    if (count > 0 && loop->playing) {
        take_over(loop); /* the keys that take over are not logged */
        count = 0;
    }
    /* What hands can have typed while nobody read is no burst. */
    size_t typed = (size_t)(mono_ms() - loop->busy_ms) * HANDS_A_SECOND / 1000;
    loop->busy_ms = mono_ms();
    if (strokes(keys, count) >= DESK_BURST + typed) {
        code = desk_hold(console->desk, keys, count, now_ms) ? error_memory(err) : 0;
        count = 0;
    }
    for (size_t i = 0; !code && !loop->leave && i < count; i++) {
        if (console->on_recording) {
            beside_key(console->beside, keys[i], presses[i]);
        } else {
            code = feed(loop, keys[i], presses[i], now_ms, err);
        }
    }
    if (pasted) {
        desk_pasted(console->desk, pasted, now_ms);
    }
    return code;
}

/* The player is heard, and keys whose frame it has told are taken. */
static int look_beside(struct loop *loop, int64_t now_ms, struct error *err)
{
    struct console *console = loop->console;
    int32_t key = 0;
    enum key_press press = PRESS_UNKNOWN;
    int code = 0;
    if (!console->beside) {
        return 0;
    }
    beside_look(console->beside, console->desk, now_ms);
    while (!code && !loop->leave && beside_take(console->beside, console->desk, &key, &press)) {
        code = feed(loop, key, press, now_ms, err);
        beside_look(console->beside, console->desk, now_ms);
    }
    return code;
}

static int run_screen(struct loop *loop, struct error *err)
{
    struct console *console = loop->console;
    int code = 0;
    while (!code && !loop->leave) {
        code = feed_script(loop, err);
        if (loop->playing && loop->next == console->key_count) {
            loop->leave = true;
        }
        int64_t now_ms = desk_time(loop);
        code = code ? code : hear_others(console, now_ms, err);
        code = code ? code : look_around(loop, now_ms, err);
        code = code ? code : look_beside(loop, now_ms, err);
        code = code ? code : paint(loop, now_ms, err);
        if (code || loop->leave) {
            break;
        }
        struct pollfd waits[] = {
            {STDIN_FILENO, POLLIN, 0}, {screen_signal_fd(), POLLIN, 0}, {-1, POLLIN, 0}};
        if (console->beside) {
            waits[2].fd = beside_fd(console->beside, &waits[2].events);
        }
        bool idle = !loop->more;
        int ready = poll(waits, 3, loop->more ? 0 : wait_ms(loop, now_ms));
        if (ready < 0 && errno != EINTR) {
            code = error_set(err, ERROR_FAILED, "poll: %s", strerror(errno));
        }
        loop->busy_ms = idle ? mono_ms() : loop->busy_ms;
        screen_drain();
        if (screen_hangup() || (waits[0].revents & (POLLHUP | POLLERR | POLLNVAL))) {
            break;
        }
        code = code ? code : read_keys(loop, err);
    }
    desk_finish(console->desk, desk_time(loop));
    code = code ? code : give(console, err);
    frame_release(&loop->frame);
    free(loop->signs);
    return code;
}

int console_run(struct console *console, struct error *err)
{
    struct loop loop = {.console = console, .playing = console->keys != NULL};
    wall_init(&loop.wall);
    return console->headless ? run_headless(&loop, err) : run_screen(&loop, err);
}
