/* cmd_desk.c: `ringtally desk` and `ringtally import-log`: opens a session on a bout, runs it,
 * leaves nothing unsaved. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/console/console.h"
#include "ringtally/base/file.h"
#include "ringtally/log/log_watch.h"
#include "ringtally/log/portable.h"
#include "ringtally/screen/screen.h"
#include "ringtally/log/signs.h"
#include "ringtally/base/mono.h"
#include "ringtally/base/when.h"

#define FLUSH_MS 5000

struct desk_call {
    const char *bout, *corner, *operator_, *keys, *speed, *record, *keymap;
    bool shadow, headless;
    uint8_t corners; /* 1 << corner */
};

/* All that a running session holds. */
struct session {
    struct log *log;
    struct bout bout;
    struct rules rules;
    struct keymap keymap;
    struct desk_row *desks;
    int desk_count;
    int self;
    struct entry *entries;
    size_t entry_count;
    int64_t arrival;
    struct desk *desk;
    struct keeper *keeper;
    struct script_key *keys;
    size_t key_count;
    struct recorder *recorder;
};

static int read_corners(uint8_t *out, const char *text, struct error *err)
{
    static const char *const names[] = {"red", "blue", "both"};
    int choice = 2;
    int code = text ? cli_choice(&choice, "--corner", text, names, 3, err) : 0;
    *out = (uint8_t)(choice + 1);
    return code;
}

static int read_words(struct desk_call *out, const struct call *call, struct error *err)
{
    const struct cli_option options[] = {{"--corner", &out->corner, NULL},
                                         {"--operator", &out->operator_, NULL},
                                         {"--shadow", NULL, &out->shadow},
                                         {"--keys", &out->keys, NULL},
                                         {"--speed", &out->speed, NULL},
                                         {"--headless", NULL, &out->headless},
                                         {"--record", &out->record, NULL},
                                         {"--keymap", &out->keymap, NULL},
                                         {NULL, NULL, NULL}};
    int count = 0;
    int code = cli_words(call, options, &out->bout, 1, &count, err);
    if (code) {
        return code;
    }
    if (count == 0) {
        return error_set(err, ERROR_USAGE, "desk BOUT is needed");
    }
    if (!out->keys && (out->headless || out->speed)) {
        return error_set(err, ERROR_USAGE, "--speed and --headless go with --keys");
    }
    out->operator_ = cli_operator(out->operator_);
    return read_corners(&out->corners, out->corner, err);
}

static int read_speed(double *out, const char *text, struct error *err)
{
    char *end = NULL;
    *out = 1;
    if (!text) {
        return 0;
    }
    if (strcmp(text, "max") == 0) {
        *out = 0;
        return 0;
    }
    *out = strtod(text, &end);
    if (end == text || *end || !(*out > 0 && *out <= 1e6)) {
        return error_set(err, ERROR_USAGE, "--speed %s: a number above 0, or max, is needed", text);
    }
    return 0;
}

/* The roles that the new session takes: its corners and the clock, but for what another live desk
 * holds. */
static uint8_t roles_to_claim(const struct session *session, const struct fold *fold)
{
    static const enum entry_code codes[] = {CODE_RED, CODE_BLUE, CODE_CLOCK};
    const struct desk_row *self = &session->desks[session->self];
    uint8_t wanted = self->shadow ? 0 : (uint8_t)(self->corners | 4);
    for (int i = 0; i < 3; i++) {
        int holder = fold_official(fold, codes[i]);
        if (holder >= 0 && holder != self->root &&
            log_desk_is_live(session->log, session->desks[holder].id)) {
            wanted &= (uint8_t) ~(1u << i);
        }
    }
    return wanted;
}

static int start(struct session *session, const struct desk_call *call, int64_t *start_ms,
                 struct error *err)
{
    struct fold *fold = NULL;
    struct log_news news = {0};
    struct clock_plan plan = clock_plan(&session->rules, session->bout.rounds);
    struct desk_open how = {call->operator_, 0, call->shadow};
    int code = read_corners(&how.corners, call->corner, err);
    code = code ? code
                : data_desk_open(session->log, &session->bout, &how, &session->desks,
                                 &session->desk_count, &session->self, err);
    if (code) {
        return code;
    }
    /* Desks and entries of one moment, this session's row among them. */
    code = log_news(session->log, session->bout.id, 0, &news, err);
    code = code ? code : log_fold(session->log, &session->bout, &plan, FOLD_OFFICIAL, &fold, err);
    if (code) {
        log_news_release(&news);
        return code;
    }
    free(session->desks);
    session->desks = news.desks;
    session->desk_count = news.desk_count;
    session->entries = news.entries;
    session->entry_count = news.entry_count;
    session->arrival = news.arrival;
    struct desk_setup setup = {
        .bout = session->bout,
        .rules = session->rules,
        .keymap = session->keymap,
        .desks = session->desks,
        .desk_count = session->desk_count,
        .self = session->self,
        .entries = session->entries,
        .entry_count = session->entry_count,
        .claim = roles_to_claim(session, fold),
    };
    /* A script's time may have run ahead of the wall: the desk's time never falls. */
    int64_t newest = fold_newest_ms(fold);
    int64_t now = when_now();
    *start_ms = newest >= now ? newest + 1 : now;
    fold_free(fold);
    session->desk = desk_new(&setup, *start_ms);
    return session->desk ? 0 : error_memory(err);
}

/* Entries that never reached the database go to a file beside it, or to where there is room. */
static int rescue(const struct session *session, const struct entry *left, size_t count,
                  struct error *err)
{
    const char *folders[] = {NULL, getenv("HOME"), "/tmp"};
    struct buf text = BUF_INIT;
    struct card card = {0};
    char path[4200];
    struct error reason = {0};
    snprintf(card.id, sizeof card.id, "%s", session->bout.card);
    /* A correction may name a desk that came after this one. */
    const struct desk_row *desks = NULL;
    int desk_count = fold_desks(desk_fold(session->desk), &desks);
    int code = portable_write(&text, &card, &session->bout, desks, desk_count, left, count, err);
    for (size_t i = 0; !code && i < sizeof folders / sizeof folders[0]; i++) {
        const char *folder = folders[i];
        char name[96];
        snprintf(name, sizeof name, "ringtally-rescue-%.8s-%lld.jsonl",
                 session->desks[session->self].uid, (long long)left[0].name.seq);
        if (i == 0) {
            snprintf(path, sizeof path, "%s-%s", log_path(session->log), name);
        } else if (folder) {
            snprintf(path, sizeof path, "%s/%s", folder, name);
        } else {
            continue;
        }
        reason = (struct error){0};
        if (!file_write(path, text.text, text.size, &reason)) {
            fprintf(stderr,
                    "ringtally: %zu entries could not be saved; they are in %s\n"
                    "ringtally: load them with: ringtally import-log %s\n",
                    count, path, path);
            buf_release(&text);
            return error_set(err, ERROR_FAILED, "left with entries outside the database");
        }
    }
    buf_release(&text);
    return error_set(err, ERROR_FAILED, "%zu entries are lost: no rescue file could be written: %s",
                     count, reason.text);
}

static int run(struct session *session, const struct desk_call *call, int64_t start_ms,
               double speed, struct error *err)
{
    struct entry *left = NULL;
    size_t left_count = 0;
    const struct entry *entries = NULL;
    int wake = call->headless ? -1 : screen_wake_fd();
    int64_t row = session->desks[session->self].id;
    int code = keeper_open(&session->keeper, log_path(session->log), NULL, session->bout.id,
                           session->desks, session->desk_count, session->arrival, wake, err);
    if (code) {
        return code;
    }
    /* The keeper's first comes a moment later, and who died before it would have left none. */
    signs_leave(session->log, row, when_now(), false, NULL);
    keeper_sign(session->keeper, row);
    size_t count = desk_take(session->desk, &entries);
    if (count && keeper_give(session->keeper, entries, count)) {
        code = error_memory(err);
    }
    struct console console = {
        .desk = session->desk,
        .keeper = session->keeper,
        .recorder = session->recorder,
        .keys = session->keys,
        .key_count = session->key_count,
        .speed = speed,
        .headless = call->headless,
        .start_ms = start_ms,
        .wall_ms = mono_ms(),
    };
    code = code ? code : console_run(&console, err);
    keeper_flush(session->keeper, FLUSH_MS);
    screen_close();
    keeper_close(session->keeper, &left, &left_count);
    if (left_count > 0) {
        code = rescue(session, left, left_count, err);
    }
    free(left);
    return code;
}

static void session_release(struct session *session)
{
    desk_free(session->desk);
    free(session->desks);
    free(session->entries);
    free(session->keys);
    log_close(session->log);
}

static int read_script(struct session *session, const char *path, struct error *err)
{
    char *text = NULL;
    size_t size = 0;
    int code = file_read(&text, &size, path, err);
    code =
        code ? code : keyscript_parse(&session->keys, &session->key_count, text, size, path, err);
    if (!code && session->key_count == 0) {
        code = error_set(err, ERROR_FAILED, "%s: no keys in it", path);
    }
    free(text);
    return code;
}

static int read_keymap(struct keymap *out, const char *id, struct error *err)
{
    char file[4096];
    char *text = NULL;
    size_t size = 0;
    int code = data_file(&text, &size, file, "keymaps", id, err);
    if (!code) {
        code = keymap_parse(out, text, size, file, err);
    }
    free(text);
    return code;
}

int command_desk(const struct call *call, struct error *err)
{
    struct desk_call words = {0};
    struct session session = {0};
    double speed = 1;
    int64_t start_ms = 0;
    int code = read_words(&words, call, err);
    code = code ? code : read_speed(&speed, words.speed, err);
    code =
        code ? code : read_keymap(&session.keymap, words.keymap ? words.keymap : "us-qwerty", err);
    if (!code && words.keys) {
        code = read_script(&session, words.keys, err);
    }
    code = code ? code : data_log_open(&session.log, call->db, LOG_WRITE, err);
    code = code ? code : log_bout_find(session.log, words.bout, &session.bout, err);
    code = code ? code : data_bout_rules(&session.rules, &session.bout, err);
    if (!code && words.record) {
        code = recorder_open(&session.recorder, words.record, err);
    }
    if (!code && !words.headless) {
        code = screen_open(err);
    }
    code = code ? code : start(&session, &words, &start_ms, err);
    code = code ? code : run(&session, &words, start_ms, speed, err);
    screen_close();
    int closed = recorder_close(session.recorder, err);
    session_release(&session);
    return code ? code : closed;
}
