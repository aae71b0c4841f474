#include "ringtally/rules.h"

#include <stdio.h>
#include <string.h>

#include "ringtally/entry.h"
#include "ringtally/ini.h"
#include "ringtally/text.h"

struct parser {
    struct rules *rules;
    bool strikes;
};

static int parse_targets(uint8_t *out, const char *limb, const char *value,
                         const struct ini_place *place, struct error *err)
{
    char word[16];
    int used = 0;
    *out = 0;
    for (const char *at = value; sscanf(at, " %15s%n", word, &used) == 1; at += used) {
        int target = name_index(target_names, TARGET_COUNT, word);
        if (target < 0) {
            return ini_fail(place, err, "%s: no such target: %s", limb, word);
        }
        *out |= (uint8_t)(1u << target);
    }
    return *out ? 0 : ini_fail(place, err, "%s: no target", limb);
}

static int parse_number(struct rules *rules, const char *key, const char *value,
                        const struct ini_place *place, struct error *err)
{
    struct {
        const char *key;
        int32_t *out;
        int low, high, scale;
    } numbers[] = {
        {"rounds", &rules->rounds, 1, ROUND_MAX, 1},
        {"round_seconds", &rules->round_ms, 10, 1800, 1000},
        {"rest_seconds", &rules->rest_ms, 0, 1800, 1000},
        {"extension_rounds", &rules->extension_rounds, 0, 5, 1},
        {"extension_seconds", &rules->extension_ms, 10, 1800, 1000},
        {"judges", &rules->judges, 1, 7, 1},
    };
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        if (strcmp(key, numbers[i].key) == 0) {
            int number = 0;
            int code = ini_int(&number, key, value, numbers[i].low, numbers[i].high, place, err);
            *numbers[i].out = number * numbers[i].scale;
            return code;
        }
    }
    return ini_fail(place, err, "[rules] knows no %s", key);
}

static int on_value(void *user, const char *section, const char *key, const char *value,
                    const struct ini_place *place, struct error *err)
{
    struct parser *parser = user;
    struct rules *rules = parser->rules;
    if (strcmp(section, "rules") == 0) {
        if (strcmp(key, "id") == 0) {
            return ini_text(rules->id, sizeof rules->id, key, value, place, err);
        }
        if (strcmp(key, "title") == 0) {
            return ini_text(rules->title, sizeof rules->title, key, value, place, err);
        }
        return parse_number(rules, key, value, place, err);
    }
    if (strcmp(section, "strikes") == 0) {
        int limb = name_index(limb_names, LIMB_COUNT, key);
        if (limb < 0) {
            return ini_fail(place, err, "no such limb: %s", key);
        }
        if (rules->targets[limb]) {
            return ini_fail(place, err, "%s is there twice", key);
        }
        parser->strikes = true;
        return parse_targets(&rules->targets[limb], key, value, place, err);
    }
    if (strcmp(section, "fouls") == 0) {
        if (rules->fouls == FOUL_MAX) {
            return ini_fail(place, err, "more than %d fouls", FOUL_MAX);
        }
        struct foul *foul = &rules->foul[rules->fouls++];
        int code = ini_text(foul->words, sizeof foul->words, key, value, place, err);
        if (!code && !text_clean(foul->id, sizeof foul->id, key)) {
            code = ini_fail(place, err, "%s: name too long", key);
        }
        return code;
    }
    return ini_fail(place, err, "no such section: [%s]", section);
}

int rules_parse(struct rules *out, const char *text, size_t size, const char *file,
                struct error *err)
{
    struct parser parser = {out, false};
    memset(out, 0, sizeof *out);
    int code = ini_read(text, size, file, on_value, &parser, err);
    if (code) {
        return code;
    }
    const char *missing = !out->id[0]       ? "id"
                          : !out->title[0]  ? "title"
                          : !out->rounds    ? "rounds"
                          : !out->round_ms  ? "round_seconds"
                          : !out->judges    ? "judges"
                          : !parser.strikes ? "any strike in [strikes]"
                                            : NULL;
    if (missing) {
        return error_set(err, ERROR_FAILED, "%s: a rule set needs %s", file, missing);
    }
    if (out->extension_rounds > 0 && out->extension_ms == 0) {
        out->extension_ms = out->round_ms;
    }
    return 0;
}

bool rules_allow(const struct rules *rules, enum limb limb, enum target target)
{
    return rules->targets[limb] >> target & 1;
}
