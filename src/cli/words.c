/* words.c: the words of a call, and what every command does with them. */
#include "cli/cli.h"
#include "ringtally/data/pulse.h"

#include <ctype.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ringtally/base/buf.h"
#include "ringtally/base/file.h"

int cli_words(const struct call *call, const struct cli_option *options, const char **others,
              int max, int *count, struct error *err)
{
    *count = 0;
    for (int i = 0; i < call->count; i++) {
        const char *word = call->words[i];
        const struct cli_option *option = options;
        if (word[0] != '-' || word[1] == '\0') {
            if (*count == max) {
                return error_set(err, ERROR_USAGE, "one word too many: %s", word);
            }
            others[(*count)++] = word;
            continue;
        }
        size_t length = strcspn(word, "=");
        while (option->name &&
               (strncmp(option->name, word, length) != 0 || option->name[length] != '\0')) {
            option++;
        }
        if (!option->name) {
            return error_set(err, ERROR_USAGE, "no such option here: %s", word);
        }
        if (option->flag) {
            if (word[length] == '=') {
                return error_set(err, ERROR_USAGE, "%s takes no value", option->name);
            }
            *option->flag = true;
        } else if (word[length] == '=') {
            *option->value = word + length + 1;
        } else if (++i < call->count) {
            *option->value = call->words[i];
        } else {
            return error_set(err, ERROR_USAGE, "%s needs a value", option->name);
        }
    }
    return 0;
}

int cli_number(int *out, const char *option, const char *value, int low, int high,
               struct error *err)
{
    char *end = NULL;
    errno = 0;
    long number = strtol(value, &end, 10);
    if (errno || end == value || *end || number < low || number > high) {
        return error_set(err, ERROR_USAGE, "%s %s: a whole number from %d to %d is needed", option,
                         value, low, high);
    }
    *out = (int)number;
    return 0;
}

int cli_seconds(int32_t *out_ms, const char *option, const char *value, int32_t low_ms,
                int32_t high_ms, struct error *err)
{
    int64_t ms = 0;
    int64_t unit = 1000;
    const char *at = value;
    bool point = false;
    for (; isdigit((unsigned char)*at) || (*at == '.' && !point); at++) {
        if (*at == '.') {
            point = true;
            continue;
        }
        unit = point ? unit / 10 : unit;
        ms = point ? ms + (*at - '0') * unit : ms * 10 + (int64_t)(*at - '0') * 1000;
        if (ms > INT32_MAX) {
            break;
        }
    }
    if (!*value || *at || at[-1] == '.' || *value == '.' || ms < low_ms || ms > high_ms) {
        return error_set(err, ERROR_USAGE,
                         "%s %s: seconds from %d.%03d to %d.%03d are needed, like 2 or 0.25",
                         option, value, (int)(low_ms / 1000), (int)(low_ms % 1000),
                         (int)(high_ms / 1000), (int)(high_ms % 1000));
    }
    *out_ms = (int32_t)ms;
    return 0;
}

int cli_choice(int *out, const char *option, const char *value, const char *const *names, int count,
               struct error *err)
{
    struct buf known = BUF_INIT;
    *out = name_index(names, count, value);
    if (*out >= 0) {
        return 0;
    }
    for (int i = 0; i < count; i++) {
        buf_addf(&known, "%s%s", i ? ", " : "", names[i]);
    }
    int code = error_set(err, ERROR_USAGE, "%s %s: one of %s is needed", option, value,
                         known.failed ? "the known ones" : known.text);
    buf_release(&known);
    return code;
}

int cli_ask(bool *out, bool yes, const char *question, struct error *err)
{
    char answer[16] = "";
    *out = yes;
    if (yes) {
        return 0;
    }
    if (!isatty(STDIN_FILENO)) {
        return error_set(err, ERROR_FAILED, "%s --yes answers", question);
    }
    printf("%s [y/N] ", question);
    fflush(stdout);
    *out = fgets(answer, sizeof answer, stdin) && (answer[0] == 'y' || answer[0] == 'Y');
    return 0;
}

const char *cli_operator(const char *option)
{
    const char *user = option ? option : getenv("LOGNAME");
    user = user && *user ? user : getenv("USER");
    return user && *user ? user : "tagger";
}

int cli_gate(unsigned *holds, int32_t *delay_ms, const char *hold, const char *delay,
             struct error *err)
{
    struct error why = {0};
    *holds = 0;
    *delay_ms = 0;
    if (hold && gate_parse(holds, hold, &why)) {
        return error_set(err, ERROR_USAGE, "--hold %s", why.text);
    }
    return delay ? cli_seconds(delay_ms, "--delay", delay, 0, AIR_DELAY_MOST_MS, err) : 0;
}

/* The name of the bout that is on. */
static int find_now(char out[PULSE_BOUT], const struct call *call, struct error *err)
{
    struct log *log = NULL;
    int code = data_log_open(&log, call->db, LOG_READ, err);
    code = code ? code : pulse_now(out, log, err);
    log_close(log);
    return code;
}

int cli_reading(struct reading *out, const struct call *call, const char *ref, const char *round,
                struct error *err)
{
    int number = 0;
    char now[PULSE_BOUT];
    int code = round ? cli_number(&number, "--round", round, 1, ROUND_MAX, err) : 0;
    memset(out, 0, sizeof *out);
    if (!code && strcmp(ref, "now") == 0) {
        code = find_now(now, call, err);
        ref = now;
    }
    return code ? code : reading_open_air(out, call->db, ref, number, call->air, err);
}

void cli_bom(struct buf *out, bool wanted)
{
    buf_adds(out, wanted ? "\xef\xbb\xbf" : "");
}

int cli_write(const char *path, const char *text, size_t size, struct error *err)
{
    if (path && log_owns(NULL, path)) {
        return error_set(err, ERROR_USAGE, "-o %s: this is a database, which would be lost", path);
    }
    if (path) {
        return file_write(path, text, size, err);
    }
    if (fwrite(text, 1, size, stdout) != size || fflush(stdout) || ferror(stdout)) {
        return error_set(err, ERROR_FAILED, "standard output: %s", strerror(errno));
    }
    return 0;
}

int cli_shown(int code, bool entered, struct error *err)
{
    if (code && entered) {
        fprintf(stderr, "ringtally: it is entered, and cannot be shown: %s\n", err->text);
        *err = (struct error){0};
        code = 0;
    }
    return code;
}

int cli_output(const struct reading *reading, const char *path, bool closed, const char *text,
               size_t size, struct error *err)
{
    if (path && log_owns(reading->log, path)) {
        return error_set(err, ERROR_USAGE, "-o %s: this is a database, which would be lost", path);
    }
    return path && closed ? file_write_private(path, text, size, err)
                          : cli_write(path, text, size, err);
}
