/* targets.c: what is parsed out of texts. */
#include "targets.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/bout/card.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/desk/keyscript.h"
#include "ringtally/bout/rules.h"
#include "ringtally/bout/scorecard.h"
#include "ringtally/bout/timecode.h"
#include "ringtally/data/data.h"
#include "ringtally/tally/window.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

static void run_rules(const char *text, size_t size)
{
    struct rules rules;
    struct error err = {0};
    fuzz_check(rules_parse(&rules, text, size, "fuzz", &err), &err);
}

static void run_keymap(const char *text, size_t size)
{
    struct keymap map;
    struct error err = {0};
    fuzz_check(keymap_parse(&map, text, size, "fuzz", &err), &err);
}

static void run_card(const char *text, size_t size)
{
    struct card card = {0};
    struct error err = {0};
    int code = card_parse(&card, text, size, "fuzz", &err);
    fuzz_check(code, &err);
    for (int i = 0; !code && i < card.bouts; i++) {
        if (!text_is_utf8(card.bout[i].fighter[0].name, strlen(card.bout[i].fighter[0].name)) ||
            bout_check(&card.bout[i], &err)) {
            abort();
        }
    }
    card_release(&card);
}

static void run_keyscript(const char *text, size_t size)
{
    struct script_key *keys = NULL;
    size_t count = 0;
    struct error err = {0};
    int code = keyscript_parse(&keys, &count, text, size, "fuzz", &err);
    fuzz_check(code, &err);
    for (size_t i = 1; !code && i < count; i++) {
        if (keys[i].at_ms < keys[i - 1].at_ms) {
            abort();
        }
    }
    free(keys);
}

static void run_text(const char *text, size_t size)
{
    char copy[256], clean[256], fitted[128];
    if (size >= sizeof copy) {
        size = sizeof copy - 1;
    }
    memcpy(copy, text, size);
    copy[size] = '\0';
    if (text_clean(clean, sizeof clean, copy)) {
        for (const char *c = clean; *c; c++) {
            if ((unsigned char)*c < 0x20 || *c == 0x7f) {
                abort();
            }
        }
    }
    for (int width = -20; width <= 20; width++) {
        text_fit(fitted, sizeof fitted, clean, width, width % 2 == 0);
        if (text_width(fitted) != abs(width)) {
            abort();
        }
    }
    int64_t moment = when_parse(copy);
    char back[WHEN_SIZE];
    if (moment >= 0 && when_parse(when_rfc3339(back, moment)) != moment) {
        abort();
    }
}

static void run_scores(const char *text, size_t size)
{
    static struct rules rules;
    static struct bout bout;
    struct error err = {0};
    if (!bout.judges && (data_rules(&rules, "kickboxing", &err) ||
                         bout_set(&bout, "judges", "Ju Dge, Ar Biter, Um Pire", &err))) {
        fuzz_fail("scores", err.text);
    }
    struct scorecard card = {0}, before = {0}, again = {0};
    struct buf warnings = BUF_INIT, dumped = BUF_INIT;
    int code = scorecard_load(&card, &warnings, &rules, &bout, 3, text, size, "fuzz", &err);
    fuzz_check(code, &err);
    if (code && memcmp(&card, &before, sizeof card) != 0) {
        fuzz_fail("scores", "a refused file left something");
    }
    if (!code) { /* what was read is what is written */
        scorecard_dump(&dumped, &card, &bout);
        if (dumped.size && (scorecard_load(&again, &warnings, &rules, &bout, 3, dumped.text,
                                           dumped.size, "again", &err) ||
                            memcmp(&card, &again, sizeof card) != 0)) {
            fuzz_fail("scores written are not those read", dumped.text);
        }
    }
    buf_release(&warnings);
    buf_release(&dumped);
}

static void run_timecode(const char *text, size_t size)
{
    char copy[64], back[TIMECODE_SIZE], note[SYNC_SIZE];
    size = size < sizeof copy ? size : sizeof copy - 1;
    memcpy(copy, text, size);
    copy[size] = '\0';
    for (const struct timecode_rate *rate = timecode_rates; rate->name; rate++) {
        struct error err = {0};
        int64_t frame = 0;
        int code = timecode_parse(&frame, rate, copy, &err);
        fuzz_check(code, &err);
        if (!code && (frame < 0 || frame >= timecode_day(rate) ||
                      strcmp(timecode_print(back, rate, frame), copy) != 0)) {
            fuzz_fail("another label is printed than was read", copy);
        }
    }
    struct sync_point sync = {0}, twice = {0};
    if (sync_parse(&sync, copy) && (!sync_parse(&twice, sync_print(note, &sync)) ||
                                    sync.rate != twice.rate || sync.frame != twice.frame)) {
        fuzz_fail("another sync point is printed than was read", copy);
    }
    struct window_ask ask = {0};
    struct error err = {0};
    fuzz_check(window_parse(&ask, copy, NULL, &err), &err);
    err = (struct error){0};
    fuzz_check(window_parse(&ask, NULL, copy, &err), &err);
    char card[48];
    int number = 0;
    err = (struct error){0};
    fuzz_check(bout_ref_parse(card, &number, copy, &err), &err);
}

const struct fuzz_target fuzz_targets[] = {
    {"rules", {"shared/rules/kickboxing.ini", "shared/rules/sanda.ini"}, run_rules, 4000},
    {"keymap", {"shared/keymaps/us-qwerty.ini", "shared/keymaps/fr-azerty.ini"}, run_keymap, 4000},
    {"card", {"examples/card.ini"}, run_card, 4000},
    {"keyscript", {NULL}, run_keyscript, 4000},
    {"text", {NULL}, run_text, 4000},
    {"scores", {NULL}, run_scores, 4000},
    {"timecode", {NULL}, run_timecode, 4000},
    {"import", {NULL}, fuzz_import, 150},
    {"hostile", {NULL}, fuzz_hostile, 10},
    {"desk", {NULL}, fuzz_desk, 15},
    {"feed", {NULL}, fuzz_feed, 20},
    {"player", {NULL}, fuzz_player, 1000},
    {NULL, {NULL}, NULL, 0},
};
