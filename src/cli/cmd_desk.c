/* cmd_desk.c: `ringtally desk`: the words of the call. */
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "ringtally/base/file.h"
#include "ringtally/console/seat.h"

struct desk_call {
    const char *bout, *corner, *operator_, *keys, *speed, *record, *keymap, *recording, *player;
    bool looks, shadow, own_clock, headless, watch, no_bell, no_flash;
    uint8_t corners; /* 1 << corner */
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
    const struct cli_option options[] = {
        {"--corner", &out->corner, NULL},     {"--operator", &out->operator_, NULL},
        {"--shadow", NULL, &out->shadow},     {"--own-clock", NULL, &out->own_clock},
        {"--keys", &out->keys, NULL},         {"--speed", &out->speed, NULL},
        {"--headless", NULL, &out->headless}, {"--watch", NULL, &out->watch},
        {"--no-bell", NULL, &out->no_bell},   {"--no-flash", NULL, &out->no_flash},
        {"--record", &out->record, NULL},     {"--recording", &out->recording, NULL},
        {"--player", &out->player, NULL},     {"--looks", NULL, &out->looks},
        {"--keymap", &out->keymap, NULL},     {NULL, NULL, NULL}};
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
    if (out->watch && (out->corner || out->operator_ || out->shadow || out->keys || out->record)) {
        return error_set(err, ERROR_USAGE,
                         "--watch claims and writes nothing: no --corner, --operator, --shadow, "
                         "--keys or --record");
    }
    if ((out->recording || out->player) && (out->watch || out->keys)) {
        return error_set(err, ERROR_USAGE,
                         "a player goes with keys that are typed: no --watch, --keys");
    }
    if (out->recording && out->player) {
        return error_set(err, ERROR_USAGE,
                         "--recording starts a player, --player has one: not both");
    }
    if (out->looks && !out->player) {
        return error_set(err, ERROR_USAGE, "--looks goes with --player SOCKET, the recorder's");
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

static int read_script(struct script_key **keys, size_t *count, const char *path, struct error *err)
{
    char *text = NULL;
    size_t size = 0;
    int code = file_read(&text, &size, path, err);
    code = code ? code : keyscript_parse(keys, count, text, size, path, err);
    if (!code && *count == 0) {
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
    struct keymap keymap;
    struct script_key *keys = NULL;
    struct seat_setup setup = {.db = call->db, .keymap = &keymap};
    int code = read_words(&words, call, err);
    code = code ? code : read_speed(&setup.speed, words.speed, err);
    code = code ? code : read_keymap(&keymap, words.keymap ? words.keymap : "us-qwerty", err);
    if (!code && words.keys) {
        code = read_script(&keys, &setup.key_count, words.keys, err);
    }
    if (!code) {
        setup.bout = words.bout;
        setup.operator_ = words.operator_;
        setup.corners = words.corners;
        setup.player = (struct seat_player){words.recording, words.player,
                                            (words.recording || words.player) && !words.looks};
        setup.shadow = words.shadow;
        setup.own_clock = words.own_clock;
        setup.headless = words.headless;
        setup.watch = words.watch;
        setup.no_bell = words.no_bell;
        setup.no_flash = words.no_flash;
        setup.record = words.record;
        setup.keys = keys;
        code = seat_run(&setup, err);
    }
    free(keys);
    return code;
}
