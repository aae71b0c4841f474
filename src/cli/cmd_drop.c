/* cmd_drop.c: `ringtally drop`: a folder of small files kept current beside the desks. It only ever
 * reads the database, over a connection of its own, and nothing that happens to the folder ends it.
 */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "cli/cli.h"
#include "ringtally/log/log_watch.h"
#include "cli/drop_folder.h"
#include "cli/osc.h"
#include "ringtally/data/pulse.h"
#include "ringtally/sheet/drop_files.h"
#include "ringtally/base/file.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"

#define EVERY_MS 250
#define AGAIN_MS 5000 /* how often all figures are sent once more */
#define BEAT_MS  1000 /* how often status.json is written and a failed write tried again */

struct drop {
    const struct call *call;
    const char *bout; /* as it was called for; with --current the name of the bout that is on */
    bool current;
    struct air air;
    struct late_line ons; /* names of the bout that is on, not told yet */
    char on[PULSE_BOUT];
    struct window_ask window; /* of the window's files; WINDOW_NONE: there are none */
    int32_t every_ms;

    struct log *log; /* tells of changes; NULL: to be opened (again) */
    struct log_watch watch;
    struct reading reading[2]; /* the one in use, and room for the next */
    int in_use;
    bool readable;      /* the reading is as the database is now */
    int64_t current_ms; /* monotonic: when to look again for the bout that is on */
    struct error db_trouble;

    struct drop_folder folder;
    int64_t counts_ms;
    int64_t turn_ms; /* when the clock's face next changes by itself */
    struct error dir_trouble;
};

static volatile sig_atomic_t told_to_stop;

static void on_signal(int number)
{
    (void)number;
    told_to_stop = 1;
}

static int catch_signals(struct error *err)
{
    static const int numbers[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
    struct sigaction action = {.sa_handler = on_signal};
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        if (sigaction(numbers[i], &action, NULL)) {
            return error_set(err, ERROR_FAILED, "signals: %s", strerror(errno));
        }
    }
    return 0;
}

/* Trouble is told once, when it begins and when it is over. */
static void tell(struct error *known, const struct error *now, const char *over)
{
    if (now->code && !known->code) {
        fprintf(stderr, "ringtally: %s; trying on\n", now->text);
    } else if (!now->code && known->code) {
        fprintf(stderr, "ringtally: %s\n", over);
    }
    *known = *now;
}

/* Whether the database has changed; opened anew where the file is another one by now. */
static int watch(struct drop *drop, bool *changed, struct error *err)
{
    struct error why = {0};
    int code = drop->log ? log_watch_look(&drop->watch, drop->log, changed, &why) : 0;
    if (drop->log && (!code || code == ERROR_BUSY)) {
        return code ? error_set(err, code, "%s", why.text)
                    : air_look(&drop->air, drop->log, *changed, changed, err);
    }
    log_close(drop->log); /* a new connection is the cure for all else */
    drop->log = NULL;
    air_forget(&drop->air);
    drop->watch = (struct log_watch){0};
    code = data_log_open(&drop->log, drop->call->db, LOG_READ, err);
    code = code ? code : log_watch_look(&drop->watch, drop->log, changed, err);
    return code ? code : air_look(&drop->air, drop->log, *changed, changed, err);
}

/* With --current: the bout that is on, which may be another than it was. */
static int find_current(struct drop *drop, struct error *err)
{
    char on[PULSE_BOUT];
    int code = pulse_now(on, drop->log, err);
    char *name = code || !drop->air.delay_ms ? NULL : strdup(on);
    if (name) {
        code = late_put(&drop->ons, mono_ms(), 0, name, 1, err);
        const struct late_item *told =
            code ? NULL : late_take(&drop->ons, mono_ms() - drop->air.delay_ms);
        snprintf(on, sizeof on, "%s", told ? (const char *)told->data : "");
    } else if (!code && drop->air.delay_ms) {
        code = error_memory(err);
    }
    if (!code && strcmp(drop->on, on) != 0) {
        memcpy(drop->on, on, sizeof drop->on);
        drop->bout = drop->on;
        drop->readable = false;
    }
    return code;
}

/* Reads the bout where it changed. What was known stays until the new reading is whole. */
static int look(struct drop *drop, struct error *err)
{
    struct reading *fresh = &drop->reading[!drop->in_use];
    bool changed = false;
    int code = watch(drop, &changed, err);
    bool due = changed || !drop->readable || mono_ms() >= drop->current_ms;
    if (!code && drop->current && due) { /* a desk that closes leaves no trace in the database */
        drop->current_ms = mono_ms() + BEAT_MS;
        code = find_current(drop, err);
    }
    if (code || (drop->readable && !changed)) {
        return code;
    }
    code = cli_reading(fresh, drop->call, drop->bout, NULL, err);
    if (code) {
        reading_release(fresh);
        *fresh = (struct reading){0};
        return code;
    }
    struct reading *stale = &drop->reading[drop->in_use];
    if (stale->view.former && stale->bout.id == fresh->bout.id) { /* the bouts before stay so */
        fresh->former = stale->former;
        fresh->view.former = &fresh->former;
        stale->former = (struct former){.here = {.bout = NULL}};
    } else {
        code = reading_former(fresh, err);
        if (code) {
            reading_release(fresh);
            *fresh = (struct reading){0};
            return code;
        }
    }
    reading_release(stale);
    *stale = (struct reading){0};
    drop->in_use = !drop->in_use;
    log_watch_seen(&drop->watch);
    drop->readable = drop->folder.dirty = true;
    return 0;
}

static void look_at_database(struct drop *drop)
{
    struct error err = {0};
    if (look(drop, &err)) {
        drop->readable = false;
    }
    tell(&drop->db_trouble, &err, "the database is read again");
}

static int write_counts(struct drop *drop, struct error *err)
{
    struct reading *reading = &drop->reading[drop->in_use];
    struct sheet_view *view = &reading->view;
    struct remarks remarks = {.item = NULL};
    int code = reading_look(reading, err);
    view->window = &drop->window;
    code = code ? code
                : remarks_init(&remarks, view->fold, view->signs, view->former,
                               &remark_rule_default, view->now_ms, err);
    if (!code) {
        code = drop_files(drop_folder_put, &drop->folder, view, &remarks, err);
        remarks_release(&remarks);
    }
    if (code) {
        drop->folder.dirty = true;
        return code;
    }
    drop->folder.dirty = false;
    drop->counts_ms = view->now_ms;
    drop->turn_ms = clock_next_change(fold_clock(view->fold), view->now_ms);
    return 0;
}

/* Who is official, and what is known of them. True: all of them give signs of life. */
static bool find_desks(const struct reading *reading, struct drop_status *status)
{
    static const enum entry_code codes[DROP_DESKS] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    const struct desk_row *desks = NULL;
    const struct entry *entries = NULL;
    size_t count = fold_entries(reading->fold, &entries);
    bool live = true;
    fold_desks(reading->fold, &desks);
    for (int i = 0; i < DROP_DESKS; i++) {
        struct drop_desk *desk = &status->desk[i];
        int root = fold_official(reading->fold, codes[i]);
        if (root >= 0) {
            desk->name = desks[root].name;
            desk->sign = reading->signs[root];
        }
        live = live && sign_state(&desk->sign) == SIGN_LIVE;
        for (size_t at = root < 0 ? 0 : count; at-- > 0 && !desk->newest_ms;) {
            if (desks[entries[at].name.desk].root == root) {
                desk->newest_ms = entries[at].utc_ms;
            }
        }
    }
    return live;
}

static int write_status(struct drop *drop, bool stopped, struct error *err)
{
    const struct reading *reading = &drop->reading[drop->in_use];
    if (!reading->fold) {
        return 0; /* --current, and no bout has begun: there is nothing to tell of */
    }
    struct drop_status status = {
        .bout = &reading->bout,
        .alive_ms = when_now(),
        .every_ms = BEAT_MS,
        .counts_ms = drop->counts_ms,
        .newest_ms = fold_newest_ms(reading->fold),
        .trouble = drop->db_trouble.code ? drop->db_trouble.text : NULL,
    };
    bool live = find_desks(reading, &status);
    status.state = stopped           ? DROP_STOPPED
                   : !drop->readable ? DROP_UNREADABLE
                   : live            ? DROP_LIVE
                                     : DROP_DESK_MISSING;
    return drop_status_files(drop_folder_put, &drop->folder, &status, err);
}

static int write_manifest(struct drop *drop, bool fresh, struct error *err)
{
    const struct bout *bout = &drop->reading[drop->in_use].bout;
    char name[64];
    snprintf(name, sizeof name, "%s/%d", bout->card, bout->number);
    return bout->number ? drop_folder_manifest(&drop->folder, name, fresh, err) : 0;
}

/* Once round: what changed at once; at a beat all of it, and whatever failed before. */
static void turn(struct drop *drop, bool beat)
{
    struct error err = {0};
    look_at_database(drop);
    if (!beat && (drop->dir_trouble.code ||
                  !(drop->folder.dirty || air_wall(&drop->air) >= drop->turn_ms))) {
        return;
    }
    int code = beat ? drop_folder_find(&drop->folder, &err) : 0;
    if (!code && drop->readable) {
        code = write_counts(drop, &err);
    }
    if (!code && beat) {
        code = write_status(drop, false, &err);
    }
    if (!code) {
        write_manifest(drop, drop->readable, &err);
    }
    tell(&drop->dir_trouble, &err, "the folder is written again");
}

static void keep(struct drop *drop)
{
    int64_t beat_ms = 0;
    int64_t again_ms = mono_ms() + AGAIN_MS;
    struct timespec pause = {drop->every_ms / 1000, (long)(drop->every_ms % 1000) * 1000000};
    while (!told_to_stop) {
        bool beat = mono_ms() >= beat_ms;
        turn(drop, beat);
        if (mono_ms() >= again_ms) {
            again_ms = mono_ms() + AGAIN_MS;
            drop_folder_send(&drop->folder);
        }
        beat_ms = beat ? mono_ms() + BEAT_MS : beat_ms;
        nanosleep(&pause, NULL);
    }
}

static void drop_release(struct drop *drop)
{
    drop_folder_release(&drop->folder);
    late_release(&drop->ons);
    air_forget(&drop->air);
    reading_release(&drop->reading[0]);
    reading_release(&drop->reading[1]);
    log_close(drop->log);
}

int command_drop(const struct call *call, struct error *err)
{
    struct call gated = *call;
    struct drop drop = {.call = &gated,
                        .every_ms = EVERY_MS,
                        .turn_ms = INT64_MAX,
                        .folder = {.lock = -1, .osc = -1}};
    const char *every = NULL, *since = NULL, *last = NULL, *osc = NULL;
    const char *hold = NULL, *delay = NULL;
    bool once = false;
    drop.folder.log = &drop.log;
    const struct cli_option options[] = {{"--dir", &drop.folder.path, NULL},
                                         {"--current", NULL, &drop.current},
                                         {"--since", &since, NULL},
                                         {"--last", &last, NULL},
                                         {"--osc", &osc, NULL},
                                         {"--every", &every, NULL},
                                         {"--once", NULL, &once},
                                         {"--hold", &hold, NULL},
                                         {"--delay", &delay, NULL},
                                         {NULL, NULL, NULL}};
    int count = 0;
    int code = cli_words(call, options, &drop.bout, 1, &count, err);
    if (!code && ((count == 0) != drop.current || !drop.folder.path || !*drop.folder.path)) {
        code = error_set(err, ERROR_USAGE,
                         "drop BOUT --dir DIR or drop --current --dir DIR is needed");
    }
    code = code ? code : window_parse(&drop.window, since, last, err);
    int32_t delay_ms = 0;
    code = code ? code : cli_gate(&drop.air.holds, &delay_ms, hold, delay, err);
    drop.air.delay_ms = delay_ms;
    gated.air = hold || delay ? &drop.air : NULL;
    if (!code && every) {
        code = cli_seconds(&drop.every_ms, "--every", every, 50, 60000, err);
    }
    code = code || !osc ? code : osc_open(&drop.folder.osc, osc, err);
    code = code ? code : catch_signals(err);
    /* What is wrong from the start is the call's; later it is waited for. */
    code = code ? code : look(&drop, err);
    if (code == ERROR_MISSING && drop.current && !once) {
        tell(&drop.db_trouble, err, "");
        *err = (struct error){0};
        code = 0;
    }
    code = code ? code : drop_folder_find(&drop.folder, err);
    if (!code && once) {
        code = write_counts(&drop, err);
    } else if (!code) {
        keep(&drop);
    }
    code = code ? code : write_status(&drop, true, err);
    code = code ? code : write_manifest(&drop, once, err);
    drop_release(&drop);
    return code;
}
