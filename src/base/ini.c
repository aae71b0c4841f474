/* ini.c: INI text, with the line of every field. */
#include "ringtally/base/ini.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <ini.h>

#include "ringtally/base/text.h"
#include "base/foreign.h"

/* inih keeps lines of up to 200 bytes and gives its handler no line number in every build of it:
 * reading through our own line source counts them, and refuses what inih would cut. */
#define LINE_MAX_BYTES 190
#define NOT_UNDERSTOOD "neither [section] nor key = value"

struct reader {
    const char *at, *end;
    struct ini_place place;
    ini_visitor *visitor;
    void *user;
    struct error *err;
    struct buf *faults; /* where all of them are gathered; NULL: the first one ends the reading */
    int code;
};

/* Ends the reading, or notes the fault and lets it go on. */
static void fail(struct reader *reader, int code, const struct error *why)
{
    if (reader->faults && code != ERROR_MEMORY) {
        ini_fault(reader->faults, why->text);
    } else {
        reader->code = error_set(reader->err, code, "%s", why->text);
    }
}

static void fail_line(struct reader *reader, const char *why)
{
    struct error err = {0};
    ini_fail(&reader->place, &err, "%s", why);
    fail(reader, ERROR_FAILED, &err);
}

/* As inih sees it; it tells of the first other line only, and at the end. */
static bool is_understood(const char *line)
{
    size_t blank = strspn(line, " \t\r\n");
    const char *at = line + blank;
    if (*at == '\0' || *at == ';' || *at == '#' || blank > 0) {
        return true; /* behind a blank a value goes on */
    }
    return *at == '[' ? strchr(at, ']') != NULL : strpbrk(at, "=:") != NULL;
}

static char *read_line(char *line, int room, void *stream)
{
    struct reader *reader = stream;
    if (reader->at >= reader->end || reader->code) {
        return NULL;
    }
    const char *stop = memchr(reader->at, '\n', (size_t)(reader->end - reader->at));
    size_t size = (size_t)((stop ? stop + 1 : reader->end) - reader->at);
    const char *start = reader->at;
    reader->at += size;
    reader->place.line++;
    line[0] = '\n'; /* what stands for a line with a fault */
    line[1] = '\0';
    if (size > LINE_MAX_BYTES || size >= (size_t)room) {
        char why[64];
        snprintf(why, sizeof why, "a line longer than %d bytes", LINE_MAX_BYTES);
        fail_line(reader, why);
    } else if (!text_is_utf8(start, size)) {
        fail_line(reader, "this line is not valid UTF-8 text");
    } else {
        memcpy(line, start, size);
        line[size] = '\0';
        if (reader->faults && !is_understood(line)) {
            fail_line(reader, NOT_UNDERSTOOD);
            line[0] = '\n';
            line[1] = '\0';
        }
    }
    return reader->code ? NULL : line;
}

static int on_value(void *user, const char *section, const char *key, const char *value)
{
    struct reader *reader = user;
    struct error why = {0};
    foreign_text(section);
    foreign_text(key);
    foreign_text(value);
    if (!reader->code) {
        int code = reader->visitor(reader->user, section, key, value, &reader->place, &why);
        if (code) {
            fail(reader, code, &why);
        }
    }
    return reader->code == 0;
}

void ini_fault(struct buf *faults, const char *line)
{
    buf_addf(faults, "%s\n", line);
}

int ini_read_all(const char *text, size_t size, const char *file, ini_visitor *visitor, void *user,
                 struct buf *faults, struct error *err)
{
    struct reader reader = {text, text + size, {file, 0}, visitor, user, err, faults, 0};
    struct error first = {0};
    reader.err = &first;
    if (size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) {
        reader.at += 3;
    }
    int line = ini_parse_stream(read_line, &reader, on_value, &reader);
    /* inih reads on behind a line that it does not understand: that line's error came first. */
    if (line > 0 && (!reader.code || line < reader.place.line)) {
        reader.place.line = line;
        reader.code = 0;
        first = (struct error){0};
        fail_line(&reader, NOT_UNDERSTOOD);
    }
    if (reader.code) {
        return error_set(err, reader.code, "%s", first.text);
    }
    return line < 0 || (faults && faults->failed) ? error_memory(err) : 0;
}

int ini_read(const char *text, size_t size, const char *file, ini_visitor *visitor, void *user,
             struct error *err)
{
    return ini_read_all(text, size, file, visitor, user, NULL, err);
}

int ini_fail(const struct ini_place *place, struct error *err, const char *format, ...)
{
    char reason[400];
    va_list args;
    va_start(args, format);
    vsnprintf(reason, sizeof reason, format, args);
    va_end(args);
    return error_set(err, ERROR_FAILED, "%s:%d: %s", place->file, place->line, reason);
}

int ini_int(int *out, const char *key, const char *value, int low, int high,
            const struct ini_place *place, struct error *err)
{
    char *end = NULL;
    errno = 0;
    long number = strtol(value, &end, 10);
    if (errno || end == value || *end || number < low || number > high) {
        return ini_fail(place, err, "%s = %s: a whole number from %d to %d is needed", key, value,
                        low, high);
    }
    *out = (int)number;
    return 0;
}

int ini_text(char *out, size_t size, const char *key, const char *value,
             const struct ini_place *place, struct error *err)
{
    if (!text_clean(out, size, value)) {
        return ini_fail(place, err, "%s: longer than %d bytes", key, (int)size - 1);
    }
    return out[0] ? 0 : ini_fail(place, err, "%s: empty", key);
}
