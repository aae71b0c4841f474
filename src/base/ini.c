/* ini.c: INI text, with the line of every field. */
#include "ringtally/base/ini.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <ini.h>

#include "ringtally/base/text.h"

/* inih keeps lines of up to 200 bytes and gives its handler no line number in every build of it:
 * reading through our own line source counts them, and refuses what inih would cut. */
#define LINE_MAX_BYTES 190

struct reader {
    const char *at, *end;
    struct ini_place place;
    ini_visitor *visitor;
    void *user;
    struct error *err;
    int code;
};

static char *read_line(char *line, int room, void *stream)
{
    struct reader *reader = stream;
    if (reader->at >= reader->end || reader->code) {
        return NULL;
    }
    const char *stop = memchr(reader->at, '\n', (size_t)(reader->end - reader->at));
    size_t size = (size_t)((stop ? stop + 1 : reader->end) - reader->at);
    reader->place.line++;
    if (size > LINE_MAX_BYTES || size >= (size_t)room) {
        reader->code =
            ini_fail(&reader->place, reader->err, "a line longer than %d bytes", LINE_MAX_BYTES);
        return NULL;
    }
    if (!text_is_utf8(reader->at, size)) {
        reader->code = ini_fail(&reader->place, reader->err, "this line is not valid UTF-8 text");
        return NULL;
    }
    memcpy(line, reader->at, size);
    line[size] = '\0';
    reader->at += size;
    return line;
}

static int on_value(void *user, const char *section, const char *key, const char *value)
{
    struct reader *reader = user;
    if (!reader->code) {
        reader->code =
            reader->visitor(reader->user, section, key, value, &reader->place, reader->err);
    }
    return reader->code == 0;
}

int ini_read(const char *text, size_t size, const char *file, ini_visitor *visitor, void *user,
             struct error *err)
{
    struct reader reader = {text, text + size, {file, 0}, visitor, user, err, 0};
    if (size >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) {
        reader.at += 3;
    }
    int line = ini_parse_stream(read_line, &reader, on_value, &reader);
    /* inih reads on behind a line that it does not understand: that line's error came first. */
    if (line > 0 && (!reader.code || line < reader.place.line)) {
        reader.place.line = line;
        if (err) {
            *err = (struct error){0};
        }
        return ini_fail(&reader.place, err, "neither [section] nor key = value");
    }
    if (reader.code) {
        return reader.code;
    }
    return line < 0 ? error_memory(err) : 0;
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
