/* keyscript.c: keys with their times, as text. */
#include "ringtally/desk/keyscript.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ringtally/base/grow.h"
#include "ringtally/desk/keymap.h"
#include "ringtally/base/text.h"

#define SCRIPT_MAX_SECONDS INT64_C(604800) /* a week */

static const char *const presses[] = {
    [PRESS_UNKNOWN] = "", [PRESS_SURE] = "pressed", [PRESS_REPEAT] = "held"};

static int fail(struct error *err, const char *file, int line, const char *reason)
{
    return error_set(err, ERROR_FAILED, "%s:%d: %s", file, line, reason);
}

/* SECONDS as milliseconds, rounded down; false where it is no plain decimal number. */
static bool parse_seconds(const char *text, int64_t *out)
{
    int64_t ms = 0;
    int64_t unit = 100;
    if (!isdigit((unsigned char)*text)) {
        return false;
    }
    for (; isdigit((unsigned char)*text); text++) {
        ms = ms * 10 + (*text - '0');
        if (ms > SCRIPT_MAX_SECONDS) {
            return false;
        }
    }
    ms *= 1000;
    if (*text == '.') {
        for (text++; isdigit((unsigned char)*text); text++, unit /= 10) {
            ms += (*text - '0') * unit;
        }
    }
    *out = ms;
    return *text == '\0';
}

static int parse_line(struct script_key *out, char *line, int64_t before, const char *file,
                      int number, struct error *err)
{
    char *rest = NULL;
    char *seconds = strtok_r(line, " \t\r", &rest);
    char *key = strtok_r(NULL, " \t\r", &rest);
    char *press = strtok_r(NULL, " \t\r", &rest);
    int known = press ? name_index(presses, PRESS_REPEAT + 1, press) : PRESS_UNKNOWN;
    if (!seconds || !key || known < 0 || strtok_r(NULL, " \t\r", &rest)) {
        return fail(err, file, number, "SECONDS KEY is needed");
    }
    out->press = (enum key_press)known;
    if (!parse_seconds(seconds, &out->at_ms)) {
        return fail(err, file, number, "SECONDS is no decimal number of at most a week");
    }
    if (out->at_ms < before) {
        return fail(err, file, number, "the time falls");
    }
    out->key = key_from_name(key);
    return out->key == KEY_OF_NONE ? fail(err, file, number, "no such key") : 0;
}

int keyscript_parse(struct script_key **out, size_t *count, const char *text, size_t size,
                    const char *file, struct error *err)
{
    int code = 0;
    size_t used = 0, room = 0;
    int64_t before = 0;
    int number = 0;
    struct script_key *keys = NULL;
    if (size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) {
        text += 3;
        size -= 3;
    }
    for (const char *at = text, *end = text + size; at < end;) {
        char line[128];
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        size_t length = (size_t)((stop ? stop : end) - at);
        const char *start = at;
        at = stop ? stop + 1 : end;
        number++;
        if (!text_is_utf8(start, length)) {
            code = fail(err, file, number, "this line is not valid UTF-8 text");
            goto cleanup;
        }
        while (length > 0 && isspace((unsigned char)*start)) {
            start++;
            length--;
        }
        if (length == 0 || *start == '#') {
            continue;
        }
        if (length >= sizeof line) {
            code = fail(err, file, number, "line too long");
            goto cleanup;
        }
        memcpy(line, start, length);
        line[length] = '\0';
        if (!grow_array(&keys, sizeof *keys, used, 1, &room)) {
            code = error_memory(err);
            goto cleanup;
        }
        code = parse_line(&keys[used], line, before, file, number, err);
        if (code) {
            goto cleanup;
        }
        before = keys[used++].at_ms;
    }
    *out = keys;
    *count = used;
    keys = NULL;

cleanup:
    free(keys);
    return code;
}

const char *keyscript_line(char out[64], int64_t at_ms, int32_t key, enum key_press press)
{
    char name[16];
    snprintf(out, 64, "%lld.%03d %s%s%s\n", (long long)(at_ms / 1000), (int)(at_ms % 1000),
             key_word(name, key), press == PRESS_UNKNOWN ? "" : " ", presses[press]);
    return out;
}
