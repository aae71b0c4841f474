#include "targets.h"

#include <stdlib.h>
#include <string.h>

#include "ringtally/bout/card.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/desk/keyscript.h"
#include "ringtally/bout/rules.h"
#include "ringtally/base/text.h"
#include "ringtally/base/when.h"

/* A refusal says why, in one line. */
static void check(int code, const struct error *err)
{
    if ((code != 0) != (err->text[0] != '\0') || strchr(err->text, '\n')) {
        abort();
    }
}

static void run_rules(const char *text, size_t size)
{
    struct rules rules;
    struct error err = {0};
    check(rules_parse(&rules, text, size, "fuzz", &err), &err);
}

static void run_keymap(const char *text, size_t size)
{
    struct keymap map;
    struct error err = {0};
    check(keymap_parse(&map, text, size, "fuzz", &err), &err);
}

static void run_card(const char *text, size_t size)
{
    struct card card = {0};
    struct error err = {0};
    int code = card_parse(&card, text, size, "fuzz", &err);
    check(code, &err);
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
    check(code, &err);
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

const struct fuzz_target fuzz_targets[] = {
    {"rules", {"shared/rules/kickboxing.ini", "shared/rules/sanda.ini"}, run_rules},
    {"keymap", {"shared/keymaps/us-qwerty.ini", "shared/keymaps/fr-azerty.ini"}, run_keymap},
    {"card", {"examples/card.ini"}, run_card},
    {"keyscript", {"tests/fuzz/seeds/script.keys"}, run_keyscript},
    {"text", {"tests/fuzz/seeds/names.txt", "tests/fuzz/seeds/moment.txt"}, run_text},
    {NULL, {NULL}, NULL},
};
